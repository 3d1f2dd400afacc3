"""Sizes against the binary prefixes of IEC 80000-13 (kibi 2**10, mebi 2**20, gibi 2**30; values from memory)."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plain.sizes import counted, listed, parse_size, show_size

UNITS = "the units are B, KiB, MiB and GiB"
EXAMPLE = 'write bytes or text such as "64 KiB"'


@pytest.mark.parametrize(
    ("written", "size"),
    [
        (0, 0),
        (65536, 65536),
        ("0", 0),
        ("512", 512),
        ("512 B", 512),
        ("1 KiB", 2**10),
        ("64 KiB", 65536),
        ("64KiB", 65536),
        ("  2   MiB ", 2097152),
        ("3 GiB", 3 * 2**30),
        ("007 KiB", 7168),
    ],
)
def test_size_in_bytes(written, size):
    """Whole bytes and text with a binary unit give the size the prefix means."""
    assert parse_size(written) == size


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("2MB", "unknown unit in size '2MB'; was \"2 MiB\" meant?"),
        ("2 kb", "unknown unit in size '2 kb'; was \"2 KiB\" meant?"),
        ("64K", "unknown unit in size '64K'; was \"64 KiB\" meant?"),
        ("1 gb", "unknown unit in size '1 gb'; was \"1 GiB\" meant?"),
        ("8 mib", "unknown unit in size '8 mib'; was \"8 MiB\" meant?"),
        ("8 Mbit", f"unknown unit in size '8 Mbit'; {UNITS}"),
        ("8 TiB", f"unknown unit in size '8 TiB'; {UNITS}"),
        ("", f"expected a size, saw ''; {EXAMPLE}"),
        ("KiB", f"expected a size, saw 'KiB'; {EXAMPLE}"),
        ("1.5 MiB", f"expected a size, saw '1.5 MiB'; {EXAMPLE}"),
        ("1,024", f"expected a size, saw '1,024'; {EXAMPLE}"),
        ("-1", f"expected a size, saw '-1'; {EXAMPLE}"),
        ("0x400", f"expected a size, saw '0x400'; {EXAMPLE}"),
        ("\u0664 KiB", f"expected a size, saw '\u0664 KiB'; {EXAMPLE}"),
        (True, f"expected a size, saw True; {EXAMPLE}"),
        (-1, "expected a size, saw -1; a size cannot be negative"),
    ],
)
def test_refused_size(written, message):
    """Anything else is refused, and a decimal unit is answered with the binary one that was meant."""
    with pytest.raises(ValueError, match=rf"^{re.escape(message)}\Z"):
        parse_size(written)


@given(st.integers(0, 4096), st.sampled_from([("B", 0), ("KiB", 10), ("MiB", 20), ("GiB", 30)]), st.sampled_from(["", " ", "  "]))
def test_unit_is_a_power_of_two(number, unit, gap):
    """A number with a unit is that number shifted by the prefix's power of two."""
    name, power = unit
    assert parse_size(f"{number}{gap}{name}") == number << power


@pytest.mark.parametrize(
    ("size", "words"),
    [
        (0, "0 bytes"),
        (1023, "1023 bytes"),
        (1024, "1 KiB"),
        (1536, "1.5 KiB"),
        (65536, "64 KiB"),
        (2**20, "1 MiB"),
        (2**20 * 5 // 2, "2.5 MiB"),
        (2**31, "2048 MiB"),
    ],
)
def test_size_for_a_person(size, words):
    """A size is shown exactly in the largest unit when whole, and with one decimal when not."""
    assert show_size(size) == words


@given(st.integers(0, 2**32))
def test_shown_size_means_the_same(size):
    """A size shown in a whole number of units reads back as that size."""
    words = show_size(size).replace(" bytes", " B")
    if "." not in words:
        assert parse_size(words) == size
    else:
        number, unit = words.split()
        assert abs(float(number) * parse_size(f"1 {unit}") - size) <= 0.05 * parse_size(f"1 {unit}") + 1


def test_number_with_its_noun():
    """One is singular, everything else plural, also none (common practice, no source)."""
    assert [counted(number, "frame") for number in (0, 1, 2, 1200)] == ["0 frames", "1 frame", "2 frames", "1,200 frames"]
    assert [counted(number, "entry", "entries") for number in (1, 2)] == ["1 entry", "2 entries"]


def test_words_are_listed_as_sentences_do():
    """Common practice, no source: commas, and a word before the last."""
    assert [listed(["3", "5", "9"][:count]) for count in (1, 2, 3)] == ["3", "3 and 5", "3, 5 and 9"]
    assert listed(["3", "5", "9"], "or") == "3, 5 or 9"
