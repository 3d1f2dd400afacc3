"""What files between steps may hold: fields, types, limits and defaults of their records, as their formats have them.

No outside source: a format is a choice, and a change of one makes its ``FORMAT`` grow. If a change is meant: see ``tests.recorded``.
"""

from __future__ import annotations

import importlib
import json
from collections.abc import Iterator
from typing import Any

import msgspec

from pipeline.plain.files import FileRecord
from tests.recorded import differing

MODULES = (
    "assets.sources.prepared", "assets.sprites.cut", "joints.budget", "joints.facts", "joints.map", "joints.originals", "joints.views",
    "joints.shown",
)  # fmt: skip


def subclasses(record: type) -> Iterator[type]:
    for one in record.__subclasses__():
        yield one
        yield from subclasses(one)


def said(schema: Any) -> str:
    """Return a schema as text, without what is only for people."""
    if isinstance(schema, dict):
        schema = {key: value for key, value in schema.items() if key not in ("description", "title")}
    return json.dumps(schema, sort_keys=True)


def test_formats_are_what_they_were():
    """Every record of a file and every record in one."""
    found = {}
    for name in MODULES:
        module = importlib.import_module(f"pipeline.{name}")
        if hasattr(module, "FORMAT"):
            found[f"{name}, format"] = str(module.FORMAT)
        records = [one for one in subclasses(FileRecord) if one.__module__ == module.__name__]
        _, parts = msgspec.json.schema_components(records)
        found |= {f"{name}, {part}": said(schema) for part, schema in parts.items()}
    assert differing("formats of files", found) == set()
