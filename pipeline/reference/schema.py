"""JSON Schema (2020-12) of the files an author writes, for editors that complete and check TOML."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec

from pipeline.plain.files import write_bytes
from pipeline.project.assets import Defaults
from pipeline.project.file import IssueFile, Project
from pipeline.project.testers import TesterList
from pipeline.reference.docs import restore_docs
from pipeline.target.records import Target

_FILES = {"project": Project, "target": Target, "issues": IssueFile, "testers": TesterList}
_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(record: type, title: str) -> dict[str, Any]:
    """Return the schema of a file; unknown keys are refused in it as they are in reading."""
    restore_docs()
    schema = {"$schema": _DIALECT, "title": title, **msgspec.json.schema(record)}
    if record is Project:
        _describe_defaults(schema)
    return schema


def write_schemas(out: Path) -> str:
    """Write the schema of each file as ``NAME.schema.json``; return one line about them."""
    for name, record in _FILES.items():
        text = json.dumps(schema_of(record, f"Romwright {name} file"), indent=1, sort_keys=True)
        write_bytes(out / f"{name}.schema.json", text.encode() + b"\n")
    return ", ".join(f"{name}.schema.json" for name in _FILES)


def _describe_defaults(schema: dict[str, Any]) -> None:
    """Defaults may give any key of their kind and need none, which the record itself cannot say."""
    kinds = schema["$defs"]["Defaults"]["properties"]
    for kind in Defaults.__struct_fields__:
        own = schema["$defs"][kind.capitalize()]
        kinds[kind] = {key: value for key, value in own.items() if key != "required"} | {"title": f"Defaults of {kind}"}
