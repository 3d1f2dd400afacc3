"""Bit patterns: a pixel, palette entry or map entry written as a hardware manual draws it.

One letter a bit, most significant first: ``xBBBBBGGGGGRRRRR``. ``x`` is don't-care (written 0, ignored when read),
``0`` and ``1`` are fixed, any other letter names a field. The bits of a field need not be adjacent; the first
one written is its most significant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ByteOrder = Literal["big", "little"]


@dataclass(frozen=True)
class BitPattern:
    """A parsed pattern.

    Attributes:
        text: the pattern as written, spaces removed.
        width: bits in the pattern.
        fixed: value of the ``1`` bits.
        fields: letter -> bit positions (0 = least significant of the word), most significant bit of the field first.
    """

    text: str
    width: int
    fixed: int
    fields: dict[str, tuple[int, ...]]

    @property
    def bytes(self) -> int:
        """Bytes that a single word of this pattern takes."""
        return (self.width + 7) // 8

    def bits(self, letter: str) -> int:
        """Width of a field in bits; 0 when the pattern has no such letter."""
        return len(self.fields.get(letter, ()))

    def encode(self, **values):
        """Return the word for the given field values.

        Args:
            **values: letter -> int or unsigned integer array, each below ``2 ** bits(letter)`` (not checked here).
                Fields not given are 0. Arrays must share one shape and be wide enough for the word.
        """
        word = self.fixed
        for letter, value in values.items():
            places = self.fields[letter]
            for rank, place in enumerate(reversed(places)):
                word = word | (((value >> rank) & 1) << place)
        return word

    def decode(self, word, letter: str):
        """Return the value of one field of a word (int or unsigned integer array)."""
        value = word & 0
        for place in self.fields[letter]:
            value = (value << 1) | ((word >> place) & 1)
        return value


def parse_pattern(text: str, allowed: str = "") -> BitPattern:
    """Parse a bit pattern.

    Args:
        text: the pattern; spaces and underscores may group bits.
        allowed: letters that may name fields; empty allows any.

    Raises:
        ValueError: empty, wider than 32 bits, a character that is not a letter, 0 or 1, or a letter not allowed.
    """
    bare = text.replace(" ", "").replace("_", "")
    if not 1 <= len(bare) <= 32:
        raise ValueError(f"bit pattern {text!r} has {len(bare)} bits; write 1 to 32, most significant first")
    fixed, fields = 0, {}
    for rank, char in enumerate(bare):
        place = len(bare) - 1 - rank
        if char == "1":
            fixed |= 1 << place
        elif char in "0x":
            continue
        elif not char.isascii() or not char.isalpha() or (allowed and char not in allowed):
            known = f"the fields here are {', '.join(allowed)}" if allowed else "use letters, x, 0 and 1"
            raise ValueError(f"bit pattern {text!r} has {char!r} at bit {place}; {known}")
        else:
            fields.setdefault(char, []).append(place)
    return BitPattern(bare, len(bare), fixed, {letter: tuple(places) for letter, places in fields.items()})
