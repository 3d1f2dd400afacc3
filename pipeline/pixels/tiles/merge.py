"""Fewer tiles than a picture has: which to keep, so that the picture changes least for the eye.

Keeping some tiles and drawing every other cell with the kept tile nearest to its own is the weighted k-medians problem
(``medoids``). It is solved over all tiles, or, where they are too many for that, over those that ``thinning``
leaves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.pixels.colours.colour import perceptual
from pipeline.pixels.tiles.medoids import costs, drop, exchange, nearest
from pipeline.pixels.tiles.thinning import thin
from pipeline.pixels.tiles.tiles import Tiles, allowed_flips, cut, flipped, join

MOST = 3072  # tiles that are all compared with each other
_CLEAR = 10000  # how far transparent is from any colour: as black from white


@dataclass(frozen=True)
class Merged:
    """What is left of a picture's tiles, and what it cost.

    Attributes:
        tiles: as ``cut`` gives them.
        merged: tiles that were merged into others.
        changed_cells: cells of the map that look different.
        mean_difference: root of the mean square perceptual difference over all pixels, in 1/10000, rounded down.
        worst_difference: the same over the cell that changed most.
    """

    tiles: Tiles
    merged: int
    changed_cells: int
    mean_difference: int
    worst_difference: int


def entry_points(entries: np.ndarray, transparent: bool = False) -> np.ndarray:
    """Return where the entries of palettes are for the eye.

    Args:
        entries: uint8, shape (..., n, 3), sRGB.
        transparent: entry 0 is not a colour; it is far from every colour.

    Returns:
        int32, shape (..., n, 4): ``perceptual`` and how transparent.
    """
    points = perceptual(entries)
    points = np.concatenate([points, np.zeros_like(points[..., :1])], axis=-1)
    if transparent:
        points[..., 0, :] = (0, 0, 0, _CLEAR)
    return points


def merge_to_budget(
    tiles: Tiles,
    budget: int,
    points: np.ndarray,
    palettes: np.ndarray | None = None,
    flip_x: bool = False,
    flip_y: bool = False,
) -> Merged:
    """Merge tiles until at most ``budget`` are left. Cells never change palette.

    Takes memory for n * n distances of 8 bytes and time of about n * n, n the number of tiles or ``MOST`` if that is less.

    Args:
        tiles: as ``cut`` gives them, n tiles.
        budget: at least 1.
        points: of the palette's entries as ``entry_points`` gives them, integers, shape (entries, k), or of several
            palettes, shape (palettes, entries, k).
        palettes: palette of each cell, integers, shape (rows, columns); None: 0 everywhere.
        flip_x, flip_y: whether a cell may mirror the tile it gets.

    Raises:
        ValueError: the budget is below 1, or a tile has an index without an entry.
    """
    if budget < 1:
        raise ValueError(f"a budget of {budget} tiles; at least 1 is needed")
    points = points if points.ndim == 3 else points[None]
    if tiles.tiles.max() >= points.shape[1]:
        raise ValueError(f"a tile has index {int(tiles.tiles.max())}; the palettes have entries 0 to {points.shape[1] - 1}")
    lines = np.zeros_like(tiles.map_index) if palettes is None else palettes
    count = len(tiles.tiles)
    flips = allowed_flips(flip_x, flip_y)
    if count <= budget:
        height, width = tiles.tiles.shape[1:]
        return _report(tiles, cut(join(tiles), width, height, flip_x, flip_y), points, lines)
    uses = np.stack([np.bincount(tiles.map_index[lines == line], minlength=count) for line in range(len(points))])
    kept = _choose(tiles.tiles, uses, budget, points.astype(np.float64), flips)
    return _report(tiles, _redraw(tiles, kept, points, lines, flips), points, lines)


def _choose(tiles: np.ndarray, uses: np.ndarray, budget: int, points: np.ndarray, flips: list[int]) -> np.ndarray:
    """Return for each tile the number of the kept tile that is drawn for it."""
    distinct = points[:, np.unique(tiles)].any(axis=(0, 1))
    points = points[..., distinct] if distinct.any() else points[..., :1]  # without what is 0 for all, mostly how transparent
    pool, moved = np.arange(len(tiles)), uses
    if len(tiles) > MOST:
        pool, moved = thin(tiles, uses, max(MOST, budget), points, flips)
    kept = np.arange(len(pool))
    if len(pool) > budget:
        cost = costs(tiles[pool], moved, tiles[pool], points, flips)
        kept = exchange(cost, drop(cost, budget))
    return pool[kept[nearest(tiles, uses, tiles[pool[kept]], points, flips)]]


def _redraw(tiles: Tiles, stand_in: np.ndarray, points: np.ndarray, lines: np.ndarray, flips: list[int]) -> Tiles:
    """Return the picture's tiles when each is drawn as its substitute, mirrored as is nearest in the cell's palette."""
    own = _cell_points(tiles, points, lines)
    stored = tiles.tiles[stand_in][tiles.map_index]
    best = np.full(tiles.map_index.shape, -1, dtype=np.int64)
    how = np.zeros_like(tiles.map_flips)
    for flip in flips:
        drawn = _look(flipped(stored, flip), points, lines)
        far = _squares(own, drawn)
        closer = (best < 0) | (far < best)
        best[closer], how[closer] = far[closer], flip
    changed = Tiles(tiles.tiles, stand_in[tiles.map_index].astype(np.int32), how)
    height, width = tiles.tiles.shape[1:]
    return cut(join(changed), width, height, bool(flips[-1] & 1), bool(flips[-1] & 2))


def _look(cells: np.ndarray, points: np.ndarray, lines: np.ndarray) -> np.ndarray:
    """Return what cells, shape (rows, columns, height, width), look like in their palettes: shape (..., k)."""
    return points[lines[..., None, None], cells]


def _cell_points(tiles: Tiles, points: np.ndarray, lines: np.ndarray) -> np.ndarray:
    cells = join(tiles).reshape(lines.shape[0], tiles.tiles.shape[1], lines.shape[1], tiles.tiles.shape[2]).swapaxes(1, 2)
    return _look(cells, points, lines)


def _squares(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    gap = left.astype(np.int64) - right
    return (gap * gap).sum(axis=(2, 3, 4))


def _report(before: Tiles, after: Tiles, points: np.ndarray, lines: np.ndarray) -> Merged:
    lost = _squares(_cell_points(before, points, lines), _cell_points(after, points, lines))
    pixels = before.tiles[0].size
    return Merged(
        tiles=after,
        merged=len(before.tiles) - len(after.tiles),
        changed_cells=int(np.count_nonzero(lost)),
        mean_difference=math.isqrt(int(lost.sum()) // (pixels * lost.size)),
        worst_difference=math.isqrt(int(lost.max()) // pixels),
    )
