"""Sets of colours into palettes, exactly: which sets share a palette, so that all of them fit.

To decide that is NP-complete (it holds bin packing). A quick way that mostly finds a packing comes first: put a set where
it shares most, and when that is too much, take out what shares least (overload and remove, after Grange, Kacem and Martin
2018, "Algorithms for the bin packing problem with overlapping items"; from memory). Then a search with a limit: it finds
a packing, proves that there is none, or gives up. Sets are Python integers, a bit a colour.
"""

from __future__ import annotations

import functools
import operator
from collections import Counter, deque
from dataclasses import dataclass

_ORDERS = 24  # in which the quick way is tried
_SHARE = 720720  # a colour's weight, shared by the sets in a bin that have it: 1 to 16 divide it
_WORK = 200_000  # looks at one set and one bin before the search gives up


@dataclass(frozen=True)
class Packing:
    """Where sets went.

    Attributes:
        complete: every set lies in its bin.
        bin_of: bin of each set; where not complete, the bin that lacks least of it.
        bins: union of what lies in each bin, at most the members allowed.
    """

    complete: bool
    bin_of: list[int]
    bins: list[int]


class _GaveUp(Exception):
    """The search has done all the work it may."""


def pack_sets(sets: list[int], bins: int, room: int) -> Packing:
    """Pack sets into at most ``bins`` unions of at most ``room`` members each.

    Args:
        sets: at least one; may repeat, may be empty (0).
        bins, room: at least 1.
    """
    found = None
    if _may_fit(sets, bins, room):
        maximal = _maximal(sets)
        found = _overload_and_remove(maximal, bins, room) or _Search(maximal, bins, room).run()
    found = found or _greedy(sets, bins, room)
    bin_of = [_home(one, found) for one in sets]
    complete = all(one & ~found[home] == 0 for one, home in zip(sets, bin_of, strict=True))
    return Packing(complete, bin_of, found)


def _home(one: int, found: list[int]) -> int:
    return min(range(len(found)), key=lambda rank: (one & ~found[rank]).bit_count())


def _may_fit(sets: list[int], bins: int, room: int) -> bool:
    everything = functools.reduce(operator.or_, sets)
    return everything.bit_count() <= bins * room and all(one.bit_count() <= room for one in sets)


def _largest_first(sets: list[int]) -> list[int]:
    """Return the distinct sets, the largest first, equally large ones by their bits."""
    return sorted(set(sets), key=lambda bits: (-bits.bit_count(), bits))


def _maximal(sets: list[int]) -> list[int]:
    """Return the distinct sets that lie in no other, the largest first."""
    left: list[int] = []
    for one in _largest_first(sets):
        if not any(one & ~other == 0 for other in left):
            left.append(one)
    return left


class _Bin:
    """Sets that share a bin, and how many of them have each colour."""

    def __init__(self) -> None:
        self.sets: dict[int, list[int]] = {}
        self.uses: Counter[int] = Counter()

    def add(self, number: int, one: list[int]) -> None:
        """Put a set in, by its number."""
        self.sets[number] = one
        self.uses.update(one)

    def share(self, one: list[int], besides: int) -> int:
        """Return a set's part of the bin's weight, where ``besides`` is 1 if the set is not yet in it."""
        return sum(_SHARE // (self.uses[colour] + besides) for colour in one)

    def shrink(self, room: int) -> list[int]:
        """Take sets out until the bin is not too full, those that share least first; returns their numbers."""
        out = []
        while len(self.uses) > room:
            gone = max(self.sets, key=lambda number: self.share(self.sets[number], 0) / len(self.sets[number]))
            self.uses -= Counter(self.sets.pop(gone))
            out.append(gone)
        return out


def _overload_and_remove(sets: list[int], most: int, room: int) -> list[int] | None:
    """Return the unions of at most ``most`` bins, or None when none of the orders tried leads there."""
    members = [[rank for rank in range(one.bit_length()) if one >> rank & 1] for one in sets]
    for order in range(min(_ORDERS, len(sets))):
        start = order * len(sets) // min(_ORDERS, len(sets))
        bins = _filled(members[start:] + members[:start], most, room)
        if bins is not None:
            return [sum(1 << colour for colour in one.uses) for one in bins] or [0]
    return None


def _filled(sets: list[list[int]], most: int, room: int) -> list[_Bin] | None:
    """Pack sets in the given order; a set never comes back to a bin, so this ends."""
    bins: list[_Bin] = []
    queue = deque(range(len(sets)))
    been: list[set[int]] = [set() for _ in sets]
    while queue:
        number = queue.popleft()
        one = sets[number]
        homes = [rank for rank in range(len(bins)) if rank not in been[number]]
        best = min(homes, key=lambda rank: bins[rank].share(one, 1), default=None)
        if len(bins) < most and (best is None or bins[best].share(one, 1) == _SHARE * len(one)):
            best = len(bins)
            bins.append(_Bin())
        if best is None:
            return None
        been[number].add(best)
        bins[best].add(number, one)
        queue.extend(bins[best].shrink(room))
    return bins


class _Search:
    """Depth-first search with the hardest set next: the one that fits in the fewest bins, then the one that adds most."""

    def __init__(self, sets: list[int], bins: int, room: int) -> None:
        self._sets, self._most, self._room, self._work = sets, bins, room, 0

    def run(self) -> list[int] | None:
        """Return the bins' unions, or None: there is no packing, or it was not found."""
        try:
            return self._place([], self._sets)
        except _GaveUp:
            return None

    def _place(self, bins: list[int], left: list[int]) -> list[int] | None:
        left = [one for one in left if all(one & ~union for union in bins)]
        if not left:
            return bins or [0]
        free = self._room * self._most - sum(union.bit_count() for union in bins)
        if (functools.reduce(operator.or_, left) & ~functools.reduce(operator.or_, bins, 0)).bit_count() > free:
            return None
        one, homes = self._hardest(bins, left)
        for rank in homes:
            union = one | (bins[rank] if rank < len(bins) else 0)
            found = self._place([*bins[:rank], union, *bins[rank + 1 :]], left)
            if found:
                return found
        return None

    def _hardest(self, bins: list[int], left: list[int]) -> tuple[int, list[int]]:
        """Return a set and the bins it fits in, the one it adds least to first; a new bin comes last."""
        self._work += len(left) * (len(bins) + 1)
        if self._work > _WORK:
            raise _GaveUp
        one = min(left, key=lambda each: self._score(bins, each))
        homes = sorted(self._homes(bins, one), key=lambda rank: (one & ~bins[rank]).bit_count())
        return one, homes + ([len(bins)] if len(bins) < self._most else [])

    def _homes(self, bins: list[int], one: int) -> list[int]:
        """Return the bins a set fits in."""
        return [rank for rank, union in enumerate(bins) if (one | union).bit_count() <= self._room]

    def _score(self, bins: list[int], one: int) -> tuple[int, int]:
        """Return how many bins a set fits in, and how little it adds to the best of them: the lowest is the hardest set to place."""
        homes = self._homes(bins, one)
        return len(homes), -min(((one & ~bins[rank]).bit_count() for rank in homes), default=one.bit_count())


def _greedy(sets: list[int], bins: int, room: int) -> list[int]:
    """Pack what fits, larger sets first, each where it adds least; at least one bin."""
    found: list[int] = []
    for one in _largest_first(sets):
        grown = [(one & ~union).bit_count() for union in found]
        homes = [rank for rank, union in enumerate(found) if union.bit_count() + grown[rank] <= room]
        if homes:
            found[min(homes, key=lambda rank: grown[rank])] |= one
        elif len(found) < bins and one.bit_count() <= room:
            found.append(one)
    return found or [0]
