"""Islands of a picture against labels of scikit-image and SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import ndimage
from skimage import measure

from pipeline.assets.sources.islands import JOINS, TooManyIslands, default_join, find_islands, island_count

PICTURES = arrays(bool, st.tuples(st.integers(1, 40), st.integers(1, 40)), elements=st.booleans(), fill=st.just(True))


def _reference(clear: np.ndarray, join: int) -> np.ndarray:
    """Return labels by skimage.measure.label of opaque pixels grown by SciPy's dilation."""
    height, width = clear.shape
    room = np.zeros((height + 2 * join + 2, width + 2 * join + 2), dtype=bool)
    room[:height, :width] = ~clear
    corner = np.zeros((2 * join + 1, 2 * join + 1), dtype=bool)
    corner[join:, join:] = True  # to the right and down
    grown = ndimage.binary_dilation(room, corner)
    return measure.label(grown, connectivity=2)[:height, :width] * ~clear


@settings(deadline=None)  # the libraries take their time when first called
@given(PICTURES, st.integers(0, 6))
def test_islands_are_those_of_the_libraries(clear, join):
    """Labels part the pixels as scikit-image does on SciPy's dilation; boxes are those of ndimage.find_objects."""
    found = find_islands(clear, join)
    reference = _reference(clear, join)
    pairs = np.unique(np.stack([reference.ravel(), found.labels.ravel()]), axis=1)
    assert len(np.unique(pairs[0])) == len(np.unique(pairs[1])) == pairs.shape[1]
    assert set(np.unique(found.labels)) - {0} == set(range(1, len(found.boxes) + 1))
    slices = ndimage.find_objects(found.labels)
    assert [(x.start, y.start, x.stop - x.start, y.stop - y.start) for y, x in slices] == list(found.boxes)
    assert island_count(clear, join) == len(found.boxes)
    assert find_islands(clear, join).boxes == found.boxes


def _drawn(size: tuple[int, int], *boxes: tuple[int, int, int, int]) -> np.ndarray:
    clear = np.ones(size, dtype=bool)
    for left, top, width, height in boxes:
        clear[top : top + height, left : left + width] = False
    return clear


def test_join_counts_the_clear_pixels_between_parts():
    """Common practice, no source: three clear columns are joined from 3; a corner counts as near as its longer way."""
    clear = _drawn((20, 20), (0, 0, 2, 2), (5, 4, 2, 2))
    assert [len(find_islands(clear, join).boxes) for join in (0, 1, 2, 3)] == [2, 2, 2, 1]
    assert find_islands(clear, 3).boxes == ((0, 0, 7, 6),)


def test_reading_order_follows_rows_of_uneven_figures():
    """Common practice, no source: a figure that jumps and one that ducks stay in their row, rows are read from the top."""
    first = [(0, 6, 8, 14), (12, 0, 8, 14), (24, 12, 8, 8)]
    second = [(2, 30, 8, 10), (14, 22, 8, 18), (30, 31, 3, 3)]
    assert find_islands(_drawn((60, 40), *first, *second), 0).boxes == (*first, *second)


def test_distance_is_found_from_the_art():
    """Common practice, no source: heads two pixels above their bodies, figures twelve apart."""
    boxes = [(x, y, w, h) for x in (0, 20, 40) for y, w, h in ((0, 8, 5), (7, 8, 12))]
    clear = _drawn((20, 60), *boxes)
    found = find_islands(clear)
    assert found.join == default_join(clear) == 2
    assert found.boxes == ((0, 0, 8, 19), (20, 0, 8, 19), (40, 0, 8, 19))
    assert default_join(_drawn((8, 8), (0, 0, 8, 8))) in JOINS


def test_bad_pictures_are_refused():
    """Nothing opaque, too much, and what is not a picture."""
    assert find_islands(np.ones((4, 5), dtype=bool)).boxes == ()
    assert find_islands(np.zeros((4, 5), dtype=bool)).boxes == ((0, 0, 5, 4),)
    dots = np.ones((130, 130), dtype=bool)
    dots[::2, ::2] = False
    with pytest.raises(TooManyIslands, match="4,225 islands") as raised:
        find_islands(dots, 0)
    assert raised.value.count == 4225
    assert len(find_islands(dots, 0, most=4225).boxes) == 4225
    with pytest.raises(ValueError, match="join -1"):
        find_islands(dots, -1)


def test_shapes_that_take_many_rounds_stay_quick():
    """A comb, a snake and a large sheet: labels of scikit-image, and no round for each tooth."""
    comb = np.ones((512, 512), dtype=bool)
    comb[:, ::2] = False
    comb[-1] = False
    snake = np.ones((512, 512), dtype=bool)
    snake[::2] = False
    snake[1::4, 0] = snake[3::4, -1] = False
    for clear in (comb, snake, snake.T.copy(), comb[::-1]):
        assert find_islands(clear, 0).boxes == ((0, 0, 512, 512),)
