"""Pixels to palette entries, or to words of direct colour."""

from __future__ import annotations

import numpy as np

from pipeline.pixels.colours.colour import nearest_level, perceptual, to_rgb
from pipeline.pixels.colours.difference import micro_differences
from pipeline.pixels.colours.dither import Diffused, Ordered, Plain
from pipeline.pixels.colours.mixture import WhereNeeded
from pipeline.pixels.colours.numbers import OPAQUE, ColourNumbers, packed, unpacked
from pipeline.pixels.colours.quantise import nearest_entries
from pipeline.plain.bits import BitPattern, parse_pattern

_KNOWN = 1 << 24  # pairs of a colour and what it became whose difference is remembered


class EntryFinder:
    """Finds for every colour the nearest entry of a palette; a colour is looked for once, however often it occurs.

    Args:
        entries: the colours to choose from, uint8, shape (n, 3), n >= 1.
        pattern: the console's palette entry; colours are distinguished only as finely as it can.
    """

    def __init__(self, entries: np.ndarray, pattern: BitPattern) -> None:
        self._points = perceptual(entries)
        # Sources have 8 bits a channel, so more bits cannot distinguish colours.
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


class Converter:
    """Converts frame after frame of one asset; what follows from a colour is worked out once, however often it occurs.

    Args:
        rule: see ``dither`` and ``mixture``: what it gets for a colour, and what it chooses for pixels.
        clear: what transparent pixels hold.
        base: added to what the rule says that opaque pixels hold.

    Memory does not grow with the number of frames. A table spans 64 MiB, of which unused pages take no memory.
    """

    def __init__(self, rule: Plain | Ordered | Diffused | WhereNeeded, clear: int, base: int = 0) -> None:
        self._rule, self._clear, self._base = rule, clear, base
        self._colours = ColourNumbers()
        # Differences in millionths and 1, by colour number and choice; 0 where not asked for yet.
        self._known = np.zeros(_KNOWN, dtype=np.int32)

    def convert(self, rgba: np.ndarray, kept: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, list[int]]:
        """Convert some frames.

        Args:
            rgba: uint8, shape (count, height, width, 4); pixels with alpha 0 are transparent, all others opaque.
            kept: what the rule would say that pixels hold, where that is settled already, integers of shape (count, height, width);
                -1 where the rule chooses. Where errors are handed on, such a pixel may still take another colour.

        Returns:
            What pixels hold, uint32, shape (count, height, width). The differences of opaque pixels between what was
            wanted and what is shown, CIEDE2000 in millionths, int64, shape (n,), and how many of them each frame has.
        """
        keys = packed(rgba)
        opaque = keys >= OPAQUE
        numbers, fresh = self._colours.find(keys[opaque] & (OPAQUE - 1))
        if len(fresh):
            self._rule.learn(fresh)
        out = np.full(opaque.shape, self._clear, dtype=np.uint32)
        if not len(numbers):
            return out, np.zeros(0, dtype=np.int64), [0] * len(rgba)
        choice, held = self._rule.choose(numbers, rgba if kept is None else self._meant(rgba, kept), opaque)
        taken = held if kept is None else self._settled(kept[opaque], held)
        out[opaque] = taken + self._base
        cells = numbers.astype(np.int64) * self._rule.choices + choice
        found = self._differences(cells, numbers, held)
        other = np.flatnonzero(taken != held)
        if len(other):
            found[other] = self._pairs(numbers[other], taken[other])
        return out, found, np.count_nonzero(opaque, axis=(1, 2)).tolist()

    def _meant(self, rgba: np.ndarray, kept: np.ndarray) -> np.ndarray:
        """Return frames for the rule: a pixel that keeps an entry is meant to be of its colour, and hands on no error of its own."""
        if not self._rule.hands_on:
            return rgba
        shown = self._rule.show(np.maximum(kept, 0))
        return np.concatenate([np.where(kept[..., None] >= 0, shown, rgba[..., :3]), rgba[..., 3:]], axis=-1)

    def _settled(self, kept: np.ndarray, held: np.ndarray) -> np.ndarray:
        """Return what pixels hold, given what they keep and what the rule has chosen."""
        keeps = kept >= 0
        if self._rule.hands_on:
            keeps &= (self._rule.show(np.maximum(kept, 0)) == self._rule.show(held)).all(axis=-1)
        return np.where(keeps, kept, held)

    def _differences(self, cells: np.ndarray, numbers: np.ndarray, held: np.ndarray) -> np.ndarray:
        room = len(self._known)
        if len(cells) and cells.max() < room:
            found = self._known[cells]
            missing = np.flatnonzero(found == 0)
            if len(missing):
                some, first = np.unique(cells[missing], return_index=True)
                self._known[some] = self._asked(numbers[missing[first]], held[missing[first]]) + 1
                found = self._known[cells]
            return found.astype(np.int64) - 1
        # More colours than the table has room for: each pair is computed again.
        return self._pairs(numbers, held)

    def _pairs(self, numbers: np.ndarray, held: np.ndarray) -> np.ndarray:
        """Return the differences of pairs of a colour and what a pixel of it holds, each pair asked for once."""
        _, first, place = np.unique(numbers.astype(np.int64) << 32 | held, return_index=True, return_inverse=True)
        return self._asked(numbers[first], held[first])[place]

    def _asked(self, numbers: np.ndarray, held: np.ndarray) -> np.ndarray:
        return micro_differences(unpacked(self._colours.keys[numbers]), self._rule.show(held))
