"""Reports that are likely of one bug, and for each the likeliest others, as suggestions; what the author decided is kept to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING

from pipeline.intake.alike.asking import ask
from pipeline.intake.alike.lexicon import folded
from pipeline.intake.alike.likeness import FLOOR, Likeness, less_crowded
from pipeline.intake.alike.linkage import Pairs, groups_of
from pipeline.intake.alike.sentences import Encoder
from pipeline.intake.decisions import Decisions, united

if TYPE_CHECKING:
    pass

_FEW = 1200  # different texts up to which every pair is compared
_COMPARED = 40  # earlier ones that a text is compared with where there are more


@dataclass
class Group:
    """Reports taken together.

    Attributes:
        members: ranks of the reports, ascending. decided: those the author said are the same.
    """

    members: list[int]
    decided: set[int] = field(default_factory=set)


class Compared:
    """Reports compared with each other and with the known issues.

    Equal texts are compared once.
    """

    def __init__(
        self,
        reports: Sequence[str],
        issues: Sequence[str] = (),
        names: dict[str, list[str]] | None = None,
        buttons: dict[str, str] | None = None,
        encode: Encoder | None = None,
    ) -> None:
        """Compare; see ``alike.likeness.Likeness`` for ``names``, ``buttons`` and ``encode``."""
        first: dict[str, int] = {}
        self.text_of = [first.setdefault(folded(text) or text, len(first)) for text in reports]
        texts = [""] * len(first)
        self.reports_of: list[list[int]] = [[] for _ in first]
        for rank, at in enumerate(self.text_of):
            texts[at] = texts[at] or reports[rank]
            self.reports_of[at].append(rank)
        self.likeness = Likeness([*texts, *issues], names, buttons, encode)
        self._texts = len(texts)
        self.pairs = self._compare()
        self.issue_odds = self._with_issues(len(issues))

    def _compare(self) -> Pairs:
        return self._every_pair() if self._texts <= _FEW else self._some_pairs()

    def _every_pair(self) -> Pairs:
        import numpy as np

        odds = np.zeros((self._texts, self._texts), np.float32)
        for one in range(1, self._texts):
            odds[one, :one] = self.likeness.odds(one, np.arange(one))
        odds = less_crowded(odds + odds.T, self.likeness.model.crowd)
        pairs = Pairs(self._texts)
        for one, other in zip(*np.nonzero(np.tril(odds > FLOOR, -1)), strict=True):
            pairs.put(int(one), int(other), float(odds[one, other]))
        return pairs

    def _some_pairs(self) -> Pairs:
        import numpy as np

        pairs = Pairs(self._texts)
        for one, others in enumerate(self.likeness.partners(_COMPARED)):
            if len(others) and one < self._texts:
                odds = self.likeness.odds(one, others)
                for at in np.flatnonzero(odds > FLOOR).tolist():
                    pairs.put(one, int(others[at]), float(odds[at]))
        return pairs

    def _with_issues(self, issues: int) -> list[list[float]]:
        """Return for each text its log-odds with every known issue, as if both were like many others."""
        import numpy as np

        ranks, crowd = np.arange(self._texts, self._texts + issues), np.float32(self.likeness.model.crowd)
        return [(self.likeness.odds(one, ranks) - crowd).tolist() if issues else [] for one in range(self._texts)]

    def odds(self, one: int, other: int) -> float:
        """Return the log-odds that two reports are of one bug; equal texts are as likely as anything can be."""
        first, second = self.text_of[one], self.text_of[other]
        return CERTAIN if first == second else self.pairs.odds(first, second)

    def nearest(self, one: int, most: int) -> list[int]:
        """Return the reports that are likeliest of a report's bug, the likeliest first; of equal texts all."""
        texts = [self.text_of[one], *self.pairs.nearest(self.text_of[one], most)]
        return [rank for text in texts for rank in self.reports_of[text] if rank != one][:most]

    def words(self, one: int, other: int, most: int) -> list[str]:
        """Return words of a report that another has too, or one like it; see ``Likeness.words``."""
        return self.likeness.words(self.text_of[one], self.text_of[other], most)

    def issue_words(self, one: int, issue: int, most: int) -> list[str]:
        """Return words of a report that a known issue has too, or one like it."""
        return self.likeness.words(self.text_of[one], self._texts + issue, most)


CERTAIN = 6.0  # log-odds of equal texts


def group_reports(ids: list[str], compared: Compared, decisions: Decisions) -> list[Group]:
    """Return groups of reports, each report in one, in the order of their first members.

    Two groups become one while all their pairs are likely enough of one bug on average. Those that the author separated, or gave
    different known issues, never meet; those said to be the same are one group from the start. Groups of one known issue become one in
    the end, so that a report takes its group along as the author saw it.

    Args:
        ids: of the reports, in the order in which they were compared.
    """
    units, unit_of = _units(ids, compared, decisions)
    pairs = Pairs(len(units))
    of_text: dict[int, list[int]] = {}
    for unit, members in enumerate(units):
        of_text.setdefault(compared.text_of[members[0]], []).append(unit)
    for text, some in of_text.items():
        for rank, one in enumerate(some):
            for other in some[:rank]:
                pairs.put(one, other, CERTAIN)
            for other_text, above in compared.pairs.others(text).items():
                for other in of_text[other_text]:
                    pairs.put(one, other, above + FLOOR)
    ranks = {one: unit_of[rank] for rank, one in enumerate(ids)}
    together = [[ranks[one] for one in some if one in ranks] for some in decisions.same]
    apart = [[ranks[one] for one in some if one in ranks] for some in decisions.not_same]
    apart += _different_issues(ranks, decisions)
    model = compared.likeness.model
    found = groups_of(pairs, model.firm, [some for some in together if some], apart, model.known)
    _join_issues(found, ranks, apart, decisions)
    said = united(decisions.one_bug())
    groups = [Group(sorted(member for unit in some for member in units[unit])) for some in found if some]
    for group in groups:
        group.decided = {rank for rank in group.members if ids[rank] in said}
    return sorted(groups, key=lambda group: group.members[0])


def to_decide(ids: list[str], groups: list[Group], compared: Compared, decisions: Decisions, most: int, shown: int) -> list[list[int]]:
    """Return the reports to decide on next: of each list, which others are of one bug with the first; see ``alike.asking.ask``."""
    at_of = {ids[rank]: at for at, group in enumerate(groups) for rank in group.members}
    texts: list[list[int]] = []
    kept: list[int] = []
    for at, group in enumerate(groups):
        own = {compared.text_of[rank] for rank in group.members if compared.reports_of[compared.text_of[rank]][0] in group.members}
        if own:
            texts.append(sorted(own))
            kept.append(at)
    rank_of = {at: rank for rank, at in enumerate(kept)}
    said = [[rank_of[at_of[one]] for one in some if one in at_of and at_of[one] in rank_of] for some in decisions.not_same]
    apart = {frozenset(pair) for some in said for pair in combinations(some, 2)}
    asked = ask(compared.pairs, texts, [len(groups[at].members) for at in kept], apart, most, shown)
    return [[compared.reports_of[text][0] for text in (one.about, *one.others)] for one in asked]


def _units(ids: list[str], compared: Compared, decisions: Decisions) -> tuple[list[list[int]], list[int]]:
    """Return what is grouped: reports of equal texts as one, but each that the author mentioned by itself."""
    mentioned = {one for some in (*decisions.same, *decisions.not_same) for one in some} | decisions.issue.keys()
    leaders: dict[object, int] = {}
    units: list[list[int]] = []
    unit_of = []
    for rank, one in enumerate(ids):
        at = leaders.setdefault(one if one in mentioned else compared.text_of[rank], len(units))
        if at == len(units):
            units.append([])
        units[at].append(rank)
        unit_of.append(at)
    return units, unit_of


def _join_issues(found: list[list[int]], ranks: dict[str, int], apart: list[list[int]], decisions: Decisions) -> None:
    """Make one of the groups with reports of one known issue, unless the author separated others in them; what joins is left empty."""
    where = {unit: at for at, units in enumerate(found) for unit in units}
    separated = {frozenset(pair) for some in apart for pair in combinations(some, 2)}
    leaders: dict[str, int] = {}
    for report, issue in decisions.issue.items():
        if not issue or report not in ranks:
            continue
        first = where[leaders.setdefault(issue, ranks[report])]
        second = where[ranks[report]]
        if first != second and not any(frozenset((a, b)) in separated for a in found[first] for b in found[second]):
            where |= dict.fromkeys(found[second], first)
            found[first] += found[second]
            found[second] = []


def _different_issues(ranks: dict[str, int], decisions: Decisions) -> list[list[int]]:
    """Return units of which no two are of one bug: one of each known issue, and each said to be of none beside those."""
    issues: dict[str, int] = {}
    none = []
    for report, issue in decisions.issue.items():
        if report in ranks and issue:
            issues.setdefault(issue, ranks[report])
        elif report in ranks:
            none.append(ranks[report])
    return [list(issues.values()), *([unit, leader] for unit in none for leader in issues.values())]
