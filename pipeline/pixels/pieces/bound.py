"""A quick lower bound for the cells that cover a frame: pixels of which no two fit into one cell need a cell each."""

from __future__ import annotations

import itertools

import numpy as np


def needs_as_many(mask: np.ndarray, cell_width: int, cell_height: int, cells: int) -> bool:
    """Return whether there are as many pixels as ``cells``, no two of which one cell can hold; if not, they may still be needed.

    Pixels are taken one after another, each the first that is far enough from all before, from each corner by rows and by columns.

    Args:
        mask: bool, shape (height, width).
    """
    turned = ((mask, cell_width, cell_height), (mask.T, cell_height, cell_width))
    for (picture, width, height), down, across in itertools.product(turned, (1, -1), (1, -1)):
        if _far_apart(picture[::down, ::across].copy(), width, height) >= cells:
            return True
    return False


def _far_apart(left: np.ndarray, cell_width: int, cell_height: int) -> int:
    """Return how many pixels are taken by rows from the top left; ``left`` is changed."""
    count, flat, columns = 0, left.reshape(-1), left.shape[1]
    while flat.size and flat[first := int(flat.argmax())]:
        y, x = divmod(first, columns)
        left[y : y + cell_height, max(x - cell_width + 1, 0) : x + cell_width] = False  # all rows above are empty
        count += 1
    return count
