"""What a sprite's frames take in other arrangements, counted while they pass, so that the report can compare."""

from __future__ import annotations

import numpy as np

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

    def facts(self) -> dict[str, int]:
        """Return the counts for the facts.

        ``sheet_bytes``: pixels of all frames as whole rectangles. ``frames_bytes``: pixels of all different frames,
        trimmed, and the table of frames. ``opaque_bytes``: opaque pixels of all different frames, each its own bits and
        nothing else; only cells that several frames share come below it.
        """
        opaque = -(-self._opaque * self._rules.pixel_format.pixel.width // 8)
        return {"sheet_bytes": self._sheet, "frames_bytes": self._frames, "opaque_bytes": opaque}
