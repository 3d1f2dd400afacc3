"""Pixels at the console's aspect: against Pillow's own nearest neighbour, and against areas worked out in fractions."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.proofs.canvas import (
    _SPARE,
    _scattered,
    aspect_size,
    blended,
    board,
    indexed,
    largest,
    letters,
    on_board,
    stretched,
    write,
)

ASPECTS = [(1, 1), (32, 35), (8, 7), (2, 1), (1, 2), (4, 3)]


def _noise(height: int, width: int, channels: int = 3) -> np.ndarray:
    return np.random.default_rng(7).integers(0, 256, (height, width, channels), dtype=np.uint8)


@pytest.mark.parametrize("aspect", ASPECTS)
@pytest.mark.parametrize("times", [1, 3])
def test_shown_size_has_the_consoles_shape(aspect, times):
    """Width to height is that of the console to half a screen pixel, no side is below ``times``, one is exactly it."""
    width, height = aspect_size(64, 48, times, aspect)

    factor = [Fraction(width, 64 * times), Fraction(height, 48 * times)]
    assert min(factor) == 1
    wanted = Fraction(*aspect)
    assert abs(width - Fraction(height * 64, 48) * wanted) <= max(1, wanted) * Fraction(64, 48)


@pytest.mark.parametrize("size", [(21, 15), (30, 25), (25, 17), (70, 50)])
def test_large_pixels_are_copies(size):
    """From three screen pixels a side, and at whole numbers, every screen pixel is one console pixel, as Pillow's NEAREST picks it."""
    values = _noise(5, 7)

    wanted = np.asarray(Image.fromarray(values).resize(size, Image.Resampling.NEAREST))
    if size[0] >= 21:
        assert np.array_equal(stretched(values, size), wanted)


def test_small_pixels_are_mixed_by_area():
    """Below that, a screen pixel is the mean of what it covers, worked out here in fractions."""
    values = _noise(32, 3)

    shown = stretched(values, (3, 35))

    for row in range(35):
        start, end = Fraction(row * 32, 35), Fraction((row + 1) * 32, 35)
        for column in range(3):
            mean = Fraction(0)
            for at in range(math.floor(start), math.ceil(end)):
                mean += (min(end, at + 1) - max(start, at)) * values[at, column].astype(object)
            assert np.abs(shown[row, column].astype(float) - (mean / (end - start)).astype(float)).max() <= 0.5


def test_a_clear_pixel_lends_no_colour_when_mixed():
    """Half covered by a clear pixel of a loud colour, a screen pixel keeps the figure's colour and mixes with the board only."""
    values = np.array([[[200, 60, 40, 255]], [[0, 255, 0, 0]]], dtype=np.uint8)

    shown = stretched(values, (1, 3))

    assert shown[:, 0].tolist() == [[200, 60, 40, 255], [200, 60, 40, 128], [0, 0, 0, 0]]


def test_a_soft_pixel_is_mixed_with_the_board():
    """Alpha 51 is a fifth of the pixel and four fifths of the board; alpha 0 is the board, whatever colour lies beneath.

    Source: Porter and Duff, Compositing Digital Images (1984), the operator over on an opaque ground.
    """
    values = np.array([[[255, 0, 0, 255], [255, 0, 0, 51], [0, 255, 0, 0]]], dtype=np.uint8)

    shown = blended(values, (6, 2))

    ground = board(2, 6)[0, 2].astype(int)
    assert shown[0, 0].tolist() == [255, 0, 0]
    assert shown[0, 2].tolist() == [round(0.2 * one + 0.8 * other) for one, other in zip((255, 0, 0), ground, strict=True)]
    assert shown[0, 4].tolist() == board(2, 6)[0, 4].tolist()


def test_a_figure_without_soft_pixels_is_pasted():
    """Each pixel is wholly the figure's or the board's, as Pillow pastes through a mask."""
    values = _noise(9, 14, 4)
    values[..., 3] = np.where(values[..., 3] < 90, 0, 255)
    wanted = Image.fromarray(board(9, 14))
    wanted.paste(Image.fromarray(values[..., :3]), (0, 0), Image.fromarray(values[..., 3]))
    assert np.array_equal(blended(values, (14, 9)), np.asarray(wanted))


def test_anchor_lines_stay_on_the_board():
    """The lines that cross at the anchor change clear pixels only."""
    rgb, clear = _noise(20, 20), np.zeros((20, 20), dtype=bool)
    clear[:, 12:] = True

    marked, plain = (on_board(rgb, clear, (40, 40), anchor) for anchor in ((15, 6), None))

    differs = (marked != plain).any(axis=-1)
    assert not differs[:, :24].any()
    assert differs[12, 24:].all()
    assert differs[:, 30].all()
    assert differs.sum() == 40 + 16 - 1


def test_anchor_at_the_lower_edge_is_seen():
    """A figure's feet are often on the last row: the line is drawn just inside."""
    assert (board(8, 8, (4, 8)) != board(8, 8))[7].any(axis=-1).all()


def test_magnification_is_the_greatest_that_fits():
    """Whole numbers only, and 1 for what does not fit at all."""
    assert largest(16, 16, (128, 128), (1, 1)) == 8
    assert largest(30, 28, (128, 128), (32, 35)) == 4
    assert largest(30, 30, (128, 128), (32, 35)) == 3
    assert largest(500, 500, (128, 128), (1, 1)) == 1


@pytest.mark.parametrize("colours", [256, 257])
def test_palette_is_used_where_it_suffices_and_changes_no_pixel(colours):
    """256 colours over all pictures go into one palette, 257 stay as they are."""
    ramp = np.array([(value % 256, value // 256, 7) for value in range(colours)], dtype=np.uint8)
    pictures = [Image.fromarray(ramp[None, :200]), Image.fromarray(ramp[None, 200:])]

    found = indexed(pictures)

    assert {picture.mode for picture in found} == {"P" if colours == 256 else "RGB"}
    for before, after in zip(pictures, found, strict=True):
        assert np.array_equal(np.asarray(before), np.asarray(after.convert("RGB")))
    assert found[0].getpalette() == found[1].getpalette()


@pytest.mark.parametrize("count", [1, 2, 30, 256])
def test_colours_have_their_ranks_whatever_they_are(count):
    """Neighbours in red, in blue, and without any order: a dictionary's answers."""
    random = np.random.default_rng(count)
    for words in (np.arange(count), np.arange(count) << 16, random.choice(1 << 24, count, replace=False)):
        factor, ranks = _scattered(words.astype(np.uint32))
        known = {int(word): rank for rank, word in enumerate(words)}
        asked = random.choice(words, 500).astype(np.uint32)
        assert ranks.take(asked * factor >> _SPARE).tolist() == [known[int(word)] for word in asked]


@pytest.mark.parametrize("size", [9, 11, 12, 13, 15])
@pytest.mark.parametrize("text", ["H", "f", "i", "É", "g"])
def test_no_letter_is_cut(text, size):
    """Rows that are drawn, against the bounds that Pillow gives of the letter; the place is the top of a capital."""
    picture = Image.new("RGB", (60, 60), (255, 255, 255))
    write(ImageDraw.Draw(picture), (10, 20), text, size, 50)
    rows = np.flatnonzero((np.asarray(picture) < 255).any(axis=(1, 2)))
    font = letters(size, False)
    capital, bounds = font.getbbox("H", anchor="ls"), font.getbbox(text, anchor="ls")
    assert (rows[0], rows[-1] + 1) == (20 + bounds[1] - capital[1], 20 + bounds[3] - capital[1])
