"""Distinct colours of picture after picture, each with a number, so that whatever follows from a colour is worked out once."""

from __future__ import annotations

import numpy as np

OPAQUE = 1 << 24  # packed pixels at least this large are not wholly transparent


def packed(rgba: np.ndarray) -> np.ndarray:
    """Return pixels as one number each, alpha << 24 | blue << 16 | green << 8 | red: uint32, shape (...).

    Args:
        rgba: uint8, shape (..., 4).
    """
    return np.ascontiguousarray(rgba).view("<u4")[..., 0]


def unpacked(keys: np.ndarray) -> np.ndarray:
    """Return the colours of packed pixels: uint8, shape (..., 3)."""
    return np.ascontiguousarray(keys, dtype="<u4")[..., None].view(np.uint8)[..., :3]


def distinct(keys: np.ndarray) -> np.ndarray:
    """Return the different ones of some numbers, rising: what ``np.unique`` returns, in a third of its time where most are different."""
    keys = np.sort(keys)
    return keys[_first_of_each(keys)]


def tallied(keys: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the different ones of some numbers, rising, and the sum of what each counts.

    Args:
        keys: integers, shape (n,).
        counts: int64, shape (n,).
    """
    order = np.argsort(keys, kind="stable")
    keys, counts = keys[order], counts[order]
    starts = np.flatnonzero(_first_of_each(keys))
    return keys[starts], np.add.reduceat(counts, starts) if len(starts) else counts


def _first_of_each(keys: np.ndarray) -> np.ndarray:
    """Return where a number comes first among rising ones: bool, shape (n,)."""
    first = np.ones(len(keys), dtype=bool)
    np.not_equal(keys[1:], keys[:-1], out=first[1:])
    return first


class Column:
    """A value for each number from 1 on; what is kept for number 0 means nothing."""

    def __init__(self, dtype: type) -> None:
        self._values, self._size = np.zeros(1024, dtype=dtype), 1

    def __getitem__(self, numbers: np.ndarray) -> np.ndarray:
        """Return the values of some numbers, in the numbers' shape."""
        return self._values[numbers]

    def extend(self, values: np.ndarray) -> None:
        """Add the values of the next numbers: shape (n,)."""
        end = self._size + len(values)
        if end > len(self._values):
            self._values = np.concatenate([self._values, np.zeros(max(end, len(self._values)), dtype=self._values.dtype)])
        self._values[self._size : end] = values
        self._size = end

    def all(self) -> np.ndarray:
        """Return the values of all numbers from 1 on: shape (n,)."""
        return self._values[1 : self._size]


class ColourNumbers:
    """Numbers colours from 1 on as they are met.

    A table of all 24-bit colours would answer at once and take 64 MiB. Here like colours share a part of it, of 1024, and only parts in
    which there are colours exist.

    Attributes:
        keys: the colours by number, packed without alpha.
    """

    def __init__(self) -> None:
        self._parts = np.zeros(1 << 14, dtype=np.uint32)  # where each part begins; 0, where nothing is, for those that do not exist
        self._number = np.zeros(_PART, dtype=np.int32)  # 0 where not met yet
        self.keys = Column(np.uint32)

    def find(self, keys: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the numbers of some colours, and the colours met for the first time in the order of their new numbers.

        Args:
            keys: packed colours without alpha, shape (n,).

        Returns:
            int32, shape (n,); and uint8, shape (m, 3).
        """
        part, place = _places(keys)
        found = self._number[self._parts[part] + place]
        fresh = distinct(keys[found == 0])
        if len(fresh):
            first = len(self.keys.all()) + 1
            self._add(fresh, np.arange(first, first + len(fresh)))
            self.keys.extend(fresh)
            found = self._number[self._parts[part] + place]
        return found, unpacked(fresh)

    def _add(self, keys: np.ndarray, numbers: np.ndarray) -> None:
        """Write numbers of colours into the table, with the parts that it lacks."""
        part, place = _places(keys)
        lacking = distinct(part[self._parts[part] == 0])
        size = len(self._number)
        self._parts[lacking] = size + np.arange(len(lacking), dtype=np.uint32) * _PART
        self._number = np.concatenate([self._number, np.zeros(len(lacking) * _PART, dtype=np.int32)])
        self._number[self._parts[part] + place] = numbers


_PART = 1 << 10  # colours


def _places(keys: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return which part of the table colours are in, by the high bits of blue, green and red, and where in it, by the low ones: uint32."""
    keys = keys.astype(np.uint32)

    def moved(bits: int, right: int) -> np.ndarray:
        return (keys & np.uint32(bits)) >> np.uint32(right)

    return moved(0xF80000, 10) | moved(0x00F800, 7) | moved(0x0000F0, 4), moved(0x070000, 9) | moved(0x000700, 4) | moved(0x00000F, 0)
