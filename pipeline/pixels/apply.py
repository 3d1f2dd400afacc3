"""Pixels to palette entries."""

from __future__ import annotations

import numpy as np

from pipeline.bits import BitPattern, parse_pattern
from pipeline.pixels.colour import nearest_level, perceptual, to_rgb
from pipeline.pixels.quantise import nearest_entries


class EntryFinder:
    """Finds for every colour the nearest entry of a palette; a colour is looked for once, however often it occurs.

    Args:
        entries: the colours to choose from, uint8, shape (n, 3), n >= 1.
        pattern: the console's palette entry; colours are told apart no finer than it can.
    """

    def __init__(self, entries: np.ndarray, pattern: BitPattern) -> None:
        self._points = perceptual(entries)
        # Sources have 8 bits a channel, so no more can tell colours apart.
        self._bits = [min(8, pattern.bits(letter)) for letter in "RGB"]
        self._found = np.full(1 << sum(self._bits), -1, dtype=np.int32)
        self._shades = parse_pattern("".join(letter * bits for letter, bits in zip("RGB", self._bits, strict=True)))

    def find(self, rgb: np.ndarray) -> np.ndarray:
        """Return entry numbers.

        Args:
            rgb: uint8, shape (..., 3).

        Returns:
            int32, shape (...).
        """
        keys = np.zeros(rgb.shape[:-1], dtype=np.int32)
        for rank, bits in enumerate(self._bits):
            keys = (keys << bits) | nearest_level(bits)[rgb[..., rank]]
        fresh = np.unique(keys[self._found[keys] < 0])
        if len(fresh):
            colours = to_rgb(fresh.astype(np.uint32), self._shades)
            self._found[fresh] = nearest_entries(perceptual(colours), self._points)
        return self._found[keys]

