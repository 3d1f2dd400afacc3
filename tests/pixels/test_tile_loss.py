"""The worst cell of a picture, against scikit-image's CIEDE2000 over every cell."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from pipeline.pixels.tiles.loss import worst_cell


@pytest.mark.parametrize("seed", range(4))
def test_worst_cell_is_that_of_all_cells(seed):
    """Means over every cell, cut ones too, one by one; the first greatest is reported."""
    random = np.random.default_rng(seed)
    wanted, got = random.integers(0, 256, (2, 13, 19, 3), dtype=np.uint8)
    means = {}
    for row in range(0, 13, 4):
        for column in range(0, 19, 8):
            cell = np.s_[row : row + 4, column : column + 8]
            means[column // 8, row // 4] = float(deltaE_ciede2000(rgb2lab(wanted[cell]), rgb2lab(got[cell])).mean())
    worst = max(means, key=means.get)
    figure, place = worst_cell(wanted, got, (8, 4))
    assert tuple(place) == worst
    assert figure == pytest.approx(means[worst], abs=0.01)


def test_black_for_white_in_one_cell():
    """Black and white differ by 100 in CIEDE2000 (their mean lightness is 50, where S_L is 1); half a cell of it is 50."""
    wanted = np.full((8, 16, 3), 255, dtype=np.uint8)
    got = wanted.copy()
    got[:, 8:12] = 0
    assert worst_cell(wanted, got, (8, 8)) == (50.0, [1, 0])
    assert worst_cell(wanted, wanted, (8, 8)) == (0.0, [0, 0])
