"""Whose image it is: what makes a tester's image out of everybody's, as a patch of a few bytes and a map with other checksums."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator
from pathlib import Path

import msgspec

from pipeline.joints.map import Mark, apply_mark, read_map, write_map, write_mark
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import counted
from pipeline.project.testers import label_of
from pipeline.reading.reader import FoundEntry, read_image
from pipeline.rom.image import marked_image
from pipeline.target.fields import TESTER
from pipeline.target.records import Target

_NEAR = 8  # equal bytes between two changed ones that a patch would rather write again


def write_own_image(image: Path, map_file: Path, target: Target, number: int, out_map: Path, out_mark: Path) -> str:
    """Write how a tester's image differs from everybody's, and its map; return one line about it.

    The image itself is written nowhere: ``joints.map.apply_mark`` makes it where it is needed.

    Args:
        image: everybody's, verified; ``map_file``: ``map.json`` of it.
        number: of the tester.
        out_map: the map, with the checksums of the tester's image; ``out_mark``: what differs.

    Raises:
        ProjectError: the image that comes of it is not in order.
    """
    data, known = image.read_bytes(), read_map(map_file)
    own = marked_image(data, target, number, known.image.used, len(known.entries))
    mark = Mark(version=Mark.FORMAT, number=number, changed=[(at, own[at:end].hex()) for at, end in _changed(data, own)])
    entries = [FoundEntry(zlib.crc32(one.name.encode()), one.kind, one.offset, one.bytes, int(one.crc32, 16)) for one in known.entries]
    found = read_image(apply_mark(data, mark), target, None if target.directory else entries)
    faults = [*found.faults] if found.values.get(TESTER) == number else [*found.faults, f"its number is {found.values.get(TESTER)}"]
    if faults:
        raise refuse(image.name, "", f"the image of {label_of(number)} is not in order: {'; '.join(faults[:3])}", "build again")
    sums = {"crc32": f"{zlib.crc32(own):08x}", "sha256": hashlib.sha256(own).hexdigest()}
    write_mark(out_mark, mark)
    write_map(out_map, msgspec.structs.replace(known.image, **sums), known.entries)
    return f"{label_of(number)}: {counted(sum(len(part) // 2 for _, part in mark.changed), 'byte')} of the image are theirs"


def _changed(before: bytes, now: bytes) -> Iterator[tuple[int, int]]:
    """Yield the ranges in which two images of one size differ."""
    block = 1 << 12  # compared whole first
    places = (at for start in range(0, len(now), block) if before[start : start + block] != now[start : start + block]
              for at in range(start, min(start + block, len(now))) if before[at] != now[at])  # fmt: skip
    first = next(places, None)
    if first is None:
        return
    start = last = first
    for at in places:
        if at > last + _NEAR:
            yield start, last + 1
            start = at
        last = at
    yield start, last + 1
