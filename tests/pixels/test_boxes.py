"""Trimmed frames: what is stored and where it is gives every frame back, and nothing is stored twice."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pipeline.pixels.pieces.boxes import Box, Boxes

CLEAR = 9
pictures = arrays(np.uint8, st.tuples(st.integers(1, 9), st.integers(1, 9)), elements=st.sampled_from([CLEAR, CLEAR, 0, 1]))


def drawn(box: Box, stored: list[np.ndarray], shape: tuple[int, int]) -> np.ndarray:
    """Draw a box pixel by pixel on a clear frame."""
    frame = np.full(shape, CLEAR, dtype=np.uint8)
    if box.number < 0:
        assert (box.width, box.height) == (0, 0)
        return frame
    picture = stored[box.number]
    assert picture.shape == (box.height, box.width)
    for row in range(box.height):
        for column in range(box.width):
            across = box.width - 1 - column if box.flips & 1 else column
            down = box.height - 1 - row if box.flips & 2 else row
            y, x = box.y + row, box.x + column
            if picture[down, across] != CLEAR:
                frame[y, x] = picture[down, across]
    return frame


def add_all(frames: list[np.ndarray], cell: tuple[int, int], flips: tuple[bool, bool]) -> tuple[list[Box], list[np.ndarray]]:
    """Return the boxes of frames and the rectangles to be stored."""
    boxes, shown, stored = Boxes(*cell, *flips), [], []
    for frame in frames:
        box, new = boxes.add(frame, CLEAR)
        shown.append(box)
        if new is not None:
            assert box.number == len(stored)
            stored.append(new)
    return shown, stored


@given(st.lists(pictures, max_size=6), st.integers(1, 4), st.integers(1, 4), st.booleans(), st.booleans())
def test_boxes_give_every_frame_back(frames, cell_width, cell_height, flip_x, flip_y):
    """Drawn with their flips, frames are as they were; boxes are whole cells and no larger than they must be."""
    frames = [*frames, *(np.ascontiguousarray(frame[:, ::-1]) for frame in frames)]
    shown, stored = add_all(frames, (cell_width, cell_height), (flip_x, flip_y))
    for frame, box in zip(frames, shown, strict=True):
        assert np.array_equal(drawn(box, stored, frame.shape), frame)
        assert box.flips & ~(flip_x + 2 * flip_y) == 0
        rows, columns = np.flatnonzero((frame != CLEAR).any(axis=1)), np.flatnonzero((frame != CLEAR).any(axis=0))
        for side, cell, places in ((box.width, cell_width, columns), (box.height, cell_height, rows)):
            span = int(places[-1] - places[0] + 1) if len(places) else 0
            assert side % cell == 0
            assert span <= side < span + cell


@given(st.lists(pictures, max_size=6), st.booleans(), st.booleans())
def test_nothing_is_stored_twice(frames, flip_x, flip_y):
    """Trimmed frames fall into classes under the allowed flips, worked out here with sets; one of each is stored."""
    _, stored = add_all(frames, (4, 2), (flip_x, flip_y))
    classes = set()
    for frame in frames:
        rows, columns = np.flatnonzero((frame != CLEAR).any(axis=1)), np.flatnonzero((frame != CLEAR).any(axis=0))
        if len(rows):
            cut = frame[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
            images = [cut[:: 1 - 2 * down, :: 1 - 2 * across].tolist() for across in range(1 + flip_x) for down in range(1 + flip_y)]
            classes.add(str(min(images)))
    assert len(stored) == len(classes)


def test_mirrored_frame_begins_outside_with_its_padding():
    """A figure of three columns in cells of four: mirrored, the empty column is to its left."""
    frame = np.full((2, 5), CLEAR, dtype=np.uint8)
    frame[:, :3] = [[1, 2, 3], [1, 2, 3]]
    mirrored = np.ascontiguousarray(frame[:, ::-1])
    shown, stored = add_all([frame, mirrored, np.full_like(frame, CLEAR), np.roll(frame, 2, axis=1)], (4, 4), (True, False))
    assert shown == [Box(0, 0, 4, 4, 0, 0), Box(1, 0, 4, 4, 0, 1), Box(), Box(2, 0, 4, 4, 0, 0)]
    assert [one.tolist() for one in stored] == [[[1, 2, 3, CLEAR], [1, 2, 3, CLEAR], [CLEAR] * 4, [CLEAR] * 4]]
    edge = np.ascontiguousarray(mirrored[:, 2:])
    assert add_all([frame, edge], (4, 4), (True, False))[0][1] == Box(-1, 0, 4, 4, 0, 1)
