"""One picture put over another at any place and scale: scaled onto its pixels, and mixed with them in linear light.

How much of a pixel a picture has is reckoned in whole numbers from exact places, so that every machine makes the same picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from PIL import Image

from pipeline.pixels.colours.light import codes, light
from pipeline.pixels.scaling.scale import scale_window
from pipeline.pixels.scaling.weights import Axis

_PARTS = 1 << 12  # of a pixel along each axis; sums of light times them and alpha stay below 2**49
_AT_ONCE = 1 << 18  # pixels mixed together, so that memory does not grow with the picture

Pair = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class Placing:
    """How a picture is put over a ground; all pairs are across and down.

    Attributes:
        factors: pixels of the ground for one of the picture, above 0.
        blend: pixels of the ground over which each edge passes into the ground, at most half of the placed size; 0: a hard edge.
        resample, light: as of ``scale.scale_rgba``.
    """

    factors: Pair
    blend: Pair
    resample: str
    light: str

    def put(self, ground: np.ndarray, picture: Image.Image, place: Pair, end: Pair) -> None:
        """Put a picture over a ground, in place.

        A pixel that the picture covers in part keeps as much of the ground as it leaves; with ``nearest`` and ``dominant``, which
        mix no colours, it is of the picture if its middle is.

        Args:
            ground: uint8, shape (height, width, 3 or more), opaque.
            picture: RGBA.
            place: where the picture's top left corner goes, in pixels of the ground from its top left; may be outside.
            end: where the ground itself ends, in its pixels: what lies of its last column and row beyond that belongs to their inner part.
        """
        across, down = (
            _spread(start, length * factor, ramp, limit, self.resample in ("area", "lanczos"))
            for start, length, factor, ramp, limit in zip(place, picture.size, self.factors, self.blend, end, strict=True)
        )
        if not len(across.shares) or not len(down.shares):
            return
        x, y = (
            Axis(length, len(spread.shares), factor, (spread.first - start) / factor, endless=True)
            for start, length, factor, spread in zip(place, picture.size, self.factors, (across, down), strict=True)
        )
        part = scale_window(picture, x, y, self.resample, self.light)
        below = ground[down.first : down.first + y.count, across.first : across.first + x.count, :3]
        band = max(1, _AT_ONCE // x.count)
        for top in range(0, y.count, band):
            rows = slice(top, top + band)
            _mix(below[rows], part[rows], down.shares[rows, None] * across.shares)


class _Spread(NamedTuple):
    """Where a picture lies along one axis: the first pixel it touches, and its share of each, in whole numbers of ``_PARTS``."""

    first: int
    shares: np.ndarray


def _spread(start: Fraction, size: Fraction, ramp: Fraction, end: Fraction, mixed: bool) -> _Spread:
    first, last = max(0, math.floor(start)), min(math.ceil(end), math.ceil(start + size))
    shares, inner = [], range(math.ceil(start + ramp), math.floor(start + size - ramp))
    for pixel in range(first, last):
        if pixel in inner:
            shares.append(_PARTS)
            continue
        left, right = Fraction(pixel), min(Fraction(pixel + 1), end)
        if mixed or ramp:
            area = _up_to(right - start, size, ramp) - _up_to(left - start, size, ramp)
            shares.append(round(area / (right - left) * _PARTS))
        else:
            shares.append(_PARTS if start <= (left + right) / 2 < start + size else 0)
    return _Spread(first, np.array(shares, dtype=np.int64))


def _up_to(at: Fraction, size: Fraction, ramp: Fraction) -> Fraction:
    """Return the area under a picture's opacity from its start to a place: it rises to 1 over a ramp, and falls again at the end."""
    if not ramp:
        return min(max(at, Fraction(0)), size)
    rise, fall = (min(max(part, Fraction(0)), ramp) for part in (at, at - size + ramp))
    level = min(max(at - ramp, Fraction(0)), size - 2 * ramp)
    return rise * rise / (2 * ramp) + level + fall - fall * fall / (2 * ramp)


def _mix(below: np.ndarray, part: np.ndarray, shares: np.ndarray) -> None:
    """Mix pixels over others, in place, in linear light; what has no share, or all, is not touched or taken as it is."""
    cover, full = part[..., 3] * shares, 255 * _PARTS * _PARTS
    whole = cover == full
    below[whole] = part[whole][:, :3]
    mixed = (cover > 0) & ~whole
    weight = cover[mixed][:, None]
    total = light()[below[mixed]] * (full - weight) + light()[part[mixed][:, :3]] * weight
    below[mixed] = codes()[(2 * total + full) // (2 * full)]
