"""Labels around a pad and the lines to them, checked by sampling points and by SciPy."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from pipeline.packet.sections.pad_leaders import GAP, Callout, Room, place_labels, spread
from tests.conftest import tries

CELL = 20.0
ROOM = Room(left=100.0, right=380.0, body=(116.0, -9.0, 364.0, 109.0), first=6.0, lane=2.2)
# Middles of buttons in cells on a face of 12 by 5: two rows of three, a diamond, a lone one, a full row.
LAYOUTS = {
    "two rows": [(8.5, 2), (10, 1.5), (11.5, 1), (8.5, 3.5), (10, 3), (11.5, 2.5)],
    "diamond": [(10, 1), (9, 2), (11, 2), (10, 3)],
    "lone": [(6, 2.5)],
    "row": [(x, 2.5) for x in range(1, 12, 2)],
}


def callouts_of(middles: list[tuple[float, float]], height: float = 11.0) -> tuple[Callout, ...]:
    boxes = [(125 + x * CELL - 8, y * CELL - 8, 125 + x * CELL + 8, y * CELL + 8) for x, y in middles]
    return tuple(Callout(box, (height, height)) for box in boxes)


def points_of(line: tuple[tuple[float, float], ...]) -> np.ndarray:
    """Return points at most half a point apart along a line."""
    parts = [np.linspace(start, end, 2 + int(2 * np.hypot(*np.subtract(end, start)))) for start, end in itertools.pairwise(line)]
    return np.concatenate(parts)


def inside(points: np.ndarray, box: tuple[float, float, float, float]) -> bool:
    left, top, right, bottom = box
    return bool(((points[:, 0] > left) & (points[:, 0] < right) & (points[:, 1] > top) & (points[:, 1] < bottom)).any())


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("height", [11.0, 22.0, 44.0])
def test_lines_of_usual_pads_pass_no_button_and_no_other_line(name, height):
    """Every line begins at its button, ends at its label, keeps out of all other buttons and a point from all other lines."""
    callouts = callouts_of(LAYOUTS[name], height)
    labels = place_labels(callouts, ROOM)
    lines = [points_of(label.line) for label in labels]
    for at, (label, line) in enumerate(zip(labels, lines, strict=True)):
        left, top, right, bottom = callouts[at].box
        x, y = label.line[0]
        assert left <= x <= right
        assert top <= y <= bottom
        assert label.line[-1] == (ROOM.left if label.side == "left" else ROOM.right, label.top + ROOM.first)
        assert not any(inside(line, other.box) for rank, other in enumerate(callouts) if rank != at)
    for one, other in itertools.combinations(lines, 2):
        assert np.sqrt(((one[:, None] - other[None]) ** 2).sum(axis=2)).min() >= 1


@settings(max_examples=tries(15, 40), deadline=None)
@given(st.lists(st.tuples(st.integers(0, 11), st.integers(0, 4), st.floats(9, 60)), min_size=1, max_size=16, unique_by=lambda one: one[:2]))
def test_labels_of_a_column_never_overlap(drawn):
    """Whatever is where: labels of one side are at least the gap apart, and each button has one."""
    callouts = tuple(callouts_of([(x, y)], height)[0] for x, y, height in drawn)
    labels = place_labels(callouts, ROOM)
    assert len(labels) == len(callouts)
    for side in ("left", "right"):
        spans = sorted((label.top, label.top + one.heights[0]) for label, one in zip(labels, callouts, strict=True) if label.side == side)
        assert all(low >= high - 1e-6 + GAP for (_, high), (low, _) in itertools.pairwise(spans))


def test_straight_lines_that_need_no_shift_get_none():
    """Two buttons of a side on rows far apart: both lines run level from the button to the label."""
    labels = place_labels(callouts_of([(1, 1), (1, 4)]), ROOM)
    assert all(label.side == "left" for label in labels)
    assert [{y for _, y in label.line} for label in labels] == [{20.0}, {80.0}]


@given(st.lists(st.tuples(st.integers(-200, 400), st.integers(9, 60)), min_size=1, max_size=20))
def test_stacked_labels_shift_as_little_as_they_can(drawn):
    """SciPy's isotonic_regression of the wanted places, less the heights above, gives the same places."""
    wanted, heights = zip(*drawn, strict=True)
    above = np.concatenate([[0], np.cumsum(np.array(heights) + GAP)[:-1]])
    want = isotonic_regression(np.array(wanted, float) - above).x + above
    assert spread([float(one) for one in wanted], [float(one) for one in heights]) == pytest.approx(want)
