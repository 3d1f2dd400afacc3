"""Decoded pixels to colours, as the console would show them."""

from __future__ import annotations

import numpy as np

from pipeline.reading.decoded import Decoded
from pipeline.reading.pixels import word_to_rgb
from pipeline.target.records import pixel_base


def screen_rgb(decoded: Decoded) -> np.ndarray:
    """Return a screen or background of direct colour, or a screen with its own palette: uint8, (height, width, 3)."""
    return frames_rgb(decoded, decoded.colours if len(decoded.colours) else None, 0)[0]


def frames_rgb(decoded: Decoded, colours: np.ndarray | None, first: int) -> np.ndarray:
    """Return the colours of all frames.

    Args:
        colours: of the palette, uint8, shape (entries, 3); None for direct colour.
        first: the palette's place in the console's palette.

    Returns:
        uint8, shape (frames, height, width, 3); an index outside the palette is magenta, to be seen.
    """
    pattern = decoded.pattern
    if colours is None:
        words, back = np.unique(decoded.pixels, return_inverse=True)
        table = np.array([word_to_rgb(int(word), pattern) for word in words], dtype=np.uint8)
        return table[back.reshape(decoded.pixels.shape)]
    places = max(1 << pattern.width, int(decoded.pixels.max()) + 1)
    table = np.full((places, 3), (255, 0, 255), dtype=np.uint8)
    base = first if decoded.lines else pixel_base(first, pattern.width)
    table[base : base + len(colours)] = colours[: len(table) - base]
    found = np.empty((*decoded.pixels.shape, 3), dtype=np.uint8)
    for channel in range(3):  # one by one: numpy is slow along an axis of three
        found[..., channel] = table[:, channel].take(decoded.pixels)
    return found


def clear_mask(decoded: Decoded, first: int, transparent: bool) -> np.ndarray:
    """Return where frames are transparent: bool, shape (frames, height, width)."""
    pattern = decoded.pattern
    if pattern.bits("I"):
        held = decoded.pixels % (1 << pattern.width)  # without the line
        return (held == pixel_base(first, pattern.width)) if transparent else np.zeros(decoded.pixels.shape, dtype=bool)
    if pattern.bits("A"):
        return np.asarray(pattern.decode(decoded.pixels, "A")) == 0
    return np.zeros(decoded.pixels.shape, dtype=bool)
