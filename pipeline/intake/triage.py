"""Bug reports in the order in which to look at them: groups and their nearest, builds, known issues, what was said to be fixed."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from pipeline.intake.alike.sentences import Encoder
from pipeline.intake.builds import Builds
from pipeline.intake.citations import Citations
from pipeline.intake.decisions import Decisions, united
from pipeline.intake.groups import Compared, Group, group_reports, to_decide
from pipeline.intake.scales import most_said, often_rank, severity_rank
from pipeline.project.file import SEVERITIES, Issue
from pipeline.project.intake import BugForm

LIKELY = 10  # per cent from which on a known issue is named in the open
CIRCUMSTANCES = ("pad", "console", "cartridge", "screen")  # fields that say what a bug was seen on
_REASONS = 8  # words shown
_SUGGESTED = 3  # known issues and other groups suggested for a group
ASKED, OTHERS = 5, 10  # questions asked at a time; other reports named in one at most
_NEAREST = 5  # other reports named beside a report
_LOOKED_AT = 30  # members of a group that are compared for what the page says of it


@dataclass
class Triage:
    """What is known when reports are put in order.

    Attributes:
        issues: the project's known ones. code: of the game, for ids where it has none.
        buttons: button -> what it does. encode: see ``alike.sentences.encoder``.
    """

    reports: list[dict[str, Any]]
    builds: Builds
    issues: list[Issue]
    decisions: Decisions
    form: BugForm | None
    code: str
    buttons: dict[str, str] = field(default_factory=dict)
    encode: Encoder | None = None

    def __post_init__(self) -> None:
        known = [f"{issue.title}. {issue.what}" if issue.title else issue.what for issue in self.issues]
        names = self.form.names if self.form else {}
        self.compared = Compared([one.get("what", "") for one in self.reports], known, names, self.buttons, self.encode)
        citations = Citations(issue.id for issue in self.issues)
        self.cited = [citations.cited(one.get("what", "")) + citations.answered(one.get("known", "")) for one in self.reports]
        self.built = [self.builds.match(one.get("build", "")) for one in self.reports]
        severities = self.form.severities if self.form else {}
        frequencies = self.form.frequencies if self.form else []
        self.severity = [severity_rank(one.get("severity", ""), severities) for one in self.reports]
        self.often = [often_rank(one.get("often", ""), frequencies) for one in self.reports]
        self.no_often = often_rank("", frequencies)
        versions = {build.version: rank for rank, build in reversed(list(enumerate(self.builds.builds)))}
        decided = {issue: versions[version] for issue, version in self.decisions.fixed.items()}
        self.fixed = self.builds.fixed | decided
        owner = united(self.decisions.same)
        self._issue_of = {owner.get(one, one): issue for one, issue in self.decisions.issue.items()}
        self._owner = owner

    def groups(self) -> list[dict[str, Any]]:
        """Return the groups, what is worst first, and last those that the author said are of an issue fixed and not seen since.

        The order goes by severity, how often it happens, how many testers, whether it was said to be fixed and is seen again,
        and the first report's id. A group's severity is what most of its reports say, the worse of two; so is how often.
        """
        groups = self._groups = group_reports([one["id"] for one in self.reports], self.compared, self.decisions)
        self._group_of = {member: at for at, group in enumerate(groups) for member in group.members}
        found: list[dict[str, Any]] = [{**self._group_row(group), "near": self._near(groups, at)} for at, group in enumerate(groups)]
        found.sort(key=lambda one: one.pop("order"))
        number = _free_id([issue.id for issue in self.issues], self.code)
        for one in found:
            issue: dict[str, Any] | None = one["issue"]
            one["entry"] = {"id": number, **one["entry"]} if issue is None or not issue["decided"] else None
        return found

    def to_decide(self) -> list[list[dict[str, Any]]]:
        """Return what to decide next, once ``groups`` was called: lists of reports that may be of one bug with the first of their list.

        Each report is ``id``, ``what``.
        """
        found = to_decide([one["id"] for one in self.reports], self._groups, self.compared, self.decisions, ASKED, OTHERS)
        return [[{"id": self.reports[rank]["id"], "what": self.reports[rank].get("what", "")} for rank in some] for some in found]

    def not_understood(self) -> dict[str, list[str]]:
        """Return field -> its words whose rank is not known."""
        ranks = {"severity": (self.severity, len(SEVERITIES)), "often": (self.often, self.no_often)}
        return {
            field: sorted({one[field] for one, rank in zip(self.reports, every, strict=True) if field in one and rank == unknown})
            for field, (every, unknown) in ranks.items()
        }

    def _group_row(self, group: Group) -> dict[str, Any]:
        members = group.members
        reports = [self.reports[rank] for rank in members]
        centre = self._centre(members)
        severity = most_said([self.severity[rank] for rank in members], len(SEVERITIES))
        often = most_said([self.often[rank] for rank in members], self.no_often)
        named = {one["tester"] for one in reports if "tester" in one}
        unnamed = sum("tester" not in one for one in reports)
        issue = self._issue(members)
        again, fixed = self._fixed(issue, members)
        settled = issue is not None and bool(fixed) and not again and issue["decided"]
        builds = self._builds(members)
        head = self.reports[centre]
        return {
            "order": (settled, severity, often, -(len(named) + unnamed), not again, bool(fixed), reports[0]["id"]),
            "title": head.get("what", ""),
            "where": _most([one["where"] for one in reports if one.get("where")]),
            "severity": SEVERITIES[severity] if severity < len(SEVERITIES) else "",
            "often": _most([self.reports[rank].get("often", "") for rank in members if self.often[rank] == often]),
            "testers": len(named),
            "unnamed": unnamed,
            "builds": builds,
            "circumstances": _circumstances(reports),
            "issue": issue,
            "suggested": self._suggested(members, issue),
            "again": again,
            "fixed": fixed,
            "settled": settled,
            "reports": [self._member(rank, group) for rank in members],
            "likeness": self._likeness(members),
            "entry": {
                "severity": SEVERITIES[min(severity, len(SEVERITIES) - 1)],
                "where": _most([one["where"] for one in reports if one.get("where")]) or "?",
                "what": head.get("what", "") or "?",
                **({"since": builds[0]["version"]} if builds[0]["version"] else {}),
            },
        }

    def _centre(self, members: list[int]) -> int:
        """Return the report most like the others, the first of several."""
        some = members[:_LOOKED_AT]
        return max(some, key=lambda rank: (sum(self.compared.odds(rank, other) for other in some if other != rank), -rank))

    def _likeness(self, members: list[int]) -> int:
        """Return how likely two of the first reports of a group are of one bug on average, in per cent."""
        some = members[:_LOOKED_AT]
        odds = [self.compared.odds(one, other) for rank, one in enumerate(some) for other in some[:rank]]
        return _per_cent(sum(odds) / len(odds)) if odds else 100

    def _member(self, rank: int, group: Group) -> dict[str, Any]:
        report = self.reports[rank]
        others = [other for other in group.members[:_LOOKED_AT] if other != rank]
        likest = max(others, key=lambda other: (self.compared.odds(rank, other), -other), default=None)
        row = {**report, "build": self.built[rank], "typed": report.get("build", ""), "decided": rank in group.decided, "because": None}
        row |= {"cites": self.cited[rank], "near": self._nearest(rank)}
        if likest is not None:
            other = self.reports[likest]
            agree = [name for name in ("where", "severity", "often") if report.get(name) and report.get(name) == other.get(name)]
            agree += ["build"] if self.built[rank] and self.built[rank] == self.built[likest] else []
            score, words = _per_cent(self.compared.odds(rank, likest)), self.compared.words(rank, likest, _REASONS)
            row["because"] = {"like": other["id"], "score": score, "words": words, "fields": agree}
        return row

    def _nearest(self, rank: int) -> list[dict[str, Any]]:
        """Return the reports of other groups that are likeliest of a report's bug: ``id``, ``score`` in per cent."""
        found = []
        for other in self.compared.nearest(rank, _LOOKED_AT):
            if self._group_of[other] != self._group_of[rank]:
                found.append({"id": self.reports[other]["id"], "score": _per_cent(self.compared.odds(rank, other))})
        return found[:_NEAREST]

    def _near(self, groups: list[Group], at: int) -> list[dict[str, Any]]:
        """Return the groups that are likeliest of one bug with a group, by their likeliest two reports, the likeliest first.

        Each is ``ids`` (of those two), ``title``, ``score`` in per cent, ``words``.
        """
        best: dict[int, tuple[float, int, int]] = {}
        for rank in groups[at].members[:_LOOKED_AT]:
            for other in self.compared.nearest(rank, _LOOKED_AT):
                odds = self.compared.odds(rank, other)
                if self._group_of[other] != at and odds > best.get(self._group_of[other], (-math.inf, 0, 0))[0]:
                    best[self._group_of[other]] = odds, rank, other
        likest = sorted(best.items(), key=lambda one: (-one[1][0], one[0]))[:_SUGGESTED]
        return [
            {
                "ids": [self.reports[rank]["id"], self.reports[other]["id"]],
                "title": self.reports[self._centre(groups[group].members)].get("what", ""),
                "score": _per_cent(odds),
                "words": self.compared.words(rank, other, _REASONS),
            }
            for group, (odds, rank, other) in likest
        ]

    def _issue(self, members: list[int]) -> dict[str, Any] | None:
        """Return the known issue that a group is of: the author's word, else what its reports cite; None when nothing says so."""
        for rank in members:
            owner = self._owner.get(self.reports[rank]["id"], self.reports[rank]["id"])
            if owner in self._issue_of:
                issue = self._issue_of[owner]
                return {"id": issue, "decided": True, "others": [], "cited": []} if issue else None
        cited = Counter(issue for rank in members for issue in dict.fromkeys(self.cited[rank]))
        if not cited:
            return None
        issue = min(cited, key=lambda one: (-cited[one], one))
        others = [one for one in sorted(cited) if one != issue]
        by = [self.reports[rank]["id"] for rank in members if issue in self.cited[rank]]
        return {"id": issue, "decided": False, "others": others, "cited": by}

    def _suggested(self, members: list[int], issue: dict[str, Any] | None) -> list[dict[str, Any]]:
        """Return the known issues that fit a group's words best: ``id``, ``score`` in per cent, ``words``; none where one is known."""
        some = members[:_LOOKED_AT]
        if issue is not None or any(self._decided_none(rank) for rank in members):
            return []
        scored = []
        for at, one in enumerate(self.issues):
            odds = [self.compared.issue_odds[self.compared.text_of[rank]][at] for rank in some]
            likest = max(range(len(some)), key=lambda rank: (odds[rank], -rank))
            scored.append((-sum(odds) / len(odds), one.id, at, some[likest]))
        return [
            {"id": issue_id, "score": _per_cent(-mean), "words": self.compared.issue_words(rank, at, _REASONS)}
            for mean, issue_id, at, rank in sorted(scored)[:_SUGGESTED]
        ]

    def _decided_none(self, rank: int) -> bool:
        one: str = self.reports[rank]["id"]
        return self._issue_of.get(self._owner.get(one, one)) == ""

    def _fixed(self, issue: dict[str, Any] | None, members: list[int]) -> tuple[bool, str]:
        """Return whether what was said to be fixed is seen in a build since, and since which version it is said to be fixed."""
        if issue is None or issue["id"] not in self.fixed:
            return False, ""
        since = self.fixed[issue["id"]]
        again = any(self.built[rank] and self.builds.ranks[self.built[rank]] >= since for rank in members)
        return again, self.builds.builds[since].version

    def _builds(self, members: list[int]) -> list[dict[str, Any]]:
        counts = Counter(self.built[rank] for rank in members)
        every = [*((one.code, one.version) for one in self.builds.builds), ("", "")]
        return [{"code": code, "version": version, "reports": counts[code]} for code, version in every if counts[code]]


def _circumstances(reports: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return what is known of what the reports were seen on: ``field``, ``values`` (said, how often), ``unsaid`` (how many do not say)."""
    found = []
    for name in CIRCUMSTANCES:
        said = Counter(" ".join(one[name].split()) for one in reports if one.get(name))
        if said:
            values = sorted(said.items(), key=lambda one: (-one[1], one[0]))
            found.append({"field": name, "values": values, "unsaid": len(reports) - said.total()})
    return found


def _per_cent(odds: float) -> int:
    """Return log-odds as a chance in whole per cent."""
    return round(100 / (1 + math.exp(-odds)))


def _most(texts: list[str]) -> str:
    """Return the text that is there most often, the first of several in the order of their letters."""
    counts = Counter(texts)
    return min(counts, key=lambda text: (-counts[text], text)) if counts else ""


def _free_id(ids: list[str], code: str) -> str:
    """Return the id that continues those of the project: HR-014 after HR-013."""
    parts = [match for one in ids if (match := re.fullmatch(r"(.*?)([0-9]{1,9})", one))]
    last = max(parts, key=lambda match: int(match[2]), default=None)
    return f"{last[1]}{int(last[2]) + 1:0{len(last[2])}}" if last else f"{code}-001"
