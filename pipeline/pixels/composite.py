"""A picture sent through composite video: what the bandwidths of brightness and colour leave of a line. A model, in whole numbers.

The picture is taken to fill the active part of a line, so a console's pixel lasts the active time over its width. Brightness
and colour are limited as ITU-R BT.470-6 (table 1, systems M and B/G) and BT.1700 ask of the signal; what the colour
carrier also does (crawling dots, false colours, a trap that takes fine brightness with it) is not modelled.
"""

from __future__ import annotations

import functools
from typing import NamedTuple

import numpy as np

from pipeline.pixels.near_diagonal import NearDiagonal

FIELD_LINES = 288  # the most in one field; a screen with at most this many is sent as the same field again and again


class System(NamedTuple):
    """One television system.

    Attributes:
        name: what its lines are counted as.
        active: length of the visible part of a line in ns.
        luma, chroma: frequency in kHz at which brightness and each colour difference are 3 dB down.
    """

    name: str
    active: int
    luma: int
    chroma: int


# From memory of ITU-R BT.470-6: M has 63.556 us less 10.9 us of blanking, 4.2 MHz of video; B/G 64 us less 12 us, 5 MHz. PAL has
# both colour differences 3 dB down at 1.3 MHz; of the 1.3 and 0.5 MHz of M/NTSC, sets usually decode the narrower for both.
SYSTEMS = (System("525-line", 52_600, 4_200, 500), System("625-line", 52_000, 5_000, 1_300))

# Y = 0.299 R + 0.587 G + 0.114 B in 1/1000 (ITU-R BT.470-6 and SMPTE 170M); U and V are B - Y and R - Y times these, in
# 1/1,000,000 (SMPTE 170M-2004, from memory; BT.470-6 rounds them to 0.493 and 0.877).
_LUMA = (299, 587, 114)
_U, _V = 492_111, 877_283
_UNIT = 1000
_BACK = 1 << 16  # what U and V add to R, G and B, in parts of this
_RED, _BLUE = _BACK * 1_000_000 // _V, _BACK * 1_000_000 // _U
_DECODED = ((0, _RED), (-_BLUE * _LUMA[2] // _LUMA[1], -_RED * _LUMA[0] // _LUMA[1]), (_BLUE, 0))

_REACH = 3  # zeros of the sine on each side that the filter reaches
_CUTOFF = 8578  # where that filter is 3 dB down, in 1/10000 of the frequency at which it is 6 dB down
_TAPS = 1 << 20  # sum of a filter's coefficients
_FINE = 1 << 60  # unit of the sines
_PI = 3_622_009_729_038_561_421  # pi in that unit


def samples_a_pixel(width: int) -> int:
    """Return the samples the model takes of each pixel of a screen: enough for a smooth line, at least 1."""
    return max(1, 1440 // width)


def sent(rgb: np.ndarray, system: System, percent: int = 100) -> np.ndarray:
    """Return a picture as it comes out of a television's decoder, lines apart.

    Args:
        rgb: uint8, shape (height, width, 3), colours with their gamma, which is what is sent.
        percent: of the system's bandwidths that is left, from 1.

    Returns:
        uint8, shape (height, width * samples_a_pixel(width), 3).
    """
    width = rgb.shape[1]
    once, number = different_rows(rgb)
    luma, blue, red = to_yuv(once)
    luma = _limited(luma, _line(width, system.active, system.luma * percent))
    narrow = _line(width, system.active, system.chroma * percent)
    return from_yuv(luma, _limited(blue, narrow), _limited(red, narrow))[number]


def different_rows(picture: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the rows of a picture that differ from the row above, and for each row its number among them.

    Codes and letters that are drawn large have few such rows.

    Args:
        picture: shape (height, ...), height at least 1.
    """
    differs = np.ones(len(picture), dtype=bool)
    differs[1:] = (picture[1:] != picture[:-1]).any(axis=tuple(range(1, picture.ndim)))
    return picture[differs], np.cumsum(differs) - 1


def to_yuv(rgb: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return brightness and the two colour differences of colours.

    Args:
        rgb: uint8, shape (..., 3).

    Returns:
        Y, U and V, int64, shape (...), in 1/1000 of an 8-bit code: 0..255000, about +-111000 and +-157000.
    """
    wide = rgb.astype(np.int64)
    luma = wide @ np.array(_LUMA)
    return luma, _scaled(wide[..., 2] * _UNIT - luma, _U, 1_000_000), _scaled(wide[..., 0] * _UNIT - luma, _V, 1_000_000)


def from_yuv(luma: np.ndarray, blue: np.ndarray, red: np.ndarray) -> np.ndarray:
    """Return the colours, uint8, shape (..., 3), of what ``to_yuv`` describes; what leaves 0..255 is cut off."""
    colours = np.empty((*luma.shape, 3), dtype=np.uint8)
    whole = luma.astype(np.float64) * _BACK + _UNIT * _BACK // 2
    for rank, (share_u, share_v) in enumerate(_DECODED):
        # Whole numbers below 2**53, so that only the division is rounded, and alike everywhere.
        colours[..., rank] = np.clip((whole + share_u * blue + share_v * red) / (_UNIT * _BACK), 0, 255)
    return colours


def low_pass(cutoff: tuple[int, int]) -> np.ndarray:
    """Return the coefficients of a low-pass filter: a sine over its argument under a raised cosine (von Hann's window).

    Args:
        cutoff: numerator and denominator of the frequency, in cycles a sample, below 0.4, at which it is 3 dB down.

    Returns:
        int64, an odd number of them, the same from both ends; they add up to 1,048,576. Reached over whole numbers, so that
        no machine's library of sines can change one.
    """
    top, below = 2 * cutoff[0] * 10000, cutoff[1] * _CUTOFF  # zeros of the sine a sample
    half = (_REACH * below - 1) // top
    side = []
    for n in range(1, half + 1):
        sinc = _sine(n * top, below) * below * _FINE // (_PI * n * top)
        window = (_FINE + _sine(2 * n * top + _REACH * below, 2 * _REACH * below)) // 2
        side.append(sinc * window // _FINE)
    whole = _FINE + 2 * sum(side)
    outer = [(2 * tap * _TAPS + whole) // (2 * whole) for tap in side]
    return np.array([*outer[::-1], _TAPS - 2 * sum(outer), *outer], dtype=np.int64)


def _sine(top: int, below: int) -> int:
    """Return the sine of ``top / below`` half turns in units of 2**-60, by its series, half a turn away."""
    angle = _PI * (below - top % (2 * below)) // below
    term = total = angle
    for rank in range(1, 20):
        term = -term * angle // _FINE * angle // _FINE // (2 * rank * (2 * rank + 1))
        total += term
    return total


@functools.lru_cache(maxsize=4)
def _line(width: int, active: int, bandwidth: int) -> NearDiagonal:
    """What each pixel of a line gives to each sample: whole numbers, shape (width, samples).

    Args:
        active: ns of the line.
        bandwidth: in 1/100 kHz.
    """
    samples = samples_a_pixel(width)
    top, below = bandwidth * active, width * samples * 10**8  # cycles a line over samples a line
    coarse = top * 10 >= below * 4  # the pixels themselves are coarser than the filter
    upto = np.cumsum([0, _TAPS] if coarse else [0, *low_pass((top, below))]).astype(np.float64)
    half = len(upto) // 2

    def part(columns: slice) -> tuple[int, np.ndarray]:
        # A sample sees the taps up to a pixel's start, less those up to its end: of pixels farther away all, or none.
        first = max(0, (columns.start + half - len(upto)) // samples)
        last = min(width, (columns.stop + half) // samples + 1)
        place = np.arange(columns.start, columns.stop) + half - samples * np.arange(first, last + 1)[:, None]
        seen = upto.take(place, mode="clip")
        return first, seen[:-1] - seen[1:]

    return NearDiagonal.of_parts(width * samples, part)


def _limited(values: np.ndarray, line: NearDiagonal) -> np.ndarray:
    """Return values of pixels as filtered samples, float64 of whole numbers.

    Sums stay below 2**53, where float64 counts whole numbers exactly, in whatever order they are added.
    """
    return np.rint(line.after(values.astype(np.float64)) / _TAPS)


def _scaled(values: np.ndarray, top: int, below: int) -> np.ndarray:
    """Return whole numbers times ``top / below``, rounded to the nearest, halves up."""
    return (2 * values * top + below) // (2 * below)
