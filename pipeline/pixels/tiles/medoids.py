"""Few tiles that represent many: which to keep, weighted by how often each is used (k-medoids, p-median in the literature).

Solved as usual: drop the tile whose loss costs least until few enough are left, then exchange a kept tile for another
while that helps (Kaufman and Rousseeuw 1990; the exchange in one sweep for all kept tiles at once is from Schubert and
Rousseeuw 2021, "Fast and eager k-medoids clustering"). Costs are whole numbers far below 2**53, so that floating-point
sums of them are exact in any order.
"""

from __future__ import annotations

import numpy as np

from pipeline.pixels.tiles.tiles import flipped

_SWEEPS = 3  # of exchanges; later ones hardly gain
_CHUNK = 512  # tiles compared with all others at a time, to bound memory


def costs(tiles: np.ndarray, uses: np.ndarray, others: np.ndarray, points: np.ndarray, flips: list[int]) -> np.ndarray:
    """Return what drawing ``others[b]`` for ``tiles[a]`` costs, mirrored as is nearest: squared difference times uses.

    Args:
        tiles, others: integers, shapes (n, height, width) and (m, height, width).
        uses: of each tile in each line of the palette, integers, shape (lines, n).
        points: of the lines' entries, float64 holding whole numbers, shape (lines, entries, k).
        flips: ways to mirror, as ``tiles.allowed_flips`` gives them.

    Returns:
        float64 holding whole numbers, shape (n, m).
    """
    cost = np.zeros((len(tiles), len(others)))
    for rows, part in _parts(tiles, uses, others, points, flips):
        cost[rows] += part
    return cost


def nearest(tiles: np.ndarray, uses: np.ndarray, others: np.ndarray, points: np.ndarray, flips: list[int]) -> np.ndarray:
    """Return the rank of the cheapest of ``others`` for each tile, the lowest of equal ones; arguments as ``costs``."""
    found = np.zeros(len(tiles), dtype=np.int64)
    for start in range(0, len(tiles), _CHUNK):
        some = slice(start, start + _CHUNK)
        found[some] = np.argmin(costs(tiles[some], uses[:, some], others, points, flips), axis=1)
    return found


def _parts(tiles: np.ndarray, uses: np.ndarray, others: np.ndarray, points: np.ndarray, flips: list[int]):
    """Yield rows of tiles and what they add to those rows of the costs."""
    for line, counts in enumerate(uses):
        used = np.flatnonzero(counts)
        if not len(used):
            continue
        drawn = [points[line][flipped(others, flip)].reshape(len(others), -1) for flip in flips]
        squares = (drawn[0] * drawn[0]).sum(axis=1)
        for start in range(0, len(used), _CHUNK):
            some = used[start : start + _CHUNK]
            seen = points[line][tiles[some]].reshape(len(some), -1)
            least = np.minimum.reduce([squares - 2 * (seen @ other.T) for other in drawn])
            yield some, (least + (seen * seen).sum(axis=1)[:, None]) * counts[some, None]


class Serving:
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
        """Stop keeping a tile."""
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


def drop(cost: np.ndarray, budget: int) -> np.ndarray:
    """Return the tiles left, rising, when the one that is missed least is dropped again and again."""
    serving = Serving(cost, np.arange(len(cost)))
    while len(serving.kept) > budget:
        gone = int(serving.kept[np.argmin(serving.harm()[serving.kept])])
        serving.drop(gone)
    return serving.kept


def exchange(cost: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """Exchange kept tiles for others while that lowers the cost; returns the kept ones, rising."""
    serving = Serving(cost, kept)
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


def _worth(serving: Serving, new: np.ndarray) -> int | None:
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
