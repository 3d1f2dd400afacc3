"""Instructions of calls of the reader for eight bits on a Z80. Run: ``python -m tests.bench.reader_z80 [READER8.C]``.

It needs sdcc and the library ``z80``. With another version of the reader's C, made for the same target, it prints both.
"""

from __future__ import annotations

import argparse
import subprocess
import tempfile
from collections import Counter
from pathlib import Path

import z80
from intelhex import IntelHex

from tests.rom.reader_walk import every_kind
from tests.rom.test_small_reader import GAME, parts_of

HERE = Path(__file__).parent
BANK, WINDOW, CODE, DATA, STACK = 16 << 10, 0x4000, 0x8000, 0xD000, 0xFF00  # the code is in memory, so that the image stays as it is
BANK_PORT, CALL_PORT, END_PORT = range(3)
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
    parts = parts_of(include / "reader8.h")
    chosen = sum(parts[name] for name in (*GAME, "FRAMES"))
    flags = ["-mz80", "--opt-code-size", f"-I{include}", f"-DRW8_PARTS={chosen}", f"-DBANKS={len(image) // BANK}"]
    switch = "__sfr __at 0x00 bank_port;\n#define RW_BANK(number) (bank_port = (unsigned char)(number))\n"
    (folder / "console.h").write_text(f"#ifndef CONSOLE_H\n#define CONSOLE_H\n{switch}#endif\n")
    flags += [f"-I{folder}", '-DRW_CONFIG="console.h"']
    for source, name in ((HERE / "reader8_calls.c", "calls"), (reader, "reader")):
        subprocess.run(["sdcc", *flags, "-c", str(source), "-o", str(folder / f"{name}.rel")], check=True, capture_output=True)
    places = ("--no-std-crt0", "--code-loc", f"{CODE:#x}", "--data-loc", f"{DATA:#x}")
    objects = (str(folder / "calls.rel"), str(folder / "reader.rel"))
    subprocess.run(["sdcc", "-mz80", *places, *objects, "-o", str(folder / "all.ihx")], check=True, capture_output=True)
    linked = IntelHex(str(folder / "all.ihx"))
    listed = (folder / "all.map").read_text().splitlines()
    start = next(int(line.split()[0], 16) for line in listed if line.split()[1:2] == ["_main"])
    return _run(image, linked.tobinstr(CODE, linked.maxaddr()), start)


def _run(image: bytes, code: bytes, start: int) -> Counter[int]:
    found: Counter[int] = Counter()
    state = {CALL_PORT: 0, END_PORT: 0}

    def output(address: int, value: int) -> None:
        port = address & 0xFF
        if port == BANK_PORT:
            cpu.set_memory_block(WINDOW, image[value * BANK : (value + 1) * BANK])
        state[port] = value

    cpu = z80.Z80Machine()
    cpu.set_memory_block(0, b"\0" * 0x10000)
    cpu.set_memory_block(0, image[:BANK])
    cpu.set_memory_block(CODE, code)
    cpu.set_output_callback(output)
    cpu.pc, cpu.sp = start, STACK
    while not state[END_PORT]:
        cpu.ticks_to_stop = 1  # one instruction
        cpu.run()
        found[state[CALL_PORT]] += 1
    assert state[END_PORT] == len(NAMES), "a call failed"
    return found


if __name__ == "__main__":
    main()
