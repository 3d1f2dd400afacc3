"""The sums and choices of the search for pieces, which work in place, against the same written plainly."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.pixels.pieces.prices import _OVER, _STEP, _descend, _Plane
from pipeline.pixels.pieces.search import _best, _Tables


def run(values: np.ndarray, length: int, axis: int, combine: np.ufunc) -> np.ndarray:
    """Return ``length`` values from each place on, combined by runs of 1, 2, 4, 8 ..., each two of half its length."""
    values = np.moveaxis(values, axis, 0)

    def powers(size: int) -> np.ndarray:
        return values if size == 1 else combine(powers(size // 2)[: -(size // 2)], powers(size // 2)[size // 2 :])

    total, at = None, 0
    for size in (1 << bit for bit in range(length.bit_length()) if length >> bit & 1):
        part = powers(size)[at : at + len(values) - length + 1]
        total, at = part if total is None else combine(total, part), at + size
    return np.moveaxis(total, 0, axis)


def over_cells(picture: np.ndarray, width: int, height: int, before: bool, combine: np.ufunc = np.add) -> np.ndarray:
    """Combine the cell from each place on, or up to each place, in float32 and row by row first."""
    down, right = ((height - 1, 0), (width - 1, 0)) if before else ((0, height - 1), (0, width - 1))
    return run(run(np.pad(picture, (down, right)), width, 1, combine), height, 0, combine)


def plainly(opaque: np.ndarray, width: int, height: int, rounds: int) -> tuple[np.ndarray, np.ndarray]:
    """Return what ``_descend`` documents, by its formula: new arrays, pictures of two dimensions."""
    area = np.float32(width * height)
    step = np.float32(_STEP * math.sqrt(width * height))
    prices = opaque / area
    cells = ahead = total = np.zeros_like(opaque)
    for turn in range(rounds):
        change = np.float32(_OVER) * step / area / area * (1 - over_cells(ahead, width, height, before=True))
        prices = np.maximum(prices + change, 0) * opaque
        moved = np.maximum(cells + 1 / step * (over_cells(prices, width, height, before=False) - 1), 0)
        ahead, cells = 2 * moved - cells, moved
        total = total + prices if turn >= rounds // 2 else total
    return prices, total


@pytest.mark.parametrize("cell", [(16, 16), (8, 16), (5, 3), (1, 1), (1, 7), (12, 2)])
def test_prices_descend_to_the_bits_of_the_plain_formula(cell):
    random = np.random.default_rng(3)
    mask = random.random((23, 31)) < 0.7
    plane = _Plane(mask.shape, *cell)
    found = _descend(plane.lay(mask.astype(np.float32)), plane, 40)
    inner = plane.lay(np.ones_like(mask)).reshape(23 + cell[1] - 1, -1)
    wanted = plainly(inner * plane.lay(mask.astype(np.float32)).reshape(inner.shape), *cell, 40)
    for ours, theirs in zip(found, wanted, strict=True):
        assert ours.dtype == np.float32
        assert np.array_equal(plane.lift(ours), plane.lift(theirs))
    assert found[1].sum() > 0


@pytest.mark.parametrize("cell", [(16, 8), (5, 3), (1, 1), (6, 7)])
def test_greatest_of_the_cells_around_a_pixel(cell):
    random = np.random.default_rng(4)
    shape = (20, 17)
    plane = _Plane(shape, *cell)
    fullest = plane.cover_maxima(np.float64)
    for _ in range(2):  # the arrays are used again
        picture = plane.lay(random.random(shape))
        fullest.values[...] = picture
        plain = over_cells(picture.reshape(shape[0] + cell[1] - 1, -1), *cell, before=True, combine=np.maximum)
        assert np.array_equal(plane.lift(fullest.found()), plane.lift(plain))


def test_gains_are_what_columns_under_a_cell_lose():
    random = np.random.default_rng(5)
    tables = _Tables(np.ones((9, 12), dtype=np.int64), np.ones((9, 12), dtype=bool), 4, 3, 8)
    table = random.integers(-(1 << 62), 1 << 62, 300)  # names are of this size, and wrap
    before, after = random.integers(0, 300, (2, 6, 7))
    lost = table[before] - table[after]
    plain = np.stack([lost[:, x : x + 4].sum(axis=1) for x in range(4)], axis=1)
    assert np.array_equal(tables._gains(table, before, after), plain)


@pytest.mark.parametrize("names", [3, 40, 500, 5000])
def test_the_best_coverings_are_the_cheapest_of_different_names(names):
    random = np.random.default_rng(names)
    price = random.integers(0, 60 if names == 500 else 1 << 34, names)  # coverings of one name have one price; many are level
    which = random.integers(0, names, 1500)
    name = random.integers(-(1 << 62), 1 << 62, names)[which]
    left, most_left = price[which], int(np.quantile(price, 0.8))
    first: dict[int, int] = {}
    for rank in np.flatnonzero(left <= most_left).tolist():
        first.setdefault(int(name[rank]), rank)
    plain = [first[one] for one in sorted(first)]
    if len(plain) > 96:
        plain = sorted(plain, key=lambda rank: left[rank])[:96]
    assert _best(left, name, 96, most_left).tolist() == plain
    assert _best(left, name, 96, -1).tolist() == []
