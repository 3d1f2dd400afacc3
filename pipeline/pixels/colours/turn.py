"""Colours turned in hue and changed in lightness and chroma, in OKLCh.

OKLCh is Oklab (B. Ottosson, "A perceptual color space for image processing", 2020) in polar form: lightness, chroma and hue. Matrices in
both directions are those of the publication. A colour outside sRGB keeps lightness and hue and loses chroma until it is inside, as CSS
Color Module Level 4 (W3C), section 13.2, does before it clips. Additions, multiplications and divisions only, so that every machine
comes to the same colours.
"""

from __future__ import annotations

import numpy as np

from pipeline.pixels.colours.colour import oklab
from pipeline.pixels.colours.light import FULL, codes

_PI = 3.141592653589793
_HALVINGS = 24  # of the range in which the chroma that still fits is looked for
_NEAR = 1e-4  # how far a channel may be outside 0..1 and still count as inside


def turned(rgb: np.ndarray, hue: float = 0.0, lightness: float = 1.0, chroma: float = 1.0) -> np.ndarray:
    """Return colours turned in hue, with lightness and chroma multiplied.

    Args:
        rgb: uint8, shape (n, 3), sRGB.
        hue: degrees, -180..180; from red towards yellow where positive.
        lightness, chroma: factors, at least 0. Lightness ends at white.

    Returns:
        uint8, shape (n, 3).
    """
    lab = oklab(rgb)
    sine, cosine = _sine_cosine(hue)
    light = np.minimum(lab[:, 0] * lightness, 1.0)
    across, down = lab[:, 1] * chroma, lab[:, 2] * chroma
    across, down = across * cosine - down * sine, across * sine + down * cosine
    least, most = np.zeros(len(rgb)), np.ones(len(rgb))
    part = np.where(_inside(_linear(light, across, down)), 1.0, 0.0)
    for _ in range(_HALVINGS):
        middle = (least + most) / 2
        fits = _inside(_linear(light, across * middle, down * middle))
        least, most = np.where(fits, middle, least), np.where(fits, most, middle)
    part = np.maximum(part, least)
    linear = np.clip(_linear(light, across * part, down * part), 0.0, 1.0)
    return codes()[np.rint(linear * FULL).astype(np.int64)]


def _linear(light: np.ndarray, across: np.ndarray, down: np.ndarray) -> np.ndarray:
    """Return linear sRGB of Oklab: shape (n, 3), perhaps outside 0..1."""
    long = light + 0.3963377774 * across + 0.2158037573 * down
    medium = light - 0.1055613458 * across - 0.0638541728 * down
    short = light - 0.0894841775 * across - 1.2914855480 * down
    long, medium, short = long * long * long, medium * medium * medium, short * short * short
    return np.stack(
        [
            4.0767416621 * long - 3.3077115913 * medium + 0.2309699292 * short,
            -1.2684380046 * long + 2.6097574011 * medium - 0.3413193965 * short,
            -0.0041960863 * long - 0.7034186147 * medium + 1.7076147010 * short,
        ],
        axis=-1,
    )


def _inside(linear: np.ndarray) -> np.ndarray:
    return np.asarray(((linear >= -_NEAR) & (linear <= 1 + _NEAR)).all(axis=-1))


def _sine_cosine(degrees: float) -> tuple[float, float]:
    """Return sine and cosine by their power series, which 40 terms give to the last bit or two within half a turn."""
    angle = degrees * _PI / 180
    sums, term = [0.0, 0.0, 0.0, 0.0], 1.0
    for power in range(40):
        sums[power % 4] += term
        term = term * angle / (power + 1)
    return sums[1] - sums[3], sums[0] - sums[2]
