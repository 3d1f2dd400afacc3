"""Where a figure touches the ground: the middle of its lowest row, and how far that wanders over frames."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

Point = tuple[int, int]


def feet(drawn: np.ndarray) -> Point:
    """Return the middle of the lowest row with a drawn pixel, on that row's lower edge; of a clear frame, the middle of its lower edge.

    Args:
        drawn: bool, shape (height, width).
    """
    height, width = drawn.shape
    rows = np.flatnonzero(drawn.any(axis=1))
    if not len(rows):
        return width // 2, height
    columns = np.flatnonzero(drawn[rows[-1]])
    return int(columns[0] + columns[-1] + 1) // 2, int(rows[-1]) + 1


def wander(points: Iterable[Point]) -> Point:
    """Return the pixels across and down between the outermost of some points; 0 and 0 for none."""
    found = list(points)
    if not found:
        return 0, 0
    across, down = zip(*found, strict=True)
    return max(across) - min(across), max(down) - min(down)
