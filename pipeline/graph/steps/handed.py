"""What a step is handed: every argument that holds paths says what the step does with the files there.

A value without one of these marks holds no path. Which files a step reads and writes is read off its arguments, so that no list of
them is kept beside the arguments: freshness, doit's dependencies, trials and the test that watches steps all ask ``paths_of``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any

from pipeline.joints.views import View
from pipeline.target.calls import Call, calls_in


@dataclass(frozen=True)
class Handed:
    """An argument that holds paths.

    Attributes:
        value: what the function gets: a path, a tuple or table of them, a record with paths among its fields (such as those of
            ``joints.places``), or a record that lists them itself as ``paths``, such as a ``joints.views.View``, of whose file only some
            fields count. None where there is none.
    """

    value: Any


class In(Handed):
    """Files whose content counts: when it changes, the step runs again."""


class Depends(In):
    """What a step depends on although its function does not get it: files it finds by itself, and functions it comes to by name."""


class Trusted(Handed):
    """Files that are read while their content counts elsewhere: who makes them comes first, and has checked what is read there."""


class Found(Handed):
    """Files that are read as they are found, if they are there; nothing is remembered as made from them."""


class Out(Handed):
    """Files that the step makes."""


class Listing(Out):
    """One made JSON file that lists further files made beside it: ``{"files": {name: sha256}}``."""


class Kept(Handed):
    """Files or folders that a question looks after itself, reads and changes: the author's, the tool's records, a page of answers."""


class Reached(Kept):
    """The same that the function does not get: steps that it runs come to them."""


class Cache(Kept):
    """A file of ``cache.results``. What it holds saves time and changes nothing that the step makes, so it is not a setting."""


def paths_of(arguments: Mapping[str, Any], *marks: type[Handed]) -> tuple[Path, ...]:
    """Return the paths of all arguments with one of some marks, each once, in their order."""
    found = (path for one in _held(arguments, marks) for path in (one.paths if isinstance(one, View) else (one,)))
    return tuple(dict.fromkeys(found))


def views_of(arguments: Mapping[str, Any]) -> dict[Path, View]:
    """Return the views by their files: of all files of which only some fields count. A file with two unlike views counts whole."""
    held = list(_held(arguments, (In,)))
    whole = {one for one in held if isinstance(one, Path)}
    views: dict[Path, set[View]] = {}
    for one in held:
        if isinstance(one, View):
            for path in one.paths:
                views.setdefault(path, set()).add(one)
    return {path: some.pop() for path, some in views.items() if len(some) == 1 and path not in whole}


def plain_arguments(arguments: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the function gets: all arguments without marks, but for those that others look at."""
    return {key: _unmarked(value) for key, value in arguments.items() if not isinstance(value, (Depends, Reached))}


def calls_of_step(call: str, arguments: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the names of all functions that a step calls by name, its own first."""
    return (call, *calls_in({key: _unmarked(value) for key, value in arguments.items()}))


def _unmarked(value: Any) -> Any:
    return value.value if isinstance(value, Handed) else value


def _held(arguments: Mapping[str, Any], marks: tuple[type[Handed], ...]) -> Iterator[Path | View]:
    for value in arguments.values():
        if isinstance(value, marks):
            yield from _paths(value.value)


def _paths(value: Any) -> Iterator[Path | View]:
    if isinstance(value, (Path, View)):
        yield value
    elif value is None or isinstance(value, Call):
        return
    elif isinstance(value, tuple):
        for one in value:
            yield from _paths(one)
    elif isinstance(value, dict):
        yield from _paths(tuple(value.values()))
    elif hasattr(value, "paths"):
        yield from value.paths
    elif is_dataclass(value):
        parts = (getattr(value, one.name) for one in fields(value))
        yield from _paths(tuple(part for part in parts if not isinstance(part, str)))
    else:  # found nothing in it, a step would read files that nobody knows of
        raise TypeError(f"no paths can be looked for in a {type(value).__name__}")
