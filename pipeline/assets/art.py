"""What sprites and backgrounds share: prepared frames turned into the pixels that the image will hold."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from pipeline.assets.intent import Intent
from pipeline.assets.prepared import PreparedFrames
from pipeline.errors import refuse
from pipeline.files import read_json
from pipeline.pixels.apply import EntryFinder
from pipeline.pixels.cells import pad_to_cells
from pipeline.pixels.colour import to_rgb, to_words
from pipeline.pixels.difference import ErrorFacts
from pipeline.pixels.dither import dither
from pipeline.target import PictureRules, pixel_base


class Artwork:
    """Prepared frames as the image will store them, and what that cost.

    Args:
        frames: of one sprite or background.
        blobs: folder with the facts of palettes.
        palette: name of the palette asset; None for direct colour.
        rules: what the target says of the pixel format.
        asset: name, for messages.
        dithering: ``none``, ``ordered`` or ``diffusion``; the pattern starts at the anchor, so it does not crawl.

    Attributes:
        base: what a pixel of the palette's first entry holds.
        intent: filled while iterating.
        errors: CIEDE2000 between the scaled art and what the console shows, filled while iterating.

    Raises:
        ProjectError: the palette has no colour for opaque pixels, or its entries do not fit the pixel's bits.
    """

    def __init__(
        self, frames: PreparedFrames, blobs: Path, palette: str | None, rules: PictureRules, asset: str, dithering: str
    ) -> None:
        self.frames, self.rules, self.asset, self.dithering = frames, rules, asset, dithering
        self.palette = palette
        self.intent, self.errors = Intent(), ErrorFacts()
        self._facts = read_json(blobs / f"{palette}.json") if palette else None
        self.base = _pixel_base(self._facts, rules, asset, palette) if palette else 0

    def __iter__(self) -> Iterator[np.ndarray]:
        """Yield the pixels of each frame, padded to whole cells: indices into the console's palette, or direct words."""
        fill = 0 if self._facts else self.rules.pixel_format.pixel.fixed
        for pixels in self._converted():
            stored = (pad_to_cells(pixels, *self.rules.cell, fill=fill) + self.base).astype(np.uint32)
            self.intent.add(stored)
            yield stored

    def entries(self) -> Iterator[np.ndarray]:
        """Yield the palette's own entry numbers of each frame, 0 transparent, or the words of direct colour; not padded."""
        for pixels in self._converted():
            self.intent.add((pixels + self.base).astype(np.uint32))
            yield pixels

    def _converted(self) -> Iterator[np.ndarray]:
        convert = self._indexed() if self._facts else self._direct
        for frame in self.frames:
            pixels, shown = convert(frame)
            self.errors.add(frame[..., :3], shown, frame[..., 3] > 0)
            yield pixels

    def _direct(self, frame: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        pattern = self.rules.pixel_format.pixel
        words = to_words(frame[..., :3], pattern, frame[..., 3])
        return words, to_rgb(words, pattern)

    def _indexed(self):
        own = int(self._facts["transparent"])
        entries = np.array(self._facts["colours"][own:], dtype=np.uint8).reshape(-1, 3)
        finder = EntryFinder(entries, self.rules.entry) if self._facts["exact"] and self.dithering == "none" else None

        def convert(frame: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            opaque = frame[..., 3] > 0
            if not len(entries):
                if opaque.any():
                    raise self._no_colour()
                return np.zeros(opaque.shape, dtype=np.int32), np.zeros_like(frame[..., :3])
            if finder:
                found = finder.find(frame[..., :3])
            else:
                anchor = tuple(self.frames.facts["anchor"])
                found = dither(frame[..., :3], opaque, entries, self.dithering, anchor)
            return np.where(opaque, found + own, 0), entries[found]

        return convert

    def _no_colour(self) -> Exception:
        wrong = f"has no colour, {self.asset!r} has opaque pixels"
        remedy = "allow at least one colour besides the transparent entry"
        return refuse("project.toml", f"[palette.{self.palette}]", wrong, remedy)


def _pixel_base(facts: dict, rules: PictureRules, asset: str, palette: str) -> int:
    """Return what a pixel of the palette's first entry holds; see ``target.pixel_base``."""
    bits = rules.pixel_format.pixel.width
    base = pixel_base(facts["first"], bits)
    if base + facts["entry_count"] > 1 << bits:
        wrong = f"{facts['entry_count']} entries from {facts['first']} do not fit pixels of {bits} bits"
        raise refuse("project.toml", f"[palette.{palette}]", wrong, f"lower first or colours, or give {asset!r} wider pixels")
    return base
