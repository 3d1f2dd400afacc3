"""What was found as text: tables of the project file with the reason of each guess beside the line it made, and lines for a person."""

from __future__ import annotations

import json
from typing import Any

from pipeline.bringing.fit import TOGETHER, Fitted, Table
from pipeline.bringing.places import Placed
from pipeline.bringing.records import Found, Left
from pipeline.plain.errors import shown
from pipeline.plain.sizes import counted

_WIDEST, _COLUMN = 140, 34
_MOST_LEFT = 200  # files not taken that are listed; the rest are counted
_MS = 100


def tables(placed: list[Placed], fitted: Fitted, defaults: bool) -> str:
    """Return the tables of all assets as TOML.

    Args:
        defaults: also ``[defaults.sprite]``, for a project without.
    """
    keys = {one.name: extra for one, extra in fitted.assets}
    parts = [_defaults(fitted)] if defaults else []
    for kind in ("sprite", "palette", "background", "sound", "font"):
        parts += [_asset(one, keys[one.found.name], fitted) for one in placed if one.found.kind == kind]
        if kind == "palette":
            parts += [_computed(one) for one in fitted.palettes]
    return "\n".join(part for part in parts if part)


def scene(placed: list[Placed], fitted: Fitted, main: str) -> str:
    """Return bundles and a scene in which any two figures meet on any background; ``main``: the name of the program."""
    palettes = {one.name: extra.get("palette") for one, extra in fitted.assets}
    loaded = [one.found for one in placed if one.found.kind in ("sprite", "background")]
    lines = ["[bundle]                          # assets that are loaded together"]
    bundles = {one.name: f"{one.name[:27]}_pack" for one in loaded if palettes[one.name]}
    if len(set(bundles.values())) < len(bundles) or set(bundles.values()) & palettes.keys():
        bundles = {name: f"pack_{rank}" for rank, name in enumerate(bundles, 1)}
    lines += [f"{pack} = {_value([name, palettes[name]])}" for name, pack in bundles.items()]
    members = {one.name: bundles.get(one.name, one.name) for one in loaded}
    fonts = [one.found.name for one in placed if one.found.kind == "font"]
    own = [one.found.name for one in placed if one.found.kind == "palette"]
    always = [main, *fonts, *own, *dict.fromkeys(palettes[name] for name in fonts if palettes[name])]
    lines += ["", "[scene.play]                      # a moment of the game, and what must be in memory then; change it to your worst one"]
    lines += [f"always = {_value(always)}"]
    if fitted.direct:
        lines.append(_line("direct", list(fitted.direct), "read straight from the cartridge: memory does not hold them"))
    for kind, count in TOGETHER.items():
        names = [members.get(one.found.name, one.found.name) for one in placed if one.found.kind == kind]
        if names:
            lines += ["", "[[scene.play.choose]]", f"count = {min(count, len(names))}", f"of = {_value(names)}"]
    return "\n".join(lines) + "\n"


def not_taken(left: tuple[Left, ...]) -> str:
    """Return a block of comments that lists what was not taken; empty if all was."""
    if not left:
        return ""
    lines = [f"# {'1 file was' if len(left) == 1 else f'{len(left):,} files were'} not taken:"]
    lines += [f"#   {shown(one.file, 120)}: {shown(one.why, 300)}" for one in left[:_MOST_LEFT]]
    lines += [f"#   and {len(left) - _MOST_LEFT:,} more"] if len(left) > _MOST_LEFT else []
    return "\n".join(lines) + "\n"


def summary(placed: list[Placed], left: tuple[Left, ...], most: int = 40) -> list[str]:
    """Return lines for a person: how many assets of each kind, and what was not taken."""
    lines = [f"  {one.found.kind:<10} {one.found.name:<20} {_amount(one.found)}" for one in placed[:most]]
    lines += [f"  and {len(placed) - most:,} more"] if len(placed) > most else []
    lines += _noted("JPEG or lossy WebP", _INEXACT, [one.found for one in placed if one.found.lossy])
    lines += _noted("EXIF orientation", _TURNED, [one.found for one in placed if one.found.turned])
    if left:
        lines.append(f"not taken: {len(left):,} file{'s' if len(left) > 1 else ''}")
        lines += [f"  {shown(one.file, 120)}: {shown(one.why, 300)}" for one in left[:most]]
        lines += [f"  and {len(left) - most:,} more"] if len(left) > most else []
    return lines


_INEXACT = "their colours are not exact, and a JPEG has no transparent pixels; export them as PNG if you can, or check key and tolerance"
_TURNED = "their files ask viewers to turn them, and are taken as their pixels are stored; turn them in the paint program and save as PNG"


def _noted(about: str, advice: str, found: list[Found]) -> list[str]:
    """Return a line about art whose files have something in common; none without such art."""
    if not found:
        return []
    names = ", ".join(one.name for one in found[:6]) + (f" and {len(found) - 6:,} more" if len(found) > 6 else "")
    return [f"{about}: {names}: {advice}"]


def _amount(one: Found) -> str:
    if one.kind == "sprite":
        names = ", ".join(animation.name for animation in one.animations[:6])
        more = f" and {len(one.animations) - 6} more" if len(one.animations) > 6 else ""
        frames = counted(len(one.frames), "frame")
        return f"{frames} of {one.canvas[0]} x {one.canvas[1]}" + (f": {names}{more}" if names else "")
    if one.kind == "background":
        return f"{one.canvas[0]} x {one.canvas[1]}"
    others = {"sound": f"{one.seconds:.2f} s", "font": counted(len(one.letters), "letter"), "palette": counted(one.colours, "colour")}
    return others[one.kind]


def _defaults(fitted: Fitted) -> str:
    if not any(one.kind == "sprite" for one, _ in fitted.assets):
        return ""
    direct = any(extra.get("arrangement") == "frames" for _, extra in fitted.assets)
    lines = ["[defaults.sprite]                 # for every sprite that does not override it"]
    other = "1.0, as drawn" if fitted.scale != 1 else "0.75"
    lines.append(_line("scale", fitted.scale, f"{fitted.scale_reason}; or: {other}"))
    if not direct:
        lines.append(_line("arrangement", "pieces", 'the fewest cells that cover each frame; or: "frames", trimmed'))
    return "\n".join(lines) + "\n"


def _asset(placed: Placed, extra: dict[str, Any], fitted: Fitted) -> str:
    one = placed.found
    lines = [f"[{one.kind}.{one.name}]"]
    key, value = next(iter(placed.keys.items()))
    inexact = "; the format changes colours: export it as PNG if you can" if one.lossy else ""
    named = f"{_original(placed)}{one.reason}{inexact}; or: {one.other}"
    lines.append(_line(key, value, named))
    if one.keys:
        key = one.keys[0] if len(one.keys) == 1 else list(one.keys)
        lines.append(_line("key", key, "of all corners, so it means transparent; or: without, nothing is"))
    if one.tolerance:
        lines.append(_line("tolerance", one.tolerance, "the format changes colours, so those of the ground differ; or: less"))
    if one.align:
        lines.append(_line("align", "bottom", 'frames of several sizes, on one canvas by their lower edge; or: "centre"'))
    elif one.kind == "sprite":
        second = f"[{one.canvas[0] // 2}, {one.canvas[1]}], of the frame"
        lines.append(_line("anchor", list(one.anchor), f"the middle of the lower edge of all that is drawn; or: {second}"))
    if one.kind == "font":
        lines.append(_line("characters", one.letters, "those of ASCII that it has; or: texts, with the files of your game's texts"))
    lines += [_line(name, given, _why(one, name, given, fitted)) for name, given in extra.items()]
    if placed.animations:
        lines += ["", f"[sprite.{one.name}.animations]     # {_MS} ms a frame is usual; the files do not say"]
        lines += [_line(name, _Raw(f"{{ frames = {_value(frames)}, ms = {_MS} }}"), "") for name, frames in placed.animations.items()]
    return "\n".join(lines) + "\n"


def _original(placed: Placed) -> str:
    """Return the names that files had, where the project's do not say so."""
    files = placed.found.files
    kept = {one.to.rpartition("/")[2] for one in placed.writes} >= {name.rpartition("/")[2] for name in files}
    if kept or not placed.writes:
        return ""
    return f"from {shown(files[0], 120)}" + (f" to {shown(files[-1], 120)}" if len(files) > 1 else "") + ": "


def _why(one: Found, key: str, value: Any, fitted: Fitted) -> str:
    if key == "palette":
        return "of its folder's sprites" if one.kind == "sprite" else ""
    if key == "scale" and one.kind == "background":
        return "covers the screen; or: 1.0, as drawn"
    if key == "scale":
        return "the largest that the console draws or a bank holds; or: split it"
    if key == "rate":
        other = f"{one.rate}, as recorded" if value != one.rate else "11025"
        return f"{fitted.rate_reason}; or: {other}"
    return {
        "resample": f"few colours ({one.colours}), so none is mixed; or: \"area\"",
        "arrangement": "the console puts backgrounds together from tiles; or: \"bitmap\"" if one.kind == "background" else "direct colour",
        "merge": "draws the nearest tiles alike where there are too many",
        "size": "about 20 letters in a line of the screen; or: 8",
    }.get(key, "")


def _computed(one: Table) -> str:
    lines = [f"[palette.{one.name}]"]
    for rank, (key, value) in enumerate(one.keys.items()):
        lines.append(_line(key, value, one.reason if rank == 0 else ""))
    return "\n".join(lines) + "\n"


class _Raw(str):
    """A value that is TOML already."""


def _line(key: str, value: Any, comment: str) -> str:
    """Return a line with its comment beside it, or above it where the line would become too long."""
    line = f"{key} = {value if isinstance(value, _Raw) else _value(value)}"
    if not comment:
        return line
    beside = f"{line:<{_COLUMN - 1}} # {comment}"
    return beside if len(beside) <= _WIDEST else f"# {key}: {comment}\n{line}"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(one)}" for key, one in value.items()) + " }"
    return repr(value)
