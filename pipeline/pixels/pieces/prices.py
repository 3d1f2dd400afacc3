"""Prices of pixels: what each opaque pixel costs to cover, so that no cell anywhere holds more than one unit of price.

All prices of a frame together are then a lower bound for the number of cells (weak duality of linear programs), and
what is left of them shows a search how much work is left. The prices are found by alternating gradient steps on pixels
and cells; wherever those stop, the last step makes the prices valid, in whole numbers.

Only additions, multiplications, divisions and maxima are used, in a fixed order: the same on every machine.
"""

from __future__ import annotations

import functools
import math
import operator
from collections.abc import Callable

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
    found = [_valid(prices.astype(np.float64), plane) for prices in _descend(opaque, plane, rounds)]
    whole = [np.floor(prices * UNIT).astype(np.int64) for prices in found]
    best = max(whole, key=lambda prices: int(prices.sum()))
    most = int(plane.cell_sums(best).max(initial=0))
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

    def cell_sums(self, pixels: np.ndarray) -> np.ndarray:
        """Return for each place of a cell the sum of its pixels."""
        return self._runs(np.concatenate([pixels, np.zeros(self._reach, pixels.dtype)]), _run_sums)

    def cover_sums(self, cells: np.ndarray) -> np.ndarray:
        """Return for each pixel the sum of the places of cells that hold it."""
        return self._runs(np.concatenate([np.zeros(self._reach, cells.dtype), cells]), _run_sums)

    def cover_maxima(self, cells: np.ndarray) -> np.ndarray:
        """Return for each pixel the greatest of the places of cells that hold it; values are 0 or more."""
        return self._runs(np.concatenate([np.zeros(self._reach, cells.dtype), cells]), _run_maxima)

    def _runs(self, flat: np.ndarray, run: Callable) -> np.ndarray:
        return run(run(flat, self._cell[0], 1), self._cell[1], self._shape[1])


def _run_sums(values: np.ndarray, length: int, stride: int) -> np.ndarray:
    """Return the sum of ``length`` values, ``stride`` apart, from each index on: by sums of 1, 2, 4, 8 ... values."""
    full = len(values) - (length - 1) * stride
    parts, power, size, at = [], values, 1, 0
    while True:
        if length & size:
            parts.append(power[at * stride : at * stride + full])
            at += size
        if size * 2 > length:
            return functools.reduce(operator.add, parts)
        power = power[: -size * stride] + power[size * stride :]
        size *= 2


def _run_maxima(values: np.ndarray, length: int, stride: int) -> np.ndarray:
    """Return the greatest of ``length`` values, ``stride`` apart, from each index on."""
    have = 1
    while have < length:
        step = min(have, length - have)
        values = np.maximum(values[: -step * stride], values[step * stride :])
        have += step
    return values


def _descend(opaque: np.ndarray, plane: _Plane, rounds: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the prices after all rounds, and their sum over the second half of the rounds; float32, not yet valid."""
    area, step = np.float32(plane.area), np.float32(_STEP * math.sqrt(plane.area))
    pixel_step, cell_step = np.float32(_OVER) * step / area / area, 1 / step
    prices = opaque / area
    nothing = np.zeros_like(opaque)  # a maximum with an array is three times as quick as one with a number
    cells, total = nothing, np.zeros_like(opaque)
    ahead = cells
    for turn in range(rounds):
        prices = np.maximum(prices + pixel_step * (1 - plane.cover_sums(ahead)), nothing) * opaque
        moved = np.maximum(cells + cell_step * (plane.cell_sums(prices) - 1), nothing)
        ahead, cells = 2 * moved - cells, moved
        if turn >= rounds // 2:
            total += prices
    return prices, total


def _valid(prices: np.ndarray, plane: _Plane) -> np.ndarray:
    """Return prices of which no cell holds more than 1: each is divided by what the fullest cell around it holds."""
    for _ in range(_POLISH):
        fullest = plane.cover_maxima(plane.cell_sums(prices))
        prices = np.divide(prices, fullest, out=np.zeros_like(prices), where=prices > 0)
    return prices
