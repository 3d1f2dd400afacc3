"""Types that msgspec cannot convert safely: a text with a pattern beside a list is freed twice, which ends the process sooner or later.

Seen with msgspec 0.22.0: ``convert("a", Annotated[str, Meta(pattern="^a")] | list[str])`` and a garbage collection end Python with a
segmentation fault. No record may have such a type.
"""

from __future__ import annotations

import subprocess
import sys
import types
from typing import Annotated, Any, Union, get_args, get_origin

import pytest
from msgspec import Struct
from msgspec.structs import fields

from pipeline.plain.written import Record, as_written
from pipeline.project.file import Project
from pipeline.target.records import Target

CODE = """
import gc, sys
from pathlib import Path
from pipeline.plain.checked import Document, build
from pipeline.project.assets import Sprite
for _ in range(200):
    for key in ("#ff00ff", ["#ff00ff", "#00ff00"]):
        document = Document("p", {"frames": "a", "key": key})
        sprite = build(document, (), document.data, Sprite)
        gc.collect()
print(sprite.key)
"""


def _bare(hint: Any) -> Any:
    return hint.__origin__ if get_origin(hint) is Annotated else hint


def _parts(hint: Any) -> list[Any]:
    return [hint, *(part for one in get_args(_bare(hint)) for part in _parts(one))]


def _records(record: type[Struct], seen: set[type]) -> set[type]:
    if record not in seen:
        seen.add(record)
        for one in fields(record):
            for part in _parts(one.type):
                if isinstance(part, type) and issubclass(part, Struct):
                    _records(part, seen)
    return seen


def _is_unsafe(hint: Any) -> bool:
    options = get_args(_bare(hint)) if get_origin(_bare(hint)) in (Union, types.UnionType) else ()
    patterned = any(getattr(meta, "pattern", None) for one in options for meta in getattr(one, "__metadata__", ()))
    return patterned and any(get_origin(_bare(one)) is list for one in options)


@pytest.mark.parametrize("record", sorted({*_records(Project, set()), *_records(Target, set())}, key=lambda one: one.__name__))
def test_no_type_has_a_pattern_beside_a_list(record):
    """Every field of every record, as it is converted."""
    assert issubclass(record, Record)
    for one in fields(record):
        assert not any(_is_unsafe(part) for part in _parts(as_written(one.type))), f"{record.__name__}.{one.name}"


def test_key_colours_are_read_without_a_crash():
    """In a process of its own, with a garbage collection after each."""
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stdout) == (0, "('#ff00ff', '#00ff00')\n"), done.stderr
