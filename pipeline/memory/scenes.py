"""The worst case of a scene: which choice of members needs most memory, found exactly."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

MOST_COMBINATIONS = 2_000_000


@dataclass(frozen=True)
class Group:
    """``count`` of these members are in memory at once; each member is the set of assets it loads."""

    count: int
    members: dict[str, frozenset[str]]


@dataclass(frozen=True)
class Worst:
    """The worst case.

    Attributes:
        bytes: of all assets in it, each counted once.
        chosen: the members chosen, one tuple for each group.
        assets: everything loaded.
    """

    bytes: int
    chosen: tuple[tuple[str, ...], ...]
    assets: frozenset[str]


def worst_case(always: frozenset[str], groups: list[Group], sizes: dict[str, int]) -> Worst:
    """Return the combination that needs most memory; of equals, the first in the order of the project file.

    Choosing the same member twice never needs more than choosing another besides, so only distinct members are tried.

    Args:
        always: assets in memory whatever is chosen.
        sizes: bytes in memory of every asset.

    Raises:
        ValueError: members share assets in so many ways that there are more than ``MOST_COMBINATIONS`` cases.
    """
    groups = [Group(min(group.count, len(group.members)), group.members) for group in groups]
    common = always | _loaded_by_every_choice(groups)
    rests = [{name: assets - common for name, assets in group.members.items()} for group in groups]
    if _disjoint(rests):
        chosen = tuple(_largest(rest, group.count, sizes) for rest, group in zip(rests, groups, strict=True))
        return _measure(always, groups, chosen, sizes)
    cases = math.prod(math.comb(len(group.members), group.count) for group in groups)
    if cases > MOST_COMBINATIONS:
        raise ValueError(f"{cases:,} combinations of members that share assets")
    every = itertools.product(*(itertools.combinations(group.members, group.count) for group in groups))
    return max((_measure(always, groups, chosen, sizes) for chosen in every), key=lambda worst: worst.bytes)


def _loaded_by_every_choice(groups: list[Group]) -> frozenset[str]:
    shared: frozenset[str] = frozenset()
    for group in groups:
        if group.count and group.members:
            shared |= frozenset.intersection(*group.members.values())
    return shared


def _disjoint(rests: list[dict[str, frozenset[str]]]) -> bool:
    seen: set[str] = set()
    for rest in rests:
        for assets in rest.values():
            if seen & assets:
                return False
            seen |= assets
    return True


def _largest(rest: dict[str, frozenset[str]], count: int, sizes: dict[str, int]) -> tuple[str, ...]:
    order = {name: rank for rank, name in enumerate(rest)}
    by_size = sorted(rest, key=lambda name: (-sum(sizes[asset] for asset in rest[name]), order[name]))
    return tuple(sorted(by_size[:count], key=order.get))


def _measure(always: frozenset[str], groups: list[Group], chosen: tuple, sizes: dict[str, int]) -> Worst:
    assets = always.union(*(group.members[name] for group, names in zip(groups, chosen, strict=True) for name in names))
    return Worst(sum(sizes[asset] for asset in assets), chosen, assets)
