"""A television's picture photographed with a phone: lines of light, a slanted view, a lens out of focus, noise. A model.

Nothing here follows a standard; the sizes of the effects are chosen to be those of a hasty photo (common practice, no source).
Light is mixed in linear light and whole numbers.
"""

from __future__ import annotations

import functools
import math
from typing import NamedTuple

import numpy as np

from pipeline.pixels.colours.light import FULL, codes, light
from pipeline.pixels.composite import FIELD_LINES, different_rows
from pipeline.pixels.near_diagonal import NearDiagonal

# A line's light across its height, in eighths of a field's line: a bell whose half height is three quarters of a line wide.
_BEAM = [math.comb(24, rank) >> 8 for rank in range(25)]
_STEPS = 8
_LUMINANCE = (2126, 7152, 722)  # of linear light, in 1/10000, ITU-R BT.709
_EXPOSURE, _GLARE = 85, 3  # percent of full that white lines give on average, and that the room's light adds everywhere
_TILT, _LEAN, _FALL = 35, 30, 60  # in 1/1000: turned by two degrees, and farther away to one side and at the foot
_MARGIN = 12  # the photo shows 1/12 of the screen's size around it, on every side


class _View(NamedTuple):
    """Where a photo's pixels look: shared by all photos of one size."""

    places: np.ndarray  # int64, shape (height, width), of the pixel above and to the left, in a flat picture with a dark rim
    across: np.ndarray  # int32, shape (height, width), 1/64 of a pixel to the right of it
    down: np.ndarray
    noise: np.ndarray  # int16, shape (height, width), in 8-bit codes, about +-4


def photographed(shown: np.ndarray, rows: int, size: tuple[int, int], for_eyes: bool = False) -> np.ndarray:
    """Return a photo of a screen.

    Args:
        shown: uint8, shape (lines, samples, 3), what the tube draws on every line; see ``composite.sent``.
        rows: lines of the console's picture that make a full field or two: above ``composite.FIELD_LINES`` they are interlaced.
        size: width and height of the screen in the photo, in pixels.
        for_eyes: in colour and without noise, which a file would have to store; a reader of codes looks at how light things are.

    Returns:
        uint8, shape (height, width) or (height, width, 3); larger than the screen by a sixth.
    """
    once, number = different_rows(shown)
    if for_eyes:
        return np.stack([_taken(light()[once[..., rank]], number, rows, size, noise=False) for rank in range(3)], axis=-1)
    return _taken(light()[once] @ np.array(_LUMINANCE) // 10000, number, rows, size)


def _taken(lit: np.ndarray, number: np.ndarray, rows: int, size: tuple[int, int], noise: bool = True) -> np.ndarray:
    """Return a photo of one channel: uint8. ``lit`` is linear light in 1/65535; ``number`` says which row of it each line shows."""
    view = _look(*size)
    flat = np.zeros((size[1] + 2, size[0] + 2), dtype=np.int32)  # dark around the screen, for what looks at its edge and beyond
    flat[1:-1, 1:-1] = _flat(lit, number, rows, size)
    line, flat = size[0] + 2, flat.ravel()
    # Between four pixels; sums stay below 2**30.
    left, right = (_between(flat[side:].take(view.places), flat[side + line :].take(view.places), view.down) for side in (0, 1))
    seen = _table().take(_blurred(_between(left, right, view.across) >> 12))
    if noise:
        seen += view.noise
    return np.clip(seen, 0, 255, out=seen).astype(np.uint8)


def _between(first: np.ndarray, second: np.ndarray, part: np.ndarray) -> np.ndarray:
    """Return 64 times what is ``part`` of 64 between two values; both arrays are changed."""
    second -= first
    second *= part
    first <<= 6
    first += second
    return first


@functools.cache
def _table() -> np.ndarray:
    """The code that a photo stores of light, as exposed: int16. The middle of a line is brighter than the mean, at most twice."""
    return codes()[np.minimum((np.arange(2 * FULL) * _EXPOSURE + FULL * _GLARE) // 100, FULL)].astype(np.int16)


@functools.lru_cache(maxsize=2)
def _look(width: int, height: int) -> _View:
    """Return the view of a screen so large in the photo: a plane seen at an angle, every place worked out in whole numbers."""
    wide, high = width + 2 * (width // _MARGIN), height + 2 * (height // _MARGIN)
    x, y = (2 * np.arange(side) + 1 - side for side in (wide, high))  # from the middle, in half pixels
    x, y = x[None, :].astype(np.int64), y[:, None].astype(np.int64)
    depth = 1000 * width * height + _LEAN * x * height + _FALL * y * width
    across = (1000 * x + _TILT * y) * (width * height * 32) // depth + 32 * (width - 1) + 64
    down = (1000 * y - _TILT * x) * (width * height * 32) // depth + 32 * (height - 1) + 64
    across, down = np.clip(across, 0, 64 * (width + 1) - 1), np.clip(down, 0, 64 * (height + 1) - 1)
    places = (down >> 6) * (width + 2) + (across >> 6)
    return _View(places, (across & 63).astype(np.int32), (down & 63).astype(np.int32), _noise(high, wide))


def _noise(height: int, width: int) -> np.ndarray:
    """Return noise that is the same on every machine and every time: four bytes of a mixed pixel number, added up."""
    number = np.arange(1, height * width + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    number = (number ^ (number >> np.uint64(32))) * np.uint64(0xD6E8FEB86659FD93)
    number ^= number >> np.uint64(32)
    total = number.astype("<u8").view(np.uint8).reshape(height, width, 8)[..., :4].sum(axis=-1, dtype=np.int16)
    return (total - 510) * 7 >> 8


def _flat(lit: np.ndarray, number: np.ndarray, rows: int, size: tuple[int, int]) -> np.ndarray:
    """Return a channel as the photo's pixels gather it, looked at straight: int32, shape (height, width), at most twice FULL."""
    lines, samples = len(number), lit.shape[1]
    across = (_gathered(lit, size[0]) // samples).astype(np.float64)[number]
    steps = _STEPS if rows <= FIELD_LINES else _STEPS // 2  # of the tube's height from one line to the next
    mean = lines * sum(_BEAM)  # what white lines give to a pixel on average
    # Sums stay below 2**53, where float64 counts whole numbers exactly; dividing them rounds alike everywhere.
    return np.floor(_rows(lines, steps, size[1]).turned_before(across) / mean).astype(np.int32)


@functools.lru_cache(maxsize=2)
def _rows(lines: int, steps: int, pixels: int) -> NearDiagonal:
    """Return how much of each line's light each row of the photo gathers: whole numbers, shape (lines, pixels)."""
    place = np.arange(lines * steps) - steps * np.arange(lines)[:, None] + (len(_BEAM) - steps) // 2
    beams = np.pad(_BEAM, 1).take(place + 1, mode="clip")
    return NearDiagonal(_gathered(beams, pixels).astype(np.float64))


def _gathered(values: np.ndarray, pixels: int) -> np.ndarray:
    """Return the sums of rows of places over that many equal parts, in 1/pixels of a place: int64, shape (rows, pixels)."""
    whole, part = np.divmod(np.arange(pixels + 1) * values.shape[1], pixels)
    before = np.cumsum(np.pad(values, ((0, 0), (1, 1))), axis=1, dtype=np.int64)
    return np.diff(before[:, whole] * (pixels - part) + before[:, whole + 1] * part, axis=1)


def _blurred(seen: np.ndarray) -> np.ndarray:
    """Return light spread over 1, 4, 6, 4, 1 sixteenths across and down: neighbours added four times each way."""
    seen = np.pad(seen, 2, mode="edge")
    for _ in range(4):
        seen = seen[:-1] + seen[1:]
        seen = seen[:, :-1] + seen[:, 1:]
    return seen >> 8
