"""Fewer tiles than a picture has: which to keep, so that the picture changes least for the eye.

Keeping some tiles and drawing every other cell with the kept tile nearest to its own is the weighted k-medians problem
(p-median in the literature). Solved here as usual: drop the tile whose loss costs least until few enough are left, then
exchange a kept tile for another while that helps (Kaufman and Rousseeuw 1990; the exchange in one sweep for all kept
tiles at once is from Schubert and Rousseeuw 2021, "Fast and eager k-medoids clustering"). Distances are whole numbers
far below 2**53, so that floating-point sums of them are exact in any order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.pixels.colour import perceptual
from pipeline.pixels.tiles import Tiles, allowed_flips, cut, flipped, join

_SWEEPS = 3  # of exchanges; later ones hardly gain
_CHUNK = 512  # tiles compared with all others at a time, to bound memory
_CLEAR = 10000  # how far transparent stands from any colour: as black from white


@dataclass(frozen=True)
class Merged:
    """What is left of a picture's tiles, and what it cost.

    Attributes:
        tiles: as ``cut`` gives them.
        merged: tiles that are no more.
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
    """Return where the entries of palettes stand for the eye.

    Args:
        entries: uint8, shape (..., n, 3), sRGB.
        transparent: entry 0 is no colour; it stands apart from every colour.

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

    Takes memory for n * n distances of 8 bytes and time of about n * n, n the number of tiles.

    Args:
        tiles: as ``cut`` gives them, n tiles.
        budget: at least 1.
        points: of the palette's entries as ``entry_points`` gives them, integers, shape (entries, k), or of several
            palettes, shape (palettes, entries, k).
        palettes: palette of each cell, integers, shape (rows, columns); None: 0 everywhere.
        flip_x, flip_y: whether a cell may mirror the tile it gets.

    Raises:
        ValueError: the budget is below 1, or a tile has an index that no entry stands for.
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
        return _report(tiles, cut(join(tiles), *tiles.tiles.shape[:0:-1], flip_x, flip_y), points, lines)
    cost = np.zeros((count, count))
    for line in range(len(points)):
        uses = np.bincount(tiles.map_index[lines == line], minlength=count)
        _add_costs(cost, tiles.tiles, uses, points[line].astype(np.float64), flips)
    kept = _exchange(cost, _drop(cost, budget))
    return _report(tiles, _redraw(tiles, kept[np.argmin(cost[:, kept], axis=1)], points, lines, flips), points, lines)


def _add_costs(cost: np.ndarray, tiles: np.ndarray, uses: np.ndarray, points: np.ndarray, flips: list[int]) -> None:
    """Add to ``cost[a, b]`` what drawing b for a costs in one palette: squared difference times uses of a."""
    used = np.flatnonzero(uses)
    others = [points[flipped(tiles, flip)].reshape(len(tiles), -1) for flip in flips]
    squares = (others[0] * others[0]).sum(axis=1)
    for start in range(0, len(used), _CHUNK):
        some = used[start : start + _CHUNK]
        least = np.minimum.reduce([squares - 2 * (others[0][some] @ other.T) for other in others])
        cost[some] += (least + squares[some, None]) * uses[some, None]


class _Serving:
    """Which kept tile serves each tile best and which second best, while kept tiles come and go.

    Attributes:
        kept: numbers of the kept tiles, rising.
        first, second: numbers of the two cheapest kept tiles for each tile; equal to each other when only one is kept.
        least, more: what these cost; infinite instead of the second.
    """

    def __init__(self, cost: np.ndarray, kept: np.ndarray) -> None:
        self._cost = cost
        self.kept = kept
        self.first, self.second = np.zeros((2, len(cost)), dtype=np.int64)
        self.least, self.more = np.zeros((2, len(cost)))
        self._look(np.arange(len(cost)))

    def _look(self, rows: np.ndarray) -> None:
        part = self._cost[np.ix_(rows, self.kept)]
        places = np.arange(len(rows))
        nearest = np.argmin(part, axis=1)
        self.first[rows], self.least[rows] = self.kept[nearest], part[places, nearest]
        part[places, nearest] = np.inf
        nearest = np.argmin(part, axis=1)
        self.second[rows], self.more[rows] = self.kept[nearest], part[places, nearest]

    def drop(self, gone: int) -> None:
        """Keep a tile no more."""
        self.kept = np.delete(self.kept, np.searchsorted(self.kept, gone))
        self._look(np.flatnonzero((self.first == gone) | (self.second == gone)))

    def add(self, new: int, costs: np.ndarray) -> None:
        """Keep a tile more, whose costs for each tile are given."""
        self.kept = np.insert(self.kept, np.searchsorted(self.kept, new), new)
        best = costs < self.least
        better = ~best & (costs < self.more)
        self.second[best], self.more[best] = self.first[best], self.least[best]
        self.first[best], self.least[best] = new, costs[best]
        self.second[better], self.more[better] = new, costs[better]

    def harm(self) -> np.ndarray:
        """Return what the loss of each tile costs: shape (n,)."""
        return np.bincount(self.first, self.more - self.least, minlength=len(self._cost))


def _drop(cost: np.ndarray, budget: int) -> np.ndarray:
    """Return the tiles left, rising, when the one that is missed least is dropped again and again."""
    serving = _Serving(cost, np.arange(len(cost)))
    while len(serving.kept) > budget:
        gone = int(serving.kept[np.argmin(serving.harm()[serving.kept])])
        serving.drop(gone)
    return serving.kept


def _exchange(cost: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """Exchange kept tiles for others while that lowers the cost; returns the kept ones, rising."""
    serving = _Serving(cost, kept)
    columns = np.ascontiguousarray(cost.T)  # a candidate's costs side by side
    for _ in range(_SWEEPS):
        before = serving.kept
        for candidate in np.setdiff1d(np.arange(len(cost)), before).tolist():
            gone = _worth(serving, columns[candidate])
            if gone is not None:
                serving.add(candidate, columns[candidate])
                serving.drop(gone)
        if np.array_equal(before, serving.kept):
            break
    return serving.kept


def _worth(serving: _Serving, new: np.ndarray) -> int | None:
    """Return the kept tile to give up for one with the costs ``new``, or None when that would gain nothing."""
    if len(serving.kept) == 1:
        return int(serving.kept[0]) if new.sum() < serving.least.sum() else None
    gain = np.maximum(serving.least - new, 0).sum()
    # A tile whose first goes falls back to the candidate where that is cheaper than its second.
    near = np.flatnonzero(new < serving.more)
    saved = serving.more[near] - np.maximum(new, serving.least)[near]
    change = serving.harm() - np.bincount(serving.first[near], saved, minlength=len(new))
    gone = int(serving.kept[np.argmin(change[serving.kept])])
    return gone if change[gone] < gain else None


def _redraw(tiles: Tiles, stand_in: np.ndarray, points: np.ndarray, lines: np.ndarray, flips: list[int]) -> Tiles:
    """Return the picture's tiles when each is drawn by its stand-in, mirrored as is nearest in the cell's palette."""
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
    return cut(join(changed), *tiles.tiles.shape[:0:-1], bool(flips[-1] & 1), bool(flips[-1] & 2))


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
