"""Stripes: regular patterns of light and dark that cover much of the screen for some time.

Source: ITU-R BT.1702 and the guidance notes for broadcasters that it goes with, both from memory of the texts: more than five pairs of
light and dark stripes in any direction, straight, curved or made of rows of elements; they differ by 20 cd/m2 or more, the darker is below
160 cd/m2, of 200 for white; shown for longer than half a second; over more than 40 % of the screen where they stay as they are or drift,
over more than 25 % where they flash, swing to and fro or swap light and dark.

Decisions of ours: stripes are regular where each pair is as wide as the one before to a quarter or a pixel, in eight rows or more. They are
looked for along rows and columns, which stripes at any angle cross. A pattern of which a quarter or more changes counts as the worse kind,
even if it only drifts. Chequers of single pixels smaller than 0.1 degree do not count.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

import numpy as np

from pipeline.safety.areas import Field, is_fine
from pipeline.safety.flashes import STRIPES, Finding
from pipeline.safety.swings import CHANGE, Swings, colour_codes, luminance

STILL, CHANGING = 0.4, 0.25  # of the screen
LONG = 0.5  # seconds; longer is too long
EDGES = 11  # of six pairs of stripes, the outermost without their outer edges
_WORTH = 0.8 * CHANGING  # a smaller pattern is not followed
_PART_CHANGED = 0.25
_LENGTH = 8  # pixels that stripes are long at least


def striped(light: np.ndarray, fine: bool) -> np.ndarray:
    """Return where a picture is striped.

    Args:
        light: relative luminance, float32, shape (height, width), 0..1.
        fine: whether one pixel is smaller than 0.1 degree, see ``areas.is_fine``.

    Returns:
        bool, same shape.
    """
    across, down = _along_rows(_blurred(light) if fine else light), _along_rows(_blurred(light.T) if fine else light.T)
    return across | down.T


def _blurred(light: np.ndarray) -> np.ndarray:
    """Return the mean of each row and the next, in which chequers of single pixels are grey and stripes across rows stay."""
    return (light + np.concatenate([light[1:], light[-1:]])) / 2


def _along_rows(light: np.ndarray) -> np.ndarray:
    found = np.zeros((light.shape[0], light.shape[1] + 1), np.int32)
    # A row without as many changes of this size has no stripes.
    rows = np.flatnonzero(np.abs(np.diff(light, axis=1)).sum(axis=1) >= (EDGES - 1) * CHANGE)
    if len(rows):
        row, start, stop = _runs(*_edges(light[rows]), light.shape[1])
        np.add.at(found, (rows[row], start), 1)
        np.add.at(found, (rows[row], stop), -1)
    return _opened(np.cumsum(found, axis=1)[:, :-1] > 0)


def _opened(mask: np.ndarray) -> np.ndarray:
    """Return what of a mask lies in columns of enough set pixels: noise is regular now and then, in single rows."""
    length = min(_LENGTH, len(mask))
    sums = np.zeros((len(mask) + 1, mask.shape[1]), np.int32)
    np.cumsum(mask, axis=0, out=sums[1:])
    full = sums[length:] - sums[:-length] == length
    opened = np.zeros_like(mask)
    for row in range(length):
        opened[row : len(mask) - length + 1 + row] |= full
    return opened


def _edges(light: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return row and column of every edge of a stripe, row by row: a transition from a light place to a dark one or back."""
    swings, everywhere = Swings(np.ascontiguousarray(light[:, 0])), np.arange(len(light))
    rows, columns = [], []
    for column, values in enumerate(np.ascontiguousarray(light[:, 1:].T), 1):
        complete, _ = swings.step(everywhere, values)
        at = np.flatnonzero(complete)
        rows.append(at)
        columns.append(np.full(len(at), column))
    row, column = np.concatenate([*rows, everywhere[:0]]), np.concatenate([*columns, everywhere[:0]])
    order = np.argsort(row, kind="stable")
    return row[order], column[order]


def _runs(row: np.ndarray, column: np.ndarray, width: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return row, first column and end of every run of enough regular stripes, the outermost ones included."""
    if len(row) < EDGES:
        return row[:0], row[:0], row[:0]
    pair = column[2:] - column[:-2]
    alike = (row[3:] == row[:-3]) & (np.abs(pair[1:] - pair[:-1]) <= np.maximum(1, pair[:-1] // 4))
    ends = np.flatnonzero(np.diff(np.concatenate([[0], alike.astype(np.int8), [0]])))
    first, last = ends[::2], ends[1::2] + 2  # edges of each run, both included
    enough = last - first + 1 >= EDGES
    first, last = first[enough], last[enough]
    stripe = (column[last] - column[first]) // (last - first)
    return row[first], np.maximum(column[first] - stripe, 0), np.minimum(column[last] + stripe, width)


def still(light: np.ndarray, screen: tuple[int, int]) -> Finding:
    """Return what a picture that stays on the screen comes to; of one that is larger, the part of it that is striped most.

    Args:
        light: as of ``striped``.
        screen: its width and height in pixels.
    """
    mask, (width, height) = striped(light, is_fine(screen[0])), screen
    rows, columns = min(height, light.shape[0]), min(width, light.shape[1])
    area, (left, top) = Field(rows, columns, STILL * width * height).largest(mask)
    finding = Finding(STRIPES)
    if area:
        finding.area, finding.tick, finding.box = area / (STILL * width * height), 0, (left, top, columns, rows)
    return finding


class _Shown(NamedTuple):
    """A picture of which enough is striped: when it was shown and until when, the striped share of the screen, and whether it changed."""

    tick: int
    end: int
    share: float
    changed: bool
    box: tuple[int, int, int, int]


class StripeMeter:
    """Finds stripes in pictures that are shown one after another.

    Stripes that last longer than half a second are there at one of the moments half a second apart. Pictures between those are looked at
    only beside one that is striped.

    Args:
        width, height: of the screen, in pixels.
        refresh: ticks in a second.
    """

    def __init__(self, width: int, height: int, refresh: float) -> None:
        self.finding = Finding(STRIPES)
        self._screen, self._fine, self._long = width * height, is_fine(width), LONG * refresh
        self._waiting: deque[tuple[int, int, np.ndarray]] = deque()  # not looked at: tick, end, picture
        self._run: deque[_Shown] = deque()
        self._tick, self._due = 0, 0.0
        self._last: np.ndarray | None = None  # codes of the picture that the run ends with

    def add(self, picture: np.ndarray, ticks: int) -> None:
        """Show a picture: sRGB, uint8, shape (height, width, 3), for at least one tick."""
        end = self._tick + ticks
        self._waiting.append((self._tick, end, picture))
        if self._run or end >= self._due:
            self._look()
            # A picture that is still shown then is that moment's.
            self._due = max(self._due, end) + self._long if end >= self._due else self._due
        self._tick = end

    def _look(self) -> None:
        """Look at the newest picture, and back from it while there are stripes."""
        found, gap = [], False
        while self._waiting and not gap:
            shown = self._waiting.pop()
            mask = striped(luminance(shown[2].reshape(-1, 3)).reshape(shown[2].shape[:2]), self._fine)
            gap = np.count_nonzero(mask) <= _WORTH * self._screen
            if not gap:
                found.append((*shown, mask))
        if gap:
            self._run.clear()
        self._waiting.clear()
        for tick, end, picture, mask in reversed(found):
            self._follow(tick, end, picture, mask)

    def _follow(self, tick: int, end: int, picture: np.ndarray, mask: np.ndarray) -> None:
        codes = colour_codes(picture.reshape(-1, 3)).reshape(mask.shape)
        count = int(np.count_nonzero(mask))
        changed = bool(self._run) and np.count_nonzero((codes != self._last) & mask) >= _PART_CHANGED * count
        rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
        box = (int(columns[0]), int(rows[0]), int(columns[-1] - columns[0] + 1), int(rows[-1] - rows[0] + 1))
        self._run.append(_Shown(tick, end, count / self._screen, changed, box))
        self._last = codes
        while len(self._run) > 1 and end - self._run[1].tick > self._long:
            self._run.popleft()
        if end - self._run[0].tick > self._long:
            share = min(one.share for one in self._run)
            changing = any(one.changed for one in list(self._run)[1:])
            area = share / (CHANGING if changing else STILL)
            if area > self.finding.area:
                self.finding.area, self.finding.tick, self.finding.box, self.finding.picture = area, tick, box, picture
