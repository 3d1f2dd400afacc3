"""What a TOML file may not go beyond, seen in its text before or after it is read: levels, parts of a key, digits of a number.

The standard reader calls itself for each level, and walks all tables above for each part of a dotted key, so a text beyond these
limits could end it, or keep it busy for ever. Nothing here recurses.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

from pipeline.plain.toml.lines import Path

LEVELS = 32  # of tables and lists inside each other; parts of a key written with dots
_LARGEST = 2**63 - 1  # TOML 1.0.0, "Integer": 64-bit signed
_READ = 4300  # digits: the most that Python makes a number of
_PART = r"""(?:[\w+-]++|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+')"""
_DOTTED = re.compile(rf"""(?<![\w+-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{{LEVELS}}}""")
_TOKEN = re.compile(
    r'''"""(?:[^"\\]++|\\.|"(?!""))*+"{3,5}|\'\'\'(?:[^']++|'(?!''))*+'{3,5}|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+'|\#[^\n]*+'''
    r"""|[\w+-]++|[\[\]{}.=,\n]""",
    re.DOTALL,
)


def excess_before_reading(text: str) -> tuple[int, str] | None:
    """Return line and words for a key of too many parts, before the standard reader meets it; None where there is none."""
    # The quick look takes texts and comments for keys, so what it finds is looked at again.
    return excess(text) if _DOTTED.search(text) else None


def excess(text: str) -> tuple[int, str] | None:
    """Return line and words for the first place of a text that is beyond the limits, valid TOML or not; None where there is none."""
    depth = parts = 0
    deepest, where = 0, 0
    for token in _TOKEN.finditer(text):
        mark = token[0]
        if mark in "[{":
            depth += 1
            if depth > deepest:
                deepest, where = depth, token.start()
        elif mark in "]}":
            depth = max(depth - 1, 0)
        elif mark == ".":
            parts += 1
            if parts == LEVELS:
                return _line(text, token.start()), f"a key of {_parts_from(text, token.start()):,} parts or more; {LEVELS} are the most"
        elif (mark[0].isdigit() or mark[0] in "+-") and len(mark) > _READ and sum(map(str.isdigit, mark)) > _READ:
            return _line(text, token.start()), _long_number(sum(map(str.isdigit, mark)))
        if mark in "[]{}=,\n":
            parts = 0
    if deepest > LEVELS:
        return _line(text, where), f"tables and lists nested {deepest:,} deep; {LEVELS} levels are the most"
    return None


def _parts_from(text: str, at: int) -> int:
    """Return how many parts a key has at least, of which a text shows the last of the allowed ones at a place."""
    rest = re.compile(rf"(?:\.[ \t]*+{_PART}[ \t]*+)*+").match(text, at)
    return LEVELS + (len(re.findall(_PART, rest[0])) if rest else 0)


def too_deep(data: dict[str, Any]) -> bool:
    """Say whether what was read has more levels than it may, by headers, dotted keys and values together."""
    level: list[Any] = [data]
    for _ in range(LEVELS + 1):
        level = [part for one in level for part in (one.values() if isinstance(one, dict) else one) if isinstance(part, dict | list)]
        if not level:
            return False
    return True


def numbers_too_large(data: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    """Yield path and words for each whole number of more than 64 bits. The data must not be too deep."""
    waiting: list[tuple[Path, Any]] = [((), data)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict | list):
            waiting.extend(((*path, key), part) for key, part in (value.items() if isinstance(value, dict) else enumerate(value)))
        elif isinstance(value, int) and not -_LARGEST - 1 <= value <= _LARGEST:
            yield path, _long_number(_digits(value))


def _long_number(digits: int) -> str:
    return f"a whole number of {digits:,} digits; the largest is {_LARGEST}"


def _digits(value: int) -> int:
    """Return how many digits a number has in decimal notation; of one too long for Python to write, to about one."""
    bits = abs(value).bit_length()
    return len(str(abs(value))) if bits < 3 * _READ else int(bits * math.log10(2)) + 1


def _line(text: str, at: int) -> int:
    return text.count("\n", 0, at) + 1
