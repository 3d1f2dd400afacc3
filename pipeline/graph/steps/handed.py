"""What a step is handed: every argument that holds paths says what the step does with the files there.

A value without one of these marks holds no path. Which files a step reads and writes is read off its arguments, so that no list of
them is kept beside the arguments: freshness, doit's dependencies, trials and the test that watches steps all ask ``paths_of``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Handed:
    """An argument that holds paths.

    Attributes:
        value: what the function gets: a path, a tuple or table of them, a record with paths among its fields (such as those of
            ``joints.places``), or a record that lists them itself as ``paths``. None where there is none.
    """

    value: Any


class In(Handed):
    """Files whose content counts: when it changes, the step runs again."""


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


def paths_of(arguments: Mapping[str, Any], *marks: type[Handed]) -> tuple[Path, ...]:
    """Return the paths of all arguments with one of some marks, each once, in their order."""
    found = (path for value in arguments.values() if isinstance(value, marks) for path in _paths(value.value))
    return tuple(dict.fromkeys(found))


def plain_arguments(arguments: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the function gets: all arguments without marks."""
    return {key: value.value if isinstance(value, Handed) else value for key, value in arguments.items()}


def _paths(value: Any) -> Iterator[Path]:
    if isinstance(value, Path):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from _paths(one)
    elif isinstance(value, dict):
        yield from _paths(tuple(value.values()))
    elif hasattr(value, "paths"):
        yield from value.paths
    elif is_dataclass(value):
        yield from _paths(tuple(getattr(value, one.name) for one in fields(value)))
