"""Covering by a sweep: row by row from the top, keeping many half-done coverings at once.

The topmost pixel not yet covered, the leftmost of its row, must be in some cell. Everything above is covered already,
so that cell may as well begin in the pixel's row; only its column is open. All that a half-done covering leaves to do
is then the rows from a certain depth on, column by column, and a covering is one small array of depths. Of all the
coverings with equally many cells, those are kept that have the lowest prices (``prices``) left to cover.
"""

from __future__ import annotations

import functools

import numpy as np

from pipeline.pixels.pieces.prices import UNIT

_ENOUGH = 3  # times what is kept: among these, nearly always enough are different
_SAMPLE = 7  # every so many prices show about where the lowest end; a cell's width, often a power of 2, would show one column


def sweep(prices: np.ndarray, mask: np.ndarray, cell_width: int, cell_height: int, keep: int, below: int) -> list[tuple[int, int]] | None:
    """Look for a covering with fewer than ``below`` cells.

    Args:
        prices: of ``pixel_prices`` for this mask and cell.
        mask: bool, shape (height, width), at least one True.
        keep: how many half-done coverings to keep.

    Returns:
        Places (x, y) of cells, or None: none found.
    """
    tables = _Tables(prices, mask, cell_width, cell_height, keep)
    some = tables.beginning()
    trail: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    for cells_left in reversed(range(below - 1)):
        some, step = tables.add_cell(some, keep, cells_left * UNIT)
        trail.append(step)
        if not len(some.depth):
            return None
        done = np.flatnonzero(some.left == 0)
        done = done[some.depth[done].min(axis=1) >= tables.end] if len(done) else done
        if len(done):
            return _walk_back(trail, int(done[0]))
    return None


def _walk_back(trail: list[tuple[np.ndarray, np.ndarray, np.ndarray]], rank: int) -> list[tuple[int, int]]:
    places = []
    for parent, x, y in reversed(trail):
        rank_before = int(parent[rank])
        places.append((int(x[rank]), int(y[rank_before])))
        rank = rank_before
    return places[::-1]


class _Some:
    """Half-done coverings of equally many cells.

    Attributes:
        depth: place of the first uncovered pixel of each column, in the row below the picture where there is none: intp,
            (n, columns). A place is row * columns + column, so the least is the topmost pixel, and of those the leftmost.
        left: prices not yet covered, int64, (n,).
        name: a number that distinguishes depths, int64, (n,).
    """

    __slots__ = ("depth", "left", "name")

    def __init__(self, depth: np.ndarray, left: np.ndarray, name: np.ndarray) -> None:
        self.depth, self.left, self.name = depth, left, name


class _Tables:
    """What a sweep looks up, by place, in flat arrays; the picture has a cell's width less 1 of nothing at each side.

    Attributes:
        end: the first place below the picture.
    """

    def __init__(self, prices: np.ndarray, mask: np.ndarray, cell_width: int, cell_height: int, keep: int) -> None:
        height, edge = len(mask), cell_width - 1
        self._cell = (cell_width, cell_height)
        self._columns = mask.shape[1] + 2 * edge
        self.end = height * self._columns
        inner = (slice(height), slice(edge, edge + mask.shape[1]))
        left = np.zeros((height + 1, self._columns), dtype=np.int64)
        left[inner] = prices
        self._left = left[::-1].cumsum(axis=0)[::-1].ravel()
        self._name = _random_numbers(left.shape).ravel()
        places = np.arange(left.size, dtype=np.intp).reshape(left.shape)
        following = np.repeat(places[-1:], height + 1, axis=0)
        np.copyto(following[inner], places[inner], where=mask)
        self._next = np.minimum.accumulate(following[::-1], axis=0)[::-1].ravel()
        self._span, self._across = np.arange(2 * cell_width - 1), np.arange(cell_width)
        self._starts = np.arange(keep) * self._columns

    def beginning(self) -> _Some:
        """Return the one covering that has no cells."""
        depth = self._next[None, : self._columns]
        return _Some(depth, self._left[: self._columns].sum(keepdims=True), np.zeros(1, dtype=np.int64))

    def add_cell(self, some: _Some, keep: int, most_left: int) -> tuple[_Some, tuple[np.ndarray, np.ndarray, np.ndarray]]:
        """Add to each covering a cell in every possible way, and keep the best.

        Args:
            most_left: coverings with more prices left than this are dropped.

        Returns:
            The coverings kept, and for them the rank of the covering before and the cell's x; y for the coverings before.
        """
        width, height = self._cell
        starts = self._starts[: len(some.depth)]
        column = some.depth.argmin(axis=1)
        depth = some.depth.ravel()
        row = depth.take(starts + column) // self._columns
        first = column - (width - 1)
        before = depth.take((starts + first)[:, None] + self._span)
        reached = np.minimum((row + height) * self._columns, self.end)
        after = np.maximum(before, self._next.take((reached + first)[:, None] + self._span))
        left = (some.left[:, None] - self._gains(self._left, before, after)).ravel()
        name = (some.name[:, None] - self._gains(self._name, before, after)).ravel()
        kept = _best(left, name, keep, most_left)
        parent, shift = np.divmod(kept, width)
        depth = some.depth.take(parent, axis=0)
        x = first.take(parent) + shift
        covered = after.ravel().take((parent * len(self._span) + shift)[:, None] + self._across)
        depth.ravel()[(self._starts[: len(kept)] + x)[:, None] + self._across] = covered
        return _Some(depth, left[kept], name[kept]), (parent, x - (width - 1), row)

    def _gains(self, table: np.ndarray, before: np.ndarray, after: np.ndarray) -> np.ndarray:
        """Return how much of a table each possible cell takes away: (coverings, cell width)."""
        width, (count, span) = self._cell[0], before.shape
        # One running sum for all coverings; sums that reach into the next covering are left out at the end.
        sums = np.zeros(count * span + width, dtype=np.int64)
        np.cumsum(table.take(before) - table.take(after), out=sums[1 : count * span + 1])
        return (sums[width:] - sums[:-width]).reshape(count, span)[:, :width]


def _best(left: np.ndarray, name: np.ndarray, keep: int, most_left: int) -> np.ndarray:
    """Return the ranks of the different coverings with the lowest prices left, in a fixed order."""
    possible = np.flatnonzero(left <= most_left)
    few = _lowest(left, possible, _ENOUGH * keep)
    different = _different(name, few)
    if len(different) <= keep and len(few) < len(possible):
        different = _different(name, possible)
    if len(different) > keep:
        # By price, then by name; prices left are far below 2**63 / ranks, and keys that differ may be sorted in any way.
        keys = left[different] * len(different) + np.arange(len(different))
        different = different[np.argsort(keys)[:keep]]
    return different


def _lowest(left: np.ndarray, possible: np.ndarray, count: int) -> np.ndarray:
    """Return those of the possible coverings with the lowest prices left, all that are level, about ``count``.

    How many does not matter: coverings of one name have the same prices left, so that any that are enough give the same best.
    """
    if len(possible) <= count:
        return possible
    prices = left[possible]
    some = prices[::_SAMPLE]
    rank = count * len(some) // len(prices)
    return possible[prices <= np.partition(some, rank)[rank]]


def _different(name: np.ndarray, ranks: np.ndarray) -> np.ndarray:
    """Return of the coverings of one name the first; in order of names."""
    names = name[ranks]
    order = np.argsort(names)
    names = names[order]
    begins = np.ones(len(names), dtype=bool)
    np.not_equal(names[1:], names[:-1], out=begins[1:])
    return ranks[np.minimum.reduceat(order, np.flatnonzero(begins))]


@functools.lru_cache(maxsize=4)  # a frame is swept as it is and transposed, from four sides each
def _random_numbers(shape: tuple[int, int]) -> np.ndarray:
    """Return numbers without pattern, the same everywhere: int64; 0 in the last row, where nothing is left to cover.

    The mixing constants are those of the generator splitmix64 (from memory); any that scatter well would do.
    """
    numbers = np.arange(1, shape[0] * shape[1] + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    numbers = (numbers ^ (numbers >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    numbers = (numbers ^ (numbers >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    numbers = (numbers ^ (numbers >> np.uint64(31))).view(np.int64).reshape(shape)
    numbers[-1] = 0
    return numbers
