"""The kit: one archive with image, packet, notes and checksums, the same bytes whenever its parts are the same."""

from __future__ import annotations

import datetime
import hashlib
import zipfile
from pathlib import Path

from pipeline.joints.budget import read_budget_file
from pipeline.joints.build_names import GOVERNED, TESTERS, clear
from pipeline.joints.map import read_map
from pipeline.memory.budget import over_memory
from pipeline.memory.refused import too_fast
from pipeline.packet.content.content import kit_stem
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.files import read_json, replacing, sha256_of, write_json

SUMS = "SHA256SUMS"
_EARLIEST = datetime.date(1980, 1, 1)  # a zip archive has no earlier date
_LATEST = datetime.date(2107, 12, 31)
_MODE = 0o100644 << 16  # a plain file, readable by all
_UNIX = 3


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
    own: dict[str, tuple[Path, Path]] | None = None,
    remarks: str = "",
) -> str:
    """Write the kit beside its manifest, take away every other kit there; return one line about it.

    Each tester with a packet of their own gets a kit in the folder ``testers``: the same, with that packet and page.

    Args:
        map_file: ``map.json`` of the image.
        budget_file: ``budget.json``; no kit is made of a build that does not fit.
        advice_file: what would help most then, in words: ``{"changes": [text, ...]}``.
        manifest: JSON file that will name the kit and its SHA-256: ``kit/kit.json`` of a build folder.
        code: the game's short code.
        date: of the files in the archive; None for the earliest it can hold.
        own: number as in file names, such as T03 -> a tester's own packet and page.
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
    kits = {kit: (stem, files)}
    for number, theirs in (own or {}).items():
        personal = files | {f"{stem}-packet{path.suffix}": path.read_bytes() for path in theirs}
        kits[manifest.parent / TESTERS / f"{stem}-{number}.zip"] = (f"{stem}-{number}", personal)
    for path, (folder, content) in kits.items():
        _write_archive(path, folder, content | {SUMS: check_file(content)}, date)
    build = manifest.parent.parent
    inside = manifest.relative_to(build).as_posix()
    clear(build, {inside, *(path.relative_to(build).as_posix() for path in kits)}, only=GOVERNED[inside])
    named = {path.relative_to(manifest.parent).as_posix(): path for path in kits}
    write_json(manifest, {"files": {name: sha256_of(path) for name, path in named.items()}})
    more = f", and {len(own)} for testers in kit/{TESTERS}" if own else ""
    return f"{kit.name}, {kit.stat().st_size:,} bytes{more}{f'; {remarks}' if remarks else ''}"


def check_file(files: dict[str, bytes]) -> bytes:
    """Return what ``sha256sum -c`` reads: a line for each file."""
    return "".join(f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in files.items()).encode()


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


def _write_archive(kit: Path, stem: str, files: dict[str, bytes], date: datetime.date | None) -> None:
    day = min(max(date or _EARLIEST, _EARLIEST), _LATEST)
    # Stored, not deflated: other builds of zlib deflate to other bytes.
    with replacing(kit) as file, zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
        for name, data in files.items():
            entry = zipfile.ZipInfo(f"{stem}/{name}", (day.year, day.month, day.day, 0, 0, 0))
            entry.create_system, entry.external_attr = _UNIX, _MODE
            archive.writestr(entry, data)
