"""Pixels in time: when one goes from a peak to a valley or back, in brightness or in colour.

A transition runs from one extreme to the next, not from picture to picture, so that a slow fade counts like a jump. Smaller changes on
the way do not end it. It is noted in the picture in which it becomes large enough, once.

Sources: W3C, Web Content Accessibility Guidelines 2.2, "general flash and red flash thresholds" and "relative luminance"; of their
edition 2.0 the working definition of a red flash. The matrix to XYZ is that of IEC 61966-2-1, as printed in "Understanding 2.3.1".
"""

from __future__ import annotations

import functools
from typing import NamedTuple

import numpy as np

from pipeline.pixels.colours.light import linear_light

CHANGE = 0.1  # of relative luminance
DARK = 0.8  # the darker state is below it
SATURATED = 0.8  # of red in all light: R / (R + G + B)
HUE_CHANGE = 0.2  # distance in the CIE 1976 UCS diagram
RED_CHANGE = 20  # of (R - G - B) x 320, negative values taken as 0
SLACK = 1e-6  # of 32-bit floats
_MANY = 1 / 3  # of all pixels; where more change, all are looked at, since picking some out costs more
_MOST_COLOURS = 1 << 20  # kept
_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]])
_LUMINANCE = (0.2126, 0.7152, 0.0722)
# 4 X, 9 Y and X + 15 Y + 3 Z, of which u' and v' are the quotients (CIE 1976).
_PARTS = np.stack([4 * _XYZ[0], 9 * _XYZ[1], _XYZ[0] + 15 * _XYZ[1] + 3 * _XYZ[2]])
_WHITE = (0.19784, 0.46834)  # u'v' of D65, which black counts as: it has none of its own, and this is the cautious reading


class Seen(NamedTuple):
    """What flashes are found by, of some pixels; each of shape (n,).

    Attributes:
        light: relative luminance, float32, 0..1.
        u, v: u' and v' of CIE 1976, float32.
        redness: (R - G - B) x 320, not negative, float32.
        saturated: where red is saturated, bool.
    """

    light: np.ndarray
    u: np.ndarray
    v: np.ndarray
    redness: np.ndarray
    saturated: np.ndarray

    def of(self, which: np.ndarray) -> Seen:
        """Return that of some of them."""
        return Seen(*(part.take(which) for part in self))


@functools.cache
def _tables() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Linear light of 8-bit codes, float32, shape (256,); of each channel its luminance, shape (3, 256), and parts, (3, 3, 256)."""
    light = linear_light()
    parts = _PARTS[:, :, None] * light
    return light.astype(np.float32), (np.array(_LUMINANCE)[:, None] * light).astype(np.float32), parts.astype(np.float32)


def luminance(pixels: np.ndarray) -> np.ndarray:
    """Return the relative luminance of sRGB pixels, uint8 of shape (n, 3): float32, shape (n,), 0..1."""
    red, green, blue = _tables()[1]
    return red[pixels[:, 0]] + green[pixels[:, 1]] + blue[pixels[:, 2]]


def seen_as(pixels: np.ndarray) -> Seen:
    """Return what flashes are found by, of pixels of uint8 sRGB, shape (n, 3)."""
    light, _, parts = _tables()
    # Added up one by one: a product of matrices is rounded differently from machine to machine.
    four_x, nine_y, whole = (of[0][pixels[:, 0]] + of[1][pixels[:, 1]] + of[2][pixels[:, 2]] for of in parts)
    black = whole == 0
    whole = np.where(black, np.float32(1), whole)
    # Rounded, so that all greys are one hue.
    u, v = (np.where(black, np.float32(white), (part / whole).round(5)) for white, part in zip(_WHITE, (four_x, nine_y), strict=True))
    red, others = light[pixels[:, 0]], light[pixels[:, 1]] + light[pixels[:, 2]]
    saturated = (red * np.float32(1 - SATURATED) >= np.float32(SATURATED) * others - np.float32(SLACK) * red) & ~black
    return Seen(luminance(pixels), u, v, np.maximum(red - others, 0) * np.float32(320), saturated)


class Colours:
    """Knows each colour it has met by a number, so that a picture of few colours is looked up and not worked out."""

    def __init__(self) -> None:
        self._numbers = np.zeros(1 << 24, np.intp)  # by code: memory is taken up only where colours are
        self._known = seen_as(np.zeros((1, 3), np.uint8))  # number 0: not met yet

    def look_up(self, codes: np.ndarray) -> Seen:
        """Return what flashes are found by, of codes as ``colour_codes`` returns them."""
        numbers = self._numbers[codes]
        if not numbers.all():
            if len(self._known.light) > _MOST_COLOURS:
                self.__init__()
                numbers = np.zeros(len(codes), np.intp)
            new = np.unique(codes[numbers == 0])
            self._numbers[new] = np.arange(len(self._known.light), len(self._known.light) + len(new), dtype=np.intp)
            more = seen_as(new.astype("<u4").view(np.uint8).reshape(-1, 4)[:, :3])
            self._known = Seen(*(np.concatenate(pair) for pair in zip(self._known, more, strict=True)))
            numbers = self._numbers[codes]
        return self._known.of(numbers)


@functools.cache
def known_colours() -> Colours:
    """Return the colours met so far, by whichever meter."""
    return Colours()


def colour_codes(pixels: np.ndarray) -> np.ndarray:
    """Return a number for each colour of uint8 pixels, shape (n, 3): red + 256 green + 65536 blue, uint32, shape (n,)."""
    # Read as overlapping words of four bytes, which takes a tenth of the time of making room for a fourth.
    flat = np.zeros(3 * len(pixels) + 1, np.uint8)
    flat[:-1] = pixels.reshape(-1)
    return np.ndarray((len(pixels),), "<u4", flat.data, 0, (3,)) & np.uint32(0xFFFFFF)


def _bits(where: np.ndarray) -> np.ndarray:
    """Return 32 ones where it is true and zeros elsewhere: int32."""
    return np.negative(where.view(np.int8)).astype(np.int32)


def _pick(bits: np.ndarray, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return ``one`` where there are ones and ``other`` elsewhere, both float32: bit by bit, as ``np.where`` guesses what comes next."""
    mixed = one.view(np.int32) ^ other.view(np.int32)
    mixed &= bits
    mixed ^= other.view(np.int32)
    return mixed.view(np.float32)


def _either(where: np.ndarray, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return the same of bool arrays."""
    return (one & where) | (other & ~where)


class _States:
    """Arrays of all pixels, of which a step changes some."""

    def __init__(self, **arrays: np.ndarray) -> None:
        self._arrays, self._count = arrays, len(next(iter(arrays.values())))

    def take(self, at: np.ndarray) -> list[np.ndarray]:
        return [*self._arrays.values()] if len(at) == self._count else [array[at] for array in self._arrays.values()]

    def put(self, at: np.ndarray, arrays: tuple[np.ndarray, ...]) -> None:
        if len(at) == self._count:
            self._arrays = dict(zip(self._arrays, arrays, strict=True))
            return
        for kept, new in zip(self._arrays.values(), arrays, strict=True):
            kept[at] = new


def worth_taking_all(changed: int, count: int) -> bool:
    """Return whether so many of all pixels change that a step should take in all of them; those that stay as they are change nothing."""
    return changed > _MANY * count


class Swings:
    """A number of each pixel in time, such as its brightness.

    Args:
        values: of the first picture, float32, shape (n,).
        change: the least difference of two extremes that counts.
        below: the lower extreme must be below this.
        marked: bool, shape (n,): one of both extremes must be; None where any counts.
    """

    def __init__(self, values: np.ndarray, change: float = CHANGE, below: float = DARK, marked: np.ndarray | None = None) -> None:
        self._change, self._below = np.float32(change - SLACK), np.float32(below)
        rising, done = np.ones(len(values), np.float32), np.zeros(len(values), bool)
        # The last extreme, the farthest since, 1 or -1 for its side, and whether a transition is complete since that extreme.
        self._states = _States(turn=values.copy(), far=values.copy(), rising=rising, done=done)
        self._marks = None if marked is None else _States(turn=marked.copy(), far=marked.copy())

    def step(self, at: np.ndarray, values: np.ndarray, marked: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Take in the pixels that changed, or more.

        Args:
            at: which pixels, in order, each once; values: float32, of those; marked: bool, of those.

        Returns:
            Where a transition is complete now, bool, and how far it has gone so far, float32 and negative downwards; both of those pixels.
        """
        turn, far, rising, done = self._states.take(at)
        ahead = (values - far) * rising
        back = ahead <= -self._change
        under = ((values - turn) * rising < 0) & ~back  # only before the first transition: the first picture was between two extremes
        farther = back | under | (ahead > 0)
        turned = _bits(back)
        turn = _pick(turned, far, turn)
        if under.any():
            turn = _pick(_bits(under), values, turn)
        far = _pick(_bits(farther), values, far)
        size = far - turn
        done = done & ~back
        complete = (np.abs(size) >= self._change) & ~done
        if np.isfinite(self._below):
            complete &= np.minimum(far, turn) < self._below
        if self._marks is not None and marked is not None:
            of_turn, of_far = self._marks.take(at)
            of_turn = _either(under, marked, _either(back, of_far, of_turn))
            of_far = _either(farther, marked, of_far)
            complete &= of_turn | of_far
            self._marks.put(at, (of_turn, of_far))
        self._states.put(at, (turn, far, _pick(turned, -rising, rising), done | complete))
        return complete, size


class HueSwings:
    """Changes to and from saturated red in the chromaticity diagram.

    Args:
        seen: of the first picture.
    """

    def __init__(self, seen: Seen) -> None:
        none = np.zeros(len(seen.u), np.float32)
        # The last extreme, the farthest from it since, the square of that distance, where either is red, and whether that was counted.
        self._states = _States(
            turn_u=seen.u.copy(), turn_v=seen.v.copy(), far_u=seen.u.copy(), far_v=seen.v.copy(), reach=none,
            turn_red=seen.saturated.copy(), far_red=seen.saturated.copy(), done=np.zeros(len(none), bool),
        )  # fmt: skip

    def step(self, at: np.ndarray, u: np.ndarray, v: np.ndarray, saturated: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Take in the pixels that changed, or more.

        Args:
            at: which pixels, in order, each once; the others: of those, see ``Seen``.

        Returns:
            Where a transition to or from red is complete now, and which of them go to red: both bool, of those pixels.
        """
        turn_u, turn_v, far_u, far_v, reach, turn_red, far_red, done = self._states.take(at)
        back = _squared(u - far_u, v - far_v) > _FAR
        bits = _bits(back)
        turn_u, turn_v, turn_red = _pick(bits, far_u, turn_u), _pick(bits, far_v, turn_v), _either(back, far_red, turn_red)
        now = _squared(u - turn_u, v - turn_v)
        farther = back | (now > reach)
        bits = _bits(farther)
        far_u, far_v, reach = _pick(bits, u, far_u), _pick(bits, v, far_v), _pick(bits, now, reach)
        far_red = _either(farther, saturated, far_red | (saturated & (now > _FAR)))
        done = done & ~back
        complete = (turn_red | far_red) & (reach > _FAR) & ~done
        self._states.put(at, (turn_u, turn_v, far_u, far_v, reach, turn_red, far_red, done | complete))
        return complete, far_red


_FAR = np.float32(HUE_CHANGE * HUE_CHANGE)


def _squared(across: np.ndarray, down: np.ndarray) -> np.ndarray:
    return across * across + down * down
