"""Bit patterns against words written by hand and against the pattern filled in as text."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plain.bits import parse_pattern

# Names and layouts: Vulkan R5G6B5_UNORM_PACK16 and A1R5G5B5_UNORM_PACK16 (Khronos data formats, most significant first);
# 0000BBB0GGG0RRR0 is how a manual draws nine colour bits on even positions (common practice, no source).
WORDS = [
    ("RRRRRGGGGGGBBBBB", {"R": 31, "G": 0, "B": 0}, 0xF800),
    ("RRRRRGGGGGGBBBBB", {"R": 0, "G": 63, "B": 0}, 0x07E0),
    ("RRRRRGGGGGGBBBBB", {"R": 0, "G": 0, "B": 31}, 0x001F),
    ("RRRRRGGGGGGBBBBB", {"R": 2, "G": 17, "B": 20}, 0x1234),
    ("xRRRRRGGGGGBBBBB", {"R": 4, "G": 17, "B": 20}, 0x1234),
    ("xBBBBBGGGGGRRRRR", {"R": 20, "G": 17, "B": 4}, 0x1234),
    ("ARRRRRGGGGGBBBBB", {"A": 1, "R": 0, "G": 0, "B": 1}, 0x8001),
    ("0000BBB0GGG0RRR0", {"R": 7, "G": 0, "B": 0}, 0x000E),
    ("0000BBB0GGG0RRR0", {"R": 0, "G": 7, "B": 0}, 0x00E0),
    ("0000BBB0GGG0RRR0", {"R": 0, "G": 0, "B": 7}, 0x0E00),
    ("0000BBB0GGG0RRR0", {"R": 1, "G": 2, "B": 4}, 0x0842),
    ("PccVHttttttttttt", {"P": 1, "c": 2, "V": 0, "H": 1, "t": 0x123}, 0xC923),
    ("1x01 IIII", {"I": 5}, 0x95),
    ("RGBRGBRG", {"R": 0b101, "G": 0b011, "B": 0b10}, 0b10101011),  # bit by bit: R1 G0 B1, R0 G1 B0, R1 G1
]


@pytest.mark.parametrize(("text", "values", "word"), WORDS)
def test_word_of_a_pattern(text, values, word):
    """A word holds its fields where the drawing puts them, and gives them back."""
    pattern = parse_pattern(text)
    assert pattern.encode(**values) == word
    assert {letter: pattern.decode(word, letter) for letter in values} == values


@pytest.mark.parametrize(
    ("text", "width", "count", "bits"),
    [
        ("I", 1, 1, {"I": 1, "R": 0}),
        ("IIIIIIII", 8, 1, {"I": 8}),
        ("x_BBBBB_GGGGG_RRRRR", 16, 2, {"R": 5, "G": 5, "B": 5, "x": 0}),
        ("RRRR GGGG BBBB", 12, 2, {"R": 4, "G": 4, "B": 4}),
        ("RRRRRRRRGGGGGGGGBBBBBBBB", 24, 3, {"R": 8, "A": 0}),
        ("x" * 31 + "I", 32, 4, {"I": 1}),
    ],
)
def test_size_of_a_pattern(text, width, count, bits):
    """A pattern knows its width, the bytes of a word of its own, and the bits of each field."""
    pattern = parse_pattern(text)
    assert (pattern.width, pattern.bytes) == (width, count)
    assert {letter: pattern.bits(letter) for letter in bits} == bits


def test_dont_care_bits_are_ignored_and_written_0():
    """A bit drawn as x is written 0 and does not change what is read; a bit drawn as 1 is written 1."""
    pattern = parse_pattern("xx1II0xx")
    assert pattern.encode(I=3) == 0b00111000
    assert all(pattern.decode(word, "I") == (word >> 3) & 3 for word in range(256))


@pytest.mark.parametrize(
    ("text", "allowed", "message"),
    [
        ("", "", "bit pattern '' has 0 bits; write 1 to 32, most significant first"),
        ("__ _", "", "bit pattern '__ _' has 0 bits; write 1 to 32, most significant first"),
        ("x" * 33, "", f"bit pattern '{'x' * 33}' has 33 bits; write 1 to 32, most significant first"),
        ("RR2GG", "", "bit pattern 'RR2GG' has '2' at bit 2; use letters, x, 0 and 1"),
        ("RR-GG", "", "bit pattern 'RR-GG' has '-' at bit 2; use letters, x, 0 and 1"),
        ("IIIÄ", "", "bit pattern 'IIIÄ' has 'Ä' at bit 0; use letters, x, 0 and 1"),
        ("RRGGBBII", "RGBA", "bit pattern 'RRGGBBII' has 'I' at bit 1; the fields here are R, G, B, A"),
        ("rrggbb", "RGBA", "bit pattern 'rrggbb' has 'r' at bit 5; the fields here are R, G, B, A"),
    ],
)
def test_refused_pattern(text, allowed, message):
    """A pattern that cannot be drawn so is refused with the character, its bit and what may be there."""
    with pytest.raises(ValueError, match=rf"^{re.escape(message)}\Z"):
        parse_pattern(text, allowed)


@st.composite
def filled_patterns(draw):
    """Draw a pattern and a value for each of its fields."""
    text = draw(st.text("RGBAIx01", min_size=1, max_size=32))
    letters = sorted(set(text) - set("x01"))
    return text, {letter: draw(st.integers(0, 2 ** text.count(letter) - 1)) for letter in letters}


@given(filled_patterns())
def test_word_is_the_pattern_filled_in(case):
    """A word equals the drawing with each field's binary digits written over its letters, and decodes to the same values."""
    text, values = case
    digits = {letter: iter(f"{value:0{text.count(letter)}b}") for letter, value in values.items()}
    drawn = "".join(next(digits[char]) if char in digits else char.replace("x", "0") for char in text)
    pattern = parse_pattern(text)
    word = pattern.encode(**values)
    assert word == int(drawn, 2)
    assert {letter: pattern.decode(word, letter) for letter in values} == values


@given(filled_patterns(), st.lists(st.integers(0, 2**32 - 1), min_size=1, max_size=8))
def test_arrays_are_treated_as_numbers(case, words):
    """An array of words is decoded and encoded as its numbers one by one."""
    text, values = case
    pattern = parse_pattern(text)
    array = np.array(words, dtype=np.uint32)
    decoded = {letter: pattern.decode(array, letter) for letter in values}
    for letter, numbers in decoded.items():
        assert numbers.tolist() == [pattern.decode(word, letter) for word in words]
    if values:
        one_by_one = [pattern.encode(**{letter: int(numbers[rank]) for letter, numbers in decoded.items()}) for rank in range(len(words))]
        assert np.asarray(pattern.encode(**decoded)).tolist() == one_by_one
