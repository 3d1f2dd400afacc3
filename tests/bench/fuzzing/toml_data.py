"""Raw data for TOML files, from the records that read them: every key, allowed values and their edges, and values that are not."""

from __future__ import annotations

import copy
import datetime
import functools
import random
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, get_args, get_origin

import msgspec

from pipeline.plain.written import Record, written_fields

ODD_TEXTS = (
    "",
    " ",
    "a" * 61,
    "a" * 5000,
    "x\ny",
    "tab\there",
    "\u202eevil\u202c",
    "\u0007bell",
    "\x1b[31mred",
    "e\u0301",
    "\ufeff",
    "\u2028",
    "\U0001f600",
    "\u0130stanbul",
    "../../nowhere/names",
    "/nowhere/names",
    "C:\\x",
    "a/../b",
    "nul",
    "{build}",
    "{{ 7 * 7 }}",
    "{",
    "%s",
    "%",
    "<b>&amp;",
    "&",
    "\u00df",
    "*",
    "**/*",
    "[",
    "art/*",
    "=",
    "a=b",
    "#",
    "'",
    '"',
    "\\",
    "0",
    "-1",
    "1e9",
    "64 KiB",
    "2MB",
    "9" * 40,
    "\u0661\u0662",
    "\uff11",
    "1.0.0",
    "0.1.0-rc.1",
    "true",
    "R-0001",
    "https://example.org/{build}",
    "http://[::1",
    "mailto:x",
    "T3",
    "\u200bhidden",
    "a\u0000b",
)
ODD_NUMBERS = (
    0,
    1,
    -1,
    2,
    3,
    7,
    8,
    255,
    256,
    257,
    1000,
    4095,
    4096,
    4097,
    65535,
    65536,
    1 << 20,
    (1 << 20) + 1,
    1 << 24,
    (1 << 31) - 1,
    1 << 31,
    1 << 32,
    1 << 40,
    (1 << 40) + 1,
    (1 << 63) - 1,
    1 << 63,
    1 << 64,
    -(1 << 63),
    10**30,
    1 << 20000,
)
ODD_FLOATS = (0.0, -0.0, 0.01, 0.009, 8.0, 8.01, 1e-320, 1e308, float("inf"), float("-inf"), float("nan"), 0.1, 59.94, 1e16)


@dataclass
class Names:
    """What keys may hold that name something else.

    Attributes:
        by_key: key -> values that are right, or nearly.
        identifiers: names of tables.
    """

    by_key: dict[str, list[Any]] = field(default_factory=dict)
    identifiers: tuple[str, ...] = ("ada", "quay", "figures", "bell", "main", "level", "boot", "crew", "play", "three", "new", "b_2")


def changed_data(chance: random.Random, data: dict[str, Any], kind: type[Record], names: Names, count: int, bad: float) -> dict[str, Any]:
    """Return a copy of the data with some changes.

    Args:
        count: how many; ``bad``: the share of those that make a value wrong on purpose.
    """
    data = copy.deepcopy(data)
    for _ in range(count):
        every = list(tables(data, kind))
        table, record = chance.choice(every)
        if chance.random() < bad:
            _spoil(chance, table, record, names)
        else:
            _extend(chance, table, record, names)
    return data


def tables(data: Any, kind: Any) -> Iterator[tuple[dict, type[Record]]]:
    """Yield every table of some data with the record that describes it."""
    for option in _options(kind):
        origin, parts = get_origin(option), get_args(option)
        if isinstance(option, type) and issubclass(option, Record) and isinstance(data, dict):
            yield data, option
            for key, hint, _ in fields(option):
                if key in data:
                    yield from tables(data[key], hint)
        elif origin is dict and isinstance(data, dict):
            for value in data.values():
                yield from tables(value, parts[1])
        elif origin is list and isinstance(data, list):
            for value in data:
                yield from tables(value, parts[0])


@functools.cache
def fields(record: type[Record]) -> tuple[tuple[str, Any, bool], ...]:
    """Return key, type and whether it is needed, for every field of a record."""
    return tuple((key, one.type, one.required) for key, one in written_fields(record).items())


def _extend(chance: random.Random, table: dict, record: type[Record], names: Names) -> None:
    key, hint, _ = chance.choice(fields(record))
    table[key] = valued(chance, hint, key, names, table.get(key))


def _spoil(chance: random.Random, table: dict, record: type[Record], names: Names) -> None:
    keys = [key for key, _, _ in fields(record)]
    how = chance.randrange(5)
    if how == 0 and table:
        del table[chance.choice(list(table))]
    elif how == 1:
        table[chance.choice((*ODD_TEXTS[:30], "scal", "Palette", "colors", "ada"))] = odd_value(chance, 2)
    else:
        table[chance.choice(keys)] = odd_value(chance, 2)


def odd_value(chance: random.Random, depth: int) -> Any:
    """Return any value TOML has."""
    how = chance.randrange(10)
    if how < 3:
        return chance.choice(ODD_TEXTS) if chance.random() < 0.99 else "x" * 200_000
    if how < 6:
        return chance.choice(ODD_NUMBERS)
    if how == 6:
        return chance.choice(ODD_FLOATS)
    if how == 7:
        moment = datetime.datetime(2026, 1, 2, 3, 4, 5)
        return chance.choice((True, False, moment.date(), moment.time(), moment, [], {}))
    if depth == 0:
        return nested(chance, chance.choice((3, 50, 400, 5000)))
    if how == 8:
        return [odd_value(chance, depth - 1) for _ in range(chance.choice((1, 2, 3, 200)))]
    return {chance.choice(ODD_TEXTS): odd_value(chance, depth - 1) for _ in range(chance.choice((1, 2, 5)))}


@dataclass(frozen=True)
class Deep:
    """A list in a list in a list: what represents it is written without going down it."""

    depth: int


def nested(chance: random.Random, depth: int) -> Any:
    """Return lists in each other; deep ones as ``Deep``."""
    if depth > 40:
        return Deep(depth)
    made: Any = 1
    for _ in range(depth):
        made = [made] if chance.random() < 0.7 else {"a": made}
    return made


def valued(chance: random.Random, hint: Any, key: str, names: Names, now: Any = None) -> Any:
    """Return a value that a type allows, as far as the type says; often one at an edge, or an example."""
    if key in names.by_key and chance.random() < 0.85:
        return copy.deepcopy(chance.choice(names.by_key[key]))
    metas = _metas(hint)
    examples = [example for meta in metas for example in meta.examples or ()]
    if examples and chance.random() < 0.5:
        return copy.deepcopy(chance.choice(examples))
    option = chance.choice(_options(hint))
    origin, parts = get_origin(option), get_args(option)
    if origin is typing.Literal:
        return chance.choice(parts)
    if isinstance(option, type) and issubclass(option, Record):
        return record_data(chance, option, names)
    if origin is list:
        count = chance.choice((0, 1, 1, 2, 3))
        made = [valued(chance, parts[0], key, names) for _ in range(count)]
        return (now + made) if isinstance(now, list) and chance.random() < 0.5 else made
    if origin is tuple:
        return [valued(chance, part, key, names) for part in parts]
    if origin is dict:
        made = {chance.choice(names.identifiers): valued(chance, parts[1], key, names) for _ in range(chance.choice((0, 1, 2)))}
        return now | made if isinstance(now, dict) and chance.random() < 0.8 else made
    if option is bool:
        return chance.random() < 0.5
    if option is datetime.date:
        return datetime.date(chance.choice((1, 1979, 1980, 2026, 2107, 9999)), 1, 2)
    if option is int:
        return _whole(chance, metas)
    if option is float:
        return _fraction(chance, metas)
    if option is str:
        return _text(chance, metas)
    return {}


def record_data(chance: random.Random, record: type[Record], names: Names) -> dict[str, Any]:
    """Return a table of a record: the keys it needs, and some of the others."""
    return {key: valued(chance, hint, key, names) for key, hint, needed in fields(record) if needed or chance.random() < 0.15}


def _whole(chance: random.Random, metas: list[msgspec.Meta]) -> int:
    low = max((meta.ge for meta in metas if meta.ge is not None), default=0)
    high = min((meta.le for meta in metas if meta.le is not None), default=1 << 32)
    return chance.choice(
        (low, low + 1, high, min(high, 8), min(high, 16), chance.randint(low, min(high, low + 40)), low - 1, high + 1)[
            : 8 if chance.random() < 0.1 else 6
        ]
    )


def _fraction(chance: random.Random, metas: list[msgspec.Meta]) -> float:
    low = max((meta.ge if meta.ge is not None else meta.gt for meta in metas if (meta.ge, meta.gt) != (None, None)), default=0.0)
    high = min((meta.le for meta in metas if meta.le is not None), default=1000.0)
    return chance.choice((float(low), float(high), 1.0, 0.5, chance.uniform(low, min(high, low + 3)), chance.choice(ODD_FLOATS)))


def _text(chance: random.Random, metas: list[msgspec.Meta]) -> str:
    if chance.random() < 0.3:
        return chance.choice(ODD_TEXTS)
    return chance.choice(("ada", "figures", "Some words.", "0.1.0", "A", "walk_*", "\u00c4rger", "x" * 24, "x" * 60))


def _metas(hint: Any) -> list[msgspec.Meta]:
    found = [meta for meta in getattr(hint, "__metadata__", ()) if isinstance(meta, msgspec.Meta)]
    bare = hint.__origin__ if hasattr(hint, "__metadata__") else hint
    inner = get_args(bare) if get_origin(bare) in (typing.Union, types.UnionType) else ()
    return found + [meta for one in inner for meta in getattr(one, "__metadata__", ()) if isinstance(meta, msgspec.Meta)]


def _options(hint: Any) -> list[Any]:
    if hasattr(hint, "__metadata__"):
        return _options(hint.__origin__)
    if get_origin(hint) in (typing.Union, types.UnionType):
        return [option for one in get_args(hint) if one is not type(None) for option in _options(one)]
    return [hint]
