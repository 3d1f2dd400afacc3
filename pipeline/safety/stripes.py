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
_OFTEN = 0.1  # seconds from look to look while there are stripes
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
    by_column = np.ascontiguousarray(light.T)
    for column in np.flatnonzero((by_column[1:] != by_column[:-1]).any(axis=1)) + 1:
        complete, _ = swings.step(everywhere, by_column[column])
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
    """Stripes on the screen: from when until when, the striped share of the screen, whether they changed then, and the part they are in."""

    tick: int
    end: int
    share: float
    changed: bool
    box: tuple[int, int, int, int]


class StripeMeter:
    """Finds stripes in pictures that are shown one after another.

    Stripes that last longer than half a second are there at one of the moments half a second apart. Pictures between those are looked at
    only beside one that is striped; and while there are stripes one in a tenth of a second, which counts for those before it too.

    Args:
        width, height: of the screen, in pixels.
        refresh: ticks in a second.
    """

    def __init__(self, width: int, height: int, refresh: float) -> None:
        self.finding = Finding(STRIPES)
        self._screen, self._fine, self._long, self._short = width * height, is_fine(width), LONG * refresh, _OFTEN * refresh
        self._waiting: deque[tuple[int, int, np.ndarray]] = deque()  # not looked at: tick, end, picture
        self._run: deque[_Shown] = deque()
        self._tick, self._due = 0, 0.0
        self._mask = np.zeros((height, width), bool)  # where the run was striped last
        self._last: np.ndarray | None = None  # codes of the picture before, during a run
        self._changed = False  # a part of the stripes that counts, since they were looked at

    def add(self, picture: np.ndarray, ticks: int) -> None:
        """Show a picture: sRGB, uint8, shape (height, width, 3), for at least one tick."""
        end = self._tick + ticks
        self._waiting.append((self._tick, end, picture))
        if self._run:
            codes = _codes(picture)
            if self._last is not None:
                self._changed |= _much(codes != self._last, self._mask)
            self._last = codes
        if end >= self._due:
            self._look()
            self._due = end + (self._short if self._run else self._long)
        self._tick = end

    def _look(self) -> None:
        """Look at the newest picture. Where stripes begin or end, look back to the first or last striped picture too."""
        shown = [*self._waiting]
        self._waiting.clear()
        mask = self._striped(shown[-1][2])
        if self._run:
            self._go_on(shown, mask)
            return
        found = []
        while mask is not None:
            found.append((*shown.pop(), mask))
            mask = self._striped(shown[-1][2]) if shown else None
        for tick, end, picture, there in reversed(found):
            codes = _codes(picture)
            changed = self._last is not None and _much(codes != self._last, there)
            self._follow(tick, end, picture, there, changed)
            self._last = codes

    def _go_on(self, shown: list[tuple[int, int, np.ndarray]], mask: np.ndarray | None) -> None:
        """Follow stripes to the newest picture, or to the last that has them; ``mask`` is that of the newest."""
        over = mask is None
        while mask is None and len(shown) > 1:
            shown.pop()
            mask = self._striped(shown[-1][2])
        if mask is not None:
            self._follow(shown[0][0], shown[-1][1], shown[-1][2], mask, self._changed)
        self._changed = False
        if over:
            self._run.clear()
            self._last = None

    def _striped(self, picture: np.ndarray) -> np.ndarray | None:
        """Return where a picture is striped; None where that is too little to count."""
        mask = striped(luminance(picture.reshape(-1, 3)).reshape(picture.shape[:2]), self._fine)
        return mask if np.count_nonzero(mask) > _WORTH * self._screen else None

    def _follow(self, tick: int, end: int, picture: np.ndarray, mask: np.ndarray, changed: bool) -> None:
        rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
        box = (int(columns[0]), int(rows[0]), int(columns[-1] - columns[0] + 1), int(rows[-1] - rows[0] + 1))
        self._run.append(_Shown(tick, end, int(np.count_nonzero(mask)) / self._screen, changed, box))
        self._mask = mask
        while len(self._run) > 1 and end - self._run[1].tick > self._long:
            self._run.popleft()
        if end - self._run[0].tick > self._long:
            share = min(one.share for one in self._run)
            area = share / (CHANGING if any(one.changed for one in self._run) else STILL)
            if area > self.finding.area:
                self.finding.area, self.finding.tick, self.finding.box, self.finding.picture = area, tick, box, picture


def _much(changed: np.ndarray, mask: np.ndarray) -> bool:
    """Return whether a part of a mask that counts has changed."""
    return bool(np.count_nonzero(changed & mask) >= _PART_CHANGED * np.count_nonzero(mask))


def _codes(picture: np.ndarray) -> np.ndarray:
    return colour_codes(picture.reshape(-1, 3)).reshape(picture.shape[:2])
