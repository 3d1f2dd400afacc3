"""The C decoders compiled for a 68000 and run on an emulated one: a big-endian machine without a library."""

from __future__ import annotations

import subprocess
from collections import Counter
from pathlib import Path
from typing import NamedTuple

from unicorn import UC_ARCH_M68K, UC_HOOK_BLOCK, UC_HOOK_MEM_READ, UC_HOOK_MEM_WRITE, UC_MEM_READ, UC_MODE_BIG_ENDIAN, Uc
from unicorn.m68k_const import UC_M68K_REG_A7, UC_M68K_REG_D0, UC_M68K_REG_SR

from demo_project.program.build import COMPILE, CPU, PREFIX
from pipeline.plain.shipped import TEMPLATES

CPU_68000 = 0  # as in tests/console/basalt_machine.py
CODE, INPUT, OUTPUT, STACK = 0x1000, 0x10_0000, 0x40_0000, 0x80_0000
ROOM, STACK_ROOM = 0x30_0000, 0x1000
BACK = 0xF0_0000  # where the call returns to
SUPERVISOR = 0x2700
SOURCE = TEMPLATES / "console/unpack.c"


class Code(NamedTuple):
    """Compiled decoders: their bytes, name -> (address, bytes), name -> bytes of stack, address -> instruction as text."""

    binary: bytes
    functions: dict[str, tuple[int, int]]
    stack: dict[str, int]
    listing: dict[int, str]


class OutOfBounds(AssertionError):
    """An access that is not a single byte of the input or the output."""


def compile_decoders(folder: Path, level: str, source: Path = SOURCE) -> Code:
    """Compile the decoders with the flags of the demo's program at an optimisation level."""
    flags = [level if flag == "-Os" else flag for flag in COMPILE]
    made, linked = folder / "unpack.o", folder / "unpack.elf"
    _run(f"{PREFIX}gcc", *CPU, *flags, f"-I{SOURCE.parent}", "-fstack-usage", "-c", str(source), "-o", str(made))
    _run(f"{PREFIX}ld", "-Ttext", hex(CODE), "-e", hex(CODE), str(made), "-o", str(linked))
    _run(f"{PREFIX}objcopy", "-O", "binary", "-j", ".text", str(linked), str(folder / "unpack.bin"))
    symbols = [line.split() for line in _run(f"{PREFIX}nm", "-S", str(linked)).splitlines()]
    usage = [line.split("\t") for line in (folder / "unpack.su").read_text().splitlines()]
    listing = [line.strip().split(":\t") for line in _run(f"{PREFIX}objdump", "-d", "--no-show-raw-insn", str(linked)).splitlines()]
    return Code(
        (folder / "unpack.bin").read_bytes(),
        {one[3].removeprefix("rw_unpack_"): (int(one[0], 16), int(one[1], 16)) for one in symbols if len(one) == 4},
        {one[0].rpartition("rw_unpack_")[2]: int(one[1]) for one in usage},
        {int(one[0], 16): one[1].split(" <")[0] for one in listing if len(one) == 2},
    )


def _run(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


class Unpacker:
    """Calls the decoders.

    Attributes:
        steps: (block of instructions, the block run next) -> times, of all calls; blocks by address and bytes.
    """

    def __init__(self, code: Code, *, watch: bool) -> None:
        """``watch``: look at every access (slow); else count blocks."""
        self.code, self.steps = code, Counter()
        self._bounds, self._before = ((0, 0), (0, 0)), (0, 0)
        self.cpu = Uc(UC_ARCH_M68K, UC_MODE_BIG_ENDIAN)
        self.cpu.ctl_set_cpu_model(CPU_68000)
        for start, size in ((0, 0x8000), (INPUT, ROOM), (OUTPUT, ROOM), (STACK - STACK_ROOM, STACK_ROOM)):
            self.cpu.mem_map(start, size)
        self.cpu.mem_write(CODE, code.binary)
        self.cpu.reg_write(UC_M68K_REG_SR, SUPERVISOR)
        if watch:
            self.cpu.hook_add(UC_HOOK_MEM_READ | UC_HOOK_MEM_WRITE, self._look, None, INPUT, OUTPUT + ROOM - 1)
        else:
            self.cpu.hook_add(UC_HOOK_BLOCK, self._count)

    def __call__(self, codec: str, packed: bytes, size: int, odd: int = 0) -> bytes | None:
        """Return what a decoder makes, or None when it says 0. ``odd``: added to the buffers' addresses."""
        source, target = INPUT + odd, OUTPUT + odd
        self._bounds = (source, source + len(packed)), (target, target + size)
        self.cpu.mem_write(source, packed)
        top = STACK - 64
        arguments = (BACK, source, len(packed), target, size)
        self.cpu.mem_write(top, b"".join(value.to_bytes(4, "big") for value in arguments))
        self.cpu.reg_write(UC_M68K_REG_A7, top)
        self._before = (0, 0)
        self.cpu.emu_start(self.code.functions[codec][0], BACK)
        self.steps[self._before, (BACK, 0)] += 1
        good = self.cpu.reg_read(UC_M68K_REG_D0)
        assert good in (0, 1)
        return bytes(self.cpu.mem_read(target, size)) if good else None

    def _look(self, _cpu: Uc, kind: int, address: int, size: int, _value: int, _data: object) -> None:
        reads = kind == UC_MEM_READ
        near = self._bounds if reads else self._bounds[1:]  # a match reads what was made before
        if size != 1 or not any(low <= address < high for low, high in near):
            raise OutOfBounds(f"{size} bytes {'read' if reads else 'written'} at {address:#x}")

    def _count(self, _cpu: Uc, address: int, size: int, _data: object) -> None:
        here = (address, size)
        self.steps[self._before, here] += 1
        self._before = here
