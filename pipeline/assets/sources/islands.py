"""Islands: the figures of a picture without a grid, each the opaque pixels that are near one another.

Distance is counted as a king moves on a chessboard: two parts with ``n`` clear pixels between them, across, down or both, are one
figure for a join distance of ``n`` or more; parts that touch, at a corner too, always are. A picture with every opaque pixel grown
by ``n`` to the right and down has the same islands, touching: that is how they are found.

Labels are found row by row from runs of pixels and the runs they touch in the next row, whose common roots are found by pointing
each root at a smaller one and halving the paths (Y. Shiloach and U. Vishkin, "An O(log n) parallel connectivity algorithm", 1982).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.plain.bounds import FRAMES

Box = tuple[int, int, int, int]
JOINS = (0, 1, 2, 3, 4, 6, 8, 12, 16, 24, 32)  # distances that are tried where none is given


@dataclass(frozen=True)
class Islands:
    """What was found in a picture.

    Attributes:
        boxes: left, top, width and height of each island in pixels, in reading order; see ``reading_order``.
        join: the distance used, in pixels.
        labels: int32, shape of the picture: 0 where it is clear, else 1 + the place of the pixel's island in ``boxes``.
    """

    boxes: tuple[Box, ...]
    join: int
    labels: np.ndarray


class TooManyIslands(ValueError):
    """More islands than a sprite can have frames; ``count`` says how many."""

    def __init__(self, count: int) -> None:
        super().__init__(f"{count:,} islands")
        self.count = count


@dataclass(frozen=True)
class _Runs:
    """Opaque runs of a picture, by row, then column: row, first column and the column after the last of each."""

    rows: np.ndarray
    starts: np.ndarray
    ends: np.ndarray


def find_islands(clear: np.ndarray, join: int | None = None, most: int = FRAMES) -> Islands:
    """Return the islands of a picture.

    Args:
        clear: bool, shape (height, width): True where nothing is drawn.
        join: clear pixels that parts of one figure may be apart, at least 0; None: ``default_join``.
        most: islands there may be.

    Raises:
        TooManyIslands: there are more.
        ValueError: ``clear`` has other than two dimensions, or ``join`` is below 0.
    """
    if clear.ndim != 2 or (join is not None and join < 0):
        raise ValueError(f"{clear.ndim} dimensions, join {join}")
    opaque = ~clear
    if join is None:
        join = default_join(clear)
    runs = _runs(opaque)
    roots = _roots(opaque, join, runs)
    known, members = np.unique(roots, return_inverse=True)
    if len(known) > most:
        raise TooManyIslands(len(known))
    boxes = _boxes(runs, members, len(known))
    order = reading_order(boxes)
    places = np.empty(len(order), dtype=np.int32)
    places[order] = np.arange(len(order), dtype=np.int32)
    labels = np.zeros(clear.shape, dtype=np.int32)
    labels[opaque] = np.repeat(places[members] + 1, runs.ends - runs.starts)
    found = tuple((left, top, width, height) for left, top, width, height in boxes[order].tolist())
    return Islands(found, join, labels)


def island_count(clear: np.ndarray, join: int) -> int:
    """Return how many islands a picture has; see ``find_islands``."""
    opaque = ~clear
    return len(np.unique(_roots(opaque, join, _runs(opaque))))


def default_join(clear: np.ndarray) -> int:
    """Return the join distance that the picture itself suggests, one of ``JOINS``.

    With a growing distance, parts become figures, and figures become one. Between the two the number of islands stays the same for
    a while: the distance is the first of the longest such stretch, measured as a ratio, that leaves more than one island.
    """
    counts = [island_count(clear, join) for join in JOINS]
    best, longest = 0, 0.0
    rank = 0
    while rank < len(JOINS) and counts[rank] > 1:
        end = rank + 1
        while end < len(JOINS) and counts[end] == counts[rank]:
            end += 1
        stretch = (JOINS[end - 1] + 1) / (JOINS[rank] + 1)
        if stretch > longest:
            best, longest = rank, stretch
        rank = end
    return JOINS[best]


def reading_order(boxes: np.ndarray) -> np.ndarray:
    """Return the places of boxes in reading order: rows from the top, each from the left.

    A row is what shares at least half its height, or half of the other's, with the row's tallest box: the tallest of those that share
    as much with the topmost box that is left.

    Args:
        boxes: whole numbers, shape (count, 4): left, top, width, height.
    """
    left = np.arange(len(boxes))
    found: list[np.ndarray] = []
    while len(left):
        tops, heights = boxes[left, 1], boxes[left, 3]
        first = np.lexsort((-heights, tops))[0]
        beside = _side_by_side(tops, heights, first)
        tallest = np.flatnonzero(beside)[np.argmax(heights[beside])]
        row = _side_by_side(tops, heights, tallest)
        row[first] = True
        members = left[row]
        found.append(members[np.lexsort((boxes[members, 1], boxes[members, 0]))])
        left = left[~row]
    return np.concatenate(found) if found else left


def _side_by_side(tops: np.ndarray, heights: np.ndarray, rank: int) -> np.ndarray:
    """Return which boxes share at least half of the lower height with one of them."""
    shared = np.minimum(tops + heights, tops[rank] + heights[rank]) - np.maximum(tops, tops[rank])
    return 2 * shared >= np.minimum(heights, heights[rank])


def _runs(opaque: np.ndarray) -> _Runs:
    height, width = opaque.shape
    padded = np.zeros((height, width + 1), dtype=np.int8)
    padded[:, :width] = opaque
    flat = padded.ravel()
    changes = np.flatnonzero(flat[1:] != flat[:-1]) + 1
    if flat.size and flat[0]:
        changes = np.concatenate([[0], changes])
    starts, ends = changes[::2], changes[1::2]
    rows = starts // (width + 1)
    return _Runs(rows.astype(np.int32), (starts - rows * (width + 1)).astype(np.int32), (ends - rows * (width + 1)).astype(np.int32))


def _roots(opaque: np.ndarray, join: int, runs: _Runs) -> np.ndarray:
    """Return a number for each run of a picture, the same for runs of one island."""
    if not len(runs.rows):
        return np.zeros(0, dtype=np.int32)
    if join == 0:
        return _connected(runs, opaque.shape[1])
    grown = _grown(opaque, min(join, max(opaque.shape)))
    wider = _runs(grown)
    stride = grown.shape[1] + 1
    inside = np.searchsorted(_flat(wider, wider.starts, stride), _flat(runs, runs.starts, stride), side="right") - 1
    return _connected(wider, grown.shape[1])[inside]


def _grown(opaque: np.ndarray, by: int) -> np.ndarray:
    """Return a picture with every opaque pixel made a square of ``by`` + 1 pixels, to the right and down."""
    height, width = opaque.shape
    grown = np.zeros((height + by, width + by), dtype=bool)
    grown[:height, :width] = opaque
    for way in (grown, grown.T):
        reach = 0
        while reach < by:
            step = min(reach + 1, by - reach)
            way[step:] |= way[:-step].copy()
            reach += step
    return grown


def _flat(runs: _Runs, columns: np.ndarray, stride: int) -> np.ndarray:
    return runs.rows * np.int64(stride) + columns


def _connected(runs: _Runs, width: int) -> np.ndarray:
    """Return the root of each run: the first run of those connected with it."""
    stride = width + 2
    starts, ends = _flat(runs, runs.starts, stride), _flat(runs, runs.ends, stride)
    low = np.searchsorted(ends, starts + stride, side="left")
    counts = np.maximum(np.searchsorted(starts, ends + stride, side="right") - low, 0)
    above = np.repeat(np.arange(len(starts), dtype=np.int32), counts)
    below = (np.arange(len(above)) - np.repeat(np.cumsum(counts) - counts - low, counts)).astype(np.int32)
    parents = np.arange(len(starts), dtype=np.int32)
    while len(above):
        one, other = parents[above], parents[below]
        apart = one != other
        above, below = np.minimum(one, other)[apart], np.maximum(one, other)[apart]
        np.minimum.at(parents, below, above)  # the smallest of several, or the teeth of a comb would be joined one a round
        while True:
            further = parents[parents]
            if np.array_equal(further, parents):
                break
            parents = further
    return parents


def _boxes(runs: _Runs, members: np.ndarray, count: int) -> np.ndarray:
    """Return left, top, width and height of each island: int64, shape (count, 4)."""
    if not count:
        return np.zeros((0, 4), dtype=np.int64)
    order = np.argsort(members, kind="stable")
    firsts = np.searchsorted(members[order], np.arange(count))
    lows = [np.minimum.reduceat(values[order], firsts) for values in (runs.starts, runs.rows)]
    highs = [np.maximum.reduceat(values[order], firsts) for values in (runs.ends, runs.rows + 1)]
    return np.stack([*lows, highs[0] - lows[0], highs[1] - lows[1]], axis=1).astype(np.int64)
