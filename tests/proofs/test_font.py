"""The proof of a font shows the glyphs, the widths and the baseline that are in the image, and can be seen."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.proofs.kinds.font import draw_font
from pipeline.proofs.worn import _pairs
from pipeline.reading.decoded import Decoded
from pipeline.target.loading import load_target, shipped_targets

FORMAT = load_target(shipped_targets()["basalt32"]).pixel_formats["index8"]
RED = (200, 20, 30)


def font(pictures: list[list[str]], glyphs: list[tuple[int, int]], baseline: int, left: int = 0, line_height: int = 6) -> Decoded:
    """Return a decoded font whose pictures are rows of ``#`` and ``.``."""
    pixels = np.array([[[int(dot == "#") for dot in row] for row in picture] for picture in pictures], dtype=np.uint32)
    head = {"height": pixels.shape[1], "width": pixels.shape[2], "baseline": baseline, "left": left, "line_height": line_height}
    return Decoded(head, pixels, pixel_format=FORMAT, glyphs=glyphs)


def palette(colour: tuple[int, int, int] = RED) -> Decoded:
    """Return a decoded palette of a transparent entry and one colour."""
    return Decoded({"first": 0, "transparent": 1}, colours=np.array([(0, 0, 0), colour], dtype=np.uint8))


def found(sheet: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    """Return where a sheet has exactly a colour."""
    return (sheet == np.array(colour)).all(axis=-1)


def test_every_glyph_is_shown_enlarged_and_set_in_a_line():
    """Three times in the sheet, twice in the line below it; the line's pens follow from the widths."""
    one = font([["##.", "#..", "..."], ["###", "..#", "#.#"]], [(0x41, 3), (0x42, 5)], baseline=2)
    sheet = np.asarray(draw_font(one, palette()))
    ink = found(sheet, RED)
    assert ink.sum() == (3 + 6) * (9 + 4)
    rows = np.flatnonzero(ink.any(axis=1))
    line = ink[rows[-1] - 5 :]
    columns = np.flatnonzero(line.any(axis=0))
    small = line[:6:2, columns[0] : columns[-1] + 1 : 2]
    drawn = ["##.###", "#....#", "...#.#"]
    assert ["".join("#" if dot else "." for dot in row) for row in small] == drawn


def test_overhang_is_not_cut():
    """A glyph that reaches back is drawn over its neighbour, as a program would draw it."""
    one = font([["...#", "...#"], ["##..", "...."]], [(0x41, 3), (0x42, 2)], baseline=2, left=1)
    ink = found(np.asarray(draw_font(one, palette())), RED)
    rows = np.flatnonzero(ink.any(axis=1))
    line = ink[rows[-1] - 3 :]
    columns = np.flatnonzero(line.any(axis=0))
    small = line[:4:2, columns[0] : columns[-1] + 1 : 2]
    assert small.tolist() == [[True, True], [True, False]]


@pytest.mark.parametrize("colour", [(255, 255, 255), (0, 0, 0), (250, 220, 40), (20, 30, 90)])
def test_letters_stand_out_from_their_board(colour):
    """At least 4.5 to 1 between the letters and both squares of the board (WCAG 2.2, contrast of text)."""
    one = font([["####"] * 4], [(0x41, 4)], baseline=4)
    bare = font([["...."] * 4], [(0x41, 4)], baseline=4)
    with_ink = np.asarray(draw_font(font([["#..."] * 4], [(0x41, 4)], baseline=4), palette(colour)))
    ink = found(with_ink, colour)
    top, left = (int(places[0]) for places in np.nonzero(ink))
    grounds = {tuple(pixel) for pixel in with_ink[top : top + 12, left + 3 : left + 12].reshape(-1, 3)}
    assert grounds
    assert all(contrast(colour, ground) >= 4.5 for ground in grounds)
    assert draw_font(one, palette(colour)).size == draw_font(bare, palette(colour)).size


def contrast(one: tuple, other: tuple) -> float:
    """Return the contrast ratio of WCAG 2.2."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(rgb: tuple) -> float:
    """Return the relative luminance of WCAG 2.2."""
    parts = [value / 255 for value in map(int, rgb)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_large_set_stays_within_the_sheet():
    """Hundreds of glyphs fill rows; a wide box widens the sheet instead of being cut."""
    many = font([["#"]] * 700, [(0x100 + rank, 1) for rank in range(700)], baseline=1, line_height=2)
    sheet = draw_font(many, palette())
    assert sheet.width <= 960
    assert found(np.asarray(sheet), RED).sum() == 700 * (9 + 4)
    wide = font([["#" * 1200]], [(0x41, 1200)], baseline=1)
    assert found(np.asarray(draw_font(wide, palette())), RED).sum() == 1200 * (1 + 4)


def test_letters_in_a_variants_colours_are_named_by_their_characters():
    """A letter is not called a frame; one that labels cannot show has its code point (Unicode, U+2192) alone."""
    one = font([["##."], ["#.#"], ["..#"]], [(0x41, 3), (0x7A, 5), (0x2192, 5)], baseline=1)
    pairs = _pairs(one, palette(), palette((0, 0, 200)), "small", ("ink", "night"), (1, 1))
    assert [pair.captions[0] for pair in pairs] == ["small A 0041 in ink", "small z 007A in ink", "small 2192 in ink"]


def test_a_font_of_one_sample_is_set_once():
    """Ten digits in their order are a sample and the whole set; with a letter more, the sample and the set are two lines."""
    digits = [(0x30 + rank, 3) for rank in range(10)]
    heights = [np.asarray(draw_font(font([["##."]] * len(glyphs), glyphs, baseline=1), palette())).shape[0]
               for glyphs in (digits, [*digits, (0x41, 3)])]  # fmt: skip
    assert heights[1] - heights[0] == 2 * 6  # the line's height, twice the size of the console's pixels
