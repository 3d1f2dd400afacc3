"""Logarithmic 8-bit samples: ITU-T G.711, mu-law and A-law, by levels of 16 bits.

The codes and decision levels are those of the recommendation's tables 1 and 2, levels being scaled from 14 and 13 bits to 16.
"""

from __future__ import annotations

import functools

import numpy as np

LAWS = ("ulaw", "alaw")


@functools.cache
def levels(law: str) -> np.ndarray:
    """Return the level of every code: int32, shape (256,), -32768..32767."""
    codes = np.arange(256) ^ (0xFF if law == "ulaw" else 0x55)
    segment, step, negative = codes >> 4 & 7, codes & 15, codes < 128
    if law == "ulaw":
        # The bits are inverted, so that a set sign bit of the code, cleared here, is positive.
        size = ((2 * step + 33 << segment) - 33) * 4
        negative = ~negative
    else:
        size = np.where(segment > 0, 2 * step + 33 << np.maximum(segment - 1, 0), 2 * step + 1) * 8
    return np.where(negative, -size, size).astype(np.int32)


def compand(samples: np.ndarray, law: str) -> np.ndarray:
    """Return the codes whose levels are nearest to some samples.

    Of two levels equally near, the one nearer to silence is taken. Zero is 0xFF in mu-law and 0xD5 in A-law.

    Args:
        samples: levels of 16 bits, int32, shape (n,).
        law: one of ``LAWS``.

    Returns:
        uint8, shape (n,).
    """
    known = levels(law)
    positive = np.flatnonzero(known > 0) if law == "alaw" else np.array([code for code in range(256) if code >= 128])
    order = positive[np.argsort(known[positive], kind="stable")]
    sizes = known[order]
    bounds = (sizes[1:] + sizes[:-1]) // 2
    found = order[np.searchsorted(bounds, np.abs(samples), side="left")].astype(np.uint8)
    return np.where(samples < 0, found ^ np.uint8(0x80), found)
