"""On an emulated Z80 the reader for eight bits fetches every frame of every arrangement, and says what texts and notes say.

Runs are compared with ``reading.kinds.fetched``, pieces with the blobs, texts and notes with what decoding says. The compiler is sdcc, the
processor the library ``z80``.
"""

from __future__ import annotations

import itertools
import struct
import zlib
from pathlib import Path

from pipeline.joints.layouts import BOX, FRAME, FRAMED, PIECE, PIECED, POOL, SPRITE
from pipeline.joints.pixel_size import packed_bytes
from pipeline.reading.decoded import read_record
from pipeline.reading.kinds.fetched import measure_frames
from pipeline.reading.pixels import format_of
from tests.conftest import need_library
from tests.makers import Built
from tests.reading.decoding import decode_blob
from tests.rom.reader_walk import HERE, shared_kind

need_library("z80")
from tests.rom.reader_z80 import BANK, link, run  # noqa: E402

QUICK = ("--max-allocs-per-node", "200")  # the compiler tries less to make it small, and takes half of the time
SPRITES = {"ada": "", "bea": "", "cid": "ferry_cells", "dot": ""}


def _blob(made: Built, name: str) -> bytes:
    return (made.project.folder / f"build/blobs/{name}.bin").read_bytes()


def _rows(record: tuple, blob: bytes, start: int, first: int, count: int) -> list[dict[str, int]]:
    size = sum(part.bytes for part in record)
    return [read_record(record, blob, start + size * rank, "little") for rank in range(first, first + count)]


def _pieces(made: Built, name: str, pool: str) -> list[list[bytes]]:
    """Return the bytes of every piece of every frame, from the blobs alone."""
    blob, target = _blob(made, name), made.project.target
    cell = (target.cells.width, target.cells.height)
    if name == "ada":
        head = read_record(SPRITE, blob, 0, "little")
        starts = [head["pixels"] + head["frame_bytes"] * rank for rank in range(head["frame_count"])]
        return [[blob[start : start + head["frame_bytes"]]] for start in starts]
    head = read_record(FRAMED if name == "dot" else PIECED, blob, 0, "little")
    if name == "dot":
        sizes = [
            (one["pixels"], packed_bytes(one["width"], one["height"], format_of(head, target), cell))
            for one in _rows(BOX, blob, head["boxes"], 0, head["frame_count"])
        ]
        return [[blob[start : start + size]] if size else [] for start, size in sizes]
    cells = _blob(made, pool) if pool else blob
    start, size = (read_record(POOL, cells, 0, "little") if pool else head)["pixels"], packed_bytes(*cell, format_of(head, target), cell)
    frames = _rows(FRAME, blob, head["frames"], 0, head["frame_count"])
    ranks = [[one["cell"] for one in _rows(PIECE, blob, head["pieces"], each["first_piece"], each["piece_count"])] for each in frames]
    return [[cells[start + size * rank : start + size * (rank + 1)] for rank in frame] for frame in ranks]


def _wanted(made: Built) -> list[int]:
    numbers = []
    for name, pool in SPRITES.items():
        known = measure_frames(_blob(made, name), _blob(made, pool) if pool else None, made.project.target)
        numbers.append(known.tables)
        for frame, pieces in zip(known.frames, _pieces(made, name, pool), strict=True):
            numbers += [*frame.runs, 0, len(pieces), *(sum(piece) & 0xFFFF for piece in pieces)]
    return numbers


def test_every_frame_is_fetched_on_a_z80(tmp_path: Path):
    """With tables in memory and pixels in banks; a sheet, pieces, pieces of a pool, and trimmed frames with one that is empty."""
    made, said = shared_kind("pebble8"), bytearray()
    hashes = (f"{{ {zlib.crc32(name.encode())}ul, {zlib.crc32(pool.encode()) if pool else 0}ul }}" for name, pool in SPRITES.items())
    source = tmp_path / "streams.c"
    source.write_text(f"#define SPRITES {', '.join(hashes)}\n" + (HERE / "stream_z80.c").read_text())
    include = made.project.folder / "build/include"
    parts = ("SHOW", "FIND", "SPRITE", "FRAMES", "STREAM")
    code, start = link(include, include / "reader8.c", source, parts, len(made.image) // BANK, tmp_path, *QUICK)
    assert run(made.image, code, start, lambda _, value: said.append(value)) == 1
    assert list(struct.unpack(f"<{len(said) // 2}H", said)) == _wanted(made)


def test_texts_and_notes_are_read_on_a_z80(tmp_path: Path):
    """Every unit, box, point and number, and whether a box meets its mirror image, counted column by column."""
    made, said = shared_kind("pebble8"), bytearray()
    include = made.project.folder / "build/include"
    parts = ("SHOW", "FIND", "TEXT", "NOTES")
    code, start = link(include, include / "reader8.c", HERE / "said_z80.c", parts, len(made.image) // BANK, tmp_path, *QUICK)
    assert run(made.image, code, start, lambda _, value: said.append(value)) == 1
    text, notes = (decode_blob(kind, _blob(made, name), made.project.target) for kind, name in (("text", "said"), ("notes", "bea_notes")))
    wanted = [text.head["end"], *(number for units in itertools.chain(*text.texts) for number in (len(units), *units))]
    for one in notes.noted:
        wanted += [len(one.boxes), len(one.points), one.events, one.ticks]
        for kind, x, y, width, height in one.boxes:
            columns = {*range(x, x + width)}
            wanted += [kind, x, y, width, height, int(bool(columns & {9 - column for column in columns}))]
        wanted += [number for point in one.points for number in point]
        wanted += one.numbers
    assert len(wanted) > 60
    assert list(struct.unpack(f"<{len(said) // 2}H", said)) == [number & 0xFFFF for number in wanted]
