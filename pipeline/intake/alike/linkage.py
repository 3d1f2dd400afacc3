"""Groups by average linkage: the two groups that are likeliest one become one, while all their pairs are likely enough on average."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from itertools import combinations

from pipeline.intake.alike.likeness import FLOOR


class Pairs:
    """Log-odds of pairs of texts; those at ``FLOOR`` are not stored."""

    def __init__(self, count: int) -> None:
        """Take how many texts there are."""
        self.count = count
        self._above: list[dict[int, float]] = [{} for _ in range(count)]

    def put(self, one: int, other: int, odds: float) -> None:
        """Store the log-odds of a pair."""
        if odds > FLOOR:
            self._above[one][other] = self._above[other][one] = odds

    def odds(self, one: int, other: int) -> float:
        """Return the log-odds of a pair."""
        return self._above[one].get(other, FLOOR)

    def nearest(self, one: int, most: int) -> list[int]:
        """Return the likeliest others of a text, the likeliest first; fewer where fewer are above ``FLOOR``."""
        return heapq.nsmallest(most, self._above[one], key=lambda other: (-self._above[one][other], other))

    def others(self, one: int) -> dict[int, float]:
        """Return the texts stored beside one, and how far above ``FLOOR`` each is."""
        return {other: odds - FLOOR for other, odds in self._above[one].items()}

    def mean(self, some: Sequence[int], others: Sequence[int]) -> float:
        """Return the mean log-odds of two groups."""
        return sum(self.odds(one, other) for one in some for other in others) / (len(some) * len(others))


def groups_of(
    pairs: Pairs,
    firm: float,
    together: Iterable[Sequence[int]] = (),
    apart: Iterable[Sequence[int]] = (),
    known: float | None = None,
) -> list[list[int]]:
    """Return groups of texts, each text in one, ascending, in the order of their first texts.

    Args:
        firm: mean log-odds from which on two groups become one.
        together: texts that are in one group whatever they say. apart: texts no two of which are in one group, unless ``together``
            says so. What the author put together is as likely one with another group as its likeliest part is, so that every wording
            of a bug that is known brings in more.
        known: the same as ``firm`` where one of the two groups has texts of ``together``; as high as ``firm`` where it is None.
    """
    return _Growing(pairs, together, apart, firm, firm if known is None else known).grow()


class _Growing:
    """Groups that grow; a group that takes in another gets a new number, so that what waits for the old ones is void."""

    def __init__(self, pairs: Pairs, together: Iterable[Sequence[int]], apart: Iterable[Sequence[int]], firm: float, known: float) -> None:
        self.firm, self.known = firm, known
        self.members = {rank: [rank] for rank in range(pairs.count)}
        self.above = {rank: pairs.others(rank) for rank in range(pairs.count)}  # sums over the pairs of two groups
        self.apart: dict[int, set[int]] = defaultdict(set)
        self.next = pairs.count
        self.where = list(range(pairs.count))
        self.decided: set[int] = set()
        for ranks in together:
            for other in ranks[1:]:
                first, second = self.where[ranks[0]], self.where[other]
                if first != second:
                    self.decided.add(self.join(first, second, self._likeliest))
        for ranks in apart:
            for first, second in combinations({self.where[rank] for rank in ranks}, 2):
                self.apart[first].add(second)
                self.apart[second].add(first)

    def grow(self) -> list[list[int]]:
        heap = [(-self.mean(one, other), one, other) for one in self.members for other in self.above[one] if one < other]
        heap = [entry for entry in heap if self.enough(*entry)]
        heapq.heapify(heap)
        while heap:
            _, one, other = heapq.heappop(heap)
            if one in self.members and other in self.members and other not in self.apart[one]:
                new = self.join(one, other)
                for third in self.above[new]:
                    if self.enough(*(entry := (-self.mean(new, third), third, new))):
                        heapq.heappush(heap, entry)
        return sorted(sorted(group) for group in self.members.values())

    def enough(self, unlike: float, one: int, other: int) -> bool:
        return -unlike >= (self.known if one in self.decided or other in self.decided else self.firm)

    def mean(self, one: int, other: int) -> float:
        return FLOOR + self.above[one][other] / (len(self.members[one]) * len(self.members[other]))

    def _likeliest(self, one: int, other: int) -> dict[int, float]:
        """Return the sums of two groups that the author made one: each wording of a bug that is known counts as the likeliest does."""
        mine, yours = len(self.members[one]), len(self.members[other])
        return {
            third: max(self.above[one].get(third, 0.0) / mine, self.above[other].get(third, 0.0) / yours) * (mine + yours)
            for third in self._beside(one, other)
        }

    def _sum(self, one: int, other: int) -> dict[int, float]:
        return {third: self.above[one].get(third, 0.0) + self.above[other].get(third, 0.0) for third in self._beside(one, other)}

    def _beside(self, one: int, other: int) -> set[int]:
        return (self.above[one].keys() | self.above[other].keys()) - {one, other}

    def join(self, one: int, other: int, added: Callable[[int, int], dict[int, float]] | None = None) -> int:
        new, self.next = self.next, self.next + 1
        sums = (added or self._sum)(one, other)
        self.members[new] = self.members.pop(one) + self.members.pop(other)
        for member in self.members[new]:
            self.where[member] = new
        del self.above[one], self.above[other]
        for third, value in sums.items():
            self.above[third].pop(one, None)
            self.above[third].pop(other, None)
            self.above[third][new] = value
        self.above[new] = sums
        kept_apart = self.apart.pop(one, set()) | self.apart.pop(other, set())
        for third in kept_apart:
            self.apart[third] = self.apart[third] - {one, other} | {new}
        self.apart[new] = kept_apart
        if one in self.decided or other in self.decided:
            self.decided.add(new)
        return new
