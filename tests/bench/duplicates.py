"""How well reports of one bug are found, on invented ones. Run: ``python -m tests.bench.duplicates``.

Precision: the share of pairs put into one group that are of one bug. Recall: the share of pairs of one bug that were put into
one group. The limit ``groups.LIKELY`` was chosen on the first half of the invented set; the second half shares no name with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from unittest import mock

from rapidfuzz import fuzz

from pipeline.intake import groups
from pipeline.intake.decisions import Decisions
from pipeline.intake.similar import Vocabulary
from tests.intake.invented_reports import labelled_set, names_of

SEEDS = (1, 2, 3, 4)


@dataclass(frozen=True)
class Pairs:
    """Pairs of reports: of one bug, put together, and both; and how many reports."""

    reports: int
    same: int
    together: int
    right: int

    def __add__(self, other: Pairs) -> Pairs:
        return Pairs(*(getattr(self, key) + getattr(other, key) for key in ("reports", "same", "together", "right")))

    @property
    def precision(self) -> float:
        return self.right / max(self.together, 1)

    @property
    def recall(self) -> float:
        return self.right / max(self.same, 1)


class Plain(Vocabulary):
    """The texts compared as they are, by a general measure of a library: RapidFuzz, ``token_set_ratio``."""

    def __init__(self, texts, names=None) -> None:
        super().__init__(texts, names)
        self._plain = dict(zip(map(id, self.texts), (f"{what} {where}".lower() for what, where in texts), strict=True))

    def alike(self, one, other) -> int:
        return int(fuzz.token_set_ratio(self._plain[id(one)], self._plain[id(other)]))


def measure(half: str, seed: int, names: bool = False, kind: type[Vocabulary] = Vocabulary) -> Pairs:
    """Group one labelled set and count its pairs; with ``names``, the other names of places and figures are known."""
    reports = labelled_set(half, seed=seed)
    vocabulary = kind([(one.what, one.where) for one in reports], names_of(half) if names else {})
    ids = [f"R-{rank:04}" for rank in range(1, len(reports) + 1)]
    found = [pair for group in groups.group_reports(ids, vocabulary, Decisions()) for pair in combinations(group.members, 2)]
    same = sum(one.bug == other.bug for one, other in combinations(reports, 2))
    return Pairs(len(reports), same, len(found), sum(reports[one].bug == reports[other].bug for one, other in found))


def main() -> None:
    """Print both shares for both halves at several limits, without names and with."""
    for half, names, kind in product(("first", "second"), (False, True), (Vocabulary, Plain)):
        if names and kind is Plain:
            continue  # it takes no names
        print(f"{half} half, {'with names' if names else 'without names'}{', by token_set_ratio' if kind is Plain else ''}")
        for limit in sorted({*range(32, 73, 8), groups.LIKELY}):
            with mock.patch.object(groups, "LIKELY", limit):
                total = sum((measure(half, seed, names, kind) for seed in SEEDS), Pairs(0, 0, 0, 0))
            mark = "  <- used" if limit == groups.LIKELY and kind is Vocabulary else ""
            counts = f"{total.reports} reports, {total.same} pairs of one bug"
            print(f"  alike from {limit} %: precision {total.precision:.2f}, recall {total.recall:.2f}; {counts}{mark}")


if __name__ == "__main__":
    main()
