"""What changed, in English for the author: ``doit changes``, and the rows of the report that are not about sizes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pipeline.joints.map import ASSETS
from pipeline.plain.sizes import show_size

_ISSUES = {"fixed": "fixed", "new": "new", "again": "open again", "gone": "no longer listed"}
_LISTS = {"included": ("now in", "no longer in"), "missing": ("now missing", "no longer missing")}


def show_differences(changes: dict[str, Any]) -> str:
    """Return the content of ``changes.json`` as lines for a person."""
    since, image = changes["since"], changes["image"]
    of = f" of {since['date']}" if since["date"] else ""
    lines = [f"Since {since['version']}{of}, build {since['build_code']}:", f"  image      {_sizes(image['before'], image['now'])}"]
    lines += [f"  scene      {scene['name']}: {_sizes(scene['before'], scene['now'])}" for scene in changes["scenes"]]
    for word in ASSETS:
        lines += [f"  {word:<10} {_named(one)}: {_sizes(one['before'], one['now'])}" for one in changes[word]]
    if not any(changes[word] for word in ASSETS):
        lines.append("  No asset was added, removed, changed or renamed.")
    lines += [f"  {head:<10} {text}" for head, text in without_sizes(changes)]
    lines += [f"  issues     {word}: {', '.join(changes[key])}" for key, word in _ISSUES.items() if changes[key]]
    if changes["settled"]:
        lines.append(f"  issues     settled: {', '.join(show_settled(changes))}")
    return "\n".join(lines + [f"  {one['text']}" for one in changes["words"]])


def without_sizes(changes: dict[str, Any]) -> list[tuple[str, str]]:
    """Return what changed apart from sizes and issues, each with what it is about: colours, timing, anchors, controls, contents."""
    unseen = [("unseen", f"other colours, too near to be seen: {', '.join(changes['unseen'])}")] if changes["unseen"] else []
    return [*unseen, *_moved(changes), *_told(changes)]


def show_settled(changes: dict[str, Any]) -> list[str]:
    """Return each settled issue with what became of it."""
    return [f"{one['id']} ({one['status']})" for one in changes["settled"]]


def _named(one: dict[str, Any]) -> str:
    return f"{one['name']} ({one['kind']}{', was ' + one['was'] if one['was'] else ''})"


def _moved(changes: dict[str, Any]) -> Iterator[tuple[str, str]]:
    for sprite in changes["timing"]:
        for one in sprite["animations"]:
            yield "timing", f"{sprite['name']}, {one['name']}: {_lasting(one['before'], one['now'])}"
    for one in changes["anchors"]:
        (left, top), (x, y) = one["before"], one["now"]
        yield "anchor", f"{one['name']}: ({left}, {top}) before, ({x}, {y}) now"


def _lasting(before: int | None, now: int | None) -> str:
    if before is None or now is None:
        return f"new, {now} ms" if before is None else "no longer there"
    return f"{now} ms as before, its frames shown otherwise" if before == now else f"{before} ms before, {now} ms now"


def _told(changes: dict[str, Any]) -> Iterator[tuple[str, str]]:
    for one in changes["controls"]:
        before, now = (_buttons(one[key]) for key in ("before", "now"))
        yield "controls", f"{one['action']}: {now}{'; before: ' + before if before else ''}" if now else f"{one['action']}: no longer there"
    for key, words in _LISTS.items():
        for word, texts in zip(words, (changes["contents"][key]["added"], changes["contents"][key]["removed"]), strict=True):
            yield from (("contents", f"{word}: {text}") for text in texts)


def _buttons(buttons: dict[str, str] | None) -> str:
    """Return what to press, pad by pad; an action that no pad can do has none."""
    if buttons is None:
        return ""
    return ", ".join(f"{pad} {pressed}" for pad, pressed in buttons.items()) or "no button"


def _sizes(before: int | None, now: int | None) -> str:
    if before is None or now is None:
        return show_size(before or now or 0)  # an asset or scene is there at least once
    return f"{show_size(now)} as before" if before == now else f"{before:,} bytes before, {now:,} now ({now - before:+,})"
