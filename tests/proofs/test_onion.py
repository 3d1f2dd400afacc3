"""Onion skins: frames over one another, how opaque they are, the cross at the anchor, and the feet."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from pipeline.pixels.feet import feet, wander
from pipeline.proofs.canvas import ALARM
from pipeline.proofs.kinds.onion import _laid_over, onion_skins
from tests.report.making import build, pixels, subject


def test_what_stays_is_strong_and_what_moves_is_pale():
    """Of four frames: a pixel of all, of two in two colours, of one, of none. The mean is numpy's."""
    rgb = np.zeros((4, 1, 4, 3), dtype=np.uint8)
    clear = np.ones((4, 1, 4), dtype=bool)
    rgb[:, 0, 0] = (200, 100, 50)
    clear[:, 0, 0] = False
    rgb[:2, 0, 1] = [(10, 20, 30), (30, 40, 51)]
    clear[:2, 0, 1] = clear[3, 0, 2] = False
    shown = _laid_over(rgb, clear)[0]
    assert shown[0].tolist() == [200, 100, 50, 230]
    assert shown[1].tolist() == [20, 30, 40, 123]
    assert (shown[2, 3], shown[3].tolist()) == (70, [0, 0, 0, 0])


@given(st.integers(1, 9), st.integers(1, 9), st.integers(0, 2**32 - 1))
def test_feet_are_the_middle_of_the_lowest_row(width, height, seed):
    """The lower edge is that of SciPy's box of all pixels, the middle that of its box of the lowest row."""
    drawn = np.random.default_rng(seed).random((height, width)) < 0.3
    boxes = ndimage.find_objects(drawn.astype(int))
    if not boxes:
        assert feet(drawn) == (width // 2, height)
        return
    bottom = boxes[0][0].stop
    across = ndimage.find_objects(drawn[bottom - 1 : bottom].astype(int))[0][1]
    assert feet(drawn) == ((across.start + across.stop) // 2, bottom)


def test_wander_is_the_distance_of_the_outermost():
    """In each direction by itself; of nothing it is nothing. Common practice, no source."""
    assert wander([(4, 9), (1, 9), (3, 7)]) == (3, 2)
    assert wander([]) == (0, 0)


@pytest.fixture(scope="module")
def crowd(tmp_path_factory):
    """Build the crowd of the report's tests."""
    return build(tmp_path_factory.mktemp("onion"))


def test_every_animation_has_its_skin_and_cross(crowd):
    """Three animations side by side: three crosses of the alarm colour, nothing else of it; the same bytes each time."""
    shown = pixels(onion_skins(subject(crowd, "crowd")))
    crosses, count = ndimage.label((shown == ALARM).all(axis=-1))
    assert count == 3
    tops = [box[0].start for box in ndimage.find_objects(crosses)]
    assert len(set(tops)) == 1
    assert onion_skins(subject(crowd, "crowd")) == (crowd.folder / "build/proofs/crowd.onion.png").read_bytes()
