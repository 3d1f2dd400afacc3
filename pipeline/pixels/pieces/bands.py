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
    counts = _counts(mask, cell_width, min(cell_height, height))
    # least[y]: cells needed for the rows from y on, if nothing above reaches into them; ends[y]: how many rows the band
    # at y is answerable for, since fewer rows may need fewer cells; of several as good the most, 1 for a row without pixels.
    least, ends = [0] * (height + 1), [1] * height
    for y in reversed(range(height)):
        if not counts[y][0]:
            least[y] = least[y + 1]
            continue
        totals = [band + rest for band, rest in zip(counts[y], least[y + 1 :], strict=False)]
        least[y] = min(totals)
        ends[y] = len(totals) - totals[::-1].index(least[y])
    return _places(mask, ends, cell_width)


def _counts(mask: np.ndarray, cell_width: int, most: int) -> list[list[int]]:
    """Return how many cells the bands of 1, 2 ... ``most`` rows at each row need; rows below the picture are empty."""
    height, width = mask.shape
    # first[rows - 1, y, x]: the first column from x on that has a pixel in the band, the picture's width for none.
    first = np.full((most, height, width + cell_width + 1), width, dtype=np.int16)
    columns = np.where(mask, np.arange(width, dtype=np.int16), width)
    first[0, :, :width] = np.minimum.accumulate(columns[:, ::-1], axis=1)[:, ::-1]
    for rows in range(1, most):
        np.minimum(first[rows - 1, :-1], first[rows - 1, 1:], out=first[rows, :-1])
        first[rows, -1] = first[rows - 1, -1]
    return _steps(first, cell_width).T.tolist()


def _steps(first: np.ndarray, cell_width: int) -> np.ndarray:
    """Return for each band how often one steps to its next pixel and a cell's width on before none is left."""
    width = first.shape[2] - cell_width - 1
    begins = np.arange(first.shape[0] * first.shape[1], dtype=np.intp) * first.shape[2]
    flat, counts = first.ravel(), np.zeros(len(begins), dtype=np.int64)
    at = flat.take(begins)
    while (open_ := at < width).any():
        counts += open_
        at = flat.take(begins + at + cell_width)
    return counts.reshape(first.shape[:2])


def _places(mask: np.ndarray, ends: list[int], cell_width: int) -> list[tuple[int, int]]:
    places, y = [], 0
    while y < len(ends):
        x = 0
        columns = np.flatnonzero(mask[y : y + ends[y]].any(axis=0)).tolist()
        for column in columns:
            if column >= x:
                places.append((column, y))
                x = column + cell_width
        y += ends[y]
    return places
