"""Covering by bands: rows of cells of one height, in each band cells from left to right where the next pixel begins.

The bands may begin at any row; which rows are best is found exactly, from the bottom up.
"""

from __future__ import annotations

import numpy as np


def cover_by_bands(mask: np.ndarray, cell_width: int, cell_height: int) -> list[tuple[int, int]]:
    """Return places (x, y) of cells that cover a mask, the fewest that bands of rows allow.

    Args:
        mask: bool, shape (height, width).
    """
    height = len(mask)
    rows = [int.from_bytes(np.packbits(row, bitorder="little").tobytes(), "little") for row in mask]
    # least[y]: cells needed for the rows from y on, if nothing above reaches into them; choice[y]: the band at y.
    least, choice = [0] * (height + 1), [[]] * (height + 1)
    for y in reversed(range(height)):
        if rows[y] == 0:
            least[y], choice[y] = least[y + 1], None
            continue
        choice[y], least[y] = _best_band(rows, y, cell_width, cell_height, least)
    return _follow(choice, cell_height)


def _best_band(rows: list[int], y: int, cell_width: int, cell_height: int, least: list[int]) -> tuple[tuple[int, list[int]], int]:
    """Choose how many rows the band at ``y`` is answerable for: fewer rows may need fewer cells."""
    best, found, cells, band = None, None, [], 0
    for end in range(y + 1, min(y + cell_height, len(rows)) + 1):
        if rows[end - 1] & ~band:
            band |= rows[end - 1]
            cells = _band(band, cell_width)
        total = len(cells) + least[end]
        if best is None or total <= best:
            best, found = total, (end, cells)
    return found, best


def _band(bits: int, cell_width: int) -> list[int]:
    """Return the left edges of the fewest cells that cover a row of pixels; bit 0 of ``bits`` is the leftmost."""
    cells, x = [], 0
    while bits:
        skip = (bits & -bits).bit_length() - 1
        cells.append(x + skip)
        bits >>= skip + cell_width
        x += skip + cell_width
    return cells


def _follow(choice: list, cell_height: int) -> list[tuple[int, int]]:
    places, y = [], 0
    while y < len(choice) - 1:
        if choice[y] is None:
            y += 1
            continue
        end, cells = choice[y]
        places += [(x, y) for x in cells]
        y = end
    return places
