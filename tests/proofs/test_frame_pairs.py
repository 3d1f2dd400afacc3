"""Frames before and now: the changed one is always among those shown, in the same place of both rows (reader and painter: Pillow)."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from pipeline.proofs.frame_pairs import most_different

SIZE = (12, 10)


def sheet(cells: list[tuple[int, int, int]], size: tuple[int, int] = SIZE, across: int = 6) -> bytes:
    width, height = size
    picture = Image.new("RGB", (min(across, len(cells)) * width, -(-len(cells) // across) * height), (255, 255, 255))
    for rank, colour in enumerate(cells):
        picture.paste(colour, (rank % across * width, rank // across * height, (rank % across + 1) * width, (rank // across + 1) * height))
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def cells_of(png: bytes, size: tuple[int, int] = SIZE) -> list[tuple[int, int, int]]:
    with Image.open(io.BytesIO(png)) as opened:
        pixels = opened.convert("RGB")
    assert pixels.height == size[1]
    return [pixels.getpixel((left + size[0] // 2, size[1] // 2)) for left in range(0, pixels.width, size[0])]


@given(st.integers(1, 60), st.data())
def test_a_changed_frame_is_shown(count, data):
    """One changed frame among up to sixty: just that one, before and now."""
    before = [(rank * 4, 100, 255 - rank * 4) for rank in range(count)]
    place = data.draw(st.integers(0, count - 1))
    now = [*before[:place], (10, 240, 10), *before[place + 1 :]]
    rows = most_different((sheet(before), sheet(now)), (SIZE, SIZE))
    assert [cells_of(row) for row in rows] == [[before[place]], [now[place]]]


def test_frames_that_differ_most_stand_in_their_order():
    """More changed than a row holds (24 of 12 pixels in 288): the least changed is left out, the rest keep their order."""
    before = [(100, 100, 100)] * 25
    now = [(110 + 5 * (rank * 7 % 25), 100, 100) for rank in range(25)]
    least = min(range(25), key=lambda rank: now[rank])
    first, second = (cells_of(row) for row in most_different((sheet(before), sheet(now)), (SIZE, SIZE)))
    assert second == [colour for rank, colour in enumerate(now) if rank != least]
    assert first == before[:24]


def test_equal_frames_are_not_shown_as_a_change():
    """Another timing leaves all frames as they were."""
    cells = sheet([(1, 2, 3), (4, 5, 6)])
    assert most_different((cells, cells), (SIZE, SIZE)) == (None, None)


def test_more_frames_than_before_stand_beside_paper():
    old, new = [(9, 9, 9)] * 3, [(9, 9, 9)] * 3 + [(200, 0, 0)] * 2
    first, second = (cells_of(row) for row in most_different((sheet(old), sheet(new)), (SIZE, SIZE)))
    assert (first, second) == ([(255, 255, 255)] * 2, [(200, 0, 0)] * 2)


def test_frames_of_another_size_are_compared_from_their_corner():
    rows = most_different((sheet([(9, 9, 9)] * 2, (6, 6)), sheet([(9, 9, 9)] * 2)), ((6, 6), SIZE))
    for row in rows:
        with Image.open(io.BytesIO(row)) as picture:
            assert picture.size == (2 * SIZE[0], SIZE[1])


@pytest.mark.parametrize("there", [0, 1])
def test_only_before_or_only_now_shows_frames_evenly_chosen(there):
    """What is added or taken out has one row: the first frame and others of the whole range, never the blank end of the sheet."""
    cells = [(rank, 0, 0) for rank in range(50)]
    given = [None, None]
    given[there] = sheet(cells)
    rows = most_different(tuple(given), (SIZE if there == 0 else None, SIZE if there == 1 else None))
    assert rows[1 - there] is None
    shown = cells_of(rows[there])
    assert shown[0] == cells[0]
    assert len(shown) == 24
    assert shown == sorted(set(shown))
    assert (255, 255, 255) not in shown


def test_same_in_same_out():
    given = (sheet([(1, 2, 3), (4, 5, 6)]), sheet([(1, 2, 3), (7, 5, 6)]))
    assert most_different(given, (SIZE, SIZE)) == most_different(given, (SIZE, SIZE))
    assert np.asarray(Image.open(io.BytesIO(most_different(given, (SIZE, SIZE))[1]))).shape == (10, 12, 3)
