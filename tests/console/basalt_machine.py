"""The invented console Basalt 32, as demo_project/program/hardware.h describes it, around an emulated 68000."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from odd_access import OddAccess
from unicorn import UC_ARCH_M68K, UC_HOOK_MEM_READ, UC_HOOK_MEM_WRITE, UC_MODE_BIG_ENDIAN, UC_PROT_EXEC, UC_PROT_READ, Uc
from unicorn.m68k_const import UC_M68K_REG_PC, UC_M68K_REG_SR

CPU_68000 = 0  # the library's name for number 0 is another CPU's; test_model_is_the_68000 proves what it runs
MEMORY, MEMORY_BYTES = 0x0010_0000, 2 << 20
CARTRIDGE = 0x0200_0000
REGISTERS = 0x00A0_0000
PALETTE_INDEX, PALETTE_DATA, DISPLAY_BASE, FRAME_COUNT, PAD = (REGISTERS + offset for offset in (0, 2, 4, 8, 12))
WRITE_BYTES = {PALETTE_INDEX: 2, PALETTE_DATA: 2, DISPLAY_BASE: 4}
READ_BYTES = {FRAME_COUNT: 4, PAD: 2}
SUPERVISOR = 0x2700
WIDTH, HEIGHT = 320, 240
STACK_BYTES = 16 << 10
LEFT, RIGHT, UP, DOWN, A, B, C, X, Y, Z, START = (1 << bit for bit in range(11))


class MachineFault(AssertionError):
    """Something a real console would not do, or would stop at."""


class Shown(NamedTuple):
    """One picture as it was on the screen: indices (240, 320) and the 256 palette words at its end."""

    pixels: np.ndarray
    palette: np.ndarray


class Machine:
    """Runs an image from its entry. Time passes only when the program waits: when it asks FRAME_COUNT twice running.

    Attributes:
        shown: a picture for every vertical sync so far.
        watch: when words and longs at odd addresses are refused, which a 68000 does and the emulator does not: "all" of
            the run, "drawing" (from the first wait on, after the long check of the cartridge), or "nothing".
        compiled: whether a compiled function may look for them.
        syncs_a_wait: vertical syncs that pass with each wait; more than 1 is a console too slow for every picture.
    """

    def __init__(self, image: bytes, *, watch: str = "drawing", syncs_a_wait: int = 1, compiled: bool = True) -> None:
        self._odd: OddAccess | None = None
        self._compiled = compiled
        self.shown: list[Shown] = []
        self.syncs_a_wait = syncs_a_wait
        self._count, self._pad, self._base, self._next_base = 0xFFFF_FFFE, 0, 0, 0  # the count soon starts again at 0
        self._waiting, self._index = False, 0
        self._palette = np.full(256, 0x5A5A, dtype=np.uint16)
        self._buttons: list[int] = []
        self.cpu = Uc(UC_ARCH_M68K, UC_MODE_BIG_ENDIAN)
        self.cpu.ctl_set_cpu_model(CPU_68000)
        self._map(image)
        self._held_back = watch == "drawing"
        if watch == "all":
            self._watch()

    def _watch(self) -> None:
        """Refuse words and longs at odd addresses from now on. Slow: every access is looked at."""
        self._held_back = False
        self._odd = OddAccess(self.cpu, _refuse_odd, self._compiled)

    def _map(self, image: bytes) -> None:
        self.cpu.mem_map(MEMORY, MEMORY_BYTES)
        self.cpu.mem_write(MEMORY, b"\xa5" * MEMORY_BYTES)  # memory holds anything after power-on
        self.cpu.mem_map(CARTRIDGE, len(image))
        self.cpu.mem_write(CARTRIDGE, image)
        self.cpu.mem_protect(CARTRIDGE, len(image), UC_PROT_READ | UC_PROT_EXEC)
        self.cpu.mem_map(REGISTERS, 4096)
        self.cpu.hook_add(UC_HOOK_MEM_READ, self._read_register, None, REGISTERS, REGISTERS + 4095)
        self.cpu.hook_add(UC_HOOK_MEM_WRITE, self._write_register, None, REGISTERS, REGISTERS + 4095)

    def play(self, buttons: list[int]) -> list[Shown]:
        """Run from power-on through as many vertical syncs as there are pad states; return the pictures shown."""
        self._buttons = list(buttons)
        entry = int.from_bytes(self.cpu.mem_read(CARTRIDGE + 0x50, 4), "big")
        self.cpu.reg_write(UC_M68K_REG_SR, SUPERVISOR)
        watched_later = self._held_back
        self._run(entry)
        if watched_later:
            self._watch()
            self._run(self.cpu.reg_read(UC_M68K_REG_PC))
        return self.shown

    def _run(self, start: int) -> None:
        self.cpu.emu_start(start, 0)
        if self._odd:
            self._odd.check()

    def stack_used(self) -> int:
        """Return how deep the stack has been, in bytes."""
        top = MEMORY + MEMORY_BYTES
        stack = bytes(self.cpu.mem_read(top - STACK_BYTES, STACK_BYTES))
        return len(stack.lstrip(b"\xa5"))

    def _read_register(self, cpu: Uc, _kind: int, address: int, size: int, _value: int, _data: object) -> None:
        if READ_BYTES.get(address) != size:
            raise MachineFault(f"{size} bytes read at {address:#x}")
        if address == PAD:
            self._waiting = False
            cpu.mem_write(address, self._pad.to_bytes(2, "big"))
            return
        if self._waiting and self._held_back:
            cpu.emu_stop()  # play() goes on from here, watching
        elif self._waiting:
            self._wait()
        self._waiting = True
        cpu.mem_write(address, self._count.to_bytes(4, "big"))

    def _wait(self) -> None:
        for _ in range(self.syncs_a_wait):
            self._sync()

    def _sync(self) -> None:
        """Keep the picture that was on the screen and take over the next one."""
        if not self._buttons:
            self.cpu.emu_stop()
            return
        pixels = np.frombuffer(bytes(self.cpu.mem_read(self._base, WIDTH * HEIGHT)), dtype=np.uint8)
        self.shown.append(Shown(pixels.reshape(HEIGHT, WIDTH), self._palette.copy()))
        self._base, self._count = self._next_base, (self._count + 1) & 0xFFFF_FFFF
        self._pad = self._buttons.pop(0)

    def _write_register(self, _cpu: Uc, _kind: int, address: int, size: int, value: int, _data: object) -> None:
        if WRITE_BYTES.get(address) != size:
            raise MachineFault(f"{size} bytes written at {address:#x}")
        self._waiting = False
        value &= (1 << 8 * size) - 1
        if address == PALETTE_INDEX:
            self._index = value
        elif address == PALETTE_DATA:
            self._palette[self._index] = value
            self._index += 1
        else:
            self._take_base(value)

    def _take_base(self, value: int) -> None:
        if value % 2 or not MEMORY <= value <= MEMORY + MEMORY_BYTES - STACK_BYTES - WIDTH * HEIGHT:
            raise MachineFault(f"a picture at {value:#x}")
        self._next_base = value
        self._base = self._base or value


def _refuse_odd(size: int, address: int) -> None:
    raise MachineFault(f"{size} bytes at odd address {address:#x}: a 68000 takes an address error")
