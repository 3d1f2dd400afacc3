"""Colours against FFmpeg and Pillow (all 65,536 words), the PNG specification, IEC 61966-2-1 and the publications on Oklab."""

from __future__ import annotations

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from skimage.color import rgb2xyz

from pipeline.pixels.colours.colour import nearest_level, perceptual, to_rgb, to_words, widened
from pipeline.plain.bits import parse_pattern

ALL_WORDS = np.arange(65536, dtype=np.uint32)


def grid(step: int) -> np.ndarray:
    """Return sRGB colours over the whole cube: uint8, shape (n, 3)."""
    levels = np.unique(np.append(np.arange(0, 256, step), 255)).astype(np.uint8)
    return np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1).reshape(-1, 3)


@pytest.mark.parametrize(
    ("bits", "level", "value"),
    [
        (5, 27, 222),  # PNG specification, sample depth scaling: 11011 becomes 11011110 (left bit replication; from memory)
        (1, 1, 255),
        (2, 1, 0b01010101),
        (2, 2, 0b10101010),
        (3, 1, 0b00100100),
        (3, 5, 0b10110110),
        # Where repeating the bits and rounding v * 255 / 31 differ.
        (5, 3, 24),
        (5, 7, 57),
        (5, 24, 198),
        (5, 28, 231),
        (6, 11, 0b00101100),
        (6, 52, 0b11010011),
    ],
)
def test_level_widened_to_eight_bits(bits, level, value):
    """A level is widened by repeating its bits from the top."""
    assert widened(bits)[level] == value


@pytest.mark.parametrize(("bits", "factor"), [(1, 255), (2, 85), (4, 17), (8, 1)])
def test_depths_that_widen_by_a_factor(bits, factor):
    """Where the depth divides eight, repeating bits is multiplication by a whole number (PNG specification)."""
    assert widened(bits).tolist() == [level * factor for level in range(2**bits)]


@pytest.mark.parametrize("bits", range(1, 9))
def test_widened_levels_span_the_range(bits):
    """Black stays 0, full level is 255, and levels rise."""
    values = widened(bits).astype(int)
    assert (values[0], values[-1], len(values)) == (0, 255, 2**bits)
    assert (np.diff(values) > 0).all()


@pytest.mark.parametrize("bits", range(1, 9))
def test_level_chosen_is_the_nearest(bits):
    """No other level is nearer to an 8-bit value than the one chosen, and a level's own value gives the level back."""
    values = widened(bits).astype(int)
    for code, level in enumerate(nearest_level(bits).tolist()):
        gaps = abs(values - code)
        assert gaps[level] == gaps.min()
        assert level == gaps.tolist().index(gaps.min()), "of two as near, the lower one"
    assert nearest_level(bits)[values].tolist() == list(range(2**bits))


# libswscale, by way of PyAV; only its little-endian formats, since it ignores the byte order of the others on this way to RGB.
@pytest.mark.parametrize(
    ("pattern", "name"),
    [
        ("xRRRRRGGGGGBBBBB", "rgb555le"),
        ("xBBBBBGGGGGRRRRR", "bgr555le"),
        ("RRRRRGGGGGGBBBBB", "rgb565le"),
        ("BBBBBGGGGGGRRRRR", "bgr565le"),
    ],
)
def test_all_words_as_ffmpeg_shows_them(pattern, name):
    """All 65,536 words of a 16-bit format have the colours FFmpeg's converter gives them."""
    frame = av.VideoFrame(256, 256, name)
    plane = frame.planes[0]
    assert plane.line_size == 512
    plane.update(ALL_WORDS.astype("<u2").tobytes())
    shown = frame.to_ndarray(format="rgb24").reshape(-1, 3)
    assert np.array_equal(to_rgb(ALL_WORDS, parse_pattern(pattern)), shown)


def test_all_words_as_pillow_reads_them():
    """The 5-bit fields of all words are those Pillow reads; it widens by another rule, so fields are compared, not bytes."""
    picture = Image.frombytes("RGB", (256, 256), ALL_WORDS.astype("<u2").tobytes(), "raw", "BGR;15")
    theirs = np.ceil(np.asarray(picture).reshape(-1, 3).astype(int) * 31 / 255).astype(int)
    pattern = parse_pattern("xRRRRRGGGGGBBBBB")
    assert np.array_equal(np.stack([pattern.decode(ALL_WORDS, letter) for letter in "RGB"], axis=-1), theirs)


# 1234h by hand: Vulkan R5G6B5 holds 2, 17, 20; A1R5G5B5 holds 4, 17, 20; repeating bits gives the bytes.
@pytest.mark.parametrize(
    ("pattern", "word", "rgb"),
    [
        ("RRRRRGGGGGGBBBBB", 0x1234, (16, 69, 165)),
        ("BBBBBGGGGGGRRRRR", 0x1234, (165, 69, 16)),
        ("xRRRRRGGGGGBBBBB", 0x1234, (33, 140, 165)),
        ("xBBBBBGGGGGRRRRR", 0x9234, (165, 140, 33)),
        ("xxxxRRRRGGGGBBBB", 0x1234, (34, 51, 68)),
        ("0000BBB0GGG0RRR0", 0x0EEE, (255, 255, 255)),
        ("0000BBB0GGG0RRR0", 0x0248, (146, 73, 36)),
        ("RRRGGGBB", 0b101_010_11, (182, 73, 255)),
        ("RRRRRRRRGGGGGGGGBBBBBBBB", 0x123456, (0x12, 0x34, 0x56)),
    ],
)
def test_colour_of_a_word(pattern, word, rgb):
    """A word shows the colour its fields mean, and the colour gives the word back without its don't-care bits."""
    pattern = parse_pattern(pattern)
    shown = to_rgb(np.array([word]), pattern)
    assert shown.tolist() == [list(rgb)]
    care = pattern.fixed | sum(1 << place for places in pattern.fields.values() for place in places)
    assert to_words(shown, pattern).tolist() == [word & care]


@pytest.mark.parametrize("pattern", ["xBBBBBGGGGGRRRRR", "RRRRRGGGGGGBBBBB", "xxxxBBBBGGGGRRRR", "0000BBB0GGG0RRR0", "RRRGGGBB"])
def test_words_round_trip(pattern):
    """Every colour a console can show keeps its word."""
    pattern = parse_pattern(pattern)
    care = np.uint32(sum(1 << place for places in pattern.fields.values() for place in places))
    words = np.unique(ALL_WORDS[: 1 << pattern.width] & care)
    assert np.array_equal(to_words(to_rgb(words, pattern), pattern), words)


@given(st.lists(st.tuples(*[st.integers(0, 255)] * 3), min_size=1, max_size=20))
def test_snapped_colour_is_the_nearest_shown(colours):
    """Each channel of a snapped colour lies within half a step of what was asked for, in a 5-6-5 word."""
    rgb = np.array(colours, dtype=np.uint8)
    shown = to_rgb(to_words(rgb, parse_pattern("RRRRRGGGGGGBBBBB")), parse_pattern("RRRRRGGGGGGBBBBB")).astype(int)
    assert (abs(shown - rgb.astype(int)) <= np.array([4.5, 2.5, 4.5])).all()


@pytest.mark.parametrize(
    ("pattern", "alpha", "words"),
    [
        ("ARRRRRGGGGGBBBBB", [0, 127, 128, 255], [0x7FFF, 0x7FFF, 0xFFFF, 0xFFFF]),
        ("RRRRRGGGGGBBBBBA", [0, 127, 128, 255], [0xFFFE, 0xFFFE, 0xFFFF, 0xFFFF]),
        ("AARRGGBB", [0, 255, 127, 128], [0x3F, 0xFF, 0x3F, 0xFF]),
        ("xRRRRRGGGGGBBBBB", [0, 255, 127, 128], [0x7FFF] * 4),
        ("ARRRRRGGGGGBBBBB", None, [0xFFFF] * 4),
    ],
)
def test_opaque_bit(pattern, alpha, words):
    """A pixel is marked opaque from alpha 128, and always when there is no alpha."""
    white = np.full((4, 3), 255, dtype=np.uint8)
    given_alpha = None if alpha is None else np.array(alpha, dtype=np.uint8)
    assert to_words(white, parse_pattern(pattern), given_alpha).tolist() == words


# sRGB, IEC 61966-2-1: linear light of a code. Oklab's L of a grey is the cube root of its linear light (Ottosson 2020).
@pytest.mark.parametrize(
    ("code", "linear"),
    [
        (0, 0.0),
        (1, 0.00030353),
        (10, 0.00303527),
        (11, 0.00334654),
        (12, 0.00367651),
        (64, 0.05126946),
        (89, 0.09989873),
        (128, 0.21586050),
        (188, 0.50288646),
        (231, 0.79910274),
        (254, 0.99110210),
        (255, 1.0),
    ],
)
def test_linear_light_of_a_grey(code, linear):
    """The lightness of a grey follows the standard's linear light, on both sides of its knee between codes 10 and 11."""
    lightness, green_red, blue_yellow = perceptual(np.array([code, code, code], dtype=np.uint8)).tolist()
    assert lightness == pytest.approx(10000 * linear ** (1 / 3), abs=2 if code else 0)
    assert abs(green_red) <= 1
    assert abs(blue_yellow) <= 1


# B. Ottosson, "A perceptual color space for image processing" (2020): matrices, and the pairs XYZ -> Lab printed there (from memory).
M1 = [[0.8189330101, 0.3618667424, -0.1288597137], [0.0329845436, 0.9293118715, 0.0361456387], [0.0482003018, 0.2643662691, 0.6338517070]]
M2 = [[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099], [0.0259040371, 0.7827717662, -0.8086757660]]
PUBLISHED = [
    ((0.950, 1.000, 1.089), (1.000, 0.000, 0.000)),
    ((1.000, 0.000, 0.000), (0.450, 1.236, -0.019)),
    ((0.000, 1.000, 0.000), (0.922, -0.671, 0.263)),
    ((0.000, 0.000, 1.000), (0.153, -1.415, -0.449)),
]


def oklab_of_xyz(xyz: np.ndarray) -> np.ndarray:
    """Return Oklab by its first definition, from CIE XYZ."""
    return np.cbrt(np.asarray(xyz) @ np.array(M1).T) @ np.array(M2).T


@pytest.mark.parametrize(("xyz", "lab"), PUBLISHED)
def test_reference_has_the_published_values(xyz, lab):
    """The reference used below gives the pairs printed with the definition, to their three decimals."""
    assert np.round(oklab_of_xyz(xyz), 3).tolist() == pytest.approx(lab, abs=1e-9)


def test_perceptual_is_oklab():
    """Colours over the whole cube agree with Oklab reached another way: scikit-image's CIE XYZ, then the first definition."""
    colours = grid(15)
    expected = oklab_of_xyz(rgb2xyz(colours[None])[0])
    ours = perceptual(colours) / 10000
    assert abs(ours - expected).max() < 0.0015  # the two sRGB matrices differ in their fourth digit


# CSS Color Module Level 4 (W3C): sRGB red, lime, blue, white and black in oklab() (from memory).
@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        ((255, 0, 0), (0.62796, 0.22486, 0.12585)),
        ((0, 255, 0), (0.86644, -0.23389, 0.17950)),
        ((0, 0, 255), (0.45201, -0.03246, -0.31153)),
        ((255, 255, 255), (1.0, 0.0, 0.0)),
        ((0, 0, 0), (0.0, 0.0, 0.0)),
    ],
)
def test_primaries_in_oklab(rgb, lab):
    """The primaries have the values CSS gives them, to four decimals."""
    assert (perceptual(np.array(rgb, dtype=np.uint8)) / 10000).tolist() == pytest.approx(lab, abs=0.00015)


def test_perceptual_gives_whole_numbers_in_any_shape():
    """Whole numbers come back in the shape of the colours given, each as if it were alone."""
    colours = grid(64).reshape(5, -1, 3)
    lab = perceptual(colours)
    assert lab.shape == colours.shape
    assert np.issubdtype(lab.dtype, np.integer)
    assert np.array_equal(lab[3, 7], perceptual(colours[3, 7]))
