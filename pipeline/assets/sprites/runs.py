"""Cells of a sprite in an order in which every frame's are one run: fewer transfers, more bytes."""

from __future__ import annotations

import numpy as np


def one_run_each(frames: list[np.ndarray]) -> tuple[list[int], list[np.ndarray]]:
    """Return cells in the order of storing, some several times, and the pieces of each frame with their ranks in that order.

    A frame uses a run that is there if one has just its cells; otherwise a new one, which begins with as many cells of the last
    as it can use. The same input gives the same order.

    Args:
        frames: for each its pieces, x, y, cell, flips: integers, shape (pieces, 4).
    """
    order: list[int] = []
    moved = []
    for pieces in frames:
        wanted = list(dict.fromkeys(pieces[:, 2].tolist()))
        start = _found(order, set(wanted))
        if start is None:
            shared = _shared_end(order, set(wanted))
            start, kept = len(order) - shared, set(order[len(order) - shared :])
            order += [cell for cell in wanted if cell not in kept]
        ranks = {cell: start + rank for rank, cell in enumerate(order[start : start + len(wanted)])}
        moved.append(np.column_stack([pieces[:, :2], [ranks[cell] for cell in pieces[:, 2].tolist()], pieces[:, 3]]).astype(pieces.dtype))
    return order, moved


def _found(order: list[int], wanted: set[int]) -> int | None:
    """Return where a run of just these cells starts, the first; None without."""
    count = len(wanted)
    inside = 0  # cells before which all are wanted, and different
    seen: dict[int, int] = {}
    for end, cell in enumerate(order, 1):
        inside = min(inside + 1, end - seen.get(cell, 0)) if cell in wanted else 0
        seen[cell] = end
        if inside >= count:
            return end - count
    return 0 if not count else None


def _shared_end(order: list[int], wanted: set[int]) -> int:
    """Return how many of the last cells are wanted and different."""
    seen: set[int] = set()
    for cell in reversed(order):
        if cell not in wanted or cell in seen:
            break
        seen.add(cell)
    return len(seen)


def runs_of(frames: list[np.ndarray]) -> int:
    """Return how many runs of consecutive cells the frames take, all added up."""
    runs = 0
    for pieces in frames:
        cells = np.unique(pieces[:, 2])
        runs += int(np.count_nonzero(np.diff(cells) > 1)) + 1 if len(cells) else 0
    return runs
