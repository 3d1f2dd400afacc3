"""Windows over backgrounds, against a program that keeps a ring of units and moves it a step at a time; no outside source."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.memory.windows import Grid, bitmap_grid, through
from pipeline.pixels.pack import pack_picture
from pipeline.plain.bits import parse_pattern
from pipeline.target.records import PixelFormat
from tests.conftest import tries


def pixel_format(pattern: str = "IIIIIIII", **more: str | int) -> PixelFormat:
    """Return a pixel format."""
    return PixelFormat(pixel=parse_pattern(pattern, allowed="IRGBA"), **more)


class Ring:
    """What a program keeps along one axis: as many units as any place needs, the first of them as far on as the window is."""

    def __init__(self, length: int, seen: int, unit: int, margin: int) -> None:
        self.places = range(max(length - seen, 0) + 1)
        self.whole, self.unit, self.margin, self.moves = -(-length // unit), unit, margin, seen < length
        reach = seen + 2 * margin
        covered = {place: (place // unit, (place + reach - 1) // unit + 1) for place in range(unit)}
        self.held = min(self.whole, max(end - start for start, end in covered.values())) if self.moves else self.whole
        self.seen = seen

    def units(self, place: int) -> set[int]:
        """Return the units that are held while the seen part begins at this pixel."""
        first = min(max(place - self.margin, 0) // self.unit, self.whole - self.held)
        return set(range(first, first + self.held))

    def steps(self, speed: int) -> list[tuple[set[int], set[int]]]:
        """Return what is held before and after each step, both ways; a step ends where the picture does."""
        pairs = [(place, min(place + speed, self.places[-1])) for place in self.places]
        return [(self.units(one), self.units(other)) for a, b in pairs for one, other in ((a, b), (b, a))]


_side = st.integers(1, 70)


@settings(deadline=None, max_examples=tries(60, 400))
@given(
    st.tuples(_side, _side), st.tuples(_side, _side), st.sampled_from([(1, 1), (2, 1), (8, 8), (16, 1), (4, 3)]),
    st.integers(0, 9), st.tuples(st.integers(0, 20), st.integers(0, 20)),
)  # fmt: skip
def test_window_takes_and_brings_what_a_program_with_a_ring_does(picture, seen, unit, margin, speed):
    """Every place of the window and every step: all that is seen is held, and the largest strips are those of the worst step."""
    grid = Grid(unit, 3, (-(-picture[0] // unit[0]), -(-picture[1] // unit[1])))
    view = through(grid, picture, seen, margin, speed)
    rings = [Ring(*one, margin) for one in zip(picture, seen, unit, strict=True)]
    for ring, held in zip(rings, view.held, strict=True):
        assert ring.held == held
        for place in ring.places:
            needed = {pixel // ring.unit for pixel in range(place, min(place + ring.seen, ring.whole * ring.unit))}
            assert needed <= ring.units(place) if ring.moves else needed <= set(range(held))
    steps = [{(len(after - before), len(after)) for before, after in ring.steps(pace)} for ring, pace in zip(rings, speed, strict=True)]
    worst = max((wide * high - (wide - right) * (high - down)) * 3 for right, wide in steps[0] for down, high in steps[1])
    assert view.moved_bytes == worst
    assert view.bytes == view.held[0] * view.held[1] * 3


@settings(deadline=None, max_examples=tries(40, 200))
@given(st.integers(80, 300), st.integers(1, 60), st.integers(1, 16), st.integers(1, 9))
def test_pace_is_what_a_long_move_brings_on_average(length, seen, unit, speed):
    """All the way from one end to the other: at most the pace for each picture, apart from the units of one step."""
    grid = Grid((unit, 1), 1, (-(-length // unit), 1))
    view, ring = through(grid, (length, 1), (seen, 1), 0, (speed, 0)), Ring(length, seen, unit, 0)
    places = range(0, length - seen + 1, speed)
    brought = sum(len(ring.units(after) - ring.units(before)) for before, after in zip(places, places[1:], strict=False))
    if view.moved[0]:
        assert brought <= view.pace * (len(places) - 1) + view.moved[0]


GRIDS = [
    # 8 bits in rows: a pixel by itself; in cells: a cell of 64 bytes.
    (pixel_format(), Grid((1, 1), 1, (48, 32))),
    (pixel_format(order="cells"), Grid((16, 16), 256, (3, 2))),
    # 4 bits: two pixels share a byte. 4 planes by byte: eight pixels take four bytes; by row each plane of a row is apart.
    (pixel_format("IIII"), Grid((2, 1), 1, (24, 32))),
    (pixel_format("IIII", planes="by byte"), Grid((8, 1), 4, (6, 32))),
    (pixel_format("IIII", planes="by row"), Grid((16, 1), 8, (3, 32), 4, apart=True)),
    (pixel_format("IIII", planes="by picture"), Grid((16, 1), 8, (3, 32), 4, 4, apart=True)),
    (pixel_format("xBBBBBGGGGGRRRRR"), Grid((1, 1), 2, (48, 32))),
    # By pair: the rows of planes 0 and 1 are apart from those of planes 2 and 3, eight pixels of a pair take two bytes.
    (pixel_format("IIII", planes="by pair"), Grid((8, 1), 4, (6, 32), 2, 2, apart=True)),
    # Rows of whole groups of four bytes: four pixels of 8 bits, eight of 4; in planes by byte four bytes of each plane, 32 pixels.
    (pixel_format(row_unit=4), Grid((4, 1), 4, (12, 32))),
    (pixel_format("IIII", row_unit=4), Grid((8, 1), 4, (6, 32))),
    (pixel_format("IIII", planes="by byte", row_unit=4), Grid((32, 1), 16, (2, 32))),
]


@pytest.mark.parametrize(("stored", "grid"), GRIDS)
def test_units_of_a_bitmap_are_the_smallest_that_are_copied_whole(stored, grid):
    """40 x 30 pixels are stored as 48 x 32, whole cells of 16 x 16."""
    assert bitmap_grid((40, 30), stored, (16, 16)) == grid


@pytest.mark.parametrize("stored", [stored for stored, _ in GRIDS])
def test_units_of_a_bitmap_take_what_packing_makes_of_it(stored):
    """All units together take as many bytes as the packer's picture."""
    grid = bitmap_grid((40, 30), stored, (16, 16))
    picture = pack_picture(np.zeros((32, 48), np.uint16), stored, "big", (16, 16))
    assert grid.bytes * grid.whole[0] * grid.whole[1] == len(picture)


RUNS = [
    # 8 bits in rows, 100 x 60 of which 20 x 10 are seen, 2 pixels to the right: 10 rows of 2 pixels, each perhaps around the edge.
    ((1, 1), (100, 60), (20, 10), (2, 0), (2 * 10, 20)),
    # 1 pixel to the right is one byte a row. Down: 2 rows, each in two parts.
    ((1, 1), (100, 60), (20, 10), (1, 0), (10, 10)),
    ((1, 1), (100, 60), (20, 10), (0, 2), (40, 4)),
    # Both at once: the corner comes once.
    ((1, 1), (100, 60), (20, 10), (1, 2), (10 + 40 - 2, 14)),
    # A window one unit wide does not wrap around.
    ((1, 1), (100, 60), (1, 10), (0, 2), (2, 2)),
    # All of its width is seen: rows follow each other.
    ((1, 1), (20, 60), (20, 10), (0, 1), (20, 1)),
    ((1, 1), (20, 60), (20, 10), (0, 3), (60, 2)),
]


@pytest.mark.parametrize(("unit", "picture", "seen", "speed", "strip"), RUNS)
def test_strips_worked_out_by_hand(unit, picture, seen, speed, strip):
    """Bytes and runs of seven moves of a bitmap of 8 bits a pixel."""
    view = through(Grid(unit, 1, picture), picture, seen, 0, speed)
    assert (view.moved_bytes, view.moved_runs) == strip


def test_what_pads_a_picture_is_not_held():
    """30 of 40 rows are seen, 48 are stored: one row comes in with each step until the last 30 of the 40 are there."""
    view = through(Grid((1, 1), 1, (48, 48)), (40, 40), (40, 30), 5, (0, 1))
    assert (view.held, view.moved) == ((40, 40), (0, 0))
    view = through(Grid((1, 1), 1, (48, 48)), (40, 40), (40, 30), 4, (0, 9))
    assert (view.held, view.moved) == ((40, 38), (0, 2))
