"""Sizes as authors write them, whole bytes or text with a binary unit; and numbers as sentences say them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_UNITS = {"B": 1, "KiB": 1024, "MiB": 1024**2, "GiB": 1024**3}
_DECIMAL = {"kb": "KiB", "mb": "MiB", "gb": "GiB", "k": "KiB", "m": "MiB", "g": "GiB", "kib": "KiB", "mib": "MiB"}
_SIZE = re.compile(r"\s*([0-9]+)\s*([A-Za-z]*)\s*")


def parse_size(value: int | str) -> int:
    """Return a size in bytes.

    Args:
        value: a non-negative integer (bytes) or text such as ``"64 KiB"`` or ``"2 MiB"``.

    Raises:
        ValueError: the text has no number, or a unit other than B, KiB, MiB, GiB (IEC 80000-13 prefixes).
    """
    if isinstance(value, bool):
        raise ValueError(f"expected a size, saw {value!r}; write bytes or text such as \"64 KiB\"")
    if isinstance(value, int):
        if value < 0:
            raise ValueError(f"expected a size, saw {value}; a size cannot be negative")
        return value
    match = _SIZE.fullmatch(value)
    if not match:
        raise ValueError(f"expected a size, saw {value!r}; write bytes or text such as \"64 KiB\"")
    number, unit = int(match[1]), match[2] or "B"
    if unit not in _UNITS:
        meant = _DECIMAL.get(unit.lower())
        hint = f"was \"{number} {meant}\" meant?" if meant else "the units are B, KiB, MiB and GiB"
        raise ValueError(f"unknown unit in size {value!r}; {hint}")
    return number * _UNITS[unit]


def counted(number: int, noun: str, many: str = "") -> str:
    """Return a number with its noun: ``1 frame``, ``2 frames``, ``1,200 frames``; ``many`` is the plural where it is not formed by an s."""
    return f"{number:,} {noun if number == 1 else many or f'{noun}s'}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Return one or more words as a sentence lists them: ``3``, ``3 and 5``, ``3, 5 and 9``; ``last`` is before the last of several."""
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else words[0]


@dataclass(frozen=True)
class Numbers:
    """How whole numbers and sizes are written in a language.

    Attributes:
        thousands: between groups of three digits.
        decimal: before tenths.
        bytes: the word after a number of bytes.
    """

    thousands: str = ","
    decimal: str = "."
    bytes: str = "bytes"

    def count(self, number: int) -> str:
        """Return a whole number with its digits in groups: ``1,234,567``."""
        return f"{number:,}".replace(",", self.thousands)

    def exact(self, count: int) -> str:
        """Return every single byte: ``1,234,567 bytes``."""
        return f"{self.count(count)} {self.bytes}"

    def size(self, count: int) -> str:
        """Return bytes for a person: exact in a binary unit where whole, otherwise one decimal."""
        for unit in ("MiB", "KiB"):
            if count >= _UNITS[unit]:
                whole, rest = divmod(count, _UNITS[unit])
                number = f"{whole}" if rest == 0 else f"{count / _UNITS[unit]:.1f}".replace(".", self.decimal)
                return f"{number} {unit}"
        return f"{count} {self.bytes}"


ENGLISH = Numbers()


def show_runs(numbers: Sequence[int]) -> str:
    """Return numbers as text, rising runs of three or more as ``0–7``."""
    parts, start = [], 0
    for end in range(1, len(numbers) + 1):
        if end == len(numbers) or numbers[end] != numbers[end - 1] + 1:
            run = numbers[start:end]
            parts += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(number) for number in run]
            start = end
    return " ".join(parts)


def show_size(count: int) -> str:
    """Return bytes for a person, in English: exact in a binary unit where whole, otherwise one decimal."""
    return ENGLISH.size(count)


def round_up(value: int, step: int) -> int:
    """Return the smallest multiple of ``step`` that is at least ``value``."""
    return -(-value // step) * step
