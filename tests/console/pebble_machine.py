"""The invented handheld of the shipped target Pebble 8, as ``handheld/console.h`` describes it, around an emulated Z80.

The processor is the library ``z80``.
"""

from __future__ import annotations

import z80

BANK = 16 << 10
WINDOW, MEMORY, MEMORY_END = 0x4000, 0xC000, 0xE000
ENTRY = 0x12E  # field of the header from which the console starts
BANK_PORT, SHOW_PORT, COLOUR_PORT, STOP_PORT = range(4)
WELL = 1


class MachineFault(AssertionError):
    """Something a real console would not do, or would stop at."""


class Machine:
    """Runs an image from the entry its header names.

    Attributes:
        shown: what was on the canvas for every picture so far.
        colours: bytes sent to the palette.
        switched: banks that were switched in, in order.
    """

    def __init__(self, image: bytes, canvas: tuple[int, int]) -> None:
        """``canvas``: address and bytes of the part of memory that is shown."""
        self.image, self.canvas = image, canvas
        self.shown: list[bytes] = []
        self.colours = bytearray()
        self.switched: list[int] = []
        self.stopped: int | None = None
        self.cpu = z80.Z80Machine()
        self.cpu.set_memory_block(0, b"\xff" * 0x10000)
        self.cpu.set_memory_block(0, image[:BANK])
        for start, end in ((0, MEMORY), (MEMORY_END, 0x10000)):
            self.cpu.mark_addrs(start, end - start, self.cpu.WRITE_MARK)
        self.cpu.set_write_callback(self._refuse)
        self.cpu.set_output_callback(self._output)
        self.cpu.pc = int.from_bytes(image[ENTRY : ENTRY + 2], "little")

    def run(self, ticks: int) -> int:
        """Run until the program stops; return its code.

        Raises:
            MachineFault: it wrote outside memory, named a bank that is not there, or did not stop in so many ticks.
        """
        step = 2_000_000
        for _ in range(0, ticks, step):
            self.cpu.ticks_to_stop = step
            self.cpu.run()
            if self.stopped is not None:
                return self.stopped
        raise MachineFault(f"still running at {self.cpu.pc:#06x}")

    def _refuse(self, address: int, value: int) -> None:
        raise MachineFault(f"{value:#04x} written to {address:#06x}")

    def _output(self, address: int, value: int) -> None:
        port = address & 0xFF
        if port == BANK_PORT:
            if (value + 1) * BANK > len(self.image):
                raise MachineFault(f"there is no bank {value}")
            self.switched.append(value)
            self.cpu.set_memory_block(WINDOW, self.image[value * BANK : (value + 1) * BANK])
        elif port == SHOW_PORT:
            start, count = self.canvas
            self.shown.append(bytes(self.cpu.memory[start : start + count]))
        elif port == COLOUR_PORT:
            self.colours.append(value)
        elif port == STOP_PORT:
            self.stopped = value
            self.cpu.ticks_to_stop = 1
        else:
            raise MachineFault(f"there is no port {port}")
