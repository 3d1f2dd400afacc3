"""The report: one self-contained page with everything in the build, for the author."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import Any

from pipeline.files import read_json, write_bytes
from pipeline.packed_files import image_facts
from pipeline.project_file import SEVERITIES, Issue
from pipeline.rendering import render
from pipeline.target import KINDS

_PLURAL = {"data": "data", "sprite": "sprites", "background": "backgrounds", "palette": "palettes", "sound": "sounds"}
_PLURAL |= {"screen": "screens", "program": "programs"}


def write_page(
    folder: Path,
    blobs: Path,
    proofs: Path,
    map_file: Path,
    budget_file: Path,
    out: Path,
    game: dict[str, str],
    console: str,
    issues: list[Issue],
    packed: tuple[str, ...] = (),
) -> str:
    """Write ``report.html``; return one line about it.

    Args:
        folder: the project folder, whose own template wins.
        blobs, proofs: folders with the facts and the pictures of every asset.
        game: title, version, phase, code and language.
        console: the target's name.
        packed: names of packed assets; see ``packed_files``.
    """
    image_map = read_json(map_file)
    assets = [_asset(entry, image_facts(blobs, entry["name"], entry["name"] in packed), proofs) for entry in image_map["entries"]]
    values = {
        "game": game,
        "console": console,
        "image": image_map["image"],
        "groups": _groups(assets),
        "entries": assets,
        "budget": _budget(read_json(budget_file)),
        "issues": [{"id": i.id, "severity": i.severity, "where": i.where, "what": i.what} for i in sorted(issues, key=_by_severity)],
    }
    page = render(folder, "report.html.j2", values, markup=True).encode()
    write_bytes(out, page)
    return f"{len(assets)} assets on one page, {len(page):,} bytes"


def _asset(entry: dict[str, Any], facts: dict[str, Any], proofs: Path) -> dict[str, Any]:
    proof = proofs / f"{entry['name']}.png"
    picture = f"data:image/png;base64,{base64.b64encode(proof.read_bytes()).decode()}" if proof.is_file() else None
    return {**entry, "picture": picture, "told": _told(entry["kind"], facts), "packed": _packed(facts), "origin": facts.get("origin", "")}


def _error(facts: dict[str, Any]) -> str:
    error = facts["colour_error"]
    if not error["mean"]:
        return ", colours exact" if error["mean"] == 0 else ""
    return f"; colours differ by {error['mean']:.1f} on average, {error['p95']:.1f} at the 95th percentile (CIEDE2000)"


def _pieces(facts: dict[str, Any]) -> str:
    share = facts["unpacked_bytes"] / facts["sheet_bytes"]
    return f"{facts['pieces']} pieces of {facts['cell_count']} cells, {share:.0%} of a sheet's bytes"


def _packed(facts: dict[str, Any]) -> str:
    """Return how an asset stands in the image; empty where nobody asked for packing."""
    if "tried" not in facts:
        return ""
    if facts["codec"] == "stored":
        return "stored: no codec makes it smaller"
    share = f"packed with {facts['codec']} to {facts['bytes'] / facts['unpacked_bytes']:.0%} of {facts['unpacked_bytes']:,} bytes"
    return share + (": larger than stored" if facts["bytes"] > facts["unpacked_bytes"] else "")


def _told(kind: str, facts: dict[str, Any]) -> str:
    if kind == "sprite":
        names = ", ".join(animation["name"] for animation in facts["animations"])
        names = (names or "no animations") + (f"; {_pieces(facts)}" if facts["arrangement"] == "pieces" else "")
        size = f"{facts['frames']} frames, {facts['source_width']} × {facts['source_height']} brought to "
        return f"{size}{facts['width']} × {facts['height']} ({facts['scale']:g}); {names}{_error(facts)}"
    if kind == "background":
        return f"{facts['width']} × {facts['height']} pixels{_error(facts)}"
    if kind == "palette":
        return f"{facts['entry_count']} entries from {facts['first']}, chosen from {facts['colours_seen']} colours"
    if kind == "sound":
        clipped = f", {facts['clipped']} samples clipped" if facts["clipped"] else ""
        return f"{facts['seconds']:.2f} s, {facts['rate']} Hz, {facts['format']}{clipped}"
    if kind == "screen":
        return f"{facts['width']} × {facts['height']}, codes of {facts['module_pixels']} pixels a module"
    return ""


def _groups(assets: list[dict[str, Any]]) -> list[dict[str, Any]]:
    groups = []
    for kind in KINDS:
        members = [asset for asset in assets if asset["kind"] == kind]
        if members:
            total = sum(asset["bytes"] for asset in members)
            groups.append({"kind": kind, "plural": _PLURAL[kind], "bytes": total, "assets": members})
    return groups


def _by_severity(issue: Issue) -> tuple[int, str]:
    return SEVERITIES.index(issue.severity), issue.id


def _budget(budget: dict[str, Any]) -> dict[str, Any]:
    scenes = []
    for name, scene in budget["scenes"].items():
        held = [{"name": key, "bytes": count, "held": True} for key, count in budget["held"].items()]
        parts = held + [{**part, "held": False} for part in scene["parts"]]
        scenes.append({"name": name, **scene, "parts": parts, "whole": max(budget["memory"], scene["bytes"])})
    return {"memory": budget["memory"], "scenes": scenes}
