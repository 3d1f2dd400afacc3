"""Cells that are full: squares that a picture divides into, which show by what changes at their edges; and cells that are not an animation.

What is drawn need not end at an edge of such a cell, so nothing clear parts them. All is whole numbers.
"""

from __future__ import annotations

import numpy as np

from pipeline.assets.sources.sheets import slices
from pipeline.bringing.measuring.shapes import Grid

_LEAST_SIDE, _MOST_CELLS = 8, 64  # of a strip's square cells
_LEAST_TILE, _MOST_TILE, _LEAST_TILES = 12, 128, 4  # side of a cell of several rows; such cells across, and down
_LEAST_POOL = 96  # pixels of the shorter side of a picture of such cells
_MOST_PIXELS = 1 << 22  # of such a picture
_ALIKE = 200  # thousandths of two frames' pixels that have the same colours, at least
_LEVELS = 4  # bits of a channel by which colours of two cells are compared


def full_cells(pixels: np.ndarray, lossy: bool) -> Grid | None:
    """Return the grid of square cells that a picture divides into, one row or several; None where edges do not show.

    Args:
        pixels: uint8, shape (height, width, 4); what is clear counts as alike whatever its colour is.
        lossy: its format keeps colours only approximately, in blocks whose edges look like those of cells.
    """
    height, width = pixels.shape[:2]
    if height >= _LEAST_SIDE and width % height == 0 and 3 <= width // height <= _MOST_CELLS:
        count = width // height
        shown = _differ(pixels, height) and _are_cells(_jumps(_shown(pixels)), height)
        return _grid(count, 1, height, f"{count} squares side by side, whose edges show") if shown else None
    if min(width, height) >= _LEAST_POOL and width * height <= _MOST_PIXELS and not lossy:
        size = _tile(pixels)
        if size:
            reason = f"edges show every {size} pixels, across and down"
            return _grid(width // size, height // size, size, reason)._replace(things=True)
    return None


def _grid(columns: int, rows: int, side: int, reason: str) -> Grid:
    grid = Grid(columns, rows, (side, side), (0, 0), (0, 0), columns * rows, (columns,) * rows, (), True, reason)
    return grid._replace(boxes=tuple(grid.cell(rank) for rank in range(grid.count)))


def _shown(pixels: np.ndarray) -> np.ndarray:
    """Return a picture whose clear pixels are all alike."""
    return np.where(pixels[..., 3:] > 0, pixels, 0).astype(np.uint8)


def _jumps(pixels: np.ndarray) -> np.ndarray:
    """Return how much colours change from each column to the next: int64, shape (width - 1)."""
    one, other = pixels[:, 1:], pixels[:, :-1]
    return (np.maximum(one, other) - np.minimum(one, other)).sum(axis=0, dtype=np.int64).sum(axis=1)


def _are_cells(jumps: np.ndarray, side: int) -> bool:
    """Return whether a strip's squares are cells: colours jump at their edges, or hardly change there and do in most of the squares."""
    edges, around, others = _at_edges(jumps, side)
    if 2 * edges.sum() >= 3 * around.sum() and 4 * edges.sum() * others.size >= 5 * others.sum() * edges.size:
        return True
    inside = np.sort(np.append(jumps, 0).reshape(-1, side)[:, :-1].sum(axis=1))
    much = int(inside[len(inside) * 4 // 5])
    busy = int(np.count_nonzero(8 * inside >= much)) if much else 0
    calm = 3 * edges.sum() * others.size <= others.sum() * edges.size
    return bool(calm and 4 * busy >= 3 * len(inside) and len(np.unique(inside)) > 1)


def _at_edges(jumps: np.ndarray, side: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the changes at the edges of cells, the mean of those up to two pixels beside each, and all others."""
    at = np.arange(side - 1, len(jumps), side)
    beside = [jumps[np.clip(at + step, 0, len(jumps) - 1)] for step in (-2, -1, 1, 2)]
    return jumps[at], np.sum(beside, axis=0) // 4, np.delete(jumps, at)


def _tile(pixels: np.ndarray) -> int:
    """Return the side of square cells of several rows; 0 where there are none.

    Edges of two cells are edges of one, so the smallest side counts whose edges show nearly as much as those of the best.
    """
    height, width = pixels.shape[:2]
    most = min(_MOST_TILE, min(width, height) // _LEAST_TILES)
    sides = [side for side in range(_LEAST_TILE, most + 1) if not width % side and not height % side]
    if not sides:
        return 0
    seen = _shown(pixels)
    across, down = _jumps(seen), _jumps(seen.swapaxes(0, 1))
    worth: dict[int, int] = {}
    for side in sides:
        shares = []
        for jumps in (across, down):
            edges, around, others = _at_edges(jumps, side)
            more = 20 * int(np.count_nonzero(edges > around)) >= 9 * len(edges)
            above_all = int(edges.sum()) * 100 * others.size // max(1, int(others.sum()) * edges.size)
            shares.append(min(int(edges.sum()) * 100 // max(1, int(around.sum())), above_all) if more else 0)
        if min(shares) >= 120 and shares[0] * shares[1] >= 25_000 and _differ(pixels, side):
            worth[side] = shares[0] * shares[1]
    return next((side for side, one in worth.items() if 10 * one >= 6 * max(worth.values())), 0)


def _differ(pixels: np.ndarray, side: int) -> bool:
    """Return whether most cells differ from one another: a pattern repeats, and is one picture."""
    height, width = pixels.shape[:2]
    cells = pixels.reshape(height // side, side, width // side, side, 4).swapaxes(1, 2).reshape(-1, side * side * 4)
    return 2 * len(np.unique(cells, axis=0)) >= len(cells)


def are_things(pixels: np.ndarray, shape: np.ndarray, grid: Grid) -> bool:
    """Return whether the cells of a grid are things of their own, and not frames: neighbours in a row share few colours.

    Args:
        shape: bool, shape (height, width): what is drawn.
    """
    shared = []
    seen = [_colours(pixels[slices(grid.cell(rank))], shape[slices(grid.cell(rank))]) for rank in range(grid.count)]
    if shape.all():  # a ground of one colour that all share
        ground = int(np.argmax(np.sum(seen, axis=0)))
        for one in seen:
            one[ground] = 0
    for rank in range(1, grid.count):
        one, other = seen[rank - 1], seen[rank]
        if rank % grid.columns and one.sum() and other.sum():
            shared.append(int(np.minimum(one * 1000 // one.sum(), other * 1000 // other.sum()).sum()))
    return bool(shared) and sorted(shared)[len(shared) // 2] < _ALIKE


def _colours(pixels: np.ndarray, shape: np.ndarray) -> np.ndarray:
    """Return how many pixels of a cell have each colour, in few steps of each channel: int64, shape (4096)."""
    steps = (pixels[shape][:, :3] >> (8 - _LEVELS)).astype(np.int64)
    return np.bincount((steps[:, 0] << 2 * _LEVELS) + (steps[:, 1] << _LEVELS) + steps[:, 2], minlength=1 << 3 * _LEVELS)
