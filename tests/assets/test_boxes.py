"""Which island of a sheet belongs to which of several overlapping boxes, compared with going through all boxes one by one."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pipeline.assets.sources.boxes import _owners

BOX = st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(1, 9), st.integers(1, 9))


def holds(box: tuple[int, ...], other: tuple[int, ...]) -> bool:
    """Return whether all pixels of a box are in another."""
    inside = {(x, y) for x in range(box[0], box[0] + box[2]) for y in range(box[1], box[1] + box[3])}
    return all((x, y) in inside for x in range(other[0], other[0] + other[2]) for y in range(other[1], other[1] + other[3]))


@given(st.lists(BOX, min_size=1, max_size=6), st.lists(BOX, min_size=1, max_size=6))
def test_island_belongs_to_the_smallest_box_that_holds_it(islands, places):
    """The first of boxes of one size; -1 where none holds all of it."""
    for island, owner in zip(islands, _owners(np.array(islands), places), strict=True):
        holding = [(box[2] * box[3], rank) for rank, box in enumerate(places) if holds(box, island)]
        assert owner == (min(holding)[1] if holding else -1)
