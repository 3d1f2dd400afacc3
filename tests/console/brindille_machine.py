"""The invented console Brindille 16, as demo_project/veillee/program/hardware.h describes it, around an emulated 68000."""

from __future__ import annotations

import numpy as np
from basalt_machine import CPU_68000, SUPERVISOR, MachineFault
from unicorn import UC_ARCH_M68K, UC_HOOK_MEM_READ, UC_HOOK_MEM_WRITE, UC_MODE_BIG_ENDIAN, UC_PROT_EXEC, UC_PROT_READ, Uc
from unicorn.m68k_const import UC_M68K_REG_SR

MEMORY, MEMORY_BYTES = 0x00FF_0000, 64 << 10
HOME, WINDOW, BANK_BYTES = 0x0020_0000, 0x0020_8000, 32 << 10
VIDEO, VIDEO_BYTES = 0x00C0_0000, 40 << 10
MAP, SCROLL, COLOURS, FIGURES = 0x8000, 0x9000, 0x9100, 0x9200  # in video memory
REGISTERS, SYNCS, PAD, BANK = 0x00C1_0000, 0x00C1_0000, 0x00C1_0004, 0x00C1_0006
STACK_BYTES = 2 << 10
WIDTH, HEIGHT = 256, 192
LEFT, RIGHT, UP, DOWN, A, B, L, R, START = (1 << bit for bit in range(9))


class Machine:
    """Runs an image from its entry. Time passes only when the program waits: when it asks SYNCS twice running.

    Attributes:
        shown: a picture for every vertical sync so far, uint16 palette words, shape (192, 256).
    """

    def __init__(self, image: bytes) -> None:
        self.shown: list[np.ndarray] = []
        self._image, self._buttons = image, []
        self._count, self._pad, self._bank, self._waiting = 0xFFFF_FFFE, 0, 0, False  # the count soon starts again at 0
        self.cpu = Uc(UC_ARCH_M68K, UC_MODE_BIG_ENDIAN)
        self.cpu.ctl_set_cpu_model(CPU_68000)
        self.cpu.mem_map(MEMORY, MEMORY_BYTES)
        self.cpu.mem_write(MEMORY, b"\xa5" * MEMORY_BYTES)  # memory holds anything after power-on
        self.cpu.mem_map(HOME, BANK_BYTES, UC_PROT_READ | UC_PROT_EXEC)
        self.cpu.mem_write(HOME, image[:BANK_BYTES])
        self.cpu.mmio_map(WINDOW, BANK_BYTES, self._read_window, None, None, None)
        self.cpu.mem_map(VIDEO, VIDEO_BYTES)
        self.cpu.mem_write(VIDEO, b"\x5a" * VIDEO_BYTES)
        self.cpu.mem_map(REGISTERS, 4096)
        self.cpu.hook_add(UC_HOOK_MEM_READ, self._read, None, REGISTERS, REGISTERS + 4095)
        self.cpu.hook_add(UC_HOOK_MEM_WRITE, self._write, None, REGISTERS, REGISTERS + 4095)

    def play(self, buttons: list[int]) -> list[np.ndarray]:
        """Run from power-on through as many vertical syncs as there are pad states; return the pictures shown."""
        self._buttons = list(buttons)
        self.cpu.reg_write(UC_M68K_REG_SR, SUPERVISOR)
        self.cpu.emu_start(int.from_bytes(self._image[4:8], "big"), 0)
        return self.shown

    def stack_used(self) -> int:
        """Return how deep the stack has been, in bytes."""
        stack = bytes(self.cpu.mem_read(MEMORY + MEMORY_BYTES - STACK_BYTES, STACK_BYTES))
        return len(stack.lstrip(b"\xa5"))

    def _read(self, cpu: Uc, _kind: int, address: int, size: int, _value: int, _data: object) -> None:
        if (address, size) == (PAD, 2):
            self._waiting = False
            cpu.mem_write(address, self._pad.to_bytes(2, "big"))
        elif (address, size) == (SYNCS, 4):
            if self._waiting:
                self._sync()
            self._waiting = True
            cpu.mem_write(address, self._count.to_bytes(4, "big"))
        else:
            raise MachineFault(f"{size} bytes read at {address:#x}")

    def _read_window(self, _cpu: Uc, offset: int, size: int, _data: object) -> int:
        at = self._bank * BANK_BYTES + offset
        return int.from_bytes(self._image[at : at + size], "big")

    def _write(self, _cpu: Uc, _kind: int, address: int, size: int, value: int, _data: object) -> None:
        if (address, size) != (BANK, 2) or value * BANK_BYTES >= len(self._image):
            raise MachineFault(f"{value} written at {address:#x}")
        self._bank = value

    def _sync(self) -> None:
        if not self._buttons:
            self.cpu.emu_stop()
            return
        self.shown.append(picture(bytes(self.cpu.mem_read(VIDEO, VIDEO_BYTES))))
        self._count = (self._count + 1) & 0xFFFF_FFFF
        self._pad = self._buttons.pop(0)


def picture(video: bytes) -> np.ndarray:
    """Return what the console draws from its video memory: palette words, uint16, shape (192, 256)."""
    nibbles = np.frombuffer(video[:MAP], dtype=np.uint8)
    tiles = np.stack([nibbles >> 4, nibbles & 15], axis=1).reshape(1024, 8, 8)
    words = np.frombuffer(video[MAP:], dtype=">u2").astype(np.int32)
    colours, scroll = words[(COLOURS - MAP) // 2 :][:64].astype(np.uint16), words[(SCROLL - MAP) // 2 :][:24]
    shown = np.empty((HEIGHT, WIDTH), dtype=np.int32)
    for row in range(24):
        band = np.concatenate([_tile(tiles, word) for word in words[row * 64 : row * 64 + 64]], axis=1)
        shown[row * 8 : row * 8 + 8] = np.roll(band, -scroll[row], axis=1)[:, :WIDTH]
    for y, x, word, on in reversed(words[(FIGURES - MAP) // 2 :][:256].reshape(64, 4)):
        if on:
            _put(shown, _tile(tiles, word), (x + 0x8000) % 0x10000 - 0x8000, (y + 0x8000) % 0x10000 - 0x8000)
    return colours[shown]


def _tile(tiles: np.ndarray, word: int) -> np.ndarray:
    tile = tiles[word & 0x3FF][:: -1 if word & 0x4000 else 1, :: -1 if word & 0x8000 else 1]
    return tile + (word >> 12 & 3) * 16


def _put(shown: np.ndarray, tile: np.ndarray, x: int, y: int) -> None:
    for row in range(max(0, -y), min(8, HEIGHT - y)):
        for column in range(max(0, -x), min(8, WIDTH - x)):
            if tile[row, column] % 16:
                shown[y + row, x + column] = tile[row, column]
