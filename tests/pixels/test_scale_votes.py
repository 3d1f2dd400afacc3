"""The vote of each output pixel against one reckoned pixel by pixel in fractions."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pipeline.pixels.scaling import votes
from pipeline.pixels.scaling.scale import exact_factors, scale_rgba
from tests.conftest import tries

CLEAR = (0, 0, 0, 0)
INKS = np.array([CLEAR, (255, 0, 0, 255), (0, 0, 255, 255), (0, 0, 255, 90), (255, 255, 255, 0)], dtype=np.uint8)
FACTORS = [0.77, 0.5, 0.25, 0.61, 0.9, 1.3, 0.1, (0.5, 0.77), (1.5, 0.31), Fraction(5, 13), 0.3333333333333333]


def drawn(width: int, height: int, seed: int, inks: int = len(INKS)) -> np.ndarray:
    """Return random pixels of a few inks, two of them not to be seen: uint8, shape (height, width, 4)."""
    return INKS[np.random.default_rng(seed).integers(0, inks, (height, width))]


def elected(rgba: np.ndarray, factor, y: int, x: int) -> tuple[int, ...]:
    """Return the colour of one output pixel: most area, then nearest to the middle, then first in reading order."""
    across, down = exact_factors(factor)
    top, left, bottom, right = y / down, x / across, (y + 1) / down, (x + 1) / across
    area: dict[tuple, Fraction] = {}
    nearest: dict[tuple, tuple] = {}
    for row in range(int(top), -int(-bottom // 1)):
        for column in range(int(left), -int(-right // 1)):
            inside = row < rgba.shape[0] and column < rgba.shape[1]
            colour = tuple(rgba[row, column].tolist()) if inside and rgba[row, column, 3] else CLEAR
            high, wide = min(bottom, row + 1) - max(top, row), min(right, column + 1) - max(left, column)
            distance = (row + Fraction(1, 2) - (top + bottom) / 2) ** 2 + (column + Fraction(1, 2) - (left + right) / 2) ** 2
            area[colour] = area.get(colour, 0) + high * wide
            nearest[colour] = min(nearest.get(colour, (distance, row, column)), (distance, row, column))
    return min(area, key=lambda colour: (-area[colour], nearest[colour]))


@settings(max_examples=tries(30, 80), deadline=None)
@given(st.integers(1, 12), st.integers(1, 12), st.sampled_from(FACTORS[:-1]), st.integers(0, 99))
def test_colour_of_most_area_wins(width, height, factor, seed):
    """Every output pixel has the colour the definition gives, ties and what lies beyond the edge included."""
    rgba = drawn(width, height, seed)
    small = scale_rgba(Image.fromarray(rgba), factor, "dominant")
    for y, x in np.ndindex(small.shape[:2]):
        assert tuple(small[y, x].tolist()) == elected(rgba, factor, y, x)


@given(st.integers(1, 40), st.integers(1, 40), st.sampled_from(FACTORS), st.integers(0, 99), st.booleans())
def test_no_colour_is_invented(width, height, factor, seed, solid):
    """Every colour of the output is one of the source's, or clear; of a solid picture always one of the source's."""
    rgba = np.random.default_rng(seed).integers(0, 256, (height, width, 4), dtype=np.uint8)
    if solid:
        rgba[..., 3] = 255
    small = scale_rgba(Image.fromarray(rgba), factor, "dominant", solid)
    known = {tuple(pixel) for pixel in rgba.reshape(-1, 4).tolist()}
    made = {tuple(pixel) for pixel in small.reshape(-1, 4).tolist()}
    assert made <= (known if solid else known | {CLEAR})


def test_edges_stay_hard():
    """Of a two-colour drawing at 77 %, no pixel is of a third colour or half transparent, where a mean makes some."""
    y, x = np.mgrid[:80, :80]
    rgba = np.zeros((80, 80, 4), dtype=np.uint8)
    rgba[(x - 40) ** 2 + (y - 40) ** 2 < 900] = (30, 60, 90, 255)
    rgba[(x - 40) ** 2 + (y - 40) ** 2 < 500] = (250, 200, 150, 255)
    hard = {tuple(pixel) for pixel in scale_rgba(Image.fromarray(rgba), 0.77, "dominant").reshape(-1, 4).tolist()}
    soft = {tuple(pixel) for pixel in scale_rgba(Image.fromarray(rgba), 0.77, "area").reshape(-1, 4).tolist()}
    assert hard == {CLEAR, (30, 60, 90, 255), (250, 200, 150, 255)}
    assert len(soft) > 20


@pytest.mark.parametrize(("pixels", "expected"), [("1122", 1), ("2112", 2), ("1211", 1), ("1222", 2), ("0112", 1), ("0123", 0)])
def test_ties_go_to_reading_order(pixels, expected):
    """Four pixels to one, all as near its middle: the most votes, else the first in reading order."""
    rgba = INKS[[int(digit) for digit in pixels]].reshape(2, 2, 4)
    assert scale_rgba(Image.fromarray(rgba), 0.5, "dominant")[0, 0].tolist() == INKS[expected].tolist()


IN_A_ROW = [("11222", 2), ("22122", 2), ("12213", 2), ("21123", 1), ("12321", 2), ("31221", 2), ("20021", 0), ("00122", 0)]


@pytest.mark.parametrize(("pixels", "expected"), IN_A_ROW)
def test_ties_go_to_the_pixel_nearest_the_middle(pixels, expected):
    """Five pixels in a row to one: the most votes, of equals the one with a pixel nearest the middle, of those the first."""
    rgba = INKS[[int(digit) for digit in pixels]][None]
    assert scale_rgba(Image.fromarray(rgba), (0.2, 1), "dominant")[0, 0].tolist() == INKS[expected].tolist()


def test_bands_do_not_show(monkeypatch):
    """A picture looked at a few rows at a time is the same picture."""
    picture = Image.fromarray(drawn(60, 70, 3))
    whole = scale_rgba(picture, 0.37, "dominant")
    monkeypatch.setattr(votes, "_AT_ONCE", 1000)
    assert np.array_equal(scale_rgba(picture, 0.37, "dominant"), whole)
