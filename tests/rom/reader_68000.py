"""The generated reader compiled for a 68000 and run on an emulated one: a big-endian machine without a library."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import NamedTuple

import numpy as np
from unicorn import UC_ARCH_M68K, UC_HOOK_MEM_READ, UC_HOOK_MEM_WRITE, UC_MODE_BIG_ENDIAN, Uc
from unicorn.m68k_const import UC_M68K_REG_A7, UC_M68K_REG_D0, UC_M68K_REG_SR

from demo_project.program.build import COMPILE, CPU, PREFIX
from pipeline.target.kinds import KIND_NUMBERS
from tests.makers import Built
from tests.rom.reader_walk import HERE, hash_of

CPU_68000 = 0  # as in tests/console/basalt_machine.py
CODE, IMAGE, OUTPUT, STACK = 0x1000, 0x20_0000, 0x40_0000, 0x80_0000
CODE_ROOM, IMAGE_ROOM, OUTPUT_ROOM, STACK_ROOM = 0x10_0000, 0x18_0000, 0x10_0000, 0x1000
BACK = 0xF0_0000  # where a call returns to
SUPERVISOR = 0x2700
PAINT = 0xA5


class OutOfBounds(AssertionError):
    """A read of the image that is not a single byte inside it, or a write."""


class Code(NamedTuple):
    """A linked program: its bytes, and name -> (address, bytes) of its functions."""

    binary: bytes
    functions: dict[str, tuple[int, int]]


def compile_reader(include: Path, folder: Path, level: str) -> Path:
    """Compile ``reader.c`` of a build with the flags of the demo's program; return the object file."""
    made = folder / f"reader{level}.o"
    _compile(include / "reader.c", made, level, f"-I{include}", "-fstack-usage")
    return made


def undefined(made: Path) -> str:
    """Return the names an object file asks for and does not bring."""
    return _run(f"{PREFIX}nm", "-u", str(made))


def link_walk(include: Path, folder: Path, level: str, reader: Path | None = None) -> Code:
    """Compile and link reader, unless its object file is there, and walk."""
    objects, linked = [reader or compile_reader(include, folder, level)], folder / f"walk{level}.elf"
    for name in ("reader_walk", "reader_68000"):
        objects.append(folder / f"{name}{level}.o")
        _compile(HERE / f"{name}.c", objects[-1], level, f"-I{include}", f"-I{HERE}", f"-DOUTPUT={OUTPUT:#x}ul")
    places = ("-Wl,-N", f"-Wl,-Ttext={CODE:#x}", "-Wl,-e,walk", "-Wl,--build-id=none")
    _run(f"{PREFIX}gcc", *CPU, "-nostdlib", "-static", "-no-pie", *places, *map(str, objects), "-lgcc", "-o", str(linked))
    _run(f"{PREFIX}objcopy", "-O", "binary", str(linked), str(folder / "walk.bin"))
    symbols = [line.split() for line in _run(f"{PREFIX}nm", "-S", str(linked)).splitlines()]
    return Code(
        (folder / "walk.bin").read_bytes(),
        {one[3]: (int(one[0], 16), int(one[1], 16)) for one in symbols if len(one) == 4 and one[2] in "tT"},
    )


def _compile(source: Path, made: Path, level: str, *more: str) -> None:
    flags = [level if flag == "-Os" else flag for flag in COMPILE]
    _run(f"{PREFIX}gcc", *CPU, *flags, *more, "-c", str(source), "-o", str(made))


def _run(*command: str) -> str:
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


class Console:
    """Calls functions of a linked program on an image at an odd address."""

    def __init__(self, code: Code, image: bytes, *, watch: bool) -> None:
        """``watch``: look at every access to the image (slow)."""
        self.code, self.at, self.image = code, IMAGE + 1, image
        self.cpu = Uc(UC_ARCH_M68K, UC_MODE_BIG_ENDIAN)
        self.cpu.ctl_set_cpu_model(CPU_68000)
        rooms = ((0, CODE_ROOM), (IMAGE, IMAGE_ROOM), (OUTPUT, OUTPUT_ROOM), (STACK - STACK_ROOM, STACK_ROOM))
        for start, size in rooms:
            self.cpu.mem_map(start, size)
        self.cpu.mem_write(CODE, code.binary)
        self.cpu.mem_write(self.at, image)
        self.cpu.reg_write(UC_M68K_REG_SR, SUPERVISOR)
        if watch:
            self.cpu.hook_add(UC_HOOK_MEM_READ | UC_HOOK_MEM_WRITE, self._look, None, IMAGE, IMAGE + IMAGE_ROOM - 1)
            self.cpu.hook_add(UC_HOOK_MEM_WRITE, self._look, None, 0, CODE - 1)

    def call(self, name: str, *arguments: int) -> int:
        """Return what a function returns."""
        top = STACK - 256
        self.cpu.mem_write(top, b"".join(value.to_bytes(4, "big") for value in (BACK, *arguments)))
        self.cpu.reg_write(UC_M68K_REG_A7, top)
        self.cpu.emu_start(self.code.functions[name][0], BACK)
        return self.cpu.reg_read(UC_M68K_REG_D0)

    def stack_of(self, name: str, *arguments: int) -> int:
        """Return the bytes of stack a call took below its arguments, its return address included."""
        room = STACK_ROOM - 256
        self.cpu.mem_write(STACK - STACK_ROOM, bytes([PAINT]) * room)
        assert self.call(name, *arguments) == 1, name
        painted = bytes(self.cpu.mem_read(STACK - STACK_ROOM, room))
        return len(painted.lstrip(bytes([PAINT]))) + 4

    def walk(self, made: Built) -> np.ndarray:
        """Return the numbers a walk over all assets says: uint32."""
        for entry in made.map["entries"]:
            self.call("walk", self.at, len(self.image), hash_of(entry), KIND_NUMBERS[entry["kind"]], 0)
        said = bytes(self.cpu.mem_read(OUTPUT, OUTPUT_ROOM))
        return np.frombuffer(said, dtype=">u4")

    def _look(self, _cpu: Uc, kind: int, address: int, size: int, _value: int, _data: object) -> None:
        if size != 1 or not self.at <= address < self.at + len(self.image) or kind != 16:
            raise OutOfBounds(f"{size} bytes at {address:#x}, kind of access {kind}")
