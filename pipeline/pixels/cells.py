"""The grid of cells: padding to whole cells, and the order in which cells are stored."""

from __future__ import annotations

import numpy as np


def pad_to_cells(frames: np.ndarray, cell_width: int, cell_height: int, fill: int = 0) -> np.ndarray:
    """Pad frames at the right and bottom with ``fill`` to whole cells.

    Args:
        frames: shape (height, width) or (count, height, width), any integer dtype.
    """
    height, width = frames.shape[-2:]
    grow = [(0, 0)] * (frames.ndim - 2)
    grow += [(0, -height % cell_height), (0, -width % cell_width)]
    return np.pad(frames, grow, constant_values=fill)


def pad_with_edge(picture: np.ndarray, cell_width: int, cell_height: int) -> np.ndarray:
    """Pad a picture, shape (height, width), to whole cells by repeating its last column and row, so that no value is new."""
    height, width = picture.shape
    return np.pad(picture, ((0, -height % cell_height), (0, -width % cell_width)), mode="edge")


def cut_into_cells(picture: np.ndarray, cell_width: int, cell_height: int) -> np.ndarray:
    """Return the cells of a picture, left to right and top to bottom: shape (cells, cell_height, cell_width).

    Args:
        picture: shape (height, width), both whole numbers of cells.
    """
    height, width = picture.shape
    grid = picture.reshape(height // cell_height, cell_height, width // cell_width, cell_width)
    return grid.swapaxes(1, 2).reshape(-1, cell_height, cell_width)
