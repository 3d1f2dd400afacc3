"""Crockford's base 32: digits and letters without I, L, O, U (douglascrockford's published description)."""

from __future__ import annotations

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_READ_AS = str.maketrans("OoIiLl", "001111")


def encode(number: int, digits: int) -> str:
    """Return the lowest ``5 * digits`` bits of a non-negative number, most significant digit first."""
    return "".join(ALPHABET[(number >> (5 * rank)) & 31] for rank in reversed(range(digits)))


def decode(text: str) -> int:
    """Return the number of a code, read as people type it: any case, O as 0, I and L as 1, hyphens ignored.

    Raises:
        ValueError: a character outside the alphabet (U among them), or no character at all.
    """
    plain = text.replace("-", "").replace(" ", "").translate(_READ_AS).upper()
    if not plain:
        raise ValueError("an empty code")
    number = 0
    for char in plain:
        if char not in ALPHABET:
            raise ValueError(f"{char!r} is not a digit of a code")
        number = number * 32 + ALPHABET.index(char)
    return number
