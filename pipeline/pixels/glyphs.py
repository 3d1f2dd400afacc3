"""Glyphs brought into boxes of one size: spacing, the smallest box that cuts nothing, and the place in it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np


class Glyph(NamedTuple):
    """One drawn character.

    Attributes:
        pixels: uint8, shape (height, width, 4), alpha 0 or 255; either side may be 0.
        left: place of its first column, counted from the pen; negative where the glyph reaches back.
        top: place of its first row, counted down from the baseline: -1 is the row on it.
        advance: pixels the pen moves on, 0 or more.
    """

    pixels: np.ndarray
    left: int
    top: int
    advance: int


class Box(NamedTuple):
    """The one box all glyphs of a font are stored in, in pixels.

    Attributes:
        width, height: of the box.
        left: columns before the pen, so that a box is drawn ``left`` pixels left of the pen.
        baseline: rows above the baseline.
    """

    width: int
    height: int
    left: int
    baseline: int


def trimmed(pixels: np.ndarray, left: int, top: int, advance: int) -> Glyph:
    """Return a glyph without the rows and columns at its edges that have no opaque pixel; one without any is 0 x 0.

    Args:
        pixels: uint8, shape (height, width, 4), alpha 0 or 255.
        left, top: place of its first column and row.
    """
    opaque = pixels[..., 3] > 0
    rows, columns = np.flatnonzero(opaque.any(axis=1)), np.flatnonzero(opaque.any(axis=0))
    if not len(rows):
        return Glyph(pixels[:0, :0], 0, 0, advance)
    first_row, first_column = int(rows[0]), int(columns[0])
    kept = pixels[first_row : rows[-1] + 1, first_column : columns[-1] + 1]
    return Glyph(kept, left + first_column, top + first_row, advance)


def evenly_spaced(glyphs: list[Glyph]) -> list[Glyph]:
    """Return glyphs that all advance as far as the widest; a narrower one is centred, half pixels to the left."""
    most = max((glyph.advance for glyph in glyphs), default=0)
    return [glyph._replace(left=glyph.left + (most - glyph.advance) // 2, advance=most) for glyph in glyphs]


def box_of(glyphs: Iterable[Glyph]) -> Box:
    """Return the smallest box that holds all glyphs, the pen and the baseline; at least one pixel each way."""
    left = top = right = bottom = 0
    for glyph in glyphs:
        height, width = glyph.pixels.shape[:2]
        if height and width:
            left, right = min(left, glyph.left), max(right, glyph.left + width)
            top, bottom = min(top, glyph.top), max(bottom, glyph.top + height)
    return Box(max(1, right - left), max(1, bottom - top), -left, -top)


def in_box(glyph: Glyph, box: Box) -> np.ndarray:
    """Return a glyph at its place in a box that holds it: uint8, shape (box.height, box.width, 4); the rest is 0."""
    height, width = glyph.pixels.shape[:2]
    placed = np.zeros((box.height, box.width, 4), dtype=np.uint8)
    if height and width:
        left, top = box.left + glyph.left, box.baseline + glyph.top
        placed[top : top + height, left : left + width] = glyph.pixels
    return placed
