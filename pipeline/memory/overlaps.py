"""What one scene may load into the same place of the console, so that the later one spoils the other: palettes, tiles."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

from pipeline.joints.facts import BackgroundFacts, Facts, PaletteFacts, StoredTiles
from pipeline.memory.scenes import Group
from pipeline.memory.usage import place_of


def overlapping(
    always: frozenset[str], groups: list[Group], never: list[frozenset[str]], facts: Mapping[str, Facts]
) -> list[list[str]]:
    """Return the pairs of palettes that may be loaded together and fill an entry both, in the order of the project.

    A palette and its variants at the same ``first`` are not compared: they are made to be loaded in each other's place.

    Args:
        always, groups, never: of a scene; see ``scenes.worst_cases``.
        facts: of the project's assets.
    """
    spans = {name: range(one.first, one.first + one.entry_count) for name, one in facts.items() if isinstance(one, PaletteFacts)}
    places = {name: place_of(one) for name, one in facts.items() if isinstance(one, PaletteFacts)}
    return [[one, other] for one, other in _pairs(spans, always, groups, never) if places[one] != places[other]]


def overlapping_tiles(
    always: frozenset[str], groups: list[Group], never: list[frozenset[str]], facts: Mapping[str, Facts]
) -> list[list[str]]:
    """Return the pairs of backgrounds that may be loaded together and number a tile both; see ``overlapping``."""
    stored = {name: one.stored for name, one in facts.items() if isinstance(one, BackgroundFacts)}
    spans = {name: range(one.first_tile, one.first_tile + one.tile_count) for name, one in stored.items() if isinstance(one, StoredTiles)}
    return _pairs(spans, always, groups, never)


def _pairs(spans: dict[str, range], always: frozenset[str], groups: list[Group], never: list[frozenset[str]]) -> list[list[str]]:
    sources = {name: _sources(name, always, groups) for name in spans}
    found = []
    for one, other in itertools.combinations(spans, 2):
        ways = itertools.product(sources[one], sources[other])
        if _meet(spans[one], spans[other]) and any(_together(*way, groups, never) for way in ways):
            found.append([one, other])
    return found


def _meet(one: range, other: range) -> bool:
    return max(one.start, other.start) < min(one.stop, other.stop)


def _sources(asset: str, always: frozenset[str], groups: list[Group]) -> list[tuple[int, str]]:
    """Return what loads an asset: (-1, "") for what is always there, else the choice's rank and the member."""
    found = [(-1, "")] if asset in always else []
    return found + [(rank, name) for rank, group in enumerate(groups) for name, assets in group.members.items() if asset in assets]


def _together(one: tuple[int, str], other: tuple[int, str], groups: list[Group], never: list[frozenset[str]]) -> bool:
    if -1 in (one[0], other[0]) or one == other:
        return True
    if one[0] == other[0] and groups[one[0]].count < 2:
        return False
    return not any(names <= {one[1], other[1]} for names in never)
