"""What sprites and backgrounds share: prepared frames turned into the pixels that the image will hold."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from pipeline.assets.prepared import PreparedFrames
from pipeline.errors import refuse
from pipeline.files import read_json
from pipeline.pixels.apply import EntryFinder
from pipeline.pixels.cells import pad_to_cells
from pipeline.pixels.colour import to_words
from pipeline.target import PictureRules, pixel_base


class Intent:
    """The pixels that conversion meant to store, as a hash; ``verify`` compares it with what the image decodes to.

    Hashed are the pixel values (indices or words) of all frames in order, as unsigned 32-bit little-endian numbers.
    """

    def __init__(self) -> None:
        self._hash = hashlib.sha256()
        self.shape: list[int] = [0, 0, 0]

    def add(self, pixels: np.ndarray) -> None:
        """Add one frame: unsigned integers, shape (height, width)."""
        self._hash.update(pixels.astype("<u4").tobytes())
        self.shape = [self.shape[0] + 1, *pixels.shape]

    def facts(self) -> dict:
        """Return shape (frames, height, width) and the hash, for the facts."""
        return {"shape": self.shape, "sha256": self._hash.hexdigest()}


def stored_frames(frames: PreparedFrames, blobs: Path, palette: str | None, rules: PictureRules, asset: str) -> Iterator[np.ndarray]:
    """Yield the pixels to store: indices into the console's palette, or direct-colour words, padded to whole cells.

    Raises:
        ProjectError: the palette has no colour at all, or its entries do not fit the pixel's bits.
    """
    if palette is None:
        for frame in frames:
            words = to_words(frame[..., :3], rules.pixel_format.pixel, frame[..., 3])
            yield pad_to_cells(words, *rules.cell, fill=rules.pixel_format.pixel.fixed)
        return
    facts = read_json(blobs / f"{palette}.json")
    own = int(facts["transparent"])
    entries = np.array(facts["colours"][own:], dtype=np.uint8).reshape(-1, 3)
    base = _pixel_base(facts, rules, asset, palette)
    finder = EntryFinder(entries, rules.entry) if len(entries) else None
    for frame in frames:
        if finder is None and frame[..., 3].any():
            wrong = f"has no colour, {asset!r} has opaque pixels"
            raise refuse("project.toml", f"[palette.{palette}]", wrong, "allow at least one colour besides the transparent entry")
        indices = finder.find(frame[..., :3]) + own if finder else np.zeros(frame.shape[:2], dtype=np.int32)
        indices = np.where(frame[..., 3] > 0, indices, 0)
        yield (pad_to_cells(indices, *rules.cell) + base).astype(np.uint32)


def _pixel_base(facts: dict, rules: PictureRules, asset: str, palette: str) -> int:
    """Return what a pixel of the palette's first entry holds; see ``target.pixel_base``."""
    bits = rules.pixel_format.pixel.width
    base = pixel_base(facts["first"], bits)
    if base + facts["entry_count"] > 1 << bits:
        wrong = f"{facts['entry_count']} entries from {facts['first']} do not fit pixels of {bits} bits"
        raise refuse("project.toml", f"[palette.{palette}]", wrong, f"lower first or colours, or give {asset!r} wider pixels")
    return base
