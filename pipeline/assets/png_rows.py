"""Whether a PNG holds all the rows its header promises; Pillow fills missing ones in without a word.

Source: PNG specification (W3C, third edition), sections 5 (chunks), 7.2 (scanlines) and 8 (interlacing).
"""

from __future__ import annotations

import zlib

from pipeline.errors import refuse

_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}  # by colour type
# Adam7: first column and row, and distance between columns and rows, of each pass.
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


def check_rows(data: bytes, name: str) -> None:
    """Check that the first image of a PNG file is whole.

    Args:
        data: the file, whose chunks have been verified.
        name: for messages.

    Raises:
        ProjectError: there are fewer bytes of pixels than the header's size needs, or they cannot be inflated.
    """
    width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    bits = data[24] * _CHANNELS.get(data[25], 0)
    passes = _PASSES if data[28] else ((0, 0, 1, 1),)
    needed = sum(_pass_bytes(width, height, bits, one) for one in passes)
    try:
        found = len(zlib.decompressobj().decompress(_pixels(data), needed))
    except zlib.error:
        found = 0
    if found < needed:
        wrong = f"is damaged or cut short: {found} of {needed} bytes of pixels are there"
        raise refuse(name, "", wrong, "save it again from the paint program")


def _pass_bytes(width: int, height: int, bits: int, one: tuple[int, int, int, int]) -> int:
    left, top, across, down = one
    columns, rows = -(-(width - left) // across), -(-(height - top) // down)
    return rows * (1 + -(-columns * bits // 8)) if columns > 0 and rows > 0 else 0


def _pixels(data: bytes) -> bytes:
    at, parts = 8, []
    while at + 8 <= len(data):
        size, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        if kind == b"IDAT":
            parts.append(data[at + 8 : at + 8 + size])
        at += 12 + size
    return b"".join(parts)
