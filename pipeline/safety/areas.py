"""How much of the screen flashes at once: areas in fields of view, and patterns too fine to be seen as flashing.

Sources: W3C, Web Content Accessibility Guidelines 2.2, "general flash and red flash thresholds": a quarter of any 10 degrees of the
field of view, estimated there as 341 x 256 of 1024 x 768 pixels, a third of the screen's width and height; fine balanced patterns whose
squares are smaller than 0.1 degree do not count. ITU-R BT.1702: a quarter of the screen. Both from memory of the texts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_SHARE = 0.25
_FIELD = 10.0  # degrees
_FINE = 0.1  # degrees
_CANCELLED = 0.25  # of all change near a pixel: a pattern is balanced where less than this is left


@dataclass(frozen=True)
class Field:
    """A part of the screen that is looked at as one, wherever it is.

    Attributes:
        rows, columns: its pixels.
        most: pixels of it that may flash: more than these is too much. It need not be a whole number.
    """

    rows: int
    columns: int
    most: float

    def areas(self, mask: np.ndarray) -> np.ndarray:
        """Return how many pixels are set in the field at each place: whole numbers, shape (height - rows + 1, width - columns + 1)."""
        return self._sums(mask, np.uint16 if self.rows * self.columns < 1 << 16 else np.uint32)

    def both_areas(self, one: np.ndarray, other: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the same of two masks, as int32."""
        if one.shape == (self.rows, self.columns):
            first, second = (np.array([[np.count_nonzero(mask)]], np.int32) for mask in (one, other))
            return first, second
        if self.rows * self.columns >= 1 << 16:
            return self.areas(one).astype(np.int32), self.areas(other).astype(np.int32)
        # In both halves of one number: it is added up once, and no sum of the lower reaches the upper.
        sums = self._sums(one + (other.astype(np.uint32) << np.uint32(16)), np.uint32)
        return (sums & np.uint32(0xFFFF)).astype(np.int32), (sums >> np.uint32(16)).astype(np.int32)

    def _sums(self, values: np.ndarray, kind: type[np.unsignedinteger]) -> np.ndarray:
        """Return the sum of the field at each place."""
        if values.shape == (self.rows, self.columns):
            return np.array([[values.sum(dtype=kind)]], kind)
        # Down first, in whole rows, which lie together in memory.
        down = _windows(values.astype(kind), self.rows)
        return np.ascontiguousarray(_windows(down, self.columns, across=True))

    def within(self, rows: int, columns: int) -> Field:
        """Return the field for a part of the screen of some pixels, outside which nothing changes."""
        return Field(min(self.rows, rows), min(self.columns, columns), self.most)

    def largest(self, mask: np.ndarray) -> tuple[int, tuple[int, int]]:
        """Return the most pixels that are set in the field anywhere, and where: the field's left and top."""
        areas = self.areas(mask)
        row, column = np.unravel_index(int(areas.argmax()), areas.shape)
        return int(areas[row, column]), (int(column), int(row))


def _windows(values: np.ndarray, length: int, across: bool = False) -> np.ndarray:
    """Return the sum of every so many consecutive rows, or columns: from sums of 1, 2, 4... of them, which takes few additions.

    Adding up from the first to the last and taking differences is four times as slow: each sum then waits for the one before.
    """

    def part(sums: np.ndarray, first: int, count: int) -> np.ndarray:
        return sums[:, first : first + count] if across else sums[first : first + count]

    places = values.shape[across] - length + 1
    found, size, done, sums = np.zeros_like(part(values, 0, places)), 1, 0, values
    while True:
        if length & size:
            found += part(sums, done, places)
            done += size
        if done == length:
            return found
        count = sums.shape[across] - size
        sums, size = part(sums, 0, count) + part(sums, size, count), 2 * size


def central_field(width: int, height: int) -> Field:
    """Return 10 degrees of a screen of some pixels, a third in each direction."""
    rows, columns = max(1, round(height / 3)), max(1, round(width / 3))
    return Field(rows, columns, _SHARE * width * height / 9)


def whole_screen(width: int, height: int) -> Field:
    """Return the screen as one field."""
    return Field(height, width, _SHARE * width * height)


def is_fine(width: int) -> bool:
    """Return whether one pixel of a screen of some columns is smaller than 0.1 degree."""
    return 3 * _FIELD / width < _FINE


def uncancelled(changes: np.ndarray) -> np.ndarray:
    """Return where changes are seen that do not cancel out with their neighbours'.

    A pixel's change is balanced where all four squares of 2 x 2 pixels around it hold about as much brightening as darkening: then it is
    part of a pattern of single pixels. Squares of 2 x 2 pixels that change alike are not.

    Args:
        changes: of pixels that changed in the same picture, float32, shape (height, width); 0 for the others.

    Returns:
        bool, same shape.
    """
    up, down = changes > 0, changes < 0
    # Only where each of the four squares holds both can any of it be balanced, and in most pictures that is nowhere.
    around = _around(_any(up) & _any(down), np.logical_and)
    if not around.any():
        return up | down
    left, all_of_it = _squares(changes), _squares(np.abs(changes))
    seen = np.abs(left) > _CANCELLED * all_of_it
    return (up | down) & _around(seen, np.logical_or)


def _any(mask: np.ndarray) -> np.ndarray:
    """Return for each square of 2 x 2 pixels, those over the edge too, whether one is set: shape (height + 1, width + 1)."""
    padded = _padded(mask)
    rows = padded[1:] | padded[:-1]
    return rows[:, 1:] | rows[:, :-1]


def _around(squares: np.ndarray, join: np.ufunc) -> np.ndarray:
    """Return for each pixel its four squares, joined."""
    rows = join(squares[1:], squares[:-1])
    return join(rows[:, 1:], rows[:, :-1])


def _squares(values: np.ndarray) -> np.ndarray:
    padded = _padded(values)
    rows = padded[1:] + padded[:-1]
    return rows[:, 1:] + rows[:, :-1]


def _padded(values: np.ndarray) -> np.ndarray:
    """Return an array with a border of zeros, as ``np.pad`` would, in a tenth of its time."""
    padded = np.zeros((values.shape[0] + 2, values.shape[1] + 2), values.dtype)
    padded[1:-1, 1:-1] = values
    return padded
