"""What a sprite's frames take in other arrangements, counted while they pass, so that the report can compare."""

from __future__ import annotations

import math
from typing import TypedDict

import numpy as np

from pipeline.assets.art import Artwork
from pipeline.assets.sources.prepared import Frames
from pipeline.joints.facts import ColourError, IntentFacts
from pipeline.joints.layouts import BOX, record_bytes
from pipeline.joints.pixel_size import stored_bytes
from pipeline.pixels.pieces.boxes import Box, Boxes
from pipeline.plain.sizes import round_up, show_size
from pipeline.target.records import PictureRules

_EMPTY = 8  # times smaller than its canvas a figure must be: "about a tenth". Common practice, no source.
_FAR = 1 << 30  # beyond every canvas


class SpriteSizes:
    """Bytes of the frames as a sheet, as trimmed frames, and of their opaque pixels alone.

    Args:
        flips: whether the console can mirror left to right, and top to bottom.
    """

    def __init__(self, rules: PictureRules, flips: tuple[bool, bool]) -> None:
        self._rules, self._boxes = rules, Boxes(*rules.cell, *flips)
        self._sheet = self._frames = self._opaque = 0
        self._count, self._filled, self._sides = 0, 0, (_FAR, _FAR, 0, 0)

    def add(self, frame: np.ndarray, clear: int) -> tuple[Box, np.ndarray | None]:
        """Count a frame, padded or not; return what ``Boxes.add`` says of it."""
        box, new = self._boxes.add(frame, clear)
        self._sheet += self._bytes(*frame.shape)
        self._frames += record_bytes(BOX)
        self._count += 1
        if box.width:
            self._filled += box.width * box.height
            left, top, right, bottom = self._sides
            self._sides = min(left, box.x), min(top, box.y), max(right, box.x + box.width), max(bottom, box.y + box.height)
        if new is not None:
            self._frames += self._bytes(*new.shape)
            self._opaque += int(np.count_nonzero(new != clear))
        return box, new

    def _bytes(self, height: int, width: int) -> int:
        across, down = (round_up(side, cell) for side, cell in zip((width, height), self._rules.cell, strict=True))
        return stored_bytes(across, down, self._rules, self._rules.starts.frame)

    def emptiness(self, frames: Frames) -> str:
        """Return what an author should know of a sheet whose figure fills about a tenth of its canvas; empty where it fills more.

        The rectangles around opaque pixels are compared with the canvas; the figure is cut for all frames together.
        """
        left, top, right, bottom = self._sides
        if not self._filled or self._filled * _EMPTY >= self._count * frames.width * frames.height:
            return ""
        cut = self._count * self._bytes(bottom - top, right - left)
        drawn = [math.ceil(side / scale) for side, scale in zip((right - left, bottom - top), frames.scale, strict=True)]
        ways = [f"a canvas cut to about {drawn[0]} x {drawn[1]} saves {show_size(self._sheet - cut)}"] if cut < self._sheet else []
        ways.append(f'arrangement = "frames" saves {show_size(self._sheet - self._frames)}')
        share = f"{self._filled / (self._count * frames.width * frames.height):.0%}"
        return f"its figure fills {share} of its canvas: {', '.join(ways)} of {show_size(self._sheet)}"

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
