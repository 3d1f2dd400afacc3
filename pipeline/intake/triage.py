"""Bug reports in the order in which to look at them: groups, builds, known issues, what was said to be fixed."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import Any

from pipeline.intake.builds import Builds
from pipeline.intake.decisions import Decisions, united
from pipeline.intake.groups import Group, group_reports
from pipeline.intake.scales import most_said, often_rank, severity_rank
from pipeline.intake.similar import Vocabulary, Words
from pipeline.intake.words import spelt
from pipeline.project.file import SEVERITIES, Issue
from pipeline.project.intake import BugForm

KNOWN = 45  # per cent that a group must be like a known issue for it to be suggested
_REASONS = 8  # words shown


@dataclass
class Triage:
    """What is known when reports are put in order.

    Attributes:
        issues: the project's known ones. code: of the game, for ids where it has none.
    """

    reports: list[dict[str, Any]]
    builds: Builds
    issues: list[Issue]
    decisions: Decisions
    form: BugForm | None
    code: str

    def __post_init__(self) -> None:
        texts = [(one.get("what", ""), one.get("where", "")) for one in self.reports]
        texts += [(issue.what, issue.where) for issue in self.issues]
        self.vocabulary = Vocabulary(texts, self.form.names if self.form else {})
        self.built = [self.builds.match(one["build"]) if one.get("build") else "" for one in self.reports]
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
        ids = [one["id"] for one in self.reports]
        found = [self._group_row(group) for group in group_reports(ids, self.vocabulary, self.decisions)]
        found.sort(key=lambda one: one.pop("order"))
        number = _free_id([issue.id for issue in self.issues], self.code)
        for one in found:
            one["entry"] = {"id": number, **one["entry"]} if one["issue"] is None or not one["issue"]["decided"] else None
        return found

    def unknown_builds(self) -> list[dict[str, Any]]:
        """Return what was typed for builds that are not known: ``typed``, ``reports``, ``near`` (a code one character off)."""
        typed: dict[str, list[str]] = {}
        for report, code in zip(self.reports, self.built, strict=True):
            if not code:
                typed.setdefault(report.get("build", ""), []).append(report["id"])
        return [{"typed": text, "reports": ids, "near": self.builds.near(text)} for text, ids in sorted(typed.items())]

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
            "issue": issue,
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
        texts, some = self.vocabulary.texts, members[:30]
        return max(some, key=lambda rank: (sum(self.vocabulary.alike(texts[rank], texts[other]) for other in some), -rank))

    def _likeness(self, members: list[int]) -> int:
        """Return how alike the first reports of a group are on average, in per cent."""
        texts, some = self.vocabulary.texts, members[:12]
        scores = [self.vocabulary.alike(texts[a], texts[b]) for a in some for b in some if a < b]
        return sum(scores) // len(scores) if scores else 100

    def _member(self, rank: int, group: Group) -> dict[str, Any]:
        report, texts = self.reports[rank], self.vocabulary.texts
        others = [other for other in group.members[:30] if other != rank]
        nearest = max(others, key=lambda other: (self.vocabulary.alike(texts[rank], texts[other]), -other), default=None)
        row = {**report, "build": self.built[rank], "typed": report.get("build", ""), "decided": rank in group.decided, "because": None}
        if nearest is not None:
            other = self.reports[nearest]
            agree = [name for name in ("where", "severity", "often") if report.get(name) and report.get(name) == other.get(name)]
            agree += ["build"] if self.built[rank] and self.built[rank] == self.built[nearest] else []
            score = self.vocabulary.alike(texts[rank], texts[nearest])
            words = self._words(rank, texts[nearest])
            row["because"] = {"like": other["id"], "score": score, "words": words, "fields": agree}
        return row

    def _words(self, rank: int, other: Words) -> list[str]:
        report = self.reports[rank]
        written = spelt(f"{report.get('what', '')} {report.get('where', '')}")
        return [written.get(word, word) for word in self.vocabulary.shared(self.vocabulary.texts[rank], other)[:_REASONS]]

    def _issue(self, members: list[int]) -> dict[str, Any] | None:
        """Return the known issue that a group is of: the author's word, else the likest one; None when it is of none."""
        for rank in members:
            owner = self._owner.get(self.reports[rank]["id"], self.reports[rank]["id"])
            if owner in self._issue_of:
                issue = self._issue_of[owner]
                return {"id": issue, "decided": True, "score": 100, "words": []} if issue else None
        best = (0, 0, 0)
        for at in range(len(self.issues)):
            text = self.vocabulary.texts[len(self.reports) + at]
            scores = [(self.vocabulary.alike(self.vocabulary.texts[rank], text), rank) for rank in members[:30]]
            mean = sum(score for score, _ in scores) // len(scores)
            if mean > best[0]:
                best = (mean, at, max(scores, key=lambda one: (one[0], -one[1]))[1])
        if best[0] < KNOWN:
            return None
        words = self._words(best[2], self.vocabulary.texts[len(self.reports) + best[1]])
        return {"id": self.issues[best[1]].id, "decided": False, "score": best[0], "words": words}

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


def _most(texts: list[str]) -> str:
    """Return the text that is there most often, the first of several in the order of their letters."""
    counts = Counter(texts)
    return min(counts, key=lambda text: (-counts[text], text)) if counts else ""


def _free_id(ids: list[str], code: str) -> str:
    """Return the id that continues those of the project: HR-014 after HR-013."""
    parts = [match for one in ids if (match := re.fullmatch(r"(.*?)([0-9]{1,9})", one))]
    last = max(parts, key=lambda match: int(match[2]), default=None)
    return f"{last[1]}{int(last[2]) + 1:0{len(last[2])}}" if last else f"{code}-001"
