"""Colours as the console's converter shows them, and a perceptual space to compare them in.

An n-bit level is widened to 8 bits by repeating its bits from the top (``(v << 3) | (v >> 2)`` for 5 bits), the rule
used throughout; a colour is *snapped* when each channel has been replaced by the nearest widened level.
"""

from __future__ import annotations

import functools

import numpy as np

from pipeline.pixels.colours.light import FULL, light
from pipeline.plain.bits import BitPattern, parse_pattern

DRAWN = parse_pattern("RRRRRRRRGGGGGGGGBBBBBBBB")  # colours as drawn, before the console's converter


@functools.cache
def widened(bits: int) -> np.ndarray:
    """Return the 8-bit value of every n-bit level: uint8, shape (2**bits,)."""
    repeated = (f"{level:0{bits}b}" * 8 for level in range(1 << bits))
    return np.array([int(text[:8], 2) for text in repeated], dtype=np.uint8)


@functools.cache
def nearest_level(bits: int) -> np.ndarray:
    """Return for every 8-bit value the nearest n-bit level (the lower of two as near): uint8 or uint16, shape (256,)."""
    distance = np.abs(widened(bits).astype(np.int32)[None, :] - np.arange(256)[:, None])
    return np.argmin(distance, axis=1).astype(np.uint16)


def to_words(rgb: np.ndarray, pattern: BitPattern, alpha: np.ndarray | None = None) -> np.ndarray:
    """Return direct-colour words.

    Args:
        rgb: uint8, shape (..., 3), sRGB.
        pattern: names R, G, B and perhaps A.
        alpha: uint8, shape (...); opaque from 128. Only used with an A field of one bit or more.

    Returns:
        uint32, shape (...).
    """
    values = {
        letter: nearest_level(pattern.bits(letter))[rgb[..., rank]].astype(np.uint32) for rank, letter in enumerate("RGB")
    }
    if pattern.bits("A"):
        opaque = np.full(rgb.shape[:-1], True) if alpha is None else alpha >= 128
        values["A"] = np.where(opaque, (1 << pattern.bits("A")) - 1, 0).astype(np.uint32)
    return np.asarray(pattern.encode(**values), dtype=np.uint32)


def to_rgb(words: np.ndarray, pattern: BitPattern) -> np.ndarray:
    """Return the colours of direct-colour words: uint8, shape (..., 3)."""
    words = words.astype(np.uint32)
    channels = [widened(pattern.bits(letter))[pattern.decode(words, letter)] for letter in "RGB"]
    return np.stack(channels, axis=-1)


def perceptual(rgb: np.ndarray) -> np.ndarray:
    """Return colours in Oklab, where Euclidean distance is roughly what an eye sees, in whole numbers.

    Args:
        rgb: uint8, shape (..., 3), sRGB.

    Returns:
        int32, shape (..., 3), in 1/10000: L 0..10000, a and b about -4000..4000.
    """
    return np.rint(oklab(rgb) * 10000).astype(np.int32)


def oklab(rgb: np.ndarray) -> np.ndarray:
    """Return colours in Oklab (B. Ottosson, 2020).

    Args:
        rgb: uint8, shape (..., 3), sRGB.

    Returns:
        float64, shape (..., 3): L 0..1, a and b about -0.4..0.4. Reached with additions, multiplications and divisions only, so that no
        machine's math library can change a choice of colour.
    """
    lit = light()[rgb].astype(np.float64) / FULL
    red, green, blue = lit[..., 0], lit[..., 1], lit[..., 2]
    long = _cube_root(0.4122214708 * red + 0.5363325363 * green + 0.0514459929 * blue)
    medium = _cube_root(0.2119034982 * red + 0.6806995451 * green + 0.1073969566 * blue)
    short = _cube_root(0.0883024619 * red + 0.2817188376 * green + 0.6299787005 * blue)
    lab = (
        0.2104542553 * long + 0.7936177850 * medium - 0.0040720468 * short,
        1.9779984951 * long - 2.4285922050 * medium + 0.4505937099 * short,
        0.0259040371 * long + 0.7827717662 * medium - 0.8086757660 * short,
    )
    return np.stack(lab, axis=-1)


def _cube_root(value: np.ndarray) -> np.ndarray:
    """Cube roots of values in 0..1 by Newton's method from above; exact operations only."""
    root = np.ones_like(value)
    for _ in range(40):
        root = (2 * root + value / (root * root)) / 3
    return np.where(value > 0, root, 0.0)
