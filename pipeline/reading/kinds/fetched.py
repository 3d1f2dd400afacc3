"""What a program fetches of a sprite frame by frame: where the pixels of each frame are in the bytes it reads them from."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pipeline.joints.fetched import FORMAT, Fetch, Frames, write_fetched
from pipeline.joints.layouts import (
    ANIMATION,
    BOX,
    FRAME,
    FRAMED,
    FRAMED_VERSION,
    OWN_POOL,
    PIECE,
    PIECED,
    PIECED_VERSION,
    POOL,
    PREPARED,
    PREPARED_VERSION,
    SPRITE,
    STEP,
    VERSION,
)
from pipeline.joints.pixel_size import packed_bytes
from pipeline.plain.sizes import counted, round_up
from pipeline.reading.decoded import BlobFault, read_record
from pipeline.reading.pixels import format_of, start_of
from pipeline.target.records import Target

Parts = frozenset[tuple[int, int]]  # offset and bytes of each stored part: a whole frame, a box, a cell


def write_frames(blob: Path, pool: Path | None, out: Path, name: str, target: Target) -> str:
    """Write ``NAME.fetched.json``; return one line about it.

    Args:
        blob: of the sprite, unpacked; ``pool``: of its pool, if that holds its cells.
    """
    found = measure_frames(blob.read_bytes(), pool.read_bytes() if pool else None, target)
    write_fetched(out, found)
    largest = max(found.frames, key=lambda one: one.bytes)
    return f"{name}: a frame is {largest.bytes:,} bytes at most, in {counted(len(largest.runs), 'run')}"


def measure_frames(blob: bytes, pool: bytes | None, target: Target) -> Frames:
    """Return what each frame and each animation of a sprite needs.

    Args:
        blob: as it is in memory; ``pool``: its pool's, where that holds its cells.

    Raises:
        BlobFault: a table leaves the blob, or the layout is one that is not known here.
    """
    parts, cells_each = _stored(blob, pool, target)
    own = frozenset() if pool is not None else frozenset().union(*parts)
    return Frames(
        version=FORMAT,
        tables=min((offset for offset, _ in own), default=len(blob)),  # its pixels are its last bytes
        frames=[_fetch(one, cells_each) for one in parts],
        animations=[_fetch(frozenset().union(*(parts[frame] for frame in frames)), cells_each) for frames in _shown(blob, target)],
    )


def stored_parts(blob: bytes, pool: bytes | None, target: Target) -> list[Parts]:
    """Return the parts of its pixels that each frame needs, in its blob or in its pool's; arguments and errors as ``measure_frames``."""
    return _stored(blob, pool, target)[0]


def _stored(blob: bytes, pool: bytes | None, target: Target) -> tuple[list[Parts], int]:
    """Return the parts that each frame needs, and the bytes of a cell."""
    return _STORED.get(blob[0] if blob else 0, _unknown)(blob, pool, target)


def _fetch(parts: Parts, cell_bytes: int) -> Fetch:
    runs: list[int] = []
    end = -1
    for offset, size in sorted(parts):
        if offset == end:
            runs[-1] += size
        else:
            runs.append(size)
        end = offset + size
    return Fetch(runs=runs, cells=sum(runs) // cell_bytes)


def _unknown(blob: bytes, pool: bytes | None, target: Target):
    raise BlobFault(f"layout {blob[0] if blob else 0} of a sprite is not known here")


def _sheet(blob: bytes, pool: bytes | None, target: Target) -> tuple[list[Parts], int]:
    head = read_record(SPRITE, blob, 0, target.byte_order)
    size = head["frame_bytes"]
    return [frozenset([(head["pixels"] + rank * size, size)]) for rank in range(head["frame_count"])], _cell_bytes(head, target)


def _framed(blob: bytes, pool: bytes | None, target: Target) -> tuple[list[Parts], int]:
    head, cell = read_record(FRAMED, blob, 0, target.byte_order), (target.cells.width, target.cells.height)
    parts = []
    for box in _rows(BOX, blob, head["boxes"], range(head["frame_count"]), target):
        size = packed_bytes(box["width"], box["height"], format_of(head, target), cell, start_of("cell", target))
        parts.append(frozenset([(box["pixels"], size)] if size else []))
    return parts, _cell_bytes(head, target)


def _pieced(blob: bytes, pool: bytes | None, target: Target) -> tuple[list[Parts], int]:
    head = read_record(_RECORDS[blob[0]], blob, 0, target.byte_order)
    if (pool is None) != (head["pool"] == OWN_POOL):
        raise BlobFault("its cells are not where its record says")
    first = head["pixels"] if pool is None else read_record(POOL, pool, 0, target.byte_order)["pixels"]
    size, parts = _cell_bytes(head, target), []
    for frame in _rows(FRAME, blob, head["frames"], range(head["frame_count"]), target):
        pieces = range(frame["first_piece"], frame["first_piece"] + frame["piece_count"])
        numbers = {piece["cell"] for piece in _rows(PIECE, blob, head["pieces"], pieces, target)}
        parts.append(frozenset((first + number * size, size) for number in numbers))
    return parts, size


_STORED = {VERSION: _sheet, FRAMED_VERSION: _framed, PIECED_VERSION: _pieced, PREPARED_VERSION: _pieced}
_RECORDS = {VERSION: SPRITE, FRAMED_VERSION: FRAMED, PIECED_VERSION: PIECED, PREPARED_VERSION: PREPARED}


def _cell_bytes(head: dict[str, int], target: Target) -> int:
    cell = (target.cells.width, target.cells.height)
    return round_up(packed_bytes(*cell, format_of(head, target), cell), start_of("cell", target))


def _shown(blob: bytes, target: Target) -> list[list[int]]:
    """Return the frames that each animation shows."""
    head = read_record(_RECORDS[blob[0]], blob, 0, target.byte_order)
    shown = []
    for one in _rows(ANIMATION, blob, head["animations"], range(head["animation_count"]), target):
        steps = range(one["first_step"], one["first_step"] + one["step_count"])
        shown.append([step["frame"] for step in _rows(STEP, blob, head["steps"], steps, target)])
    return shown


def _rows(record: tuple, blob: bytes, start: int, ranks: range, target: Target) -> Iterable[dict[str, int]]:
    size = sum(part.bytes for part in record)
    return (read_record(record, blob, start + size * rank, target.byte_order) for rank in ranks)
