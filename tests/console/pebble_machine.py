"""The invented handheld of the shipped target Pebble 8, as demo_project/diver/program/hardware.h describes it, around an emulated Z80.

The processor is the library ``z80``.
"""

from __future__ import annotations

import numpy as np
import z80

BANK = 16 << 10
WINDOW, VIDEO, VIDEO_END, MEMORY, MEMORY_END = 0x4000, 0x8000, 0xB000, 0xC000, 0xE000
CELLS, MAP, COLOURS, FIGURES = 0x1000, 0x2000, 0x2800, 0x2900  # in video memory
STACK_BYTES = 512
ENTRY = 0x12E  # field of the header from which the console starts
BANK_PORT, SYNC_PORT, PAD_PORT = range(3)
WIDTH, HEIGHT, EDGE = 240, 160, 16
_A_RUN = 100_000  # ticks: the library takes a rest after as many
LEFT, RIGHT, UP, DOWN, A, B, START = (1 << bit for bit in range(7))


class MachineFault(AssertionError):
    """Something a real console would not do, or would stop at."""


class Machine:
    """Runs an image from the entry its header names. Time passes only when the program waits for a vertical sync.

    Attributes:
        shown: what was in video memory at every vertical sync so far.
        switched: banks that were switched in, in order.
    """

    def __init__(self, image: bytes) -> None:
        self.image = image
        self.shown: list[bytes] = []
        self.switched: list[int] = []
        self._buttons: list[int] = []
        self._pad, self._done = 0, False
        self.cpu = z80.Z80Machine()
        self.cpu.set_memory_block(0, b"\xff" * 0x10000)
        self.cpu.set_memory_block(0, image[:BANK])
        self.cpu.set_memory_block(VIDEO, b"\x5a" * (VIDEO_END - VIDEO))
        self.cpu.set_memory_block(MEMORY, b"\xa5" * (MEMORY_END - MEMORY))  # memory holds anything after power-on
        for start, end in ((0, VIDEO), (VIDEO_END, MEMORY), (MEMORY_END, 0x10000)):
            self.cpu.mark_addrs(start, end - start, self.cpu.WRITE_MARK)
        self.cpu.set_write_callback(self._refuse)
        self.cpu.set_output_callback(self._output)
        self.cpu.set_input_callback(self._input)
        self.cpu.pc = int.from_bytes(image[ENTRY : ENTRY + 2], "little")

    def play(self, buttons: list[int], ticks: int = 1_000_000_000) -> list[bytes]:
        """Run through as many vertical syncs as there are pad states; return what was in video memory at each.

        Raises:
            MachineFault: it wrote outside memory, named a bank that is not there, or took more ticks.
        """
        self._buttons, self._done = list(buttons), False
        for _ in range(0, ticks, _A_RUN):
            self.cpu.ticks_to_stop = _A_RUN
            self.cpu.run()
            if self._done:
                return self.shown
        raise MachineFault(f"still running at {self.cpu.pc:#06x}")

    def stack_used(self) -> int:
        """Return how deep the stack has been, in bytes: the program clears memory, so the deepest zeros were never pushed."""
        return len(bytes(self.cpu.memory[MEMORY_END - STACK_BYTES : MEMORY_END]).lstrip(b"\0"))

    def _refuse(self, address: int, value: int) -> None:
        raise MachineFault(f"{value:#04x} written to {address:#06x}")

    def _output(self, address: int, value: int) -> None:
        if address & 0xFF != BANK_PORT:
            raise MachineFault(f"{value:#04x} sent to port {address & 0xFF}")
        if (value + 1) * BANK > len(self.image):
            raise MachineFault(f"there is no bank {value}")
        self.switched.append(value)
        self.cpu.set_memory_block(WINDOW, self.image[value * BANK : (value + 1) * BANK])

    def _input(self, address: int) -> int:
        port = address & 0xFF
        if port == PAD_PORT:
            return self._pad
        if port != SYNC_PORT:
            raise MachineFault(f"port {port} read")
        if self._buttons:
            self.shown.append(bytes(self.cpu.memory[VIDEO:VIDEO_END]))
            self._pad = self._buttons.pop(0)
        if not self._buttons:
            self._done, self.cpu.ticks_to_stop = True, 1
        return 0


def colours_of(video: bytes) -> np.ndarray:
    """Return the palette, uint8 of shape (32, 3).

    Words are xBBBBBGGGGGRRRRR, the upper bits repeated below; common practice, no source.
    """
    words = np.frombuffer(video[COLOURS : COLOURS + 64], dtype="<u2")
    parts = np.stack([words & 31, words >> 5 & 31, words >> 10 & 31], axis=-1)
    return (parts << 3 | parts >> 2).astype(np.uint8)


def ground_of(video: bytes) -> np.ndarray:
    """Return what the console draws of tiles and map: numbers of colours, uint8 of shape (160, 240)."""
    words = np.frombuffer(video[MAP : MAP + 32 * 20 * 2], dtype="<u2").reshape(20, 32)
    tiles, rows = _cells(video[:CELLS]), []
    for row in words[:, : WIDTH // 8].tolist():
        rows.append(np.concatenate([_turned(tiles[word & 0xFF], word >> 8, word >> 12, word >> 11) for word in row], axis=1))
    return np.concatenate(rows)


def figures_of(video: bytes) -> np.ndarray:
    """Return what it draws of figures: numbers of colours, 255 where there is none, uint8 of shape (160, 240)."""
    cells, shown = _cells(video[CELLS:MAP]), np.full((HEIGHT + 512, WIDTH + 512), 255, dtype=np.uint8)
    for x, y, cell, how in reversed(np.frombuffer(video[FIGURES : FIGURES + 256], dtype=np.uint8).reshape(64, 4).tolist()):
        if y:
            turned, at = _turned(cells[cell], how, how >> 3, how >> 4), shown[y : y + 8, x : x + 8]
            at[turned & 3 != 0] = turned[turned & 3 != 0]
    return shown[EDGE : EDGE + HEIGHT, EDGE : EDGE + WIDTH]


def picture(video: bytes) -> np.ndarray:
    """Return what the console shows in colour, uint8 of shape (160, 240, 3)."""
    ground, figures = ground_of(video), figures_of(video)
    return colours_of(video)[np.where(figures == 255, ground, figures)]


def _cells(planes: bytes) -> np.ndarray:
    """Return pixels of cells whose rows are two bytes, low bits first; shape (count, 8, 8)."""
    bits = np.unpackbits(np.frombuffer(planes, dtype=np.uint8)).reshape(-1, 8, 2, 8)
    return bits[:, :, 0] | bits[:, :, 1] << 1


def _turned(cell: np.ndarray, line: int, across: int, down: int) -> np.ndarray:
    """Return a cell in colours of a line, mirrored left to right and top to bottom where the lowest bits say so."""
    return cell[:: -1 if down & 1 else 1, :: -1 if across & 1 else 1] + (line & 7) * 4
