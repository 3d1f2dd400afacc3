"""The kit: one archive with image, packet, notes and checksums, the same bytes whenever its parts are the same."""

from __future__ import annotations

import datetime
import hashlib
import io
from collections.abc import Iterator
from pathlib import Path

from pipeline.joints.budget import read_budget_file
from pipeline.joints.build_names import GOVERNED, TESTERS, clear
from pipeline.joints.map import apply_mark, read_map, read_mark
from pipeline.joints.places import OwnFiles
from pipeline.memory.budget import over_memory
from pipeline.memory.refused import too_fast
from pipeline.packet.content.content import kit_stem
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.files import json_bytes, read_json
from pipeline.release.archive import Packed, packed, write_archive
from pipeline.release.together import Together

SUMS = "SHA256SUMS"


def write_kit(
    image: Path,
    map_file: Path,
    packet: Path,
    page: Path,
    notes: Path,
    budget_file: Path,
    advice_file: Path,
    manifest: Path,
    code: str,
    version: str,
    date: datetime.date | None,
    own: dict[str, OwnFiles] | None = None,
    remarks: str = "",
) -> str:
    """Write the kit beside its manifest, take away every other kit there; return one line about it. If a write fails, nothing changes.

    Each tester with a packet of their own gets a kit in the folder ``testers``: the same, with that packet and page.

    Args:
        map_file: ``map.json`` of the image.
        budget_file: ``budget.json``; no kit is made of a build that does not fit.
        advice_file: what would help most then, in words: ``{"changes": [text, ...]}``.
        manifest: JSON file that will name the kit and its SHA-256: ``kit/kit.json`` of a build folder.
        code: the game's short code.
        date: of the files in the archive; None for the earliest it can hold.
        own: number as in file names, such as T03 -> a tester's own files.
        remarks: further text for the author.

    Raises:
        ProjectError: a scene does not fit the memory, the image is not the one of the map, or a file cannot be written.
    """
    _refuse_over(budget_file, advice_file)
    mapped = read_map(map_file).image
    stem = kit_stem(code, version, mapped.build_code)
    kit = manifest.with_name(f"{stem}.zip")
    named = {f"{stem}{image.suffix}": image, f"{stem}-packet.pdf": packet, f"{stem}-packet.html": page, f"{stem}-notes.txt": notes}
    files = {name: path.read_bytes() for name, path in named.items()}
    _refuse_other_image(image, files[f"{stem}{image.suffix}"], mapped.sha256)
    everybody = {name: packed(data) for name, data in files.items()}
    listed = {}
    with Together() as written:
        for inside, content in _kits(stem, files, everybody, own or {}):
            listed[inside] = _write_kit(written, manifest.parent / inside, content, date)
        written.write(manifest, json_bytes({"files": listed}))
    build, folder = manifest.parent.parent, manifest.parent.name
    named = f"{folder}/{manifest.name}"
    clear(build, {named, *(f"{folder}/{inside}" for inside in listed)}, only=GOVERNED[named])
    more = f", and {len(own)} for testers in kit/{TESTERS}" if own else ""
    return f"{kit.name}, {kit.stat().st_size:,} bytes{more}{f'; {remarks}' if remarks else ''}"


def _kits(
    stem: str, files: dict[str, bytes], everybody: dict[str, Packed], own: dict[str, OwnFiles]
) -> Iterator[tuple[str, dict[str, Packed]]]:
    """Yield the name and the files of every kit, one after another: what is the same in all is packed once."""
    image = next(iter(files))
    yield f"{stem}.zip", everybody
    for number, theirs in own.items():
        instead = {f"{stem}-packet.pdf": theirs.packet, f"{stem}-packet.html": theirs.page, f"{stem}-notes.txt": theirs.notes}
        content = everybody | {name: packed(path.read_bytes()) for name, path in instead.items() if path is not None}
        if theirs.mark is not None and theirs.map is not None:
            marked = apply_mark(files[image], read_mark(theirs.mark))
            _refuse_other_image(Path(image), marked, read_map(theirs.map).image.sha256)
            content |= {image: packed(marked)}
        yield f"{TESTERS}/{stem}-{number}.zip", content


def check_file(files: dict[str, Packed]) -> bytes:
    """Return what ``sha256sum -c`` reads: a line for each file."""
    return "".join(f"{one.sha256}  {name}\n" for name, one in files.items()).encode()


def _refuse_over(budget_file: Path, advice_file: Path) -> None:
    budget = read_budget_file(budget_file)
    problems, over = too_fast(budget), over_memory(budget)
    if over:
        measured = read_json(advice_file)["changes"]
        remedy = "make assets of these scenes smaller or fewer; the report shows what fills them"
        if measured:
            remedy = "what would help most, measured: " + "; ".join(measured) + ". See also: doit fit, doit savings"
        problems.append(Problem("budget.json", "", f"no kit of a build that does not fit its memory: {over}", remedy))
    if problems:
        raise ProjectError(problems)


def _refuse_other_image(image: Path, data: bytes, sha256: str) -> None:
    if hashlib.sha256(data).hexdigest() != sha256:
        raise refuse(image.name, "", "is not the image that map.json describes", "build again; leave the build folder alone while it runs")


def _write_kit(together: Together, kit: Path, files: dict[str, Packed], date: datetime.date | None) -> str:
    """Write a kit with its checksums; return its SHA-256."""
    whole, content = io.BytesIO(), {**files, SUMS: packed(check_file(files))}
    write_archive(whole, {f"{kit.stem}/{name}": one for name, one in content.items()}, date)
    together.write(kit, whole.getvalue())
    return hashlib.sha256(whole.getvalue()).hexdigest()
