"""What a sprite's frames take in other arrangements, counted while they pass, so that the report can compare."""

from __future__ import annotations

from typing import TypedDict

import numpy as np

from pipeline.assets.art import Artwork
from pipeline.joints.facts import ColourError, IntentFacts
from pipeline.joints.layouts import BOX, record_bytes
from pipeline.joints.pixel_size import packed_bytes
from pipeline.pixels.pieces.boxes import Box, Boxes
from pipeline.plain.sizes import round_up
from pipeline.target.records import PictureRules


class SpriteSizes:
    """Bytes of the frames as a sheet, as trimmed frames, and of their opaque pixels alone.

    Args:
        flips: whether the console can mirror left to right, and top to bottom.
    """

    def __init__(self, rules: PictureRules, flips: tuple[bool, bool]) -> None:
        self._rules, self._boxes = rules, Boxes(*rules.cell, *flips)
        self._sheet = self._frames = self._opaque = 0

    def add(self, frame: np.ndarray, clear: int) -> tuple[Box, np.ndarray | None]:
        """Count a frame, padded or not; return what ``Boxes.add`` says of it."""
        box, new = self._boxes.add(frame, clear)
        self._sheet += self._bytes(*frame.shape)
        self._frames += record_bytes(BOX)
        if new is not None:
            self._frames += self._bytes(*new.shape)
            self._opaque += int(np.count_nonzero(new != clear))
        return box, new

    def _bytes(self, height: int, width: int) -> int:
        across, down = (round_up(side, cell) for side, cell in zip((width, height), self._rules.cell, strict=True))
        return packed_bytes(across, down, self._rules.pixel_format, self._rules.cell)

    def facts(self) -> tuple[int, int, int]:
        """Return sheet_bytes, frames_bytes and opaque_bytes of the facts.

        The first: pixels of all frames as whole rectangles. The second: pixels of all different frames, trimmed, and the
        table of frames. The third: opaque pixels of all different frames, each its own bits and nothing else; only cells
        that several frames share come below it.
        """
        return self._sheet, self._frames, -(-self._opaque * self._rules.pixel_format.pixel.width // 8)


class Found(TypedDict):
    """What a sprite's facts say of its conversion; see ``joints.facts.SpriteFacts``."""

    sheet_bytes: int
    frames_bytes: int
    opaque_bytes: int
    intent: IntentFacts
    colour_error: ColourError


def found(art: Artwork, sizes: SpriteSizes) -> Found:
    """Return what conversion has found out once all frames have passed."""
    sheet, frames, opaque = sizes.facts()
    return {
        "sheet_bytes": sheet,
        "frames_bytes": frames,
        "opaque_bytes": opaque,
        "intent": art.intent.facts(),
        "colour_error": art.colour_error(),
    }
