"""Raw data as TOML text in many spellings: a tree of parts in which each table, line, key and element can be moved or lost."""

from __future__ import annotations

import datetime
import json
import math
import random
import re
from typing import Any

from tests.bench.fuzzing.parts import Part
from tests.bench.fuzzing.toml_data import Deep

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_NUMBERS_FROM = 3  # an integer above this may be written in another base


def document_of(chance: random.Random, data: dict[str, Any]) -> Part:
    """Return a TOML document of some data, its tables and keys in any order and in any of the forms TOML has for them."""
    end = chance.choice((b"\n", b"\n", b"\n", b"\r\n"))
    top = Part([_bytes(chance.choice(("", "", "", "\ufeff")))])
    plain, tables = _split(chance, data, 0)
    top.nodes.append(_lines(chance, plain, end))
    _add_tables(chance, top, (), tables, end)
    return top


def _split(chance: random.Random, data: dict[str, Any], depth: int) -> tuple[dict, dict]:
    """Return the keys written as lines, and those written as tables of their own."""
    plain, tables = {}, {}
    items = list(data.items())
    if chance.random() < 0.2:
        chance.shuffle(items)
    for key, value in items:
        of_tables = isinstance(value, list) and value and all(isinstance(one, dict) for one in value)
        as_table = (isinstance(value, dict) or of_tables) and (depth == 0 or chance.random() < 0.6) and chance.random() < 0.95
        (tables if as_table else plain)[key] = value
    return plain, tables


def _add_tables(chance: random.Random, top: Part, path: tuple[str, ...], tables: dict[str, Any], end: bytes) -> None:
    for key, value in tables.items():
        here = (*path, key)
        if len(here) > 12:
            top.nodes.append(_line(chance, key, value, end))
            continue
        for one in value if isinstance(value, list) else [value]:
            plain, below = _split(chance, one, len(here))
            brackets = (b"[[", b"]]") if isinstance(value, list) else (b"[", b"]")
            header = Part([brackets[0], b".".join(_key(chance, name) for name in here), brackets[1], _comment(chance), end])
            top.nodes.append(Part([header, _lines(chance, plain, end)]))
            _add_tables(chance, top, here, below, end)


def _lines(chance: random.Random, data: dict[str, Any], end: bytes) -> Part:
    return Part([_line(chance, key, value, end) for key, value in data.items()])


def _line(chance: random.Random, key: str, value: Any, end: bytes) -> Part:
    return Part([_key(chance, key), b" = ", value_of(chance, value, end), _comment(chance), end])


def _comment(chance: random.Random) -> bytes:
    return chance.choice((b"",) * 12 + (b"  # why", "  # \u00e4\u202e".encode(), b" #", b" \t"))


def _key(chance: random.Random, key: str) -> bytes:
    if _BARE.fullmatch(key) and chance.random() < 0.95:
        return key.encode()
    return _quoted(chance, key)


def value_of(chance: random.Random, value: Any, end: bytes = b"\n") -> Part | bytes:
    """Return a value as TOML writes it."""
    if isinstance(value, dict):
        pairs = [Part([_key(chance, key), b" = ", value_of(chance, one)]) for key, one in value.items()]
        return Part(pairs, _inline)
    if isinstance(value, (list, tuple)):
        rule = _array if chance.random() < 0.9 else _tall_array
        return Part([value_of(chance, one) for one in value], rule)
    if isinstance(value, Deep):
        return Part([b"[" * value.depth, b"1", b"]" * value.depth])
    if isinstance(value, bool):
        return b"true" if value else b"false"
    if isinstance(value, (datetime.date, datetime.time)):
        return value.isoformat().encode()
    if isinstance(value, int):
        return _integer(chance, value)
    if isinstance(value, float):
        return (str(value) if math.isfinite(value) else {"nan": "nan", "inf": "inf", "-inf": "-inf"}[str(value)]).encode()
    return _quoted(chance, value)


def _inline(pieces: list[bytes]) -> bytes:
    return b"{ " + b", ".join(pieces) + b" }"


def _array(pieces: list[bytes]) -> bytes:
    return b"[" + b", ".join(pieces) + b"]"


def _tall_array(pieces: list[bytes]) -> bytes:
    return b"[\n" + b"".join(b"    " + one + b",  # \n" for one in pieces) + b"]"


def _integer(chance: random.Random, value: int) -> bytes:
    if value >= 10**4000:  # Python writes no such number in decimals, and TOML's reader takes it in hexadecimal
        return f"{value:#x}".encode()
    if value > _NUMBERS_FROM and chance.random() < 0.1:
        return chance.choice((f"{value:#x}", f"{value:#o}", f"{value:#b}", f"{value:_}", f"+{value}")).encode()
    return str(value).encode()


def _quoted(chance: random.Random, text: str) -> bytes:
    form = chance.random()
    if form < 0.1 and "'" not in text and text.isprintable():
        return _bytes(f"'{text}'")
    if form < 0.15 and '"' not in text and "\\" not in text and text.isprintable():
        return _bytes(f'"""{text}"""')
    if form < 0.2:
        return json.dumps(text).encode() if all(ord(char) < 0x10000 and not 0xD800 <= ord(char) < 0xE000 for char in text) else _plain(text)
    return _plain(text)


def _plain(text: str) -> bytes:
    out = []
    for char in text:
        code = ord(char)
        if char in '"\\':
            out.append("\\" + char)
        elif code < 0x20 or code == 0x7F:
            out.append(f"\\u{code:04x}")
        else:
            out.append(char)
    return _bytes('"' + "".join(out) + '"')


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")
