"""Weights of scaling in whole numbers: which source pixels an output pixel takes along an axis, and how much of each."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

# Sums of 255 * 255 times the weights of both axes stay below 2**53, where float64 counts exactly. Linear light has
# 16 bits in place of 8: with weights above 2**14 its sums are rounded, by additions and multiplications in a fixed order.
_FINEST = 1 << 18
_LANCZOS_UNITS = 1 << 16


@dataclass(frozen=True)
class Axis:
    """One direction of scaling.

    Attributes:
        length: pixels of the source.
        count: pixels of the output; one spans 1/factor source pixels.
        factor: exact.
        origin: where the first one starts, in source pixels from the source's start.
        endless: what lies beyond the source is as its outermost pixels; else it is nothing.
    """

    length: int
    count: int
    factor: Fraction
    origin: Fraction = Fraction(0)
    endless: bool = False

    def on_canvas(self) -> Axis:
        """Return the axis of a source widened to hold the last output pixel whole."""
        return replace(self, length=max(self.length, math.ceil(self.origin + self.count / self.factor)))


class Weights:
    """What the output pixels of an axis take.

    Attributes:
        places: intp, shape (count, most): the source pixels of each output pixel in order; its last one, with weight 0, fills up.
        weights: int64, of the same shape.
        total: the sum of an output pixel's weights where nothing lies beyond the source.
        nearness: float64, of the same shape: squared distance of the middles of both pixels, in source pixels.
    """

    def __init__(self, places: np.ndarray, weights: np.ndarray, total: int, nearness: np.ndarray) -> None:
        self.places, self.weights, self.total, self.nearness = places, weights, total, nearness

    def part(self, outputs: slice) -> Weights:
        """Return the weights of some output pixels."""
        return Weights(self.places[outputs], self.weights[outputs], self.total, self.nearness[outputs])

    def within(self, first: int, end: int) -> Weights:
        """Return the weights of the source pixels first..end - 1 alone, counted from ``first``."""
        inside = (self.places >= first) & (self.places < end)
        places = self.places.clip(first, end - 1) - first
        return Weights(places, np.where(inside, self.weights, 0), self.total, self.nearness)

    def touching(self, first: int, end: int) -> slice:
        """Return the output pixels that take anything of the source pixels first..end - 1."""
        return slice(np.searchsorted(self.places[:, -1], first), np.searchsorted(self.places[:, 0], end))


@functools.lru_cache(maxsize=1024)
def reaching(table: Weights, first: int, end: int) -> tuple[slice, Weights]:
    """Return the output pixels that take anything of the source pixels first..end - 1, and their weights of these alone."""
    outputs = table.touching(first, end)
    return outputs, table.part(outputs).within(first, end)


@functools.lru_cache(maxsize=64)
def middles(axis: Axis) -> np.ndarray:
    """Return the source pixel under the middle of each output pixel: intp, shape (count,); on a border the later one."""
    half = 1 / axis.factor / 2
    places = np.array([math.floor(axis.origin + (2 * out + 1) * half) for out in range(axis.count)], dtype=np.intp)
    return places.clip(0, axis.length - 1) if axis.endless else places


@functools.lru_cache(maxsize=64)
def covered(axis: Axis) -> Weights:
    """Return how much of each source pixel lies in each output pixel, in whole parts of an output pixel.

    The parts are exact for factors whose step has a numerator up to 2**18, such as decimals of five places, on an origin in whole
    pixels; for others borders are rounded to that fineness.
    """
    # Whole numbers instead of fractions, which take ten times as long: an output pixel spans below / top source pixels.
    (top, below), (start, unit) = axis.factor.as_integer_ratio(), axis.origin.as_integer_ratio()
    total = min(below * unit, _FINEST)

    def first_after(out: int) -> int:
        """Return the first border between source pixels that is not before an output pixel."""
        return -(-(start * top + out * below * unit) // (top * unit))

    def border(pixel: int) -> int:
        """Return where a source pixel starts, in parts of an output pixel."""
        return _rounded((pixel * unit - start) * top * total, unit * below)

    rows = []
    for out in range(axis.count):
        first = (start * top + out * below * unit) // (top * unit)
        pixels = range(first, min(first_after(out + 1), axis.length))
        if axis.endless:
            pixels = range(min(max(pixels.start, 0), axis.length - 1), max(pixels.stop, 1))
        # Rounding keeps the order of borders, so the later of two is the later of both rounded.
        borders = [min(max(border(pixel), out * total), (out + 1) * total) for pixel in range(pixels.start, pixels.stop + 1)]
        if axis.endless and pixels.start == 0:  # an endless source's outermost pixels take what lies beyond them
            borders[0] = out * total
        if axis.endless and pixels.stop == axis.length:
            borders[-1] = (out + 1) * total
        rows.append([(pixel, borders[rank + 1] - borders[rank]) for rank, pixel in enumerate(pixels)])
    return _weights(axis, rows, total)


def _rounded(top: int, below: int) -> int:
    """Return a fraction rounded to the nearest whole number, halves to the even one, as Python rounds fractions."""
    whole, rest = divmod(top, below)
    return whole + (2 * rest > below or (2 * rest == below and whole % 2))


@functools.lru_cache(maxsize=64)
def lanczos(axis: Axis) -> Weights:
    """Return Lanczos weights of three lobes, widened when a picture gets smaller, as Pillow's filter takes them.

    What lies beyond the source has no part; the others make up for it.
    """
    step = 1 / axis.factor
    stretch = max(step, Fraction(1))
    half = Fraction(1, 2)
    rows = []
    for out in range(axis.count):
        middle = axis.origin + (out + half) * step
        first, end = math.floor(middle - 3 * stretch + half), math.floor(middle + 3 * stretch + half)
        pixels = range(max(first, 0), min(end, axis.length))
        heights = [_lanczos_height((pixel + half - middle) / stretch) for pixel in pixels]
        shares = [round(Fraction(height * _LANCZOS_UNITS, sum(heights))) for height in heights]
        shares[shares.index(max(shares))] += _LANCZOS_UNITS - sum(shares)
        rows.append(list(zip(pixels, shares, strict=True)))
    return _weights(axis, rows, _LANCZOS_UNITS)


def _weights(axis: Axis, rows: list[list[tuple[int, int]]], total: int) -> Weights:
    # What an output pixel covers by less than the finest part is still its own, so that no output pixel is without a source.
    rows = [[(pixel, weight) for pixel, weight in row if weight] or [(row[0][0], 1)] for row in rows]
    shape = (axis.count, max(map(len, rows)))
    places, weights, nearness = np.zeros(shape, dtype=np.intp), np.zeros(shape, dtype=np.int64), np.zeros(shape)
    (top, below), (start, unit) = axis.factor.as_integer_ratio(), axis.origin.as_integer_ratio()
    for out, row in enumerate(rows):
        for rank in range(shape[1]):
            pixel, weight = row[rank] if rank < len(row) else (row[-1][0], 0)
            places[out, rank], weights[out, rank] = pixel, weight
            # pixel - origin - out / factor + (1 - 1 / factor) / 2, times 2 * top * unit; Python rounds a quotient of whole numbers once.
            apart = 2 * top * (pixel * unit - start) - (2 * out + 1) * below * unit + top * unit
            nearness[out, rank] = apart * apart / (2 * top * unit) ** 2
    return Weights(places, weights, total, nearness)


_FINE = 64  # bits after the point
_PI = Fraction("3.14159265358979323846264338327950288419716939937510582")


@functools.lru_cache(maxsize=1 << 16)
def _lanczos_height(at: Fraction) -> int:
    """Return sinc(at) * sinc(at / 3) in parts of 2**64, 0 from three pixels on; whole-number sums, no machine's sine."""
    if abs(at) >= 3:
        return 0
    if at == 0:
        return 1 << _FINE
    return int(Fraction(_sine(at) * _sine(at / 3) * 3, 1 << _FINE) / (_PI * at) ** 2)


def _sine(half_turns: Fraction) -> int:
    """Return sin(pi * half_turns) in parts of 2**64, by the sine's Taylor series."""
    angle = round(_PI * half_turns * (1 << _FINE))
    square, term, total, rank = angle * angle >> _FINE, angle, 0, 1
    while term not in (0, -1):
        total += term
        term = -(term * square >> _FINE) // ((rank + 1) * (rank + 2))
        rank += 2
    return total


def weighted_sums(planes: Iterable[np.ndarray], down: Weights, across: Weights, most: int) -> Iterator[np.ndarray]:
    """Yield for each plane the sums of its pixels times the weights of both axes; at most two planes are held at once.

    Args:
        planes: an even number of uint32 arrays, 0..most, shape (height, width).

    Yields:
        whole numbers as uint32 or, where those are too narrow, float64; shape (rows, columns).
    """
    if most * down.total * across.total < 1 << 32 and min(down.weights.min(), across.weights.min()) >= 0:
        planes = iter(planes)
        for first in planes:
            yield from _paired_sums(first, next(planes), down, across)
    else:
        for plane in planes:
            yield _sum_along(_sum_along(plane.astype(np.float64), down, 0), across, 1)


def _paired_sums(first: np.ndarray, second: np.ndarray, down: Weights, across: Weights) -> list[np.ndarray]:
    """Return the sums of two planes at the price of one: each has half of 64 bits, and no sum grows beyond its half."""
    pair = np.empty((*first.shape, 2), dtype=np.uint32)
    pair[..., 0], pair[..., 1] = first, second
    sums = _sum_along(_sum_along(pair.view(np.uint64)[..., 0], down, 0), across, 1)
    halves = sums[..., None].view(np.uint32)
    return [halves[..., 0], halves[..., 1]]


def _sum_along(values: np.ndarray, table: Weights, axis: int) -> np.ndarray:
    size = list(values.shape)
    size[axis] = len(table.places)
    total, part = np.empty(size, dtype=values.dtype), np.empty(size, dtype=values.dtype)
    for rank, (places, weights) in enumerate(_taps(table, values.dtype, axis)):
        into = part if rank else total
        values.take(places, axis=axis, out=into, mode="clip")  # no place leaves the source; "clip" is the quick way
        into *= weights
        if rank:
            total += part
    return total


@functools.lru_cache(maxsize=1024)
def _taps(table: Weights, dtype: np.dtype, axis: int) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return the source pixels and weights of every output pixel's first, second, ... source pixel, the weights along ``axis``."""
    column = (-1, 1) if axis == 0 else (1, -1)
    weights = table.weights.astype(dtype)
    return [(np.ascontiguousarray(table.places[:, rank]), weights[:, rank].reshape(column)) for rank in range(weights.shape[1])]
