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

    A table of all 24-bit colours answers at once. It spans 64 MiB, of which pages without a colour in use take no memory.

    Attributes:
        keys: the colours by number, packed without alpha.
    """

    def __init__(self) -> None:
        self._number = np.zeros(1 << 24, dtype=np.int32)  # 0 where not met yet
        self.keys = Column(np.uint32)

    def find(self, keys: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the numbers of some colours, and the colours met for the first time in the order of their new numbers.

        Args:
            keys: packed colours without alpha, shape (n,).

        Returns:
            int32, shape (n,); and uint8, shape (m, 3).
        """
        found = self._number[keys]
        fresh = distinct(keys[found == 0])
        if len(fresh):
            first = len(self.keys.all()) + 1
            self._number[fresh] = np.arange(first, first + len(fresh))
            self.keys.extend(fresh)
            found = self._number[keys]
        return found, unpacked(fresh)
