"""Build codes against D. Crockford's published "Base 32" (crockford.com/base32.html; its table is given from memory)."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plain.crockford import decode, encode

# Crockford's table: value -> encode symbol; decode symbols: both cases of it, and for 0 also O o, for 1 also I i L l.
SYMBOLS = [*"0123456789", *"ABCDEFGH", *"JK", *"MN", *"PQRST", *"VWXYZ"]


@pytest.mark.parametrize(("value", "symbol"), list(enumerate(SYMBOLS)))
def test_symbol_of_a_value(value, symbol):
    """Every value has the symbol of the published table, read in either case."""
    assert encode(value, 1) == symbol
    assert decode(symbol) == decode(symbol.lower()) == value


@pytest.mark.parametrize(("letter", "value"), [("O", 0), ("o", 0), ("I", 1), ("i", 1), ("L", 1), ("l", 1)])
def test_letters_people_confuse(letter, value):
    """O is read as 0, I and L as 1, as the description says."""
    assert decode(letter) == value


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("10", 32),
        ("ZZ", 1023),
        ("7-ZZ", 7 * 1024 + 1023),
        ("oil", 0 * 1024 + 1 * 32 + 1),
        ("  16j ", (1 * 32 + 6) * 32 + 18),
        ("16-J", 1234),
        ("0000", 0),
    ],
)
def test_code_as_typed(typed, number):
    """Most significant symbol first; hyphens, which the description allows for reading aloud, do not count."""
    assert decode(typed) == number


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("U", "'U' is not a digit of a code"),
        ("u1", "'U' is not a digit of a code"),
        ("12#4", "'#' is not a digit of a code"),
        ("É", "'É' is not a digit of a code"),
        ("", "an empty code"),
        (" - ", "an empty code"),
    ],
)
def test_refused_code(typed, message):
    """U, which the alphabet leaves out, and other characters are refused by name."""
    with pytest.raises(ValueError, match=rf"^{re.escape(message)}\Z"):
        decode(typed)


@given(st.integers(0, 2**40 - 1), st.integers(0, 3))
def test_round_trip(number, spare):
    """A number encoded in enough digits reads back, also with leading zeros, in lower case and with a hyphen."""
    digits = max(1, -(-number.bit_length() // 5)) + spare
    code = encode(number, digits)
    assert len(code) == digits
    assert set(code) <= set(SYMBOLS)
    assert decode(code) == decode(code.lower()) == decode(f"{code[:1]}-{code[1:]}") == number


@given(st.integers(0, 2**64), st.integers(1, 8))
def test_lowest_bits_are_kept(number, digits):
    """Too few digits keep the lowest five bits each."""
    assert decode(encode(number, digits)) == number % 32**digits
