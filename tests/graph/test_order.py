"""Entries moved about in the project and the target file: the rebuild equals a clean build."""

from __future__ import annotations

import copy
import tomllib
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from pipeline.graph.freshness.settings import flatten
from pipeline.graph.plan import plan_project
from pipeline.plain.written import Record
from pipeline.project.file import Project
from pipeline.project.loading.load import load_project
from pipeline.target.kinds import KINDS
from pipeline.target.records import Target
from tests.conftest import only_long
from tests.graph.builds import build, clean_outputs, outputs, reasons
from tests.graph.everything import make_everything
from tests.makers import toml_text

FILES = ("project.toml", "console.toml")
# A command's words and rising sizes mean something else, or nothing, the other way round.
FIXED = {("program", "made", "command"), ("cartridge", "sizes"), ("header", "fields", 6, "covers", 0)}
# Tables of the author's own names that are only looked up; as the reference page says.
LOOKED_UP = [("control", 0, "buttons"), ("plan", "names"), *(("defaults", kind) for kind in ("sprite", "data", "sound", "font", "pool"))]
LOOKED_UP += [("intake", "bugs", "severities"), ("intake", "bugs", "names")]


def tables(value: Any, path: tuple = ()) -> Iterator[tuple]:
    """Yield the place of every table and list of two entries or more, the inner ones before what they are in."""
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in parts:
        yield from tables(part, (*path, key))
    if path and path not in FIXED and len(parts := list(parts)) > 1 and not isinstance(parts[0][1], int | float):
        yield path


def turned(data: dict[str, Any], *paths: tuple) -> dict[str, Any]:
    """Return raw data with the entries of some tables and lists in reverse order."""
    data = copy.deepcopy(data)
    for path in paths:
        owner = data
        for key in path[:-1]:
            owner = owner[key]
        value = owner[path[-1]]
        owner[path[-1]] = value[::-1] if isinstance(value, list) else dict(reversed(value.items()))
    return data


@pytest.fixture(scope="module")
def raw(tmp_path_factory) -> tuple[Path, dict[str, dict[str, Any]]]:
    """The project's folder, and the raw data of both files as they are written there."""
    folder = make_everything(tmp_path_factory.mktemp("order") / "every").resolve()
    data = {name: tomllib.loads((folder / name).read_text(encoding="utf-8")) for name in FILES}
    _write(folder, data)
    return folder, data


def _write(folder: Path, data: dict[str, dict[str, Any]]) -> None:
    for name, one in data.items():
        (folder / name).write_text(toml_text(one), encoding="utf-8")


def _settings(folder: Path) -> dict[str, dict[str, str]]:
    plan = plan_project(load_project(folder))
    return {step.name: flatten(step.arguments, folder) for step in plan.steps if not step.always}


def test_the_project_has_two_of_everything_that_can_be_moved(raw):
    """Every table and list of tables that the records know is in the files with two entries or more."""
    folder, _ = raw
    project, seen = load_project(folder), set()
    _note(project.spec, seen)
    _note(project.target, seen)
    assert (_movable(Project) | _movable(Target)) - {("Project", "lists")} <= seen  # a project has one table of load lists


def _movable(record: type) -> set[tuple[str, str]]:
    found: set[tuple[str, str]] = set()
    waiting, done = [record], set()
    while waiting:
        one = waiting.pop()
        if one in done:
            continue
        done.add(one)
        for name, hint in typing.get_type_hints(one).items():
            for part in _parts(hint):
                inner = [kind for kind in _parts(part) if isinstance(kind, type) and issubclass(kind, Record)]
                waiting += inner
                if typing.get_origin(part) is dict or part is dict or (typing.get_origin(part) is list and inner):
                    found.add((one.__name__, name))
    return found


def _parts(hint: Any) -> list[Any]:
    return [hint, *(part for inner in typing.get_args(hint) for part in _parts(inner))]


def _note(value: Any, seen: set[tuple[str, str]]) -> None:
    if isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            part = getattr(value, name)
            if isinstance(part, dict | list) and len(part) > 1:
                seen.add((type(value).__name__, name))
            _note(part, seen)
    for part in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        _note(part, seen)


def test_tables_that_are_looked_up_rebuild_nothing(raw):
    """Moving their entries about changes no step's settings."""
    folder, data = raw
    before = _settings(folder)
    _write(folder, {**data, FILES[0]: turned(data[FILES[0]], *LOOKED_UP)})
    assert _settings(folder) == before
    _write(folder, data)


def test_keys_whose_names_are_given_may_stand_in_any_order(raw):
    """The tables of a record, such as [game] or [sprite.ada], are the same in any order."""
    folder, data = raw
    before = _settings(folder)
    given = [("game",), ("links",), ("sprite", "ben"), ("scene", "play"), ("scene", "play", "choose", 0), ("pad", "two"), ("burn",)]
    _write(folder, {**data, FILES[0]: turned(data[FILES[0]], *given)})
    assert _settings(folder) == before
    _write(folder, data)


def test_everything_moved_about_and_back_equals_clean_builds(raw, tmp_path):
    """First the assets' tables, then all tables and lists of both files, then back: each time what was not made again is right."""
    only_long()
    folder, data = raw
    build(folder, "commands=yes")
    first = outputs(folder)
    project, console = data[FILES[0]], data[FILES[1]]
    of_assets = [path for path in tables(project) if path[0] in (*KINDS, "defaults", "links", "bundle")]

    _write(folder, {FILES[0]: turned(project, *of_assets), FILES[1]: console})
    build(folder, "commands=yes")
    why = reasons(folder)
    assert "setting changed: order of spec.animations from idle, walk to walk, idle" in why["sprite:ada"]
    assert any(reason.startswith("setting changed: order of spec.links.more from ") for reason in why["packet"])

    _write(folder, {FILES[0]: turned(project, *tables(project)), FILES[1]: turned(console, *tables(console))})
    build(folder, "commands=yes")
    moved = outputs(folder)
    assert moved == clean_outputs(folder, tmp_path)
    for name in ("rom/every.rom", "packet.pdf", "include/assets.h", "budget.json", "work/build_code.json"):
        assert moved[name] != first[name], name

    _write(folder, data)
    build(folder, "commands=yes")
    assert outputs(folder) == first


def test_assets_moved_about_leave_the_image_as_it_is(raw, tmp_path):
    """Where assets are follows from sizes and names: no step of the image runs."""
    folder, data = raw
    before = _settings(folder)
    _write(folder, {**data, FILES[0]: turned(data[FILES[0]], *((kind,) for kind in KINDS if kind in data[FILES[0]]))})
    now = _settings(folder)
    image = {"layout", "include", "code", "image", "verify", "banks", "burning"}
    image |= {name for name in now if name.startswith(("sprite:", "screen:"))}
    assert {name: now[name] for name in image} == {name: before[name] for name in image}
    _write(folder, data)
