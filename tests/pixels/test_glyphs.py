"""Glyphs in one box: nothing is cut, nothing moves against the pen and the baseline."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pipeline.pixels.glyphs import Glyph, box_of, evenly_spaced, in_box, trimmed

MASKS = arrays(np.bool_, st.tuples(st.integers(0, 7), st.integers(0, 7)))
PLACES = st.integers(-9, 9)


def coloured(mask: np.ndarray) -> np.ndarray:
    """Return pixels whose colours distinguish their places; transparent ones are 0."""
    rows, columns = np.indices(mask.shape)
    return np.where(mask[..., None], np.stack([rows, columns, rows + 1, np.full_like(rows, 255)], axis=-1), 0).astype(np.uint8)


@st.composite
def glyphs(draw) -> Glyph:
    """Any glyph, trimmed or with clear edges."""
    pixels = coloured(draw(MASKS))
    return Glyph(pixels, draw(PLACES), draw(PLACES), draw(st.integers(0, 12)))


def ink(pixels: np.ndarray, left: int, top: int) -> dict[tuple[int, int], tuple]:
    """Return (column from the pen, row from the baseline) -> colour of every opaque pixel."""
    return {(x + left, y + top): tuple(pixels[y, x]) for y, x in zip(*np.nonzero(pixels[..., 3]), strict=True)}


@given(glyphs())
def test_trimming_keeps_every_opaque_pixel_in_its_place(glyph):
    """Colours and places are the same; the edges that are left have ink."""
    cut = trimmed(glyph.pixels, glyph.left, glyph.top, glyph.advance)
    assert ink(cut.pixels, cut.left, cut.top) == ink(glyph.pixels, glyph.left, glyph.top)
    assert cut.advance == glyph.advance
    if cut.pixels.size:
        opaque = cut.pixels[..., 3] > 0
        assert all(edge.any() for edge in (opaque[0], opaque[-1], opaque[:, 0], opaque[:, -1]))


@given(st.lists(glyphs(), max_size=6))
def test_box_holds_every_glyph_at_its_place_and_is_no_larger_than_it_must_be(every):
    """Counted from the box's own pen and baseline, each glyph is where it was; the box ends at a glyph, pen or baseline."""
    box = box_of(every)
    for glyph in every:
        placed = in_box(glyph, box)
        assert placed.shape == (box.height, box.width, 4)
        assert ink(placed, -box.left, -box.baseline) == ink(glyph.pixels, glyph.left, glyph.top)
    full = [glyph for glyph in every if glyph.pixels.size]
    assert box.left == max([0, *(-glyph.left for glyph in full)])
    assert box.baseline == max([0, *(-glyph.top for glyph in full)])
    assert box.width == max([1, *(box.left + glyph.left + glyph.pixels.shape[1] for glyph in full), box.left])
    assert box.height == max([1, *(box.baseline + glyph.top + glyph.pixels.shape[0] for glyph in full), box.baseline])


@given(st.lists(glyphs(), max_size=6))
def test_fixed_spacing_gives_all_the_widest_advance_and_centres_the_others(every):
    """What is left over is on both sides of a glyph, at most one pixel more on the right."""
    spaced = evenly_spaced(every)
    widest = max((glyph.advance for glyph in every), default=0)
    for before, after in zip(every, spaced, strict=True):
        assert after.advance == widest
        moved = after.left - before.left
        assert widest - before.advance - moved - moved in (0, 1)
