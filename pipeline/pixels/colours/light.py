"""Linear light in whole numbers of 1/65535, in which colours are mixed as the eye mixes them."""

from __future__ import annotations

import functools

import numpy as np

from pipeline.pixels.colours.difference import linear_light

FULL = 65535


@functools.cache
def light() -> np.ndarray:
    """Linear light of the 8-bit codes in 1/65535: int64, shape (256,)."""
    return np.rint(linear_light() * FULL).astype(np.int64)


@functools.cache
def codes() -> np.ndarray:
    """The 8-bit code nearest to each linear light, in linear light: uint8, shape (65536,)."""
    known = light()
    return np.searchsorted((known[1:] + known[:-1]) // 2, np.arange(FULL + 1), side="left").astype(np.uint8)
