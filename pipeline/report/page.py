"""The report: one self-contained page with everything in the build, for the author."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from msgspec import to_builtins
from msgspec.structs import asdict

from pipeline.joints.budget import Budget, SceneBudget, read_budget_file, read_choices
from pipeline.joints.facts import (
    BackgroundFacts,
    ColourError,
    Facts,
    FontFacts,
    LevelFacts,
    ListsFacts,
    NotesFacts,
    PaletteFacts,
    PoolFacts,
    ScreenFacts,
    SeenError,
    SoundFacts,
    SpriteFacts,
    StoredFrames,
    StoredPieces,
    StoredTiles,
    TextFacts,
    Trade,
    TvMargins,
    image_facts,
    show_trade,
)
from pipeline.joints.found.findings import Findings, read_findings
from pipeline.joints.lists import Lists, read_lists_file
from pipeline.joints.map import MapEntry, read_map
from pipeline.joints.places import FactsFiles, ShownFiles
from pipeline.joints.shown import read_shown, read_worn
from pipeline.memory.budget_text import show_names, show_streamed, show_traffic
from pipeline.memory.loads_text import MENTIONED, notes, spans
from pipeline.memory.usage import CARRIED, show_limit
from pipeline.plain.files import read_json, write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.plain.sizes import counted
from pipeline.plain.template_language import AsItIs
from pipeline.project.file import Issue
from pipeline.project.issues import open_issues
from pipeline.report.data import digest_of, joined, look_shown, page_data
from pipeline.report.forms import forms_table, layer_scenes, tiles_cost
from pipeline.report.to_do import RANKS, what_to_do
from pipeline.report.what_changed import changes_shown, issue_tables, png_shown
from pipeline.rom.bank_use import show_banks
from pipeline.target.kinds import KINDS

# What the template calls a picture -> the part of its file name after the asset's.
_PARTS = {
    "picture": "",
    "before_after": "before-after",
    "television": "tv",
    "parts": "parts",
    "originals": "originals",
    "worn": "worn",
}


# What moves, or lays frames over one another: the page's script does both, and a picture of it is only named.
_NAMED = ("anim", "onion")


def write_page(
    template: Template,
    style: Template,
    scripts: tuple[Template, ...],
    facts: dict[str, FactsFiles],
    proofs: dict[str, dict[str, Path]],
    shown: dict[str, ShownFiles],
    map_file: Path,
    budget_file: Path,
    choices_file: Path,
    layers_file: Path,
    out: Path,
    game: dict[str, str],
    console: str,
    issues: list[Issue],
    order: tuple[str, ...],
    banks_file: Path | None = None,
    checks_file: Path | None = None,
    changes_file: Path | None = None,
    worn: dict[str, Path] | None = None,
    lists_file: Path | None = None,
    findings_file: Path | None = None,
) -> str:
    """Write ``report.html``; return one line about it.

    Args:
        style, scripts: put into the page, so that it asks for nothing; the scripts become one, in their order.
        facts: of every asset, by name.
        proofs: the pictures of each asset, by the part of the file name after its own; see ``proofs.write``.
        shown: what the script draws and plays, by asset; see ``joints.shown``.
        choices_file: ``choices.json``, see ``joints.budget``.
        game: title, version, phase and code.
        console: the target's name.
        order: names of all assets, as the author has them.
        banks_file: ``banks.json``, for a target with banks.
        checks_file: ``checks.json``, see ``release.checks``; None leaves that part out.
        changes_file: ``changes.json``, see ``release.differences``; None without a ledger.
        findings_file: ``findings.json``, what may harm a player; None where nothing was looked for.
        lists_file: ``lists.json``, for a project with load lists.
        worn: of variants, what they make of the art that wears them; see ``joints.shown``.
    """
    image_map, budget = read_map(map_file), read_budget_file(budget_file)
    known = {entry.name: image_facts(facts[entry.name]) for entry in image_map.entries}
    remarks = {name: read_worn(file).remarks for name, file in (worn or {}).items()}
    looks = {name: read_shown(files) for name, files in shown.items()}
    stills = {name: look_shown(looks.get(name), shown.get(name)) for name in known}
    assets = [
        _asset(entry, known, proofs.get(entry.name, {}), remarks.get(entry.name, []), stills[entry.name])
        | {"rank": order.index(entry.name)}
        for entry in image_map.entries
    ]
    choices, made = read_choices(choices_file), read_json(checks_file)["checks"] if checks_file else []
    script = joined([render(one, {}) for one in scripts])
    values = {
        "game": game,
        "console": console,
        "image": asdict(image_map.image),
        "groups": _groups(assets),
        "entries": assets,
        "glance": _glance(image_map.entries, budget),
        "budget": _budget(budget),
        "banks": _banks(read_json(banks_file), image_map.entries) if banks_file else None,
        "layers": layer_scenes(read_json(layers_file)),
        "lists": _lists(read_lists_file(lists_file)) if lists_file else [],
        **issue_tables(issues, game["version"]),
        "findings": _findings(read_findings(findings_file)) if findings_file else None,
        "checks": made,
        "to_do": [
            one._asdict() | {"rank": RANKS[one.cost]}
            for one in what_to_do(budget, choices, image_map.image, known, remarks, made, open_issues(issues))
        ],
        "changes": changes_shown(read_json(changes_file)) if changes_file else None,
        "style": AsItIs(render(style, {})),
        "script": AsItIs(script),
        "script_hash": digest_of(script),
        "data": page_data(game["code"], image_map, budget, choices, looks),
    }
    page = render(template, values, markup=True).encode()
    write_bytes(out, page)
    return f"{counted(len(assets), 'asset')} on one page, {len(page):,} bytes"


def _asset(
    entry: MapEntry, every: dict[str, Facts], proofs: dict[str, Path], remarks: Sequence[str], look: dict[str, Any]
) -> dict[str, Any]:
    facts = every[entry.name]
    left_out = {*_NAMED}
    if look["still"] or look["noted"]:
        left_out.add("")  # the same frames, or a sprite's, on which the script draws the notes
    if "originals" in proofs:
        left_out.add("before-after")  # the originals have the whole background too, beside what was drawn
    pictures = {key: _picture(proofs[part]) if part in proofs and part not in left_out else None for key, part in _PARTS.items()}
    files = [f"proofs/{path.name}" for part, path in proofs.items() if part in left_out]
    forms = forms_table(facts) if isinstance(facts, BackgroundFacts) else None
    summary = "; ".join(part for part in (_kind_text(facts, every), _padding(facts), *facts.remarks, *remarks) if part)
    texts = {"summary": summary, "packed": _packed(facts), "origin": facts.origin}
    return {**asdict(entry), **pictures, **texts, **look, "forms": forms, "files": files}


def _glance(entries: list[MapEntry], budget: Budget) -> dict[str, Any]:
    """Return what an author looks for first: the largest asset, and the scene with least room."""
    largest = max(entries, key=lambda entry: entry.bytes, default=None)
    name = min(budget.scenes, key=lambda name: budget.scenes[name].margin, default=None)
    return {
        "largest": asdict(largest) if largest else None,
        "tightest": {"name": name, "margin": budget.scenes[name].margin} if name else None,
    }


def _picture(path: Path) -> dict[str, Any]:
    return png_shown(path.read_bytes()) | {"file": f"proofs/{path.name}"}


def _error(error: ColourError) -> str:
    if not error.mean:
        return ", colours exact" if error.mean == 0 else ""
    return f"; colours differ by {error.mean:.1f} on average, {error.p95:.1f} at the 95th percentile (CIEDE2000)"


def _seen(error: SeenError | None) -> str:
    if error is None or not error.mixed:
        return ""
    return f"; {error.mixed:,} pixels mixed, difference after a blur of one pixel {error.stored:.1f} instead of {error.nearest:.1f}"


def _arranged(facts: SpriteFacts) -> str:
    """How a sprite's frames are stored and what that takes, beside the other ways."""
    sheet, frames = facts.sheet_bytes, facts.frames_bytes
    match facts.stored:
        case StoredPieces(pool=str(pool)) as stored:
            return f"{stored.pieces:,} pieces of {stored.own_cells:,} cells in the pool {pool}"
        case StoredPieces(trade=Trade() as trade) as stored:
            return f"{stored.pieces:,} pieces, {show_trade(trade)}; {_compared(facts.unpacked_bytes, facts, 'a sheet')}"
        case StoredPieces() as stored:
            return f"{stored.pieces:,} pieces of {stored.cell_count:,} cells, {_compared(facts.unpacked_bytes, facts, 'a sheet')}"
        case StoredFrames(stored_frames=count):
            share = f"{facts.unpacked_bytes / sheet:.0%} of the bytes of a sheet"
            return f"{counted(count, 'trimmed frame')}, {share}; opaque pixels alone {_opaque(facts)}"
    return f"a sheet; trimmed frames would be {frames / sheet:.0%} of its bytes, opaque pixels alone {_opaque(facts)}"


def _scale(facts: SpriteFacts) -> str:
    across, down = facts.scale
    return f"{across:.4g}" if across == down else f"{across:.4g} × {down:.4g}"


def _compared(taken: int, facts: SpriteFacts | PoolFacts, whole: str) -> str:
    trimmed = f"trimmed frames would be {facts.frames_bytes / facts.sheet_bytes:.0%}"
    return f"{taken / facts.sheet_bytes:.0%} of the bytes of {whole}; {trimmed}, opaque pixels alone {_opaque(facts)}"


def _opaque(facts: SpriteFacts | PoolFacts) -> str:
    return f"{facts.opaque_bytes / facts.sheet_bytes:.0%}"


def _padding(facts: Facts) -> str:
    """Return what is lost inside a blob so that hardware can fetch its parts; empty where nothing is."""
    return f"{facts.padding:,} bytes lost so that rows and parts start where the target says" if facts.padding else ""


def _packed(facts: Facts) -> str:
    """Return the form of an asset in the image; empty if nobody asked for packing."""
    if facts.tried is None:
        return ""
    if facts.codec == "stored":
        return "stored: no codec makes it smaller"
    share = f"packed with {facts.codec} to {facts.bytes / facts.unpacked_bytes:.0%} of {facts.unpacked_bytes:,} bytes"
    return share + (": larger than stored" if facts.bytes > facts.unpacked_bytes else "")


def _wander(facts: SpriteFacts) -> str:
    far = [f"{x} × {y} in {name}" for name, (x, y) in facts.wander.items() if max(x, y) > 1]
    return f"; feet wander over {', '.join(far)}" if far else ""


def _kind_text(facts: Facts, every: dict[str, Facts]) -> str:
    match facts:
        case SpriteFacts():
            names = ", ".join(animation.name for animation in facts.animations)
            size = f"{counted(facts.frames, 'frame')}, {facts.source_width} × {facts.source_height} brought to "
            texts = f"{names or 'no animations'}; {_arranged(facts)}"
            return f"{size}{facts.width} × {facts.height} ({_scale(facts)}); {texts}{_error(facts.colour_error)}{_wander(facts)}"
        case PoolFacts():
            taken = facts.unpacked_bytes + sum(every[user].unpacked_bytes for user in facts.users)
            users = f"{facts.pieces:,} pieces of {', '.join(facts.users)}"
            return f"{facts.cell_count:,} cells for {users}; with their tables {_compared(taken, facts, 'their sheets')}"
        case BackgroundFacts():
            merged = isinstance(facts.stored, StoredTiles) and facts.stored.merging
            error = "" if merged else _error(facts.colour_error) + _seen(facts.seen_error)
            return f"{facts.width} × {facts.height} pixels{tiles_cost(facts)}{error}"
        case PaletteFacts():
            lines = f" in {len(facts.line_used)} lines of {facts.line_entries}" if facts.line_entries else ""
            variant = f"; a variant of {facts.variant_of}" if facts.variant_of else ""
            entries, colours = counted(sum(facts.line_used), "entry", "entries"), counted(facts.colours_seen, "colour")
            return f"{entries}{lines} from {facts.first}, for {colours}{variant}"
        case SoundFacts():
            clipped = f", {facts.clipped} samples clipped" if facts.clipped else ""
            heard = "" if facts.loudness is None or facts.peak is None else f", {facts.loudness:.1f} LUFS, peak {facts.peak:.1f} dBFS"
            return f"{facts.seconds:.2f} s, {facts.rate} Hz, {facts.format}{heard}{clipped}"
        case FontFacts():
            shared = facts.glyph_count - facts.picture_count
            alike = f", {shared} of them drawn like another" if shared else ""
            size = f"{facts.glyph_count} glyphs{alike}, {facts.spacing}, in boxes of {facts.width} × {facts.height}"
            return f"{size}, {facts.line_height} rows a line{_error(facts.colour_error)}"
        case LevelFacts():
            numbers = f"{facts.different} different numbers, {facts.smallest} to {facts.largest} of {facts.least} to {facts.most}"
            return f"{facts.width} × {facts.height} cells of {counted(facts.cell_bytes, 'byte')}; {numbers}"
        case ListsFacts():
            names = f"scenes {', '.join(facts.scenes)}; bundles {', '.join(facts.bundles) or 'none'}"
            return f"{names}; {counted(facts.steps, 'step')}"
        case TextFacts():
            size = f"{counted(len(facts.keys), 'text')} in {', '.join(facts.languages)}; {facts.different} different characters"
            widest = f", at most {max(facts.widest)} pixels wide" if facts.font else ""
            return f"{size} of {facts.font or 'Unicode'} in {counted(facts.unit_bytes, 'byte')} each{widest}"
        case NotesFacts():
            count = f"{counted(facts.boxes, 'box', 'boxes')} and {counted(facts.points, 'point')}"
            return f"{count} on {counted(facts.frames, 'frame')} of {facts.of}; {', '.join(facts.used)}"
        case ScreenFacts():
            tiles = f", {facts.tiles.tile_count} tiles" if facts.tiles else ""
            level = f" at error correction level {facts.correction}" if facts.correction != "M" else ""
            codes = f"codes of {facts.module_pixels} pixels a module{level}"
            return f"{facts.width} × {facts.height}{tiles}, {codes}{_on_television(facts.tv)}"
    return ""


def _on_television(tv: TvMargins | None) -> str:
    """Return how much worse than usual the model of television and phone may be for both codes to read."""
    if tv is None:
        return "; too many lines for composite video"
    least = ", the least tried"
    bandwidth = f"down to {tv.bandwidth} % of the usual bandwidth{least if tv.bandwidth == tv.tried.bandwidth else ''}"
    photo = f"with the screen down to {tv.photo} pixels wide in the photo{least if tv.photo == tv.tried.photo else ''}"
    return f"; in the model of an old television (a model, no promise) both read {bandwidth}, and {photo}"


def _findings(found: Findings) -> dict[str, Any]:
    """Return what was measured, a line for each, and what was found."""
    looked = [{"about": one.about, "counts": ", ".join(counted(n, what) for what, n in one.counts.items() if n)} for one in found.looked]
    shown = [asdict(one) | {"said": one.sentences} for one in found.findings]
    moving = any(one.about == "flashes" and "/" in one.of for one in found.findings)  # an animation, which is among the proofs
    return {"looked": looked, "methods": [one.method for one in found.looked], "found": shown, "flashing": moving}


def _groups(assets: list[dict[str, Any]]) -> list[dict[str, Any]]:
    groups = []
    for kind in KINDS:
        members = sorted((asset for asset in assets if asset["kind"] == kind), key=lambda asset: asset["rank"])
        if members:
            total = sum(asset["bytes"] for asset in members)
            groups.append({"kind": kind, "plural": KINDS[kind].plural, "bytes": total, "assets": members})
    return groups


def _banks(use: dict[str, Any], entries: list[MapEntry]) -> dict[str, Any]:
    """Return what banks hold, with the names of the assets in each."""
    rows = [{**one, "assets": [e.name for e in entries if _touches(e, one["bank"], use["size"])]} for one in use["banks"]]
    return {"rows": rows, "summary": show_banks(use), "fixed": use.get("fixed", 1)}


def _touches(entry: MapEntry, bank: int, size: int) -> bool:
    return entry.offset < (bank + 1) * size and entry.offset + entry.bytes > bank * size


def _budget(budget: Budget) -> dict[str, Any]:
    scenes = []
    for name, scene in budget.scenes.items():
        parts = [{**asdict(part), "held": True} for part in budget.held_parts()] + [{**asdict(part), "held": False} for part in scene.parts]
        cases = [{"bytes": one.bytes, "names": show_names(one.chosen)} for one in (scene, *scene.next)]
        limits = [
            {"what": show_limit(key), "carried": key in CARRIED, **asdict(one), "names": show_names(one.chosen)}
            for key, one in scene.limits.items()
        ]
        held = {"streamed": [show_streamed(one) for one in scene.streamed], "traffic": _traffic(scene)}
        shown = {"parts": parts, "whole": max(budget.memory, scene.bytes), "cases": cases, "limits": limits, **held}
        scenes.append({"name": name, **to_builtins(scene), **shown})
    planned = [{"name": name, **asdict(one)} for name, one in budget.planned.items()]
    return {"memory": budget.memory, "scenes": scenes, "planned": planned}


def _traffic(scene: SceneBudget) -> str:
    """Return what a scene's worst picture fetches, and with whom; empty where nothing is fetched."""
    if scene.traffic is None:
        return ""
    names = show_names(scene.traffic.chosen)
    return show_traffic(scene.traffic) + (f", with {names}" if names else "")


def _lists(lists: Lists) -> list[dict[str, Any]]:
    """Return each scene's memory from its first byte to its last, with what is free and worth a line."""
    held, scenes = {area.name for area in lists.areas}, []
    for name, scene in lists.scenes.items():
        shown = spans(lists, scene)
        rows = [
            {"address": f"{lists.base + at:#x}", "bytes": count, "share": 100 * count / lists.memory, "name": what, "held": what in held}
            for at, count, what in shown
        ]
        scenes.append({"name": name, "rows": rows, "notes": notes(scene), "mentioned": MENTIONED})
    return scenes
