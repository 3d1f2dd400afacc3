"""Pixels to palette entries, against scipy's k-d tree and against colours that need no choice."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from pipeline.bits import parse_pattern
from pipeline.pixels.apply import EntryFinder
from pipeline.pixels.colour import perceptual, to_rgb, to_words

PATTERNS = [parse_pattern(text) for text in ("xBBBBBGGGGGRRRRR", "RRRRRGGGGGGBBBBB", "0000BBB0GGG0RRR0", "RRRGGGBB")]
rgb_lists = st.lists(st.tuples(*[st.integers(0, 255)] * 3), min_size=1, max_size=40)


def snapped(rgb, pattern) -> np.ndarray:
    """Return colours as the console shows them."""
    return to_rgb(to_words(np.array(rgb, dtype=np.uint8).reshape(-1, 3), pattern), pattern)


@given(rgb_lists, rgb_lists, st.sampled_from(PATTERNS))
def test_entry_found_is_the_nearest(asked, palette, pattern):
    """The entry of a colour is, as the console shows both, as near in Oklab as the nearest that scipy finds."""
    entries, shown = snapped(palette, pattern), snapped(asked, pattern)
    found = EntryFinder(entries, pattern).find(np.array(asked, dtype=np.uint8))
    distance, _ = cKDTree(perceptual(entries)).query(perceptual(shown))
    ours = np.sqrt(((perceptual(entries)[found].astype(float) - perceptual(shown)) ** 2).sum(axis=-1))
    assert ours.tolist() == pytest.approx(distance.tolist(), abs=1e-6)


@given(rgb_lists, st.sampled_from(PATTERNS))
def test_a_colour_of_the_palette_finds_itself(palette, pattern):
    """A colour that is in the palette is drawn in that colour, exactly."""
    entries = np.unique(snapped(palette, pattern), axis=0)
    found = EntryFinder(entries, pattern).find(entries)
    assert np.array_equal(entries[found], entries)


@given(rgb_lists, rgb_lists)
def test_what_was_asked_before_does_not_matter(first, second):
    """A finder that has been used answers as a new one does."""
    entries = np.array([[0, 0, 0], [255, 0, 0], [0, 255, 0], [66, 66, 255], [255, 255, 255]], dtype=np.uint8)
    used = EntryFinder(entries, PATTERNS[0])
    used.find(np.array(first, dtype=np.uint8))
    asked = np.array(second, dtype=np.uint8)
    assert np.array_equal(used.find(asked), EntryFinder(entries, PATTERNS[0]).find(asked))


def test_picture_in_and_indices_of_its_shape_out():
    """Pictures and stacks of frames give entry numbers of the same shape, each pixel as if it were alone."""
    random = np.random.default_rng(11)
    frames = random.integers(0, 256, (3, 5, 7, 3), dtype=np.uint8)
    finder = EntryFinder(random.integers(0, 256, (9, 3), dtype=np.uint8), PATTERNS[1])
    found = finder.find(frames)
    assert found.shape == (3, 5, 7)
    assert found.dtype == np.int32
    assert found[1, 2, 3] == finder.find(frames[1, 2, 3])


@pytest.mark.parametrize(
    ("colour", "entry"),
    [((0, 0, 0), 0), ((30, 20, 25), 0), ((250, 10, 10), 1), ((20, 20, 240), 2), ((240, 250, 245), 3), ((200, 200, 190), 3)],
)
def test_plain_choices(colour, entry):
    """A dark, reddish, bluish or light colour goes to black, red, blue or white."""
    entries = np.array([[0, 0, 0], [255, 0, 0], [0, 0, 255], [255, 255, 255]], dtype=np.uint8)
    assert EntryFinder(entries, PATTERNS[0]).find(np.array([colour], dtype=np.uint8)).tolist() == [entry]


def test_colours_the_console_cannot_tell_apart_get_one_entry():
    """Two colours with the same word have the same entry, even where the nearest by their full values would differ."""
    pattern = parse_pattern("RRRGGGBB")
    random = np.random.default_rng(2)
    colours = random.integers(0, 256, (4000, 3), dtype=np.uint8)
    found = EntryFinder(random.integers(0, 256, (40, 3), dtype=np.uint8), pattern).find(colours)
    of_word = {}
    for word, entry in zip(to_words(colours, pattern).tolist(), found.tolist(), strict=True):
        assert of_word.setdefault(word, entry) == entry
