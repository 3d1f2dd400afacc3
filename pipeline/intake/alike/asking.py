"""What to ask the author next: a report, and others that may be of its bug, such that the answer is likely to put most reports in place."""

from __future__ import annotations

import math
from collections.abc import Sequence, Set
from dataclasses import dataclass

from pipeline.intake.alike.likeness import FLOOR
from pipeline.intake.alike.linkage import Pairs

_UNLIKELY = 0.05  # chance below which a group is not asked about
_LIKELY = 0.2  # chance from which on a group in one question is not the first of another in the same round
_LOOKED_AT = 30  # texts of a group that are compared to find the one in its middle


@dataclass
class Asked:
    """A question: which of some texts are of one bug with another?

    Attributes:
        about: the text in the middle of a group. others: of one other group each, the likeliest group first.
    """

    about: int
    others: list[int]


def ask(
    pairs: Pairs, groups: Sequence[Sequence[int]], sizes: Sequence[int], apart: Set[frozenset[int]], most: int, shown: int
) -> list[Asked]:
    """Return the questions whose answers are expected to put most pairs of reports together, the best first.

    Args:
        groups: texts of each. sizes: reports of each. apart: ranks of two groups that the author separated.
        most: questions. shown: at most so many other texts in one.
    """
    beside = _beside(pairs, groups, apart)
    expected = []
    for rank, others in enumerate(beside):
        likeliest = sorted(others.items(), key=lambda one: (-one[1], one[0]))[:shown]
        reports = [chance * sizes[other] for other, chance in likeliest]
        if likeliest:
            # Pairs that an answer puts together: with this group, and of the others among each other.
            gain = sum(reports) * sizes[rank] + (sum(reports) ** 2 - sum(each * each for each in reports)) / 2
            expected.append((gain, rank, likeliest))
    found: list[Asked] = []
    taken: set[int] = set()
    for _, rank, likeliest in sorted(expected, key=lambda one: (-one[0], one[1])):
        if rank not in taken and len(found) < most:
            about = _middle(pairs, groups[rank])
            found.append(Asked(about, [_likest(pairs, groups[rank], groups[other]) for other, _ in likeliest]))
            taken |= {rank, *(other for other, chance in likeliest if chance >= _LIKELY)}
    return found


def _beside(pairs: Pairs, groups: Sequence[Sequence[int]], apart: Set[frozenset[int]]) -> list[dict[int, float]]:
    """Return for each group the chance that another is of its bug: that of the mean of their mean and their highest log-odds."""
    where = {text: rank for rank, texts in enumerate(groups) for text in texts}
    found: list[dict[int, float]] = []
    for rank, texts in enumerate(groups):
        sums: dict[int, tuple[float, float]] = {}
        for text in texts:
            for other, above in pairs.others(text).items():
                total, highest = sums.get(where[other], (0.0, 0.0))
                sums[where[other]] = total + above, max(highest, above)
        sums.pop(rank, None)
        odds = {at: FLOOR + (total / (len(texts) * len(groups[at])) + highest) / 2 for at, (total, highest) in sums.items()}
        chances = {at: 1 / (1 + math.exp(-value)) for at, value in odds.items()}
        found.append({at: chance for at, chance in chances.items() if chance >= _UNLIKELY and frozenset((rank, at)) not in apart})
    return found


def _middle(pairs: Pairs, texts: Sequence[int]) -> int:
    some = texts[:_LOOKED_AT]
    return max(some, key=lambda one: (sum(pairs.odds(one, other) for other in some if other != one), -one))


def _likest(pairs: Pairs, texts: Sequence[int], others: Sequence[int]) -> int:
    return max(others, key=lambda other: (max(pairs.odds(one, other) for one in texts), -other))
