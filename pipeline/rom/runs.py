"""Contiguous bundles: assets that follow each other in the image, placed as if they were one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.plain.sizes import round_up
from pipeline.rom.layout import Item


@dataclass(frozen=True)
class Run:
    """One contiguous bundle.

    Attributes:
        item: all of it, to be placed.
        starts: name of a member -> where it is from the run's first byte.
    """

    item: Item
    starts: dict[str, int]


def runs_of(items: list[Item], ranks: Mapping[str, tuple[str, int]]) -> list[Run]:
    """Return the contiguous bundles among items, by name.

    Args:
        ranks: name of a member -> its bundle, and its rank there.
    """
    members: dict[str, list[tuple[int, Item]]] = {}
    for item in items:
        if item.name in ranks:
            bundle, rank = ranks[item.name]
            members.setdefault(bundle, []).append((rank, item))
    return [_run(name, [item for _, item in sorted(found, key=lambda one: one[0])]) for name, found in sorted(members.items())]


def _run(name: str, members: list[Item]) -> Run:
    starts, end = {}, 0
    for item in members:
        starts[item.name] = round_up(end, item.alignment)
        end = starts[item.name] + item.bytes
    return Run(Item(name, "bundle", end, max(item.alignment for item in members)), starts)
