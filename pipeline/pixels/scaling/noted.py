"""Boxes and points of the art in the scaled frame: a box grows outward to whole pixels, a point becomes the pixel that holds its middle."""

from __future__ import annotations

import functools
import math
from fractions import Fraction


@functools.lru_cache(maxsize=4096)  # most frames have the boxes of their neighbours
def scaled_span(start: int, length: int, factor: Fraction, origin: Fraction, side: int) -> tuple[int, int]:
    """Return first pixel and number of pixels, at least 1, of all pixels of a scaled frame that a span of the art touches.

    Args:
        start, length: of the span in pixels of the art, in one direction; length at least 1.
        factor: in that direction; ``origin``: where the art's pixel 0 begins in the scaled frame.
        side: pixels of the scaled frame; what lies outside is cut off, since a last pixel that art covers too little of is not made.
    """
    first, end = math.floor(origin + start * factor), math.ceil(origin + (start + length) * factor)
    first = min(max(first, 0), side - 1)
    return first, max(min(end, side) - first, 1)


def scaled_place(place: int, factor: Fraction, origin: Fraction, side: int) -> int:
    """Return the pixel of a scaled frame, 0 to ``side`` - 1, that holds the middle of a pixel of the art; see ``scaled_span``."""
    return min(max(math.floor(origin + (place + Fraction(1, 2)) * factor), 0), side - 1)
