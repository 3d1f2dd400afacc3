"""Nearest entries, and mixtures of two only where the eye, which blurs, sees that they come clearly nearer to the picture.

What is seen is taken to be the picture after a Gaussian blur of one pixel in linear light. A pixel takes the mixture of ``dither.Ordered``
where, on average around it, the difference after the blur falls by more than ``_LEAST`` and by more than ``_COST`` times what the
difference without it grows: flat areas with a near entry stay flat, and no dots appear that stick out of what they mix. A picture that
gains less than ``_WHOLE`` of its difference has nearest entries everywhere.

These numbers were fitted to pictures and checked on others; see ``tests.bench.mixture``. All is reckoned in whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pipeline.pixels.colours.difference import METRIC_UNIT, metric_distance, metric_points
from pipeline.pixels.colours.dither import Ordered, Plain, dithered
from pipeline.pixels.colours.light import codes, light

_KERNEL = (18, 221, 991, 1636, 991, 221, 18)  # of a Gaussian of 1 pixel, in 1/4096
_UNIT, _REACH = 4096, 3
_AROUND = 4  # pixels to each side over which the gain is averaged
_COST, _LEAST = (7, 10), (3, 10)  # as fractions; CIEDE2000
_WHOLE = (1, 10)  # of the whole picture's difference after the blur that must go: a few patches of dots in a picture look like faults
_BAND = 1 << 18  # pixels looked at together


@dataclass(frozen=True)
class Seen:
    """What the blur leaves of a picture's error: sums of CIEDE2000 in 1/``METRIC_UNIT`` over ``pixels``.

    ``mixed`` of them hold another entry than the nearest.
    """

    pixels: int
    mixed: int
    nearest: int
    stored: int


class WhereNeeded:
    """A rule for one picture, see ``apply.Converter``: a pixel depends on pixels around it.

    Args:
        entries: uint8, shape (n, 3), n >= 1: the colours as the console shows them.

    Attributes:
        seen: of the pictures converted so far.
    """

    choices = 3
    hands_on = False

    def __init__(self, entries: np.ndarray) -> None:
        self._entries = np.ascontiguousarray(entries, dtype=np.uint8)
        self._near, self._mixed = dithered(self._entries, "none"), dithered(self._entries, "ordered")
        assert isinstance(self._near, Plain)
        assert isinstance(self._mixed, Ordered)
        self.seen = Seen(0, 0, 0, 0)

    def show(self, held: np.ndarray) -> np.ndarray:
        """Return the colours of entries."""
        return self._entries[held]

    def learn(self, rgb: np.ndarray) -> None:
        """Take in the colours of the next numbers."""
        self._near.learn(rgb)
        self._mixed.learn(rgb)

    def choose(self, numbers: np.ndarray, rgba: np.ndarray, opaque: np.ndarray) -> tuple[np.ndarray | int, np.ndarray]:
        """Return which of its choices each opaque pixel takes, and what it holds."""
        near, (bright, mixed) = self._near.choose(numbers, rgba, opaque)[1], self._mixed.choose(numbers, rgba, opaque)
        parts = [self._better(*part) for part in zip(rgba[..., :3], opaque, *self._whole(opaque, near, mixed), strict=True)]
        chosen = np.stack(parts)[opaque]
        return np.where(chosen, 1 + bright, 0), np.where(chosen, mixed, near)

    def _whole(self, opaque: np.ndarray, *held: np.ndarray) -> list[np.ndarray]:
        """Return the colours of what opaque pixels hold as whole pictures: uint8, the shape of ``opaque`` and 3; entry 0's elsewhere."""
        found = []
        for values in held:
            whole = np.zeros(opaque.shape, dtype=np.int64)
            whole[opaque] = values
            found.append(self._entries[whole])
        return found

    def _better(self, rgb: np.ndarray, opaque: np.ndarray, near: np.ndarray, mixed: np.ndarray) -> np.ndarray:
        """Return where a picture takes the mixture, bool, shape (height, width), and take note of what is seen."""
        chosen = np.zeros(opaque.shape, dtype=bool)
        gain, score, before = _gains(rgb, opaque, near, mixed)
        after, enough = before, before - before * _WHOLE[0] // _WHOLE[1]
        if before - int(np.maximum(gain, 0).sum()) <= enough:  # else no choice of areas gains enough
            total, area = _around(score), _around(np.ones(gain.shape, dtype=np.int64))
            chosen = (total * _LEAST[1] > area * (METRIC_UNIT * _COST[1] * _LEAST[0])) & opaque
        if chosen.any():
            after = _seen_sum(rgb, opaque, np.where(chosen[..., None], mixed, near))
        if after > enough:
            chosen, after = np.zeros(opaque.shape, dtype=bool), before
        seen, changed = self.seen, int((chosen & (near != mixed).any(axis=-1)).sum())
        self.seen = Seen(seen.pixels + int(opaque.sum()), seen.mixed + changed, seen.nearest + before, seen.stored + after)
        return chosen


def _bands(shape: tuple[int, ...]) -> Iterator[tuple[slice, slice, slice]]:
    """Yield rows of a picture a few at a time: the rows with those around that the blur reaches, the rows, and their place in the first."""
    height, width = shape[:2]
    rows = max(1, _BAND // width)
    for top in range(0, height, rows):
        end, first = min(height, top + rows), max(0, top - _REACH)
        yield slice(first, min(height, end + _REACH)), slice(top, end), slice(top - first, end - first)


def _gains(rgb: np.ndarray, opaque: np.ndarray, near: np.ndarray, mixed: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """Return by how much a mixture brings pixels nearer after the blur, the same less its cost, and the sum of differences without it.

    Returns:
        int64, shape (height, width), 0 where not opaque: the gain, and ``_COST[1]`` times it less ``_COST[0]`` times what the difference
        without the blur grows. All in 1/``METRIC_UNIT``.
    """
    gain, score, total = np.zeros(opaque.shape, dtype=np.int64), np.zeros(opaque.shape, dtype=np.int64), 0
    for around, rows, inside in _bands(opaque.shape):
        wanted, solid = metric_points(blurred(rgb[around])[inside].reshape(-1, 3)), opaque[rows]
        plain, dotted = (blurred(one[around])[inside].reshape(-1, 3) for one in (near, mixed))
        before = _difference(wanted, plain)
        # Where both look the same, there is no gain and no rise.
        gain[rows] = _change(wanted, plain, dotted, before).reshape(solid.shape) * solid
        own, plain, dotted = (one[rows].reshape(-1, 3) for one in (rgb, near, mixed))
        rise = _change(metric_points(own), plain, dotted).reshape(solid.shape)
        score[rows] = gain[rows] * _COST[1] - np.maximum(-rise, 0) * solid * _COST[0]
        total += int(before[solid.ravel()].sum())
    return gain, score, total


def _seen_sum(rgb: np.ndarray, opaque: np.ndarray, shown: np.ndarray) -> int:
    """Return the sum of differences after the blur over opaque pixels, in 1/``METRIC_UNIT``."""
    total = 0
    for around, rows, inside in _bands(opaque.shape):
        pair = (blurred(one[around])[inside][opaque[rows]] for one in (rgb, shown))
        total += int(_difference(metric_points(next(pair)), next(pair)).sum())
    return total


def _change(points: np.ndarray, first: np.ndarray, second: np.ndarray, before: np.ndarray | None = None) -> np.ndarray:
    """Return how much nearer than ``first`` ``second`` comes to some points: int64, shape (n,), in 1/``METRIC_UNIT``.

    Args:
        before: how far ``first`` is; looked for where it is needed if not given.
    """
    change = np.zeros(len(first), dtype=np.int64)
    other = np.flatnonzero((first != second).any(axis=-1))
    change[other] = _difference(points[:, other], first[other]) if before is None else before[other]
    change[other] -= _difference(points[:, other], second[other])
    return change


def _difference(points: np.ndarray, rgb: np.ndarray) -> np.ndarray:
    """Return CIEDE2000 in 1/``METRIC_UNIT`` of points, shape (4, n), and colours, shape (n, 3): int64, shape (n,)."""
    return metric_distance(points, metric_points(rgb)).astype(np.int64)


def blurred(rgb: np.ndarray) -> np.ndarray:
    """Return a picture after a Gaussian blur of one pixel in linear light, whose edge pixels go on: uint8, shape (height, width, 3)."""
    lit = light().astype(np.int32)[rgb]  # sums stay below 2**28
    for axis in (0, 1):
        ends = [(_REACH, _REACH) if axis == one else (0, 0) for one in range(3)]
        padded, length = np.pad(lit, ends, mode="edge"), lit.shape[axis]
        lit = np.full_like(lit, _UNIT // 2)
        for place, weight in enumerate(_KERNEL):
            lit += (padded[place : place + length] if axis == 0 else padded[:, place : place + length]) * np.int32(weight)
        lit //= _UNIT
    return codes()[lit]


def _around(values: np.ndarray) -> np.ndarray:
    """Return the sum over the pixels around each, itself included: int64, shape (height, width)."""
    for axis in (0, 1):
        length = values.shape[axis]
        before = [(1, 0) if axis == one else (0, 0) for one in range(2)]
        sums = np.pad(np.cumsum(values, axis=axis), before)
        ends = np.minimum(np.arange(length) + _AROUND + 1, length)
        starts = np.maximum(np.arange(length) - _AROUND, 0)
        values = np.take(sums, ends, axis=axis) - np.take(sums, starts, axis=axis)
    return values
