"""What the author decided about reports: ``reports/decisions.toml``. Nothing is merged without it, and intake never writes it."""

from __future__ import annotations

import os
from bisect import bisect
from pathlib import Path
from typing import Annotated

from msgspec import Meta, field

from pipeline.intake.builds import Builds
from pipeline.plain.checked import Document, build, read_document
from pipeline.plain.errors import Problem, nearest_name
from pipeline.plain.written import Record
from pipeline.project.file import Issue

_Id = Annotated[str, Meta(pattern=r"^R-[0-9]{4,}$(?!\n)", title="the id of a report, such as R-0001", examples=["R-0001"])]
_Ids = Annotated[list[_Id], Meta(min_length=2, title="a list of two or more reports", examples=[["R-0001", "R-0007"]])]


class Decisions(Record):
    """The file.

    Attributes:
        same: reports of one bug. not_same: reports no two of which are of one bug.
        issue: report -> id of the known issue that it and those decided to be the same are of; empty: of none.
        fixed: known issue -> version in which it was said to be fixed.
    """

    same: list[_Ids] = field(default_factory=list)
    not_same: list[_Ids] = field(default_factory=list)
    issue: dict[str, str] = field(default_factory=dict)
    fixed: dict[str, str] = field(default_factory=dict)

    def one_bug(self) -> list[list[str]]:
        """Return lists of reports that are of one bug: said to be the same, or of the same known issue."""
        of: dict[str, list[str]] = {}
        for report, issue in self.issue.items():
            if issue:
                of.setdefault(issue, []).append(report)
        return self.same + list(of.values())


def check_decisions(folder: Path, issues: list[Issue], builds: Builds) -> Decisions:
    """Read the author's decisions against the issues and builds there are; see ``read_decisions``."""
    return read_decisions(folder, {issue.id for issue in issues} | builds.fixed.keys(), {one.version for one in builds.builds})


def read_decisions(folder: Path, issues: set[str], versions: set[str]) -> Decisions:
    """Read the author's decisions; none when there is no file. Reports that are gone may still be named.

    Args:
        folder: ``PROJECT/reports``.
        issues: ids that are known, or were when a build fixed them. versions: of builds that are known.

    Raises:
        ProjectError: every problem of the file: unknown keys or issues, reports that are said to be the same and not.
    """
    path, shown = folder / "decisions.toml", "reports/decisions.toml"
    if not os.path.lexists(path):
        return Decisions()
    document = read_document(path, shown, folder.parent)
    decisions = build(document, (), document.data, Decisions)
    if decisions is not None:
        _check(document, decisions, issues, versions)
    return document.finished(decisions)


def absent_reports(folder: Path, ids: list[str], next_number: int) -> list[Problem]:
    """Return a note, in the order of the file, for each place where decisions name a report that is not kept and so decide nothing.

    Args:
        folder: ``PROJECT/reports``, whose decisions ``read_decisions`` accepts.
        ids: of the reports that are kept. next_number: of the next report; lower ones were given.
    """
    path, shown = folder / "decisions.toml", "reports/decisions.toml"
    if not os.path.lexists(path):
        return []
    document = read_document(path, shown, folder.parent)
    lists = [(key, rank, some) for key in ("same", "not_same") for rank, some in enumerate(document.data.get(key, ()))]
    named = [((key, rank, at), one) for key, rank, some in lists for at, one in enumerate(some)]
    named += [(("issue", one), one) for one in document.data.get("issue", ())]
    known, ranked = set(ids), sorted((_number(one), one) for one in ids)
    named = sorted((one for one in named if one[1] not in known), key=lambda one: document.lines.get(one[0], 0))
    return [_absent(shown, document.place(place), report, ranked, next_number) for place, report in named]


def _absent(shown: str, place: str, report: str, ranked: list[tuple[int, str]], next_number: int) -> Problem:
    number = _number(report)
    at = bisect(ranked, (number, report))
    near = min(ranked[max(at - 1, 0) : at + 1], key=lambda one: abs(one[0] - number), default=None)
    nearest = f"the nearest is {near[1]}" if near else "none is kept"
    if 0 < number < next_number:
        return Problem(shown, place, f"report {report} is no longer kept; {nearest}", "take it out of the decisions; it changes nothing")
    return Problem(shown, place, f"there is no report {report}; {nearest}", "correct the number; until then this decides nothing")


def _number(report: str) -> int:
    digits = report.partition("-")[2]
    return int(digits) if digits.isdecimal() and len(digits) < 19 else 0


def _check(document: Document, decisions: Decisions, issues: set[str], versions: set[str]) -> None:
    for report, issue in decisions.issue.items():
        if issue and issue not in issues | set(decisions.fixed):
            near = nearest_name(issue, issues)
            add = "add it to your known issues, or to fixed; empty text says it is of no known issue"
            document.say(("issue", report), f"there is no known issue {issue!r}", f"did you mean {near}? Else {add}" if near else add)
    for issue, version in decisions.fixed.items():
        if version not in versions:
            remedy = f"name one of {', '.join(sorted(versions))}" if versions else "build first"
            document.say(("fixed", issue), f"no build of version {version!r} is known", remedy)
    owner, every = united(decisions.same), united(decisions.one_bug())
    for rank, ids in enumerate(decisions.not_same):
        seen: dict[str, str] = {}
        for one in ids:
            first = seen.setdefault(every.get(one, one), one)
            if first != one:
                same = owner.get(one, one) == owner.get(first, first)
                wrong = f"{first} and {one} are said to be {'the same' if same else 'of one known issue'} as well"
                document.say(("not_same", rank), wrong, f"take one of them out of {'same' if same else 'issue'}, or out of not_same")
    of: dict[str, tuple[str, str]] = {}
    for report, issue in decisions.issue.items():
        other, first = of.setdefault(owner.get(report, report), (report, issue))
        if first != issue:
            wrong = f"{report} is of {issue or 'no issue'}, and {other}, said to be the same, of {first or 'no issue'}"
            document.say(("issue", report), wrong, "let one report name the issue, or take one out of same")


def united(lists: list[list[str]]) -> dict[str, str]:
    """Return member -> the first member, in the order of their text, of all lists that hang together."""
    owner: dict[str, str] = {}

    def find(one: str) -> str:
        while owner.setdefault(one, one) != one:
            one = owner[one]
        return one

    for members in lists:
        for member in members[1:]:
            first, second = sorted((find(members[0]), find(member)))
            owner[second] = first
    return {one: find(one) for one in list(owner)}
