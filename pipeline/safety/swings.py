"""Pixels in time: when one goes from a peak to a valley or back, in brightness or in colour.

A transition runs from one extreme to the next, not from picture to picture, so that a slow fade counts like a jump. Smaller changes on
the way do not end it. It is noted in the picture in which it becomes large enough, once.

Sources: W3C, Web Content Accessibility Guidelines 2.2, "general flash and red flash thresholds" and "relative luminance"; of their
edition 2.0 the working definition of a red flash. The matrix to XYZ is that of IEC 61966-2-1, as printed in "Understanding 2.3.1".
"""

from __future__ import annotations

import functools

import numpy as np

from pipeline.pixels.colours.light import linear_light

CHANGE = 0.1  # of relative luminance
DARK = 0.8  # the darker state is below it
SATURATED = 0.8  # of red in all light: R / (R + G + B)
HUE_CHANGE = 0.2  # distance in the CIE 1976 UCS diagram
RED_CHANGE = 20  # of (R - G - B) x 320, negative values taken as 0
_SLACK = 1e-6  # of 32-bit floats
_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]])
_LUMINANCE = (0.2126, 0.7152, 0.0722)
# 4 X, 9 Y and X + 15 Y + 3 Z, of which u' and v' are the quotients (CIE 1976).
_PARTS = np.stack([4 * _XYZ[0], 9 * _XYZ[1], _XYZ[0] + 15 * _XYZ[1] + 3 * _XYZ[2]], axis=1).astype(np.float32)
_WHITE = (0.1978, 0.4683)  # u'v' of D65, which black counts as: it has none of its own, and this is the cautious reading


@functools.cache
def _tables() -> tuple[np.ndarray, np.ndarray]:
    """Linear light of 8-bit codes, and its share of luminance for each channel: float32, shapes (256,) and (3, 256)."""
    light = linear_light()
    return light.astype(np.float32), (np.array(_LUMINANCE)[:, None] * light).astype(np.float32)


def luminance(pixels: np.ndarray) -> np.ndarray:
    """Return the relative luminance of sRGB pixels, uint8 of shape (n, 3): float32, shape (n,), 0..1."""
    red, green, blue = _tables()[1]
    return red[pixels[:, 0]] + green[pixels[:, 1]] + blue[pixels[:, 2]]


def hues(pixels: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what red flashes are found by.

    Args:
        pixels: uint8 sRGB, shape (n, 3).

    Returns:
        u' + v' i, complex64, so that a distance is an absolute value; (R - G - B) x 320, not negative, float32; and where red is
        saturated, bool; each of shape (n,).
    """
    light = _tables()[0][pixels]
    parts = light @ _PARTS
    black = parts[:, 2] == 0
    parts[black] = (*_WHITE, 1)
    red, others = light[:, 0], light[:, 1] + light[:, 2]
    saturated = (red * np.float32(1 - SATURATED) >= np.float32(SATURATED) * others - np.float32(_SLACK) * red) & ~black
    hue = np.empty(len(pixels), np.complex64)
    hue.real, hue.imag = parts[:, 0] / parts[:, 2], parts[:, 1] / parts[:, 2]
    return hue, np.maximum(red - others, 0) * np.float32(320), saturated


class Swings:
    """A number of each pixel in time, such as its brightness.

    Args:
        values: of the first picture, float32, shape (n,).
        change: the least difference of two extremes that counts.
        below: the lower extreme must be below this.
        marked: bool, shape (n,): one of both extremes must be; None where any counts.
    """

    def __init__(self, values: np.ndarray, change: float = CHANGE, below: float = DARK, marked: np.ndarray | None = None) -> None:
        self._change, self._below = np.float32(change - _SLACK), np.float32(below)
        self._turn, self._far = values.copy(), values.copy()  # the last extreme, and the farthest since
        self._marks = None if marked is None else (marked.copy(), marked.copy())
        self._up, self._done = np.ones(len(values), np.float32), np.zeros(len(values), bool)

    def step(self, at: np.ndarray, values: np.ndarray, marked: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Take in the pixels that changed.

        Args:
            at: which pixels; values: float32, of those; marked: bool, of those.

        Returns:
            Where a transition is complete now, bool, and how far it has gone so far, float32 and negative downwards; both of those pixels.
        """
        up, turn, far, done = self._up[at], self._turn[at], self._far[at], self._done[at]
        ahead = (values - far) * up
        back = ahead <= -self._change
        under = ((values - turn) * up < 0) & ~back  # only before the first transition: the first picture was between two extremes
        farther = back | under | (ahead > 0)
        turn, far = np.where(back, far, np.where(under, values, turn)), np.where(farther, values, far)
        size = far - turn
        done &= ~back
        complete = ~done & (np.abs(size) >= self._change) & (np.minimum(far, turn) < self._below)
        if self._marks is not None and marked is not None:
            of_turn, of_far = self._marks
            begun = np.where(back, of_far[at], np.where(under, marked, of_turn[at]))
            ended = np.where(farther, marked, of_far[at])
            of_turn[at], of_far[at] = begun, ended
            complete &= begun | ended
        self._up[at], self._turn[at], self._far[at], self._done[at] = np.where(back, -up, up), turn, far, done | complete
        return complete, size


class HueSwings:
    """Changes to and from saturated red in the chromaticity diagram.

    Args:
        hues: of the first picture, complex64, shape (n,).
        saturated: bool, shape (n,).
    """

    def __init__(self, hues: np.ndarray, saturated: np.ndarray) -> None:
        self._turn, self._far = hues.copy(), hues.copy()  # the last extreme, and the farthest from it since
        self._turn_red, self._far_red = saturated.copy(), saturated.copy()
        self._reach = np.zeros(len(hues), np.float32)  # from one to the other
        self._done = np.zeros(len(hues), bool)

    def step(self, at: np.ndarray, hues: np.ndarray, saturated: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Take in the pixels that changed.

        Returns:
            Where a transition to or from red is complete now, and which of them go to red: both bool, of those pixels.
        """
        turn, far, turn_red, far_red = self._turn[at], self._far[at], self._turn_red[at], self._far_red[at]
        back = np.abs(hues - far) > HUE_CHANGE
        turn, turn_red = np.where(back, far, turn), np.where(back, far_red, turn_red)
        reach = np.abs(hues - turn)
        farther = back | (reach > self._reach[at])
        large = reach > HUE_CHANGE
        far, far_red = np.where(farther, hues, far), np.where(farther, saturated, far_red | (saturated & large))
        reach = np.where(farther, reach, self._reach[at])
        done = self._done[at] & ~back
        complete = ~done & (turn_red | far_red) & (reach > HUE_CHANGE)
        self._turn[at], self._far[at], self._turn_red[at], self._far_red[at] = turn, far, turn_red, far_red
        self._reach[at], self._done[at] = reach, done | complete
        return complete, far_red
