"""What a record's type says is what it holds: a size is a number of bytes, a pattern is parsed, nothing is left as it was written.

Reference: Python's own typing, by which every value of a loaded project is compared with the type that its field declares.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args, get_origin

import msgspec
import pytest

from pipeline.plain.bits import BitPattern
from pipeline.plain.written import Record
from pipeline.project.assets import Program
from pipeline.project.loading.load import load_project
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import Memory, PixelFormat

DEMOS = Path(__file__).parents[2] / "demo_project"


def _misfits(value: Any, hint: Any, at: str) -> Iterator[str]:
    """Yield the places where a value, or one inside it, is not of the type that is declared for it."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin in (typing.Union, types.UnionType):
        if not any(not list(_misfits(value, part, at)) for part in parts):
            yield f"{at}: {value!r} is not one of {hint}"
    elif origin is typing.Literal:
        if value not in parts:
            yield f"{at}: {value!r} is not in {hint}"
    elif type(value) is not (origin or hint):
        yield f"{at}: {value!r} is not {hint}"
    elif isinstance(value, Record):
        hints = typing.get_type_hints(type(value))
        for field in msgspec.structs.fields(type(value)):
            yield from _misfits(getattr(value, field.name), hints[field.name], f"{at}.{field.name}")
    elif origin is dict:
        for key, one in value.items():
            yield from _misfits(one, parts[1], f"{at}.{key}")
    elif origin is list:
        for rank, one in enumerate(value):
            yield from _misfits(one, parts[0], f"{at}[{rank}]")
    elif origin is tuple:
        for rank, (one, part) in enumerate(zip(value, parts, strict=True)):
            yield from _misfits(one, part, f"{at}[{rank}]")


@pytest.mark.parametrize("folder", [DEMOS, DEMOS / "veillee", DEMOS / "diver"], ids=["harbour relay", "veillee", "diver"])
def test_a_loaded_project_holds_what_its_types_declare(folder):
    """Every value of the demos, which use nearly every key, is of its field's declared type."""
    project = load_project(folder)
    assert not list(_misfits(project.spec, type(project.spec), "project"))
    assert not list(_misfits(project.target, type(project.target), "target"))


@pytest.mark.parametrize("file", shipped_targets().values(), ids=shipped_targets())
def test_a_shipped_target_holds_what_its_types_declare(file):
    """Every value of a target that comes with the tool is of its field's declared type."""
    target = load_target(file)
    assert not list(_misfits(target, type(target), "target"))


def test_declared_types_are_those_the_program_works_with():
    """A type checker sees bytes and parsed patterns, and not what an author may write for them."""
    assert typing.get_type_hints(Memory)["size"] is int
    assert typing.get_type_hints(PixelFormat)["pixel"] is BitPattern
    assert set(get_args(typing.get_type_hints(Program)["reserve"])) == {int, type(None)}
