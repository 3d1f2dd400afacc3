"""Linear light, in which colours are mixed as the eye mixes them; also in whole numbers of 1/65535."""

from __future__ import annotations

import functools

import numpy as np

FULL = 65535


@functools.cache
def linear_light() -> np.ndarray:
    """Return the linear light of every 8-bit sRGB code: float64, shape (256,), 0..1 (IEC 61966-2-1).

    Rounded to 12 decimals, so that the last bit of a machine's power function does not show.
    """
    codes = [code / 255 for code in range(256)]
    light = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in codes]
    return np.array([round(value, 12) for value in light])


@functools.cache
def light() -> np.ndarray:
    """Linear light of the 8-bit codes in 1/65535: int64, shape (256,)."""
    return np.rint(linear_light() * FULL).astype(np.int64)


@functools.cache
def codes() -> np.ndarray:
    """The 8-bit code nearest to each linear light, in linear light: uint8, shape (65536,)."""
    known = light()
    return np.searchsorted((known[1:] + known[:-1]) // 2, np.arange(FULL + 1), side="left").astype(np.uint8)
