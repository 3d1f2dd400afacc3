"""A step's settings as text that can be compared and kept: two settings give the same text only where they are the same.

A value is written with its type, so that the text ``None`` is not the value None, and a path not the text of it. The order of a
table's keys counts, since steps number and list things in it; a step that does not look at it is handed a sorted table.
Paths inside a folder are written relative to it, so that a project can be moved; text is never changed.
"""

from __future__ import annotations

import datetime
import functools
import hashlib
import os
import re
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.handed import Cache, Handed
from pipeline.plain.bits import BitPattern
from pipeline.plain.shipped import TEMPLATES

ORDER = "order of "
_TOOL = f"{TEMPLATES.parent}{os.sep}"
_LONG = 80  # longer text is kept as a hash
_HASHED = "sha256 "
_PLAIN = frozenset({str, int, float, bool, bytes, type(None), datetime.date})  # repr distinguishes these
_BARE = re.compile(r"[A-Za-z_][\w-]*", re.ASCII)


def flatten(value: Any, folder: Path) -> dict[str, str]:
    """Return settings as key -> text, records and tables with dotted keys.

    A table of several keys has one more entry, ``order of KEY``, and a record ``type of KEY``; both hold a space, which
    no other key does outside quotes. The outermost table is that of a function's arguments, whose order is nothing.

    Args:
        folder: paths inside it are written relative to it.

    Raises:
        TypeError: a value is of a type that no step may be handed.
    """
    flat: dict[str, str] = {}
    _add(flat, value, folder, "")
    return flat


def shown_path(path: Path, folder: Path) -> str:
    """Return a file as reasons name it: from the folder, or from that of the tool, else whole."""
    return _from(path, folder).removeprefix("./")


def is_hashed(text: str) -> bool:
    """Return whether a text of ``flatten`` is only the hash of a long one."""
    return text.startswith(_HASHED)


def _add(flat: dict[str, str], value: Any, folder: Path, key: str) -> None:
    kind = type(value)
    if kind is dict and value:
        parts = [(_key(name), part) for name, part in value.items()]
        if key and len(parts) > 1:
            flat[ORDER + key] = _short(", ".join(name for name, _ in parts))
    elif kind not in _PLAIN and not issubclass(kind, Handed) and (names := _fields(kind)) is not None:
        parts = [(name, getattr(value, name)) for name in names]
        flat[f"type of {key}"] = _type(kind)
    else:
        flat[key] = _short(_text(value, folder))
        return
    for name, part in parts:
        _add(flat, part, folder, f"{key}.{name}" if key else name)


def _text(value: Any, folder: Path) -> str:
    kind = type(value)
    if kind in _PLAIN:
        return repr(value)
    if isinstance(value, Cache):
        return "Cache"
    if isinstance(value, Handed):
        return f"{kind.__name__} {_text(value.value, folder)}"
    if isinstance(value, Path):
        return f"path {_from(value, folder)!r}"
    if kind in (tuple, list):
        # Long lists of names are common, and this is done at every start.
        if _PLAIN.issuperset(map(type, value)):
            return repr(value)
        inside = ", ".join(_text(one, folder) for one in value)
        return f"({inside},)" if kind is tuple else f"[{inside}]"
    if kind is dict:
        return "{" + ", ".join(f"{_key(name)}: {_text(one, folder)}" for name, one in value.items()) + "}"
    if kind in (set, frozenset):
        return f"{kind.__name__}({', '.join(sorted(_text(one, folder) for one in value))})"
    if kind is BitPattern:
        return f"bits {value.text!r}"  # from which all else in it comes
    names = _fields(kind)
    if names is None:
        raise TypeError(f"a step's settings cannot hold a {_type(kind)}")
    return f"{_type(kind)}({', '.join(f'{name}={_text(getattr(value, name), folder)}' for name in names)})"


def _from(path: Path, folder: Path) -> str:
    """Return a path as text: from the folder with ``./`` before it, from that of the tool with ``tool:``, else as it is."""
    text, base = str(path), str(folder)
    # By text, since pathlib takes ten times as long, at every start.
    if text.startswith(base) and text[len(base) :][:1] in ("", os.sep):
        return "./" + text[len(base) + 1 :]
    if text.startswith(_TOOL):
        return "tool:" + text[len(_TOOL) :]
    return text


@functools.cache
def _fields(kind: type) -> Iterable[str] | None:
    """Return the names of a record's fields; None for other types, and for a bit pattern, which is kept as it is written."""
    if issubclass(kind, msgspec.Struct):
        return kind.__struct_fields__
    return tuple(one.name for one in fields(kind)) if is_dataclass(kind) and kind is not BitPattern else None


@functools.cache
def _type(kind: type) -> str:
    return f"{kind.__module__}.{kind.__qualname__}"


def _key(name: Any) -> str:
    """Return a table's key as part of a dotted key: bare only if it is a name, so that dots inside it separate nothing."""
    if type(name) is str:
        return name if _BARE.fullmatch(name) else repr(name)
    if type(name) is not int:
        raise TypeError(f"a key of a step's settings cannot be a {_type(type(name))}")
    return repr(name)


def _short(text: str) -> str:
    return text if len(text) <= _LONG else _HASHED + hashlib.sha256(text.encode(errors="surrogatepass")).hexdigest()[:32]
