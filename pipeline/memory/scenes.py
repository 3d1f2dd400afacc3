"""The worst cases of a scene: which choices of members need most memory, found exactly by branch and bound."""

from __future__ import annotations

import heapq
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

MOST_LOOKS = 1_000_000  # partial choices looked at before the search is given up


@dataclass(frozen=True)
class Group:
    """``count`` of these members are in memory at once; each member is the set of assets it loads.

    Attributes:
        repeat: the same member may be chosen again. Its assets still count once, so 1 to ``count`` distinct ones are there; what
            ``Sets`` says of it counts each time.
    """

    count: int
    members: dict[str, frozenset[str]]
    repeat: bool = True


@dataclass(frozen=True)
class Sets:
    """What is needed once for each time that a member is chosen, apart from its assets: buffers, windows.

    Attributes:
        each: member -> pairs of a role and an amount of at least 0; a member that is not here needs none.
        always: such pairs, whatever is chosen.
        most: role -> how many sets of it there are, at least 1; only its largest amounts count. Other roles have no such limit.
    """

    each: dict[str, list[tuple[str, int]]] = field(default_factory=dict)
    always: list[tuple[str, int]] = field(default_factory=list)
    most: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Worst:
    """One case.

    Attributes:
        bytes: of all assets in it, each counted once, and of the sets of its members.
        chosen: the members chosen, one tuple for each group, in the group's order; each once, but those with sets as often as chosen.
        assets: everything loaded.
    """

    bytes: int
    chosen: tuple[tuple[str, ...], ...]
    assets: frozenset[str]


def worst_cases(
    always: frozenset[str],
    groups: list[Group],
    sizes: dict[str, int],
    never: Iterable[frozenset[str]] = (),
    most: int = 1,
    sets: Sets | None = None,
) -> list[Worst]:
    """Return the cases that need most memory, the worst first; of equals, those first in the order of the project file.

    The search is exact: a partial choice is left only when even the largest members that could join it, with nothing
    excluded and nothing shared among them, would not reach the cases found.

    Args:
        always: assets in memory whatever is chosen.
        sizes: bytes in memory of every asset.
        never: sets of members that are never all chosen together.
        most: how many cases are wanted; fewer are returned if there are fewer.
        sets: what is needed each time a member is chosen; None for nothing.

    Returns:
        Distinct cases; none when the exclusions leave no choice that fills every group.

    Raises:
        ValueError: more than ``MOST_LOOKS`` partial choices had to be looked at.
    """
    search = _Search(always, groups, sizes, never, sets or Sets())
    least = search.least_bytes(most)
    return [] if least is None else search.cases(least, most)


class _Member(NamedTuple):
    """A member of a group.

    Attributes:
        number: the same for a name in all groups.
        own: bytes of assets that only it loads; ``shared``: bits of those that others load too.
        plain: amount of its sets without a limit.
        limited: rank of the role and amount of each of the others.
    """

    number: int
    own: int
    shared: int
    plain: int
    limited: tuple[tuple[int, int], ...]

    @property
    def counts_again(self) -> bool:
        """Whether it needs more when it is chosen again."""
        return self.plain > 0 or bool(self.limited)


_Full = tuple[tuple[int, ...], ...]  # for each role with a limit the amounts that count, the smallest first


class _Search:
    """Members as bits, and two walks over choices: one for the numbers, largest first, one for the cases, in file order."""

    def __init__(
        self, always: frozenset[str], groups: list[Group], sizes: dict[str, int], never: Iterable[frozenset[str]], sets: Sets
    ) -> None:
        self._always, self._groups, self._sizes, self._sets = always, groups, sizes, sets
        self._roles = {role: rank for rank, role in enumerate(sets.most)}
        self._places = list(sets.most.values())
        plain, limited = self._split(sets.always)
        more, self._full = self._taken(limited, tuple(() for _ in self._places))
        self._base = sum(sizes[asset] for asset in always) + plain + more
        self._names = {name: rank for rank, name in enumerate(dict.fromkeys(name for group in groups for name in group.members))}
        self._never = self._bits_of_never(never)
        self._assets: dict[str, int] = {}
        self._members = [self._measured(group) for group in groups]
        self._weights: dict[int, int] = {0: 0}
        self._looks = 0

    def _split(self, sets: list[tuple[str, int]]) -> tuple[int, tuple[tuple[int, int], ...]]:
        """Return the amount of sets without a limit, and the others with the rank of their role."""
        plain = sum(amount for role, amount in sets if role not in self._roles)
        return plain, tuple((self._roles[role], amount) for role, amount in sets if role in self._roles and amount)

    def _taken(self, limited: tuple[tuple[int, int], ...], full: _Full) -> tuple[int, _Full]:
        """Return what further sets of roles with a limit add, and the amounts that count then."""
        total = 0
        for rank, amount in limited:
            there = sorted((*full[rank], amount))
            kept = tuple(there[-self._places[rank] :])
            total += sum(kept) - sum(full[rank])
            full = (*full[:rank], kept, *full[rank + 1 :])
        return total, full

    def _bits_of_never(self, never: Iterable[frozenset[str]]) -> dict[int, list[int]]:
        """Return for each member the exclusions it is part of, as bits of members."""
        found: dict[int, list[int]] = {}
        for names in never:
            if names <= self._names.keys():
                bits = sum(1 << self._names[name] for name in names)
                for name in names:
                    found.setdefault(self._names[name], []).append(bits)
        return found

    def _measured(self, group: Group) -> list[_Member]:
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
            measured.append(_Member(self._names[name], own, shared, *self._split(self._sets.each.get(name, []))))
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
        order = [sorted(members, key=lambda one: -self._gain(one, 0, self._full, False)) for members in self._members]

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

    def _walk(self, order: list[list[_Member]], enough, found) -> None:
        """Go through all choices depth first; ``enough`` of a bound leaves a branch, ``found`` gets total and choice."""
        chosen: list[list[int]] = [[] for _ in order]

        def go(rank: int, start: int, taken: int, covered: int, total: int, full: _Full) -> None:
            self._look()
            if rank == len(order):
                found(total, chosen)
                return
            last = chosen[rank][-1] if chosen[rank] else -1
            rooms = [self._most(rank) - len(chosen[rank]), *map(self._most, range(rank + 1, len(order)))]
            bound = total + self._at_most(rank, order[rank][start:], rooms[0], (taken, covered, full), last)
            for after, room in enumerate(rooms[1:], rank + 1):
                bound += self._at_most(after, order[after], room, (taken, covered, full), -1)
            if enough(bound):
                return
            for at in range(start, len(order[rank]) if rooms[0] else 0):
                one = order[rank][at]
                if self._excluded(one.number, taken):
                    continue
                chosen[rank].append(one.number)
                more, filled = self._taken(one.limited, full)
                fresh = 0 if one.number == last else one.own + self._weight(one.shared & ~covered)
                again = at if self._groups[rank].repeat and one.counts_again else at + 1
                go(rank, again, taken | 1 << one.number, covered | one.shared, total + fresh + one.plain + more, filled)
                chosen[rank].pop()
            if self._complete(rank, chosen[rank]):
                go(rank + 1, 0, taken, covered, total, full)

        go(0, 0, 0, 0, self._base, self._full)

    def _excluded(self, number: int, taken: int) -> bool:
        now = taken | 1 << number
        return any(bits & ~now == 0 for bits in self._never.get(number, ()))

    def _gain(self, one: _Member, covered: int, full: _Full, again: bool) -> int:
        """Return what a member adds to a case."""
        fresh = 0 if again else one.own + self._weight(one.shared & ~covered)
        return fresh + one.plain + (self._taken(one.limited, full)[0] if one.limited else 0)

    def _at_most(self, rank: int, members: list[_Member], room: int, state: tuple[int, int, _Full], last: int) -> int:
        """Return no less than what ``room`` of these members can add to a group whose ``last`` chosen one is this; -1 for none."""
        taken, covered, full = state
        gains = []
        for one in members:
            if not self._excluded(one.number, taken):
                gains.append(self._gain(one, covered, full, one.number == last))
                if self._groups[rank].repeat and one.counts_again:
                    gains += [self._gain(one, covered, full, True)] * (room - 1)
        return sum(gains if len(gains) <= room else heapq.nlargest(room, gains))

    def _most(self, rank: int) -> int:
        """Return how many members of a group are listed at most."""
        group = self._groups[rank]
        again = group.repeat and any(one.counts_again for one in self._members[rank])
        return group.count if again else min(group.count, len(group.members))

    def _complete(self, rank: int, picked: list[int]) -> bool:
        """Return whether the list is complete: the rest, if any, are members chosen again that need nothing more for it."""
        if len(picked) == self._most(rank):
            return True
        free = {one.number for one in self._members[rank] if not one.counts_again}
        return self._groups[rank].repeat and not free.isdisjoint(picked)

    def _look(self) -> None:
        self._looks += 1
        if self._looks > MOST_LOOKS:
            raise ValueError(f"more than {MOST_LOOKS:,} partial choices would have to be looked at")
