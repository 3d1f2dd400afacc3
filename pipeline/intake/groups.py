"""Reports that are likely of one bug, as suggestions; what the author decided is kept to, and comes first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations

from pipeline.intake.decisions import Decisions, united
from pipeline.intake.similar import Vocabulary

LIKELY = 40  # per cent that the reports of two groups must be alike on average; chosen on half the invented set, see tests/bench
_FEW = 1500  # reports up to which all that share a word that is not everywhere are compared
_COMMON = 400  # texts that have a word, from which on it alone makes nobody be compared
_HEAVIEST, _BEFORE, _COMPARED = 6, 40, 40  # words whose pairs bring texts together; how many of those before; most for one text
_LOOKED_AT = 12  # members of a group whose likeness is averaged


@dataclass
class Group:
    """Reports taken together.

    Attributes:
        members: ranks of the reports, ascending. decided: those the author said are the same.
    """

    members: list[int]
    decided: set[int] = field(default_factory=set)


def group_reports(ids: list[str], vocabulary: Vocabulary, decisions: Decisions) -> list[Group]:
    """Return groups of reports, each report in one, in the order of their first members.

    Groups grow from the most similar pair; two become one while what is compared of them is similar on average. Those that
    the author separated, or gave different known issues, never meet; those given one known issue are one group in the end.

    Args:
        ids: of the reports; ``vocabulary.texts`` holds theirs at the same ranks.
    """
    groups, where = _decided(ids, vocabulary, decisions)
    apart = _apart(ids, where, decisions)
    refused: dict[tuple[int, int], tuple[int, int]] = {}  # two groups -> how large they were when they were not alike enough
    for _, one, other in _edges(len(ids), vocabulary):
        first, second = sorted((where[one], where[other]))
        if first == second or second in apart[first]:
            continue
        sizes = len(groups[first].members), len(groups[second].members)
        if refused.get((first, second)) == sizes:
            continue
        if _mean(groups[first], groups[second], vocabulary) < LIKELY:
            refused[first, second] = sizes
        else:
            _join(first, second, groups, where, apart)
    _join_issues(ids, groups, where, apart, decisions)
    return sorted((group for group in groups if group.members), key=lambda group: group.members[0])


def _join(first: int, second: int, groups: list[Group], where: list[int], apart: dict[int, set[int]]) -> None:
    groups[first].members = sorted(groups[first].members + groups[second].members)
    groups[first].decided |= groups[second].decided
    for member in groups[second].members:
        where[member] = first
    apart[first] |= apart[second]
    for third in apart[second]:
        apart[third].add(first)
    groups[second].members = []


def _join_issues(ids: list[str], groups: list[Group], where: list[int], apart: dict[int, set[int]], decisions: Decisions) -> None:
    """Make one of the groups whose reports the author gave one known issue, unless the author separated others in them.

    This comes last, so that a report takes its group along as the author saw it.
    """
    ranks = {one: rank for rank, one in enumerate(ids)}
    leaders: dict[str, int] = {}
    for report, issue in decisions.issue.items():
        if not issue or report not in ranks:
            continue
        leader = leaders.setdefault(issue, ranks[report])
        first, second = sorted((where[leader], where[ranks[report]]))
        if first != second and second not in apart[first]:
            _join(first, second, groups, where, apart)
        if leader != ranks[report] and where[leader] == where[ranks[report]]:
            groups[where[leader]].decided |= {leader, ranks[report]}


def _decided(ids: list[str], vocabulary: Vocabulary, decisions: Decisions) -> tuple[list[Group], list[int]]:
    """Return a group for every report, but one for those decided to be the same, and for equal texts without a decision."""
    owner, mentioned = united(decisions.same), _mentioned(decisions)
    leaders: dict[object, int] = {}
    groups: list[Group] = []
    where = []
    for rank, one in enumerate(ids):
        decided = one in owner
        # Where the author said something of a report, its likeness to others goes by the pairs.
        key = owner[one] if decided else one if one in mentioned else vocabulary.texts[rank] if vocabulary.texts[rank].every else one
        at = leaders.setdefault(key, len(groups))
        if at == len(groups):
            groups.append(Group([]))
        groups[at].members.append(rank)
        if decided:
            groups[at].decided.add(rank)
        where.append(at)
    return groups, where


def _mentioned(decisions: Decisions) -> set[str]:
    return {one for ids in decisions.not_same for one in ids} | decisions.issue.keys()


def _apart(ids: list[str], where: list[int], decisions: Decisions) -> dict[int, set[int]]:
    at = {one: where[rank] for rank, one in enumerate(ids)}
    apart: dict[int, set[int]] = defaultdict(set)
    pairs = [pair for mentioned in decisions.not_same for pair in combinations(mentioned, 2)]
    pairs += [pair for pair in combinations(decisions.issue, 2) if decisions.issue[pair[0]] != decisions.issue[pair[1]]]
    for one, other in pairs:
        if one in at and other in at:
            apart[at[one]].add(at[other])
            apart[at[other]].add(at[one])
    return apart


def _edges(count: int, vocabulary: Vocabulary) -> list[tuple[int, int, int]]:
    """Return ``(-score, rank, rank)`` of pairs that are similar enough, the most similar first."""
    texts, edges = vocabulary.texts, []
    for rank, others in enumerate(_candidates(count, vocabulary)):
        for other in others:
            score = vocabulary.alike(texts[rank], texts[other])
            if score >= LIKELY:
                edges.append((-score, other, rank))
    edges.sort()
    return edges


def _candidates(count: int, vocabulary: Vocabulary) -> Iterator[list[int]]:
    """Yield for each report earlier ones to compare it with."""
    buckets: dict[object, list[int]] = defaultdict(list)
    common = max(_COMMON, count // 4) if count <= _FEW else _COMMON
    for rank in range(count):
        words = vocabulary.texts[rank].every
        heavy = sorted(vocabulary.shared(vocabulary.texts[rank], vocabulary.texts[rank])[:_HEAVIEST])
        keys: list[object] = [word for word in sorted(words) if vocabulary.counts[word] <= common]
        keys += combinations(heavy, 2)
        found: dict[int, None] = {}
        for key in keys:
            before = buckets[key]
            found.update(dict.fromkeys(before if count <= _FEW else before[-_BEFORE:]))
            before.append(rank)
        yield sorted(found) if count <= _FEW else sorted(found, reverse=True)[:_COMPARED]


def _mean(one: Group, other: Group, vocabulary: Vocabulary) -> int:
    texts = vocabulary.texts
    first, second = one.members[:_LOOKED_AT], other.members[:_LOOKED_AT]
    total = sum(vocabulary.alike(texts[a], texts[b]) for a in first for b in second)
    return total // (len(first) * len(second))
