"""``doit where file=FILE``: which build an image is of, and whose."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pipeline.joints.map import ImageMap, read_map
from pipeline.joints.places import Sources
from pipeline.plain.bounded import read_whole, unreadable
from pipeline.project.ledger import Release, read_ledger
from pipeline.project.testers import label_of
from pipeline.reading.reader import FoundEntry, read_image
from pipeline.target.fields import TESTER
from pipeline.target.records import Target


def show_whose(file: Path, map_file: Path, ledger: Sources, maps: dict[str, Path], target: Target) -> str:
    """Return what is known of an image that turned up somewhere, as lines for a person. No name of a tester is in them.

    Args:
        file: the image.
        map_file: ``map.json`` of the current build; ``maps``: number of a tester, such as T3 -> the map of their own image in it.
        ledger: the ledger, where there is one.

    Raises:
        ProjectError: the file cannot be read, or is larger than any image of the console.
    """
    try:
        data = read_whole(file, file.name, max(target.cartridge.sizes))
    except FileNotFoundError as error:
        raise unreadable(file.name, error) from None
    sha256, current = hashlib.sha256(data).hexdigest(), read_map(map_file)
    releases = read_ledger(ledger.folder)
    known = {sha: f"the current build, {current.image.build_code}{of}" for sha, of in _images(current, maps).items()}
    for one in releases:
        known |= {sha: f"{one.version}, build {one.build_code}, as it was handed out{of}" for sha, of in _handed(one).items()}
    what = known.get(sha256, "not an image of the ledger or of the current build")
    lines = [f"{file.name}: {len(data):,} bytes, SHA-256 {sha256}", f"  {what}"]
    return "\n".join(lines + _said(data, target, current, releases, sha256 in known))


def _images(current: ImageMap, maps: dict[str, Path]) -> dict[str, str]:
    own = {read_map(path).image.sha256: f", the image of {label}" for label, path in maps.items() if path.is_file()}
    return {current.image.sha256: "", **own}


def _handed(release: Release) -> dict[str, str]:
    return {release.image.sha256: "", **{sha: f", the image of {label}" for label, sha in release.kit.images.items()}}


def _said(data: bytes, target: Target, current: ImageMap, releases: list[Release], is_known: bool) -> list[str]:
    """Return what the image says of itself: its code and its number, and whether it was changed since."""
    entries = [FoundEntry(0, one.kind, one.offset, one.bytes, int(one.crc32, 16)) for one in current.entries]
    found = read_image(data, target, None if target.directory else entries)
    lines = []
    code, number = found.values.get("build.code"), found.values.get(TESTER)
    if code:
        named = [one.version for one in releases if one.build_code == code]
        lines.append(f"  its header says build {code}{', which is ' + named[0] if named else ''}")
    if isinstance(number, int):
        lines.append(f"  its header says it is the image of {label_of(number)}" if number else "  its header has no tester's number")
    if not is_known and found.faults:
        lines.append(f"  it was changed, or is of another console: {found.faults[0]}")
    return lines
