"""Which cell of a picture looks least as it was drawn, in CIEDE2000; only reported."""

from __future__ import annotations

import numpy as np

from pipeline.pixels.colours.difference import ciede2000, lab

_MICRO = 1_000_000  # differences are summed in millionths, as whole numbers


def worst_cell(wanted: np.ndarray, got: np.ndarray, tile: tuple[int, int]) -> tuple[float, list[int]]:
    """Return the mean difference over the cell where it is greatest, to 3 decimals, and that cell's column and row.

    Args:
        wanted, got: uint8, shape (height, width, 3), sRGB; cells at the right and bottom edge may be cut.
        tile: width and height of a cell.
    """
    pairs, where = np.unique(_keys(wanted) << np.uint64(24) | _keys(got), return_inverse=True)
    micro = np.rint(ciede2000(lab(_rgb(pairs >> np.uint64(24))), lab(_rgb(pairs))) * _MICRO).astype(np.int64)
    every = micro[where.reshape(wanted.shape[:2])]
    totals, pixels = _in_cells(every, tile), _in_cells(np.ones_like(every), tile)
    means = totals / pixels
    row, column = divmod(int(np.argmax(means)), means.shape[1])
    return round(float(means[row, column]) / _MICRO, 3), [column, row]


def _in_cells(values: np.ndarray, tile: tuple[int, int]) -> np.ndarray:
    height, width = values.shape
    rows = np.add.reduceat(values, np.arange(0, height, tile[1]), axis=0)
    return np.add.reduceat(rows, np.arange(0, width, tile[0]), axis=1)


def _keys(rgb: np.ndarray) -> np.ndarray:
    parts = rgb.astype(np.uint64)
    return parts[..., 0] << np.uint64(16) | parts[..., 1] << np.uint64(8) | parts[..., 2]


def _rgb(keys: np.ndarray) -> np.ndarray:
    return np.stack([keys >> np.uint64(shift) & np.uint64(255) for shift in (16, 8, 0)], axis=-1).astype(np.uint8)
