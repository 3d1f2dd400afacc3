"""JSON Schema (2020-12) of the files an author writes, for editors that complete and check TOML."""

from __future__ import annotations

import functools
import json
import types
import typing
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import msgspec

from pipeline.plain.files import write_bytes
from pipeline.plain.written import Record, written_fields
from pipeline.project.assets import Defaults
from pipeline.project.file import IssueFile, Project
from pipeline.project.testers import TesterList
from pipeline.reference.docs import restore_docs
from pipeline.target.records import Target

_FILES = {"project": Project, "target": Target, "issues": IssueFile, "testers": TesterList}
_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(record: type[Record], title: str) -> dict[str, Any]:
    """Return the schema of a file; unknown keys are refused in it as they are in reading."""
    restore_docs()
    schema = {"$schema": _DIALECT, "title": title, **msgspec.json.schema(_as_written(record))}
    if record is Project:
        _describe_defaults(schema)
    return schema


def write_schemas(outs: dict[str, Path]) -> str:
    """Write the schema of each kind of file an author writes; return one line about them."""
    for name, out in outs.items():
        write_bytes(out, _schema_bytes(name))
    return ", ".join(out.name for out in outs.values())


@functools.cache
def _schema_bytes(name: str) -> bytes:
    """Return the schema of a kind of file as JSON, which depends on the tool alone."""
    return json.dumps(schema_of(_FILES[name], f"Romwright {name} file"), indent=1, sort_keys=True).encode() + b"\n"


@functools.cache
def _as_written(record: type[Record]) -> type:
    """Return a record whose fields have the types that an author writes, for msgspec to describe."""
    fields = [(key, _swapped(one.type), _default(one)) for key, one in written_fields(record).items()]
    doc = {"__doc__": record.__doc__}
    return msgspec.defstruct(record.__name__, fields, module=record.__module__, namespace=doc, forbid_unknown_fields=True, kw_only=True)


def _swapped(hint: Any) -> Any:
    """Return a type with ``_as_written`` in place of every record in it."""
    if isinstance(hint, type) and issubclass(hint, Record):
        return _as_written(hint)
    origin, parts = get_origin(hint), get_args(hint)
    if origin is Annotated:
        made = _swapped(parts[0])
        for meta in parts[1:]:
            made = Annotated[made, meta]
        return made
    if origin in (typing.Union, types.UnionType):
        return typing.Union[tuple(map(_swapped, parts))]  # noqa: UP007 (made from a tuple)
    return types.GenericAlias(origin, tuple(map(_swapped, parts))) if origin in (list, dict, tuple) else hint


def _default(one: msgspec.structs.FieldInfo) -> Any:
    if one.default_factory is not msgspec.NODEFAULT:
        return msgspec.field(default_factory=one.default_factory)
    return msgspec.field(default=one.default)


def _describe_defaults(schema: dict[str, Any]) -> None:
    """Defaults may give any key of their kind and need none, which the record itself cannot say."""
    kinds = schema["$defs"]["Defaults"]["properties"]
    for kind in Defaults.__struct_fields__:
        own = schema["$defs"][kind.capitalize()]
        kinds[kind] = {key: value for key, value in own.items() if key != "required"} | {"title": f"Defaults of {kind}"}
