"""Characters of an outline font as bitmaps without smoothing, each with its exact place at the pen and the baseline.

The renderer (FreeType through Pillow) places an unsmoothed line by the outlines' bounds rounded outwards, but rounds the
bitmaps themselves to the nearest pixel; a character drawn alone is then up to a pixel off. Within one line bitmaps are
right against each other. So where bounds and bitmap differ, a character is drawn beside another whose bounds do not.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from pipeline.plain.bounds import GLYPH_SIDE

_LOOKED_AT = 4096  # characters that are drawn to find one that is placed exactly


class Bitmap(NamedTuple):
    """The pixels of a character or a line.

    Attributes:
        mask: bool, shape (height, width), with ink in the outermost rows and columns; 0 x 0 without ink.
        left, top: its first column from the pen, its first row down from the baseline.
        exact: whether ``top`` and ``left`` are sure.
    """

    mask: np.ndarray
    left: int
    top: int
    exact: bool = True


class OutlineFont:
    """A font at one size.

    Args:
        data: of a TrueType or OpenType file.
        size: pixels of the em square.

    Attributes:
        line_height: ascent and descent, in pixels.

    Raises:
        OSError, ValueError: the file cannot be drawn at that size.
    """

    def __init__(self, data: bytes, size: int) -> None:
        self._font = ImageFont.truetype(io.BytesIO(data), size, layout_engine=ImageFont.Layout.BASIC)
        self.line_height = sum(self._font.getmetrics())

    def advance(self, text: str) -> int:
        """Return how far the pen moves, in whole pixels; the renderer counts in 64ths, half pixels are rounded up.

        Raises:
            OSError: the font is damaged.
        """
        return (round(self._font.getlength(text, mode="1") * 64) + 32) // 64

    def drawn(self, text: str) -> Bitmap:
        """Return the pixels of a text, placed as the renderer says.

        Raises:
            OSError: the font is damaged.
        """
        left, top, right, bottom = map(int, self._font.getbbox(text, mode="1", anchor="ls"))  # whole numbers, typed as others
        if max(right - left, bottom - top) > GLYPH_SIDE:
            size = f"{right - left:,} x {bottom - top:,} pixels"
            raise ValueError(f"{text[:4]!r} takes {size}, at most {GLYPH_SIDE:,} a side are drawn")
        canvas = Image.new("1", (right - left + 4, bottom - top + 4))
        draw = ImageDraw.Draw(canvas)
        draw.fontmode = "1"
        draw.text((2 - left, 2 - top), text, fill=1, font=self._font, anchor="ls")
        bitmap = _trimmed(np.asarray(canvas), left - 2, top - 2)
        # Bounds rounded outwards and to the nearest are the same when the bitmap is as high as the bounds.
        return bitmap._replace(exact=len(bitmap.mask) in (0, bottom - top) and left >= 0)

    def first_exact(self, characters: Iterable[str]) -> str | None:
        """Return the first character that has ink and is placed exactly when it is drawn alone."""
        for character in itertools.islice(characters, _LOOKED_AT):
            alone = self.drawn(character)
            if alone.exact and len(alone.mask):
                return character
        return None

    def placed(self, character: str, reference: str | None) -> Bitmap:
        """Return the pixels of a character at their exact place.

        Args:
            reference: a character that ``first_exact`` has found; without one the place is as the renderer says.

        Raises:
            OSError: the font is damaged.
        """
        alone = self.drawn(character)
        if alone.exact or reference is None:
            return alone
        other = self.drawn(reference)
        # In both orders: one of the two may hide the other where a character reaches back.
        behind, before = self.drawn(reference + character), self.drawn(character + reference)
        # Kerning between the two is part of the line's advance and of none of theirs.
        pen_behind = self.advance(reference + character) - self.advance(character)
        pen_before = self.advance(character + reference) - self.advance(reference)
        for down in (0, 1, -1):
            for right in (0, 1, -1):
                there = alone._replace(left=alone.left + right, top=alone.top + down)
                if np.array_equal(_both(other, there, pen_behind), behind.mask) and np.array_equal(
                    _both(there, other, pen_before), before.mask
                ):
                    return there._replace(exact=True)
        return alone


def _trimmed(mask: np.ndarray, left: int, top: int) -> Bitmap:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return Bitmap(np.zeros((0, 0), dtype=bool), 0, 0)
    kept = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return Bitmap(kept, left + int(columns[0]), top + int(rows[0]))


def _both(first: Bitmap, second: Bitmap, pen: int) -> np.ndarray:
    """Return the mask of two bitmaps, the second one's pen moved; no larger than it must be."""
    second = second._replace(left=second.left + pen)
    left, top = min(first.left, second.left), min(first.top, second.top)
    right = max(one.left + one.mask.shape[1] for one in (first, second))
    bottom = max(one.top + one.mask.shape[0] for one in (first, second))
    mask = np.zeros((bottom - top, right - left), dtype=bool)
    for one in (first, second):
        height, width = one.mask.shape
        mask[one.top - top : one.top - top + height, one.left - left : one.left - left + width] |= one.mask
    return mask
