"""The worst cases of a scene: which choices of members need most memory, found exactly by branch and bound."""

from __future__ import annotations

import heapq
from collections.abc import Iterable
from dataclasses import dataclass

MOST_LOOKS = 1_000_000  # partial choices looked at before the search is given up


@dataclass(frozen=True)
class Group:
    """``count`` of these members are in memory at once; each member is the set of assets it loads.

    Attributes:
        repeat: the same member may be chosen again; it still counts once, so 1 to ``count`` distinct ones are there.
    """

    count: int
    members: dict[str, frozenset[str]]
    repeat: bool = True


@dataclass(frozen=True)
class Worst:
    """One case.

    Attributes:
        bytes: of all assets in it, each counted once.
        chosen: the distinct members chosen, one tuple for each group, in the group's order.
        assets: everything loaded.
    """

    bytes: int
    chosen: tuple[tuple[str, ...], ...]
    assets: frozenset[str]


def worst_cases(
    always: frozenset[str], groups: list[Group], sizes: dict[str, int], never: Iterable[frozenset[str]] = (), most: int = 1
) -> list[Worst]:
    """Return the cases that need most memory, the worst first; of equals, those first in the order of the project file.

    The search is exact: a partial choice is left only when even the largest members that could join it, with nothing
    excluded and nothing shared among them, would not reach the cases found.

    Args:
        always: assets in memory whatever is chosen.
        sizes: bytes in memory of every asset.
        never: sets of members that are never all chosen together.
        most: how many cases are wanted; fewer are returned if there are fewer.

    Returns:
        Distinct cases; none when the exclusions leave no choice that fills every group.

    Raises:
        ValueError: more than ``MOST_LOOKS`` partial choices had to be looked at.
    """
    search = _Search(always, groups, sizes, never)
    least = search.least_bytes(most)
    return [] if least is None else search.cases(least, most)


class _Search:
    """Members as bits, and two walks over choices: one for the numbers, largest first, one for the cases, in file order."""

    def __init__(self, always: frozenset[str], groups: list[Group], sizes: dict[str, int], never: Iterable[frozenset[str]]) -> None:
        self._always, self._groups, self._sizes = always, groups, sizes
        self._base = sum(sizes[asset] for asset in always)
        self._names = {name: rank for rank, name in enumerate(dict.fromkeys(name for group in groups for name in group.members))}
        self._never = self._bits_of_never(never)
        self._assets: dict[str, int] = {}
        self._members = [self._measured(group) for group in groups]
        self._weights: dict[int, int] = {0: 0}
        self._looks = 0

    def _bits_of_never(self, never: Iterable[frozenset[str]]) -> dict[int, list[int]]:
        """Return for each member the exclusions it is part of, as bits of members."""
        found: dict[int, list[int]] = {}
        for names in never:
            if names <= self._names.keys():
                bits = sum(1 << self._names[name] for name in names)
                for name in names:
                    found.setdefault(self._names[name], []).append(bits)
        return found

    def _measured(self, group: Group) -> list[tuple[int, int, int]]:
        """Return for each member its number, the bytes only it can load, and the bits of assets that others load too."""
        loads = [assets - self._always for one in self._groups for assets in one.members.values()]
        uses: dict[str, int] = {}
        for assets in loads:
            for asset in assets:
                uses[asset] = uses.get(asset, 0) + 1
        measured = []
        for name, assets in group.members.items():
            fresh = assets - self._always
            own = sum(self._sizes[asset] for asset in fresh if uses[asset] == 1)
            shared = sum(1 << self._bit(asset) for asset in fresh if uses[asset] > 1)
            measured.append((self._names[name], own, shared))
        return measured

    def _bit(self, asset: str) -> int:
        return self._assets.setdefault(asset, len(self._assets))

    def _weight(self, bits: int) -> int:
        """Bytes of shared assets."""
        if bits not in self._weights:
            names = list(self._assets)
            self._weights[bits] = sum(self._sizes[names[rank]] for rank in range(bits.bit_length()) if bits >> rank & 1)
        return self._weights[bits]

    def least_bytes(self, most: int) -> int | None:
        """Return the bytes of the last of the ``most`` worst cases; None without a case."""
        best: list[int] = []
        order = [sorted(members, key=lambda one: -one[1] - self._weight(one[2])) for members in self._members]

        def enough(bound: int) -> bool:
            return len(best) == most and bound <= best[0]

        def found(total: int, _: list) -> None:
            (heapq.heappush if len(best) < most else heapq.heappushpop)(best, total)

        self._walk(order, enough, found)
        return best[0] if best else None

    def cases(self, least: int, most: int) -> list[Worst]:
        """Return the ``most`` worst cases, given the bytes of the last of them."""
        kept: list[tuple[int, int, list]] = []
        equal = 0

        def enough(bound: int) -> bool:
            return bound < least or (bound == least and equal == most)

        def found(total: int, chosen: list) -> None:
            nonlocal equal
            if total >= least and not enough(total):
                equal += total == least
                kept.append((-total, len(kept), [list(one) for one in chosen]))

        self._walk(self._members, enough, found)
        return [self._case(-total, chosen) for total, _, chosen in sorted(kept)[:most]]

    def _case(self, total: int, chosen: list[list[int]]) -> Worst:
        names = list(self._names)
        named = tuple(tuple(names[number] for number in numbers) for numbers in chosen)
        loaded = (group.members[name] for group, some in zip(self._groups, named, strict=True) for name in some)
        return Worst(total, named, self._always.union(*loaded))

    def _walk(self, order: list[list[tuple[int, int, int]]], enough, found) -> None:
        """Go through all choices depth first; ``enough`` of a bound leaves a branch, ``found`` gets total and choice."""
        chosen: list[list[int]] = [[] for _ in order]

        def go(rank: int, start: int, taken: int, covered: int, total: int) -> None:
            self._look()
            if rank == len(order):
                found(total, chosen)
                return
            free = [[one for one in order[rank][start:] if not self._excluded(one[0], taken)]]
            free += [[one for one in members if not self._excluded(one[0], taken)] for members in order[rank + 1 :]]
            rooms = [self._most(rank) - len(chosen[rank]), *map(self._most, range(rank + 1, len(order)))]
            if enough(total + sum(self._at_most(*pair, covered) for pair in zip(free, rooms, strict=True))):
                return
            for number, own, shared in free[0] if rooms[0] else ():
                chosen[rank].append(number)
                after = order[rank].index((number, own, shared)) + 1
                go(rank, after, taken | 1 << number, covered | shared, total + own + self._weight(shared & ~covered))
                chosen[rank].pop()
            if len(chosen[rank]) >= self._fewest(rank):
                go(rank + 1, 0, taken, covered, total)

        go(0, 0, 0, 0, self._base)

    def _excluded(self, number: int, taken: int) -> bool:
        now = taken | 1 << number
        return any(bits & ~now == 0 for bits in self._never.get(number, ()))

    def _at_most(self, free: list[tuple[int, int, int]], room: int, covered: int) -> int:
        """Return no less than what ``room`` of these members can add."""
        gains = [own + self._weight(shared & ~covered) for _, own, shared in free]
        return sum(gains if len(gains) <= room else heapq.nlargest(room, gains))

    def _most(self, rank: int) -> int:
        return min(self._groups[rank].count, len(self._groups[rank].members))

    def _fewest(self, rank: int) -> int:
        return min(1, self._most(rank)) if self._groups[rank].repeat else self._most(rank)

    def _look(self) -> None:
        self._looks += 1
        if self._looks > MOST_LOOKS:
            raise ValueError(f"more than {MOST_LOOKS:,} partial choices would have to be looked at")
