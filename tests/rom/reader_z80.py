"""A program with the generated reader for eight bits, compiled by sdcc and run on an emulated Z80 beside an image in banks.

The processor is the library ``z80``.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterable
from pathlib import Path

import z80
from intelhex import IntelHex

from tests.conftest import need_tool
from tests.rom.test_small_reader import parts_of

BANK, WINDOW, CODE, DATA, STACK = 16 << 10, 0x4000, 0x8000, 0xD000, 0xFF00  # the code is in memory, so that the image stays as it is
BANK_PORT, END_PORT = 0, 2
_A_RUN = 100_000  # ticks between looks at whether it ended
_SWITCH = """#ifndef CONSOLE_H
#define CONSOLE_H
__sfr __at 0x00 bank_port;
#define RW_BANK(number) (bank_port = (unsigned char)(number))
#endif
"""


def link(
    include: Path, reader: Path, source: Path, parts: Iterable[str], banks: int, folder: Path, *flags: str
) -> tuple[bytes, int]:
    """Compile and link a program and the reader for shipped banks; return its bytes from ``CODE`` on, and where it starts.

    Args:
        parts: of the reader, by name. ``banks``: ``BANKS`` in the program. ``flags``: more for the compiler.
    """
    numbers = parts_of(include / "reader8.h")
    (folder / "console.h").write_text(_SWITCH)
    words = ["-mz80", "--opt-code-size", f"-I{include}", f"-I{folder}", '-DRW_CONFIG="console.h"', *flags]
    words += [f"-DRW8_PARTS={sum(numbers[name] for name in parts)}", f"-DBANKS={banks}"]
    for one, name in ((source, "calls"), (reader, "reader")):
        _sdcc(*words, "-c", str(one), "-o", str(folder / f"{name}.rel"))
    places = ("--no-std-crt0", "--code-loc", f"{CODE:#x}", "--data-loc", f"{DATA:#x}")
    _sdcc("-mz80", *places, str(folder / "calls.rel"), str(folder / "reader.rel"), "-o", str(folder / "all.ihx"))
    linked = IntelHex(str(folder / "all.ihx"))
    listed = (folder / "all.map").read_text().splitlines()
    start = next(int(line.split()[0], 16) for line in listed if line.split()[1:2] == ["_main"])
    return linked.tobinstr(CODE, linked.maxaddr()), start


def run(image: bytes, code: bytes, start: int, said: Callable[[int, int], None], each: Callable[[], None] | None = None) -> int:
    """Run a program until it sends a number other than 0 to ``END_PORT``; return that.

    Args:
        said: gets port and value of what it sends to other ports than its banks'.
        each: called after every instruction.
    """
    ended = [0]

    def output(address: int, value: int) -> None:
        port = address & 0xFF
        if port == BANK_PORT:
            assert (value + 1) * BANK <= len(image), f"there is no bank {value}"
            cpu.set_memory_block(WINDOW, image[value * BANK : (value + 1) * BANK])
        elif port == END_PORT:
            ended[0], cpu.ticks_to_stop = value, 1
        else:
            said(port, value)

    cpu = z80.Z80Machine()
    cpu.set_memory_block(0, b"\0" * 0x10000)
    cpu.set_memory_block(0, image[:BANK])
    cpu.set_memory_block(CODE, code)
    cpu.set_output_callback(output)
    cpu.pc, cpu.sp = start, STACK
    while not ended[0]:
        cpu.ticks_to_stop = 1 if each else _A_RUN
        cpu.run()
        if each:
            each()
    return ended[0]


def _sdcc(*words: str) -> None:
    done = subprocess.run([need_tool("sdcc"), *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
