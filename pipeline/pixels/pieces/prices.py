"""Prices of pixels: what each opaque pixel costs to cover, so that no cell anywhere holds more than one unit of price.

All prices of a frame together are then a lower bound for the number of cells (weak duality of linear programs), and
what is left of them shows a search how much work is left. The prices are found by alternating gradient steps on pixels
and cells; wherever those stop, the last step makes the prices valid, in whole numbers.

Only additions, multiplications, divisions and maxima are used, in a fixed order: the same on every machine.
"""

from __future__ import annotations

import functools
import math

import numpy as np

UNIT = 1 << 30  # the price a cell may hold
_ROUNDS = 150
_STEP = 18.75  # times a cell's side: how much faster cells move than pixels; from measurements on figures of 70 x 100
_OVER = 2.0  # longer steps than can be proved safe; figures fill cells poorly, and the last step corrects what goes wrong
_POLISH = 3


def pixel_prices(mask: np.ndarray, cell_width: int, cell_height: int, rounds: int = _ROUNDS) -> np.ndarray:
    """Return a price for each pixel; the prices in any place of a cell add up to ``UNIT`` at most.

    Args:
        mask: bool, shape (height, width): the opaque pixels.
        rounds: steps to take; more make the bound better.

    Returns:
        int64, shape of the mask, 0 or more, 0 where the mask is False.
    """
    plane = _Plane(mask.shape, cell_width, cell_height)
    opaque = plane.lay(mask.astype(np.float32))
    found = [_valid(prices, plane) for prices in _descend(opaque, plane, rounds)]
    whole = [np.floor(prices * UNIT).astype(np.int64) for prices in found]
    best = max(whole, key=lambda prices: int(prices.sum()))
    held = plane.cell_sums(np.int64)
    held.values[...] = best
    most = int(held.found().max(initial=0))
    # The divisions before may have left a cell a hair too much.
    return plane.lift(best * UNIT // most if most > UNIT else best)


def least_cells(prices: np.ndarray) -> int:
    """Return how many cells are needed at least, by the prices of ``pixel_prices``."""
    return -(-int(prices.sum()) // UNIT)


class _Plane:
    """Pixels and places of cells as flat arrays of one length, so that every sum runs over memory in order.

    A pixel and the place of the cell of which it is the bottom right share an index; a place goes by its top left in
    the sums, so the picture has ``cell - 1`` empty rows above and as many empty columns at the left. Cells that stick
    out at the right reach the next row's empty columns.
    """

    def __init__(self, shape: tuple[int, int], cell_width: int, cell_height: int) -> None:
        self._cell = cell_width, cell_height
        self.area = cell_width * cell_height
        self._shape = shape[0] + cell_height - 1, shape[1] + cell_width - 1
        self._size = self._shape[0] * self._shape[1]
        self._reach = (cell_height - 1) * self._shape[1] + cell_width - 1

    def lay(self, picture: np.ndarray) -> np.ndarray:
        """Return a picture as a flat array."""
        return np.pad(picture, ((self._cell[1] - 1, 0), (self._cell[0] - 1, 0))).ravel()

    def lift(self, flat: np.ndarray) -> np.ndarray:
        """Return the picture of a flat array."""
        return flat.reshape(self._shape)[self._cell[1] - 1 :, self._cell[0] - 1 :]

    def cell_sums(self, dtype: type) -> _Runs:
        """Return what finds for each place of a cell the sum of its pixels."""
        return self._runs(np.add, dtype, 0)

    def cover_sums(self, dtype: type) -> _Runs:
        """Return what finds for each pixel the sum of the places of cells that hold it."""
        return self._runs(np.add, dtype, self._reach)

    def cover_maxima(self, dtype: type) -> _Runs:
        """Return what finds for each pixel the greatest of the places of cells that hold it; values are 0 or more."""
        return self._runs(np.maximum, dtype, self._reach)

    def _runs(self, combine: np.ufunc, dtype: type, begin: int) -> _Runs:
        padded = np.zeros(self._size + self._reach, dtype)
        return _Runs(combine, padded, slice(begin, begin + self._size), [(self._cell[0], 1), (self._cell[1], self._shape[1])])


class _Runs:
    """Sums or maxima over cells, time after time, in arrays made once: a new array costs as much as what is added up in it.

    Attributes:
        values: what to combine, flat; write to it before each ``found``.

    Args:
        combine: ``np.add`` or ``np.maximum``.
        padded: the values among zeros.
        inner: where the values are.
        runs: length and stride of each run; the second is over what the first finds.
    """

    def __init__(self, combine: np.ufunc, padded: np.ndarray, inner: slice, runs: list[tuple[int, int]]) -> None:
        self.values, self._combine = padded[inner], combine
        self._steps: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self._turns = [np.empty_like(padded) for _ in range(2)]
        for length, stride in runs:
            padded = self._run(padded, length, stride)
        self._found = padded

    def found(self) -> np.ndarray:
        """Return what is found, in the values' shape: an array to read before ``values`` change, for the next call writes to it."""
        combine = self._combine
        for left, right, out in self._steps:
            combine(left, right, out=out)
        return self._found

    def _run(self, values: np.ndarray, length: int, stride: int) -> np.ndarray:
        """Return where the result of ``length`` values, ``stride`` apart, will be from each index on: by runs of 1, 2, 4, 8 ... values."""
        full = len(values) - (length - 1) * stride
        parts, power, size, at = [], values, 1, 0
        while True:
            if length & size:
                parts.append(power[at * stride : at * stride + full])
                at += size
            if size * 2 > length:
                return functools.reduce(self._step, parts)
            # Of a length that is a power of 2 only the last power is needed: two arrays by turns stay in the processor's cache.
            out = None if length & length - 1 else self._turns[len(self._steps) % 2]
            power = self._step(power[: -size * stride], power[size * stride :], out)
            size *= 2

    def _step(self, left: np.ndarray, right: np.ndarray, out: np.ndarray | None = None) -> np.ndarray:
        out = np.empty_like(left) if out is None else out[: len(left)]
        self._steps.append((left, right, out))
        return out


def _descend(opaque: np.ndarray, plane: _Plane, rounds: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the prices after all rounds, and their sum over the second half of the rounds; float32, not yet valid.

    Each round, written in place: prices = max(prices + pixel_step * (1 - cover_sums(ahead)), 0) * opaque;
    moved = max(cells + cell_step * (cell_sums(prices) - 1), 0); ahead = 2 * moved - cells; cells = moved.
    """
    area, one = np.float32(plane.area), np.float32(1)
    step = np.float32(_STEP * math.sqrt(plane.area))
    pixel_steps, cell_step = opaque * (np.float32(_OVER) * step / area / area), 1 / step
    held, covering = plane.cell_sums(np.float32), plane.cover_sums(np.float32)
    prices, ahead = held.values, covering.values
    np.divide(opaque, area, out=prices)
    nothing = np.zeros_like(opaque)  # a maximum with an array is three times as quick as one with a number
    cells, moved, total = (np.zeros_like(opaque) for _ in range(3))
    for turn in range(rounds):
        change = np.subtract(one, covering.found(), out=ahead)
        change *= pixel_steps
        prices += change
        np.maximum(prices, nothing, out=prices)
        np.subtract(held.found(), one, out=moved)
        moved *= cell_step
        moved += cells
        np.maximum(moved, nothing, out=moved)
        np.add(moved, moved, out=ahead)
        ahead -= cells
        cells, moved = moved, cells
        if turn >= rounds // 2:
            total += prices
    return prices, total


def _valid(prices: np.ndarray, plane: _Plane) -> np.ndarray:
    """Return prices of which no cell holds more than 1: each is divided by what the fullest cell around it holds."""
    held, fullest = plane.cell_sums(np.float64), plane.cover_maxima(np.float64)
    held.values[...] = prices
    for _ in range(_POLISH):
        fullest.values[...] = held.found()
        np.divide(held.values, fullest.found(), out=held.values, where=held.values > 0)
    return held.values
