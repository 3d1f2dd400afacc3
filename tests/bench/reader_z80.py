"""Instructions of calls of the reader for eight bits on a Z80. Run: ``python -m tests.bench.reader_z80 [READER8.C]``.

It needs sdcc and the library ``z80``. With another version of the reader's C, made for the same target, it prints both.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

from tests.rom.reader_walk import every_kind
from tests.rom.reader_z80 import BANK, link, run
from tests.rom.test_small_reader import GAME

HERE = Path(__file__).parent
FIGURES = ("sheet", "trimmed", "in pieces of a pool", "in pieces")
NAMES = (
    *(f"{call}, {figure}" for figure in FIGURES for call in ("rw8_find", "rw8_sprite", "rw8_frame", "rw8_piece")),
    "rw8_animation", "rw8_step", "rw8_find, palette", "rw8_palette", "rw8_colour", "rw8_find", "rw8_unpack, LZ4", "rw8_find",
    "rw8_unpack, PackBits",
)  # fmt: skip
PACKED = "".join(
    f'[sprite.{name}]\nframes = "art/bea/*.png"\npalette = "figures"\narrangement = "pieces"\npacking = "{codec}"\n'
    for name, codec in (("eve", "lz4"), ("fay", "packbits"))
)


def main() -> None:
    """Build, count and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.reader_z80", description=__doc__.partition("\n")[0])
    parser.add_argument("reader", type=Path, nargs="?")
    other = parser.parse_args().reader
    with tempfile.TemporaryDirectory() as scratch:
        made = every_kind(Path(scratch) / "project", "pebble8", packing=PACKED)
        include = made.project.folder / "build/include"
        now = counted(include, include / "reader8.c", made.image, Path(scratch))
        before = counted(include, other, made.image, Path(scratch)) if other else now
        for rank, name in enumerate(NAMES, start=1):
            print(f"{name:32} {now[rank]:7,}" + (f" {before[rank]:7,} {now[rank] / before[rank]:7.2f}" if other else ""))


def counted(include: Path, reader: Path, image: bytes, folder: Path) -> Counter[int]:
    """Return the instructions of every call, by its number."""
    code, start = link(include, reader, HERE / "reader8_calls.c", (*GAME, "FRAMES"), len(image) // BANK, folder)
    found: Counter[int] = Counter()
    calls = [0]

    def count() -> None:
        found[calls[-1]] += 1

    well = run(image, code, start, lambda _, value: calls.append(value), count)
    assert well == len(NAMES), "a call failed"
    return found


if __name__ == "__main__":
    main()
