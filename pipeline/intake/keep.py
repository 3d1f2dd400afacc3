"""Keeping the rows of an export that are not kept yet, and taking up those that were edited since.

A row is known by what is kept of it, compared unchanged but for white space: no hash is stored, since the hash of an address or a name
can be guessed. Equal rows count: an export that has a row three times, where two are kept, adds one. An export always begins with
the form's first answer, so the same export read twice adds nothing. Times are compared as moments, as far as the coarser one goes.

A row that is like no kept one, and has the identity of one that no other row of the export is, is that one edited: the same ``row``,
or the same tester at the same minute. Where only a day is known, or no name, at least half the words must be the same too. What it said
before is kept with it.
"""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable
from contextlib import suppress
from typing import Any, NamedTuple

from pipeline.intake.dates import DateColumn, has_clock, same_moment
from pipeline.intake.exports import Export
from pipeline.intake.filled import Pages
from pipeline.intake.store import MOMENT, PAGE, PERSON, Reports, Testers
from pipeline.plain.errors import ProjectError
from pipeline.plain.sizes import counted

_NOT_SAID = ("time", "tester", "contact", "row", "build")  # fields that say nothing of what was answered


class Taken(NamedTuple):
    """How many rows an export has, how many were new, and how many were kept with another text before."""

    rows: int
    new: int
    edited: int


def keep_rows(export: Export | Pages, kept: tuple[str, ...], reports: Reports, testers: Testers, dates: DateColumn) -> Taken:
    """Add the rows of an export, or filled pages, which are compared with those of their own kind alone.

    Reports that are there already lose fields that are not kept any more, and gain those that now are.

    Args:
        kept: fields to keep; see ``project.intake.kept_fields``.
        reports, testers: changed in place.
        dates: how the export's times are read.

    Raises:
        ProjectError: see ``Export.rows``; ``reports`` and ``testers`` are then of no use.
    """
    mine = reports.of(export.from_page)
    before = reports.page_fields if export.from_page else reports.fields
    _drop_fields(kept, before, mine)
    common = _common(export, kept, before if mine else kept)
    known = _Known(mine, common)
    found: list[dict[str, Any]] = []
    count = edited = 0
    for row in export.rows():
        count += 1
        values = _values(export, row, kept, testers, dates)
        same = known.take(values)
        if same is None:
            found.append(values)
        elif same[1]:
            _take_over(same[0], values)
    identities = _Identities(known.left() if found else [], mine if found else [], common)
    unlike = len(found)
    found.reverse()
    while found:  # each goes as it is kept, so that 100,000 are not there twice
        values = found.pop()
        report = identities.find(values)
        if report is None:
            report = {"id": reports.new_id(), **values, **({PAGE: "yes"} if export.from_page else {})}
            reports.reports.append(report)
            identities.offer_row(report)
        else:
            edited += 1
            _replace(report, values, [name for name in common if name not in ("time", "tester")])
    if export.from_page:
        reports.page_fields = kept
    else:
        reports.fields = kept
    return Taken(count, unlike - edited, edited)


def export_dates(export: Export, kept: tuple[str, ...], order: str) -> DateColumn:
    """Return how the times of an export are read, by the whole column; a form that does not keep them has none.

    Raises:
        ProjectError: days and months cannot be distinguished; see ``DateColumn.settle``, ``Export.rows``.
    """
    column = DateColumn(order)
    if "time" not in kept or "time" not in export.places:
        return column
    for row in export.rows():
        column.see(export.fields(row, ("time",)).get("time", ""), row.line)
    column.settle(export.shown, export.heading("time"), f"[intake.{export.form}]")
    return column


def show_dates(column: DateColumn, shown: str) -> str:
    """Return how the times of a file were read, for a person; nothing where nothing had to be decided and all are dates."""
    order = f"Dates of {shown} are read {column.order}, {column.why}." if column.order and column.why else ""
    order = order or (f"Dates of {shown} are read {column.why}." if column.why else "")
    line, text = column.first_unread
    unread = f"{counted(column.unread, 'time')} of {shown} cannot be read as a date, the first in line {line}: {text.strip()[:40]!r}."
    return " ".join([*([order] if order else ()), *([unread] if column.unread else ())])


def add_moments(reports: Reports, order: str) -> None:
    """Find the moments of reports that were kept before moments were, as far as days and months can be distinguished."""
    column = DateColumn(order)
    for line, report in enumerate(reports.reports, 1):
        column.see(str(report.get("time", "")), line)
    with suppress(ProjectError):
        column.settle("", "", "")
    for report in reports.reports:
        if moment := column.moment(str(report.get("time", ""))):
            report[MOMENT] = moment
    reports.timed = True


def _common(export: Export | Pages, kept: tuple[str, ...], before: tuple[str, ...]) -> list[str]:
    """Return the fields by which rows are compared, ``tester`` the last; where fields were added since, those that both have."""
    both = [name for name in kept if name in export.places and name in before]
    return [name for name in both if name not in PERSON] + ["tester"] * bool(set(PERSON) & set(both))


def _values(export: Export | Pages, row: Any, kept: tuple[str, ...], testers: Testers, dates: DateColumn) -> dict[str, Any]:
    values: dict[str, Any] = dict(export.fields(row, kept))
    number = testers.number({name: values.pop(name) for name in PERSON if name in values})
    if number is not None:
        values["tester"] = number
    if moment := dates.moment(values.get("time", "")):
        values[MOMENT] = moment
    return values


class _Known:
    """Kept reports, to be taken one by one by the rows that are the same; the first kept is the first taken."""

    def __init__(self, reports: list[dict[str, Any]], common: list[str]) -> None:
        self._common = [name for name in common if name != "time"]
        self._timed = "time" in common
        self._now: dict[bytes, list[dict[str, Any]]] = defaultdict(list)
        self._before: dict[bytes, list[dict[str, Any]]] = defaultdict(list)
        self._met: set[str] = set()
        self._reports = reports
        for report in reversed(reports):
            self._now[self._mark(report)].append(report)
            version = report
            for former in reversed(report.get("former", ())):
                version = version | former
                self._before[self._mark(version)].append(report)

    def take(self, values: dict[str, Any]) -> tuple[dict[str, Any], bool] | None:
        """Return the kept report that a row is, and whether as it is now rather than as it was before; None where there is none.

        What a report was before may be in an export beside what it is now, so that finding it takes nothing away.
        """
        mark = self._mark(values)
        same = self._now.get(mark, [])
        for at in range(len(same) - 1, -1, -1):
            if not self._timed or _same_time(same[at], values):
                self._met.add(same[at]["id"])
                return same.pop(at), True
        for report in self._before.get(mark, ()):
            if not self._timed or _same_time(report, values):
                self._met.add(report["id"])
                return report, False
        return None

    def left(self) -> list[dict[str, Any]]:
        """Return the reports that no row is."""
        return [one for one in self._reports if one["id"] not in self._met]

    def _mark(self, values: dict[str, Any]) -> bytes:
        """Return what identifies a row while an export is read, its time to the day; it is not stored."""
        texts = [_plain(values.get(name, "")) for name in self._common]
        texts += [_day(values)] * self._timed
        return hashlib.blake2b("\0".join(texts).encode(), digest_size=16).digest()


def _day(values: dict[str, Any]) -> str:
    return values[MOMENT][:10] if MOMENT in values else _plain(values.get("time", ""))


def _plain(value: Any) -> str:
    """Return a value as it is compared: spreadsheets change line ends and spaces when they save."""
    return " ".join(str(value).split())


def _same_time(one: dict[str, Any], other: dict[str, Any]) -> bool:
    first, second = one.get("time", ""), other.get("time", "")
    return first == second or _plain(first) == _plain(second) or same_moment(one.get(MOMENT, ""), other.get(MOMENT, ""))


def _take_over(report: dict[str, Any], values: dict[str, Any]) -> None:
    """Complete a report by a row that is the same; a time that says less than the kept one does not replace it."""
    if len(values.get(MOMENT, "")) < len(report.get(MOMENT, "")):
        values = {name: value for name, value in values.items() if name not in ("time", MOMENT)}
    report.update(values)


def _replace(report: dict[str, Any], values: dict[str, Any], names: list[str]) -> None:
    """Give a report the text of a row, and keep with it what it said before: the fields that changed, as they were."""
    former = {name: report.get(name, "") for name in names if _plain(report.get(name, "")) != _plain(values.get(name, ""))}
    report["former"] = [*report.get("former", ()), former]
    for name in names:
        if name not in values:
            report.pop(name, None)
    _take_over(report, values)


class _Identities:
    """Reports by what a row keeps when its text is edited; each is found once by tester and time, and by its ``row`` always."""

    def __init__(self, left: list[dict[str, Any]], every: list[dict[str, Any]], common: list[str]) -> None:
        """Take the reports that no row of the export is, and all."""
        self._owned, self._placed, self._numbered = ("tester" in common), ("time" in common), ("row" in common)
        self._said = [name for name in common if name not in _NOT_SAID]
        self._by_row: dict[str, dict[str, Any]] = {}
        self._by_time: dict[tuple[Any, str], list[dict[str, Any]]] = defaultdict(list)
        for report in every if self._numbered else ():
            self.offer_row(report)
        for report in left if self._placed else ():
            if report.get("time"):
                self._by_time[self._place(report)].append(report)

    def offer_row(self, report: dict[str, Any]) -> None:
        """Take a report that is now kept."""
        if self._numbered and report.get("row"):
            self._by_row[report["row"]] = report

    def find(self, values: dict[str, Any]) -> dict[str, Any] | None:
        """Return the report that a row, which is like no kept one, is an edit of; None where there is none."""
        report = self._by_row.get(values.get("row", ""))
        if report is not None and _may_be_one_row(report, values):
            return report
        near = self._by_time.get(self._place(values), []) if self._placed and values.get("time") else []
        some = [one for one in near if _same_time(one, values) and _is_edit(one, values, self._said)]
        if not some:
            return None
        report = max(some, key=lambda one: _alike(one, values, self._said))  # the first of several
        near.remove(report)
        return report

    def _place(self, values: dict[str, Any]) -> tuple[Any, str]:
        return values.get("tester") if self._owned else None, _day(values)


def _may_be_one_row(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Say whether two rows of one number are not of two forms that both count from 1: tester or time agree, or are not known."""
    pairs = [(one.get("tester"), other.get("tester")), (one.get(MOMENT, "")[:16], other.get(MOMENT, "")[:16])]
    known = [first == second for first, second in pairs if first and second]
    return not known or any(known)


def _is_edit(one: dict[str, Any], other: dict[str, Any], said: list[str]) -> bool:
    """Say whether a row at the time of a report is that report edited; see the module."""
    if one.get("row") and other.get("row") and one["row"] != other["row"]:
        return False
    exact = has_clock(one.get(MOMENT, "")) and has_clock(other.get(MOMENT, ""))
    named = "tester" in one and "tester" in other
    return exact and named or (exact or named) and 2 * _alike(one, other, said) >= 1


def _alike(one: dict[str, Any], other: dict[str, Any], said: list[str]) -> float:
    """Return the share of the words of the shorter answer that both have, 0 to 1."""
    first, second = (Counter((name, word) for name in said for word in str(some.get(name, "")).casefold().split()) for some in (one, other))
    return (first & second).total() / max(min(first.total(), second.total()), 1)


def _drop_fields(kept: tuple[str, ...], before: tuple[str, ...], reports: list[dict[str, Any]]) -> None:
    gone = set(before) - set(kept)
    if "time" in gone:
        gone.add(MOMENT)
    if not set(PERSON) & set(kept):
        gone.add("tester")
    elif "tester" in gone:
        gone.remove("tester")  # the number still identifies the person with this contact
    for report in reports if gone else ():
        for some in (report, *report.get("former", ())):
            for name in gone:
                some.pop(name, None)
        if "former" in report and not any(report["former"]):
            del report["former"]


def reports_of_rows(export: Export | Pages, rows: Iterable[Any], reports: Reports, testers: Testers, dates: DateColumn) -> set[str]:
    """Return the ids of the reports that rows of an export became, one for each row.

    A field that the export lacks is one that its reports do not have.
    """
    both = reports.page_fields if export.from_page else reports.fields
    known = _Known(reports.of(export.from_page), [name for name in both if name not in PERSON] + ["tester"] * bool(set(PERSON) & set(both)))
    found = set()
    for row in rows:
        values: dict[str, Any] = dict(export.fields(row, both))
        number = testers.number_of({name: values.pop(name) for name in PERSON if name in values})
        values |= {"tester": number} if number is not None else {}
        moment = dates.moment(values.get("time", ""))
        same = known.take(values | ({MOMENT: moment} if moment else {}))
        if same is not None:
            found.add(same[0]["id"])
    return found


def drop_persons(kept: set[str], every: list[Reports], testers: Testers) -> None:
    """Leave out of the testers what no form keeps, and those whom no report names any more.

    Args:
        kept: fields that any form keeps.
        every: the reports of all forms.
    """
    named = {report["tester"] for reports in every for report in reports.reports if "tester" in report}
    testers.testers = [one for one in testers.testers if one["number"] in named]
    if "contact" not in kept:
        for one in testers.testers:
            one.pop("contact", None)
            one.pop("also", None)
