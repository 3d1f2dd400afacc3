"""Covering by a sweep: row by row from the top, keeping many half-done coverings at once.

The topmost pixel not yet covered, the leftmost of its row, must be in some cell. Everything above is covered already,
so that cell may as well begin in the pixel's row; only its column is open. All that a half-done covering leaves to do
is then the rows from a certain depth on, column by column, and a covering is one small array of depths. Of all the
coverings with equally many cells, those are kept that have the lowest prices (``pieces_prices``) left to cover.
"""

from __future__ import annotations

import numpy as np

from pipeline.pixels.pieces_prices import UNIT


def sweep(prices: np.ndarray, mask: np.ndarray, cell_width: int, cell_height: int, keep: int, below: int) -> list[tuple[int, int]] | None:
    """Look for a covering with fewer than ``below`` cells.

    Args:
        prices: of ``pixel_prices`` for this mask and cell.
        mask: bool, shape (height, width), at least one True.
        keep: how many half-done coverings to keep.

    Returns:
        Places (x, y) of cells, or None: none found.
    """
    tables = _Tables(prices, mask, cell_width, cell_height)
    some = tables.beginning()
    trail: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    for cells_left in reversed(range(below - 1)):
        some, step = tables.add_cell(some, keep, cells_left * UNIT)
        trail.append(step)
        if not len(some.depth):
            return None
        done = np.flatnonzero(some.left == 0)
        done = done[(some.depth[done] == tables.height).all(axis=1)] if len(done) else done
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
        depth: row of the first uncovered pixel of each column, the height where there is none: int32, (n, columns).
        left: prices not yet covered, int64, (n,).
        name: a number that tells depths apart, int64, (n,).
    """

    __slots__ = ("depth", "left", "name")

    def __init__(self, depth: np.ndarray, left: np.ndarray, name: np.ndarray) -> None:
        self.depth, self.left, self.name = depth, left, name


class _Tables:
    """What a sweep looks up, by row and column, in flat arrays; the picture has a cell's width less 1 at each side."""

    def __init__(self, prices: np.ndarray, mask: np.ndarray, cell_width: int, cell_height: int) -> None:
        self.height, self._cell = len(mask), (cell_width, cell_height)
        edge = cell_width - 1
        self._columns = mask.shape[1] + 2 * edge
        shape = (self.height + 1, self._columns)
        padded = np.pad(prices, ((0, 1), (edge, edge)))
        self._left = padded[::-1].cumsum(axis=0)[::-1].ravel()
        self._name = _random_numbers(shape).ravel()
        rows = np.where(np.pad(mask, ((0, 1), (edge, edge))), np.arange(shape[0])[:, None], self.height)
        self._next = np.minimum.accumulate(rows[::-1], axis=0)[::-1]
        self._next_flat = (self._next * self._columns + np.arange(self._columns)).ravel()
        self._span, self._across = np.arange(2 * cell_width - 1), np.arange(cell_width)

    def beginning(self) -> _Some:
        """Return the one covering that has no cells."""
        depth = self._next[:1].astype(np.int32)
        return _Some(depth, self._left[: self._columns].sum(keepdims=True), np.zeros(1, dtype=np.int64))

    def add_cell(self, some: _Some, keep: int, most_left: int) -> tuple[_Some, tuple[np.ndarray, np.ndarray, np.ndarray]]:
        """Add to each covering a cell in every possible way, and keep the best.

        Args:
            most_left: coverings with more prices left than this are dropped.

        Returns:
            The coverings kept, and for them the rank of the covering before and the cell's x; y for the coverings before.
        """
        width, height = self._cell
        column = some.depth.argmin(axis=1)
        row = some.depth[np.arange(len(column)), column]
        first = column - (width - 1)
        span = first[:, None] + self._span
        before = np.take_along_axis(some.depth, span, axis=1) * self._columns + span
        reached = np.minimum(row + height, self.height) * self._columns
        after = np.maximum(before, self._next_flat.take(reached[:, None] + span))
        left = (some.left[:, None] - self._gains(self._left, before, after)).ravel()
        name = (some.name[:, None] - self._gains(self._name, before, after)).ravel()
        kept = _best(left, name, keep, most_left)
        parent, shift = kept // width, kept % width
        depth = some.depth[parent]
        across = shift[:, None] + self._across
        covered = after[parent[:, None], across] // self._columns
        x = first[parent] + shift
        np.put_along_axis(depth, x[:, None] + self._across, covered.astype(np.int32), axis=1)
        return _Some(depth, left[kept], name[kept]), (parent, x - (width - 1), row)

    def _gains(self, table: np.ndarray, before: np.ndarray, after: np.ndarray) -> np.ndarray:
        """Return how much of a table each of the cell's columns takes away: (coverings, cell width)."""
        width = self._cell[0]
        sums = np.zeros((len(before), 2 * width), dtype=np.int64)
        np.cumsum(table.take(before) - table.take(after), axis=1, out=sums[:, 1:])
        return sums[:, width:] - sums[:, :width]


def _best(left: np.ndarray, name: np.ndarray, keep: int, most_left: int) -> np.ndarray:
    """Return the ranks of the different coverings with the lowest prices left, in a fixed order."""
    possible = np.flatnonzero(left <= most_left)
    _, different = np.unique(name[possible], return_index=True)
    possible = possible[different]
    if len(possible) > keep:
        possible = possible[np.argsort(left[possible], kind="stable")[:keep]]
    return possible


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
