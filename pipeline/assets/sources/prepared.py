"""Scaled frames between the steps that make them and those that use them: one raw file and its description.

``work/NAME.rgba`` holds the frames one after another, 4 bytes a pixel (R, G, B, alpha 0 or 255), rows from the top.
``work/NAME.frames.json`` holds count, width, height, the factors across and down, the scaled anchor, and the milliseconds of
animated sources.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from pipeline.plain.files import read_json

_TOGETHER = 1 << 18  # pixels of the frames handed out together, unless one frame alone has more


class PreparedFrames:
    """The frames of ``work/NAME.rgba``, read one or a few at a time so that memory does not grow with their number."""

    def __init__(self, work: Path, name: str) -> None:
        self.facts = read_json(work / f"{name}.frames.json")
        self.count, self.width, self.height = (self.facts[key] for key in ("count", "width", "height"))
        self._path = work / f"{name}.rgba"

    def __iter__(self) -> Iterator[np.ndarray]:
        """Yield uint8 arrays of shape (height, width, 4)."""
        size = self.width * self.height * 4
        with open(self._path, "rb") as file:
            for _ in range(self.count):
                yield np.frombuffer(file.read(size), dtype=np.uint8).reshape(self.height, self.width, 4)

    def stacks(self) -> Iterator[np.ndarray]:
        """Yield all frames, a few at a time: uint8 arrays of shape (count, height, width, 4)."""
        size = self.width * self.height * 4
        most = max(1, _TOGETHER // (self.width * self.height))
        with open(self._path, "rb") as file:
            for first in range(0, self.count, most):
                count = min(most, self.count - first)
                yield np.frombuffer(file.read(size * count), dtype=np.uint8).reshape(count, self.height, self.width, 4)
