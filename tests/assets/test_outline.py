"""Bitmaps of outlines and their places, against the rule of the unsmoothed renderer and rectangles of known size.

Rule (FreeType documentation, FT_RENDER_MODE_MONO; OpenType specification, "TrueType fundamentals", scan converter rule 1): a
pixel is on when its centre lies inside the outline.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont

from pipeline.assets.fonts.outline import OutlineFont
from pipeline.plain.shipped import BOLD, MONO, REGULAR
from tests.assets.fonts import EM, made_font
from tests.conftest import tries

_SIXTY_FOURTHS = 64


def covered(first: int, last: int, size: int) -> list[int] | None:
    """Return the pixels whose centres lie between two places in units; None where a centre lies too near to an end to be sure.

    Outlines are scaled to 64ths of a pixel, so an end may move by half of one.
    """
    low, high = (Fraction(place * size, EM) for place in (first, last))
    span = range(int(low) - 2, int(high) + 3)
    unsure = [one for one in span if any(abs(one + Fraction(1, 2) - end) <= Fraction(1, _SIXTY_FOURTHS) for end in (low, high))]
    return None if unsure else [one for one in span if low < one + Fraction(1, 2) < high]


EDGES = st.integers(-700, 900)


@given(left=EDGES, bottom=EDGES, wide=st.integers(150, 900), high=st.integers(150, 900), size=st.integers(14, 40))
@settings(max_examples=tries(100, 300), deadline=None)
def test_rectangle_stands_where_its_corners_say(left, bottom, wide, high, size):
    """Also where it reaches back to the left of the pen, is above or below the line, or its bounds are not whole pixels."""
    across, down = covered(left, left + wide, size), covered(-bottom - high, -bottom, size)
    if across is None or down is None:
        return
    shapes = {0x41: (left, bottom, left + wide, bottom + high)}
    font = OutlineFont(made_font([0x41, 0x42], shapes=shapes | {0x42: (50, 0, 350, EM)}), size)
    bitmap = font.placed("A", font.first_exact("BA"))
    assert bitmap.mask.all()
    assert bitmap.mask.shape == (len(down), len(across))
    assert (bitmap.left, bitmap.top) == (across[0], down[0])


@pytest.mark.parametrize("size", [9, 10, 12, 16, 21])
@pytest.mark.parametrize("path", [REGULAR, BOLD, MONO], ids=lambda path: path.stem)
def test_letters_stand_against_each_other_as_in_a_line(path, size):
    """Letter by letter put together, a line is the one the renderer draws in one call (which moves lines as a whole)."""
    font = OutlineFont(path.read_bytes(), size)
    reference = font.first_exact(map(chr, range(0x21, 0x180)))
    for words in ("Hamburg", "(\u017b\u00f3\u0142w)", "!\u01b1j", "\u00c5\u00fe\u00e7, {gj}", "\u1ea2\u0186_\u02d9"):
        canvas, pen = np.zeros((120, 400), dtype=bool), 40
        for place, character in enumerate(words):
            mask, left, top, _ = font.placed(character, reference)
            canvas[60 + top : 60 + top + len(mask), pen + left : pen + left + mask.shape[1]] |= mask
            pair = words[place : place + 2]
            pen += font.advance(pair) - (font.advance(pair[1]) if len(pair) == 2 else 0)  # with the pair's kerning
        assert np.array_equal(ink(canvas), ink(in_one_call(path, size, words))), words


def in_one_call(path, size: int, words: str) -> np.ndarray:
    """Return a line drawn by Pillow without smoothing."""
    picture = Image.new("1", (900, 120))
    draw = ImageDraw.Draw(picture)
    draw.fontmode = "1"
    draw.text((40, 60), words, fill=1, font=ImageFont.truetype(path, size, layout_engine=ImageFont.Layout.BASIC), anchor="ls")
    return np.asarray(picture)


def ink(mask: np.ndarray) -> np.ndarray:
    """Return a mask without its empty edges."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def test_flat_letters_stand_on_the_line_whoever_is_drawn_beside_them():
    """A letter whose bounds are rounded is not a row too high: these capitals of the font are all on the baseline."""
    for path in (REGULAR, BOLD, MONO):
        for size in (9, 10, 13, 16, 24):
            font = OutlineFont(path.read_bytes(), size)
            reference = font.first_exact("HE!")
            for character in "AEHIKLMNTXYZ\u0386\u0388\u0391\u01b1\u0429\u0416"[:-2]:
                bitmap = font.placed(character, reference)
                assert bitmap.exact
                assert bitmap.top + len(bitmap.mask) == 0, (path.stem, size, character)


def test_font_without_ink_has_no_reference():
    """Only spaces: nothing to place, nothing to fail."""
    font = OutlineFont(REGULAR.read_bytes(), 10)
    assert font.first_exact(" \u00a0") is None
    assert font.placed(" ", None).mask.shape == (0, 0)
    assert font.advance(" ") == 3
