"""Pixels to bytes: indices or direct-colour words packed as a target's pixel format says.

Sources for the planar forms: the 1985/86 interchange-file bitmap definition (``by row``: planes take turns within a
row, plane 0 holds bit 0, a plane's row is padded to 16 bits); ``by byte`` and ``by word`` as 8-bit and 16-bit tile
hardware reads them (common practice, no source), ``by pair`` as the hardware of ``tests/pixels/test_orders.py`` does.
"""

from __future__ import annotations

import numpy as np

from pipeline.pixels.cells import cut_into_cells
from pipeline.target.records import PixelFormat


def pack_picture(pixels: np.ndarray, pixel_format: PixelFormat, byte_order: str, cell: tuple[int, int], start: int = 1) -> bytes:
    """Pack one picture.

    Args:
        pixels: unsigned integers, shape (height, width): indices, or words of ``pixel_format``.
        byte_order: ``big`` or ``little``, for pixels wider than a byte and planes by word.
        cell: width and height of a cell, used when the format's order is not ``rows``; the picture must be whole cells.
        start: bytes at multiples of which each cell starts, counted from the first, when the format's order is not ``rows`` and its
            cells are not several tiles.

    Returns:
        Every row (of the picture, or of each cell) starts at a whole byte; planar rows at a whole byte or word; both at a multiple of
        the format's ``row_unit``. What is left over before a row or cell is 0.
    """
    part = pixel_format.part(cell)
    if part is None:
        return _pack_rows(pixels, pixel_format, byte_order)
    parts = cut_into_cells(pixels, *part)
    if pixel_format.order == "columns":
        parts = parts.reshape(-1, pixels.shape[1] // part[0], *part[::-1]).swapaxes(0, 1).reshape(parts.shape)
    return b"".join(padded(_pack_rows(one, pixel_format, byte_order), start if part == cell else 1) for one in parts)


def padded(content: bytes, start: int) -> bytes:
    """Return bytes with as many zeros as let what follows start at a multiple of ``start``."""
    return content + bytes(-len(content) % start)


def _pack_rows(pixels: np.ndarray, pixel_format: PixelFormat, byte_order: str) -> bytes:
    bits = pixel_format.pixel.width
    if pixel_format.planes != "chunky":
        return _pack_planes(pixels, pixel_format, byte_order)
    packed = _words(pixels, bits // 8, byte_order) if bits >= 8 else _pack_narrow(pixels, bits, pixel_format.first)
    return _in_units(packed, len(pixels), pixel_format.row_unit)


def _in_units(packed: bytes, height: int, unit: int) -> bytes:
    """Return rows of one length, each with zeros up to a whole multiple of ``unit`` bytes."""
    row = len(packed) // height if height else 0
    if row % unit == 0:
        return packed
    rows = np.frombuffer(packed, dtype=np.uint8).reshape(height, row)
    return np.pad(rows, ((0, 0), (0, -row % unit))).tobytes()


def _words(words: np.ndarray, width: int, byte_order: str) -> bytes:
    ranks = reversed(range(width)) if byte_order == "big" else range(width)
    return np.stack([(words >> (8 * rank)) & 0xFF for rank in ranks], axis=-1).astype(np.uint8).tobytes()


def _pack_narrow(pixels: np.ndarray, bits: int, first: str) -> bytes:
    per_byte = 8 // bits
    height, width = pixels.shape
    padded = np.zeros((height, width + -width % per_byte), dtype=np.uint8)
    padded[:, :width] = pixels
    padded = padded.reshape(height, -1, per_byte)
    out = np.zeros(padded.shape[:2], dtype=np.uint8)
    for rank in range(per_byte):
        shift = 8 - bits * (rank + 1) if first == "high" else bits * rank
        out |= padded[..., rank] << shift
    return out.tobytes()


def _pack_planes(pixels: np.ndarray, pixel_format: PixelFormat, byte_order: str) -> bytes:
    depth = pixel_format.pixel.width
    stack = _pack_bits(pixels, pixel_format)  # (plane, row, byte)
    if pixel_format.planes == "by word" and byte_order == "little":
        stack = stack.reshape(depth, len(pixels), -1, 2)[..., ::-1].reshape(stack.shape)
    if pixel_format.planes == "by picture":
        return stack.tobytes()
    if pixel_format.planes == "by row":
        return stack.swapaxes(0, 1).tobytes()
    if pixel_format.planes == "by pair":
        return b"".join(stack[first : first + 2].transpose(1, 2, 0).tobytes() for first in range(0, depth, 2))
    unit = 1 if pixel_format.planes == "by byte" else 2
    units = stack.reshape(depth, len(pixels), -1, unit)
    return units.transpose(1, 2, 0, 3).tobytes()


def _pack_bits(pixels: np.ndarray, pixel_format: PixelFormat) -> np.ndarray:
    """All planes: uint8, shape (depth, height, bytes of a row); rows end at a whole word unless planes take turns by byte or pair."""
    unit = max(8 if pixel_format.planes in ("by byte", "by pair") else 16, 8 * pixel_format.row_unit)
    height, width = pixels.shape
    bits = np.zeros((pixel_format.pixel.width, height, width + -width % unit), dtype=np.uint8)
    for rank, plane in enumerate(bits):
        plane[:, :width] = (pixels >> rank) & 1
    return np.packbits(bits, axis=-1, bitorder="big" if pixel_format.first == "high" else "little")
