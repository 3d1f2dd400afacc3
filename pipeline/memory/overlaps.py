"""Palettes that one scene may load into the same entries of the console: the later one spoils the colours of the other."""

from __future__ import annotations

import itertools
from typing import Any

from pipeline.memory.scenes import Group


def overlapping(
    always: frozenset[str], groups: list[Group], never: list[frozenset[str]], facts: dict[str, dict[str, Any]]
) -> list[list[str]]:
    """Return the pairs of palettes that may be loaded together and fill an entry both, in the order of the project.

    Args:
        always, groups, never: of a scene; see ``scenes.worst_cases``.
        facts: of the project's assets.
    """
    palettes = [name for name, one in facts.items() if one["kind"] == "palette"]
    sources = {name: _sources(name, always, groups) for name in palettes}
    found = []
    for one, other in itertools.combinations(palettes, 2):
        ways = itertools.product(sources[one], sources[other])
        if _meet(facts[one], facts[other]) and any(_together(*way, groups, never) for way in ways):
            found.append([one, other])
    return found


def _meet(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return max(one["first"], other["first"]) < min(one["first"] + one["entry_count"], other["first"] + other["entry_count"])


def _sources(palette: str, always: frozenset[str], groups: list[Group]) -> list[tuple[int, str]]:
    """Return what loads a palette: (-1, "") for what is always there, else the choice's rank and the member."""
    found = [(-1, "")] if palette in always else []
    return found + [(rank, name) for rank, group in enumerate(groups) for name, assets in group.members.items() if palette in assets]


def _together(one: tuple[int, str], other: tuple[int, str], groups: list[Group], never: list[frozenset[str]]) -> bool:
    if -1 in (one[0], other[0]) or one == other:
        return True
    if one[0] == other[0] and groups[one[0]].count < 2:
        return False
    return not any(names <= {one[1], other[1]} for names in never)
