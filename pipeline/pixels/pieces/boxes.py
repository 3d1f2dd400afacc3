"""Frames trimmed to their opaque pixels: each distinct rectangle once, and where every frame shows it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np

from pipeline.pixels.cells import pad_to_cells
from pipeline.pixels.tiles.tiles import FLIP_X, FLIP_Y, allowed_flips, flipped


@dataclass(frozen=True)
class Box:
    """How a frame shows a stored rectangle.

    Attributes:
        x, y: its top left corner in the frame; below 0 where a mirrored one begins with what pads it to whole cells.
        width, height: in pixels, whole cells; both 0 when the frame has no opaque pixel.
        number: rank of the rectangle among those stored, -1 for none.
        flips: bit 0 mirrored left to right, bit 1 top to bottom.
    """

    x: int = 0
    y: int = 0
    width: int = 0
    height: int = 0
    number: int = -1
    flips: int = 0


class Boxes:
    """The distinct rectangles of frames that come one after another; only their hashes are kept.

    The rectangle of a frame is the smallest that holds its opaque pixels, padded at the right and bottom to whole cells:
    no place of a grid of cells takes fewer.

    Args:
        cell_width, cell_height: at least 1.
        flip_x, flip_y: the console can mirror left to right, top to bottom.
    """

    def __init__(self, cell_width: int, cell_height: int, flip_x: bool, flip_y: bool) -> None:
        self._cell, self._ways = (cell_width, cell_height), allowed_flips(flip_x, flip_y)
        self._seen: dict[tuple, int] = {}

    def add(self, frame: np.ndarray, clear: int) -> tuple[Box, np.ndarray | None]:
        """Return how a frame is shown, and the rectangle to be stored, shape (height, width), if it is a new one.

        Args:
            frame: integers, shape (height, width); all frames of one dtype.
            clear: what a transparent pixel holds.
        """
        opaque = frame != clear
        rows, columns = np.flatnonzero(opaque.any(axis=1)), np.flatnonzero(opaque.any(axis=0))
        if not len(rows):
            return Box(), None
        left, top = int(columns[0]), int(rows[0])
        trimmed = frame[top : rows[-1] + 1, left : columns[-1] + 1]
        height, width = (side + -side % cell for side, cell in zip(trimmed.shape, self._cell[::-1], strict=True))
        for flip in self._ways:
            number = self._seen.get(_key(flipped(trimmed, flip)))
            if number is not None:
                x = left - (width - trimmed.shape[1] if flip & FLIP_X else 0)
                y = top - (height - trimmed.shape[0] if flip & FLIP_Y else 0)
                return Box(x, y, width, height, number, flip), None
        number = self._seen.setdefault(_key(trimmed), len(self._seen))
        return Box(left, top, width, height, number), pad_to_cells(trimmed, *self._cell, fill=clear)


def _key(pixels: np.ndarray) -> tuple:
    return pixels.shape, hashlib.sha256(np.ascontiguousarray(pixels).data).digest()
