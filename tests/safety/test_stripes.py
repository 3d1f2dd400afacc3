"""Stripes, just under and just over each figure of ITU-R BT.1702. Source: that recommendation and broadcasters' notes, from memory."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.safety.flashes import Finding
from pipeline.safety.stripes import StripeMeter, still, striped
from pipeline.safety.swings import luminance
from tests.conftest import tries

WIDTH, HEIGHT = 320, 240


def bars(pairs: int, width: int = 6, *, rows: int = HEIGHT, light: int = 255, dark: int = 0, wide: int = WIDTH) -> np.ndarray:
    """Return a picture of upright stripes on the dark colour, from the left and the top: uint8, shape (240, ``wide``, 3)."""
    picture = np.full((HEIGHT, wide, 3), dark, np.uint8)
    for pair in range(pairs):
        left = (2 * pair + 1) * width
        picture[:rows, left : left + width] = light
    return picture


def light_of(picture: np.ndarray) -> np.ndarray:
    return luminance(picture.reshape(-1, 3)).reshape(picture.shape[:2])


def verdict(*shown: tuple[np.ndarray, int], refresh: float = 60) -> str:
    return measured(*shown, refresh=refresh).verdict


def measured(*shown: tuple[np.ndarray, int], refresh: float = 60) -> Finding:
    meter = StripeMeter(shown[0][0].shape[1], shown[0][0].shape[0], refresh)
    for picture, ticks in shown:
        meter.add(picture, ticks)
    return meter.finding


@pytest.mark.parametrize(("pairs", "width", "expected"), [(5, 25, False), (6, 25, True), (5, 12, False), (6, 12, True), (26, 6, True)])
def test_more_than_five_pairs(pairs, width, expected):
    """Upright or lying, on a dark ground or a light one."""
    picture = light_of(bars(pairs, width))
    for one in (picture, 1 - picture, picture.T, np.flipud(picture), np.fliplr(picture)):
        assert striped(np.ascontiguousarray(one), False).any() == expected


@pytest.mark.parametrize(
    ("light", "dark", "expected"),
    [(89, 0, False), (90, 0, True), (255, 232, False), (255, 231, True)],  # 0.0999, 0.1022 apart; the darker 0.8070, 0.7991
)
def test_contrast_of_stripes(light, dark, expected):
    """20 of 200 cd/m2 apart, the darker below 160."""
    assert striped(light_of(bars(20, light=light, dark=dark)), False).any() == expected


@pytest.mark.parametrize(("rows", "expected"), [(96, "near"), (97, "fail"), (76, "pass"), (77, "near")])
def test_area_of_still_stripes(rows, expected):
    """40 % of 240 rows is 96, whole rows being striped; 80 % of that is 76.8."""
    picture = bars(27, rows=rows)
    assert striped(light_of(picture), True)[:rows].all()
    assert not striped(light_of(picture), True)[rows:].any()
    assert still(light_of(picture), (WIDTH, HEIGHT)).verdict == expected
    assert verdict((picture, 120)) == expected


@pytest.mark.parametrize(("rows", "expected"), [(60, "near"), (61, "fail"), (49, "near"), (48, "pass")])
def test_area_of_stripes_that_swap(rows, expected):
    """25 % of 240 rows is 60; 80 % of that is 48."""
    picture = bars(27, rows=rows)
    other = picture.copy()
    other[:rows] = 255 - other[:rows]
    assert verdict(*[(picture, 20), (other, 20)] * 4) == expected


@pytest.mark.parametrize(("ticks", "refresh", "expected"), [(30, 60, "pass"), (31, 60, "fail"), (25, 50, "pass"), (26, 50, "fail")])
def test_half_a_second_is_not_too_long(ticks, refresh, expected):
    """Wherever it begins, in one picture or in many."""
    plain, pattern = np.zeros((24, 96, 3), np.uint8), bars(16, 3)[:24, :96]
    for before in (1, 29):
        shown = [(plain, 1)] * before + [(pattern, 1)] * ticks + [(plain, 1)] * 40
        assert verdict(*shown, refresh=refresh) == expected
    assert verdict((plain, 7), (pattern, ticks), (plain, 90), refresh=refresh) == expected


def test_two_short_spells_do_not_add_up():
    """A third of a second each, with a plain picture between them for longer than from one look to the next, a tenth of a second."""
    plain, pattern = np.zeros((24, 96, 3), np.uint8), bars(16, 3)[:24, :96]
    assert verdict(*[(pattern, 20), (plain, 7)] * 6) == "pass"
    assert verdict(*[(pattern, 20), (pattern, 20), (plain, 7)] * 6) == "fail"


@pytest.mark.parametrize("angle", range(0, 180, tries(45, 5)))
def test_stripes_in_any_direction(angle):
    """Stripes of 8 pixels at any angle over the whole screen."""
    down, across = np.mgrid[:HEIGHT, :WIDTH]
    along = across * np.cos(np.radians(angle)) + down * np.sin(np.radians(angle))
    light = (np.floor(along / 8) % 2).astype(np.float32)
    assert np.count_nonzero(striped(light, True)) > 0.9 * light.size


def test_rings_count_too():
    """The recommendation names curved stripes."""
    down, across = np.mgrid[:HEIGHT, :WIDTH]
    light = (np.floor(np.hypot(across - 160, down - 120) / 6) % 2).astype(np.float32)
    assert np.count_nonzero(striped(light, True)) > 0.4 * light.size


def test_what_is_no_pattern_passes():
    """Blocks at random, noise, a fade, chequers of single pixels on a screen where they are fine, stripes of ever other widths."""
    rng = np.random.default_rng(4)
    down, across = np.mgrid[:HEIGHT, :WIDTH]
    irregular = np.repeat(np.arange(40) % 2, rng.permutation(np.arange(40) * 3 % 37 + 2))[None, :WIDTH].repeat(HEIGHT, 0)
    for light in (rng.integers(0, 2, (30, 40)).repeat(8, 0).repeat(8, 1), rng.random((HEIGHT, WIDTH)), across / WIDTH, irregular):
        assert np.count_nonzero(striped(light.astype(np.float32), True)) < 0.15 * light.size
    chequers = ((across + down) % 2).astype(np.float32)
    assert not striped(chequers, True).any()
    assert striped(chequers, False).all()


def test_wide_pictures_are_seen_through_the_screen():
    """Stripes at the right end of a background three screens wide."""
    picture = np.concatenate([np.zeros((HEIGHT, 640, 3), np.uint8), bars(27)], axis=1)
    found = still(light_of(picture), (WIDTH, HEIGHT))
    assert found.verdict == "fail"
    assert found.box is not None
    assert found.box[0] >= 600
