"""Pixels to palette entries, against scipy's k-d tree, colours that need no choice, and each pixel worked out alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from pipeline.pixels.colours.apply import Converter, EntryFinder
from pipeline.pixels.colours.colour import perceptual, to_rgb, to_words
from pipeline.pixels.colours.difference import micro_differences
from pipeline.pixels.colours.dither import MODES, Plain, dithered
from pipeline.pixels.colours.quantise import nearest_colours
from pipeline.plain.bits import parse_pattern

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


def made_frames(seed: int, count: int, opaque: float = 0.6) -> np.ndarray:
    """Return frames of noise in few and in many colours; the colour of transparent pixels varies, too."""
    random = np.random.default_rng(seed)
    rgba = random.integers(0, 256, (count, 13, 17, 4), dtype=np.uint8)
    rgba[::2, ..., :3] &= 0xC0
    rgba[..., 3] = np.where(random.random((count, 13, 17)) < opaque, 255, 0)
    return rgba


def parts(rgba: np.ndarray, together: int) -> list[np.ndarray]:
    """Return frames as they are handed over, some at a time."""
    return [rgba[first : first + together] for first in range(0, len(rgba), together)]


@pytest.mark.parametrize("together", [1, 3, 7])
@pytest.mark.parametrize("entries", [1, 2, 40, 300])
def test_nearest_of_each_pixel(together, entries):
    """Pixels, differences and sizes are those of every pixel worked out alone, however many frames are given at once."""
    rgba = made_frames(1, 7)
    rgba[3, ..., 3] = 0
    palette = np.random.default_rng(2).integers(0, 256, (entries, 3), dtype=np.uint8)
    converter, frames = Converter(dithered(palette, "none"), clear=9, base=5), iter(rgba)
    for part in parts(rgba, together):
        pixels, micro, sizes = converter.convert(part)
        missed = []
        for got, frame in zip(pixels, frames, strict=False):
            opaque = frame[..., 3] > 0
            expected = nearest_colours(frame[opaque][:, :3], palette)
            assert got[opaque].tolist() == (expected + 5).tolist()
            assert (got[~opaque] == 9).all()
            missed.append(micro_differences(frame[opaque][:, :3], palette[expected]))
        assert sizes == [len(one) for one in missed]
        assert micro.tolist() == np.concatenate(missed).tolist()


@pytest.mark.parametrize("mode", MODES)
def test_differences_are_those_of_what_is_shown(mode, monkeypatch):
    """Whatever the mode, and with a table of differences too small for most colours, or for all, they are the same."""
    rgba = made_frames(3, 6)
    palette = np.random.default_rng(4).integers(0, 256, (20, 3), dtype=np.uint8)
    opaque = rgba[..., 3] > 0
    for room in (1 << 24, 2000, 1):
        monkeypatch.setattr("pipeline.pixels.colours.apply._KNOWN", room)
        converter = Converter(dithered(palette, mode, (4, 7)), clear=0)
        for part, solid in zip(parts(rgba, 2), parts(opaque, 2), strict=True):
            for _ in range(2):  # found in the table the second time
                pixels, micro, _ = converter.convert(part)
                assert micro.tolist() == micro_differences(part[solid][:, :3], palette[pixels[solid]]).tolist()


def test_one_palette_after_another():
    """Converters share nothing: each answers for its own palette, used in turns."""
    rgba = made_frames(5, 2)
    opaque = rgba[..., 3] > 0
    palettes = [np.random.default_rng(seed).integers(0, 256, (12, 3), dtype=np.uint8) for seed in (6, 7)]
    converters = [Converter(dithered(palette, "none"), clear=0) for palette in palettes]
    for frame, solid in zip(rgba, opaque, strict=True):
        for converter, palette in zip(converters, palettes, strict=True):
            pixels, micro, _ = converter.convert(frame[None])
            expected = nearest_colours(frame[solid][:, :3], palette)
            assert pixels[0][solid].tolist() == expected.tolist()
            assert micro.tolist() == micro_differences(frame[solid][:, :3], palette[expected]).tolist()


@pytest.mark.parametrize("mode", MODES)
def test_frames_without_opaque_pixels(mode):
    """They are clear, cost nothing, and no colour is asked for."""
    rgba = made_frames(8, 3, opaque=0)
    pixels, micro, sizes = Converter(dithered(np.zeros((1, 3), dtype=np.uint8), mode), clear=3).convert(rgba)
    assert (pixels == 3).all()
    assert (len(micro), sizes) == (0, [0, 0, 0])


@pytest.mark.parametrize("pattern", [*PATTERNS, parse_pattern("ABBBBBBBBGGGGGGGGRRRRRRRRxxxxxxx")], ids=lambda one: one.text)
def test_direct_colour_of_each_pixel(pattern):
    """Words of up to 32 bits come out whole, and differences are to the colours those words show."""
    rgba = made_frames(9, 4)
    opaque = rgba[..., 3] > 0
    rule = Plain(lambda rgb: to_words(rgb, pattern), lambda words: to_rgb(words, pattern))
    pixels, micro, _ = Converter(rule, clear=1).convert(rgba)
    words = to_words(rgba[opaque][:, :3], pattern)
    assert pixels[opaque].tolist() == words.tolist()
    assert (pixels[~opaque] == 1).all()
    assert micro.tolist() == micro_differences(rgba[opaque][:, :3], to_rgb(words, pattern)).tolist()
