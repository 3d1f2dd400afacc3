"""Keeping the rows of an export that are not kept yet.

A row is known by what is kept of it, compared unchanged: no hash is stored, since the hash of an address or a name can be
guessed. Equal rows count: an export that has a row three times, where two are kept, adds one. An export always begins with
the form's first answer, so the same export read twice adds nothing.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from pipeline.intake.exports import Export, Row
from pipeline.intake.store import PERSON, Reports, Testers


def keep_rows(export: Export, kept: tuple[str, ...], reports: Reports, testers: Testers) -> tuple[int, int]:
    """Add the rows of an export; return how many it has and how many were new.

    Reports that are there already lose fields that are not kept any more, and gain those that now are.

    Args:
        kept: fields to keep; see ``project.intake.kept_fields``.
        reports, testers: changed in place.

    Raises:
        ProjectError: see ``Export.rows``; ``reports`` and ``testers`` are then of no use.
    """
    _drop_fields(kept, reports)
    # Where other fields are kept than before, or the export lacks some, rows are compared by those that both have.
    both = [name for name in kept if name in export.places and (name in reports.fields or not reports.reports)]
    common = [name for name in both if name not in PERSON] + ["tester"] * bool(set(PERSON) & set(both))
    known: dict[bytes, list[dict[str, Any]]] = defaultdict(list)
    for report in reversed(reports.reports):
        known[_mark(report, common)].append(report)
    count = new = 0
    for row in export.rows():
        count += 1
        values: dict[str, Any] = export.fields(row, kept)
        number = testers.number({name: values.pop(name) for name in PERSON if name in values})
        if number is not None:
            values["tester"] = number
        same = known.get(_mark(values, common))
        if same:
            same.pop().update(values)
        else:
            new += 1
            reports.reports.append({"id": reports.new_id(), **values})
    reports.fields = kept
    return count, new


def _drop_fields(kept: tuple[str, ...], reports: Reports) -> None:
    gone = set(reports.fields) - set(kept)
    if not set(PERSON) & set(kept):
        gone.add("tester")
    elif "tester" in gone:
        gone.remove("tester")  # the number still identifies the person with this contact
    for report in reports.reports:
        for name in gone:
            report.pop(name, None)


def _mark(report: dict[str, Any], names: list[str]) -> bytes:
    """Return what identifies a row while an export is read; it is not stored."""
    text = "\0".join(str(report.get(name, "")) for name in names)
    return hashlib.sha256(text.encode()).digest()


def reports_of_rows(export: Export, rows: Iterable[Row], reports: Reports, testers: Testers) -> set[str]:
    """Return the ids of the reports that rows of an export became, one for each row.

    A field that the export lacks is one that its reports do not have.
    """
    both = reports.fields
    common = [name for name in both if name not in PERSON] + ["tester"] * bool(set(PERSON) & set(both))
    known: dict[bytes, list[str]] = defaultdict(list)
    for report in reports.reports:
        known[_mark(report, common)].append(report["id"])
    found = set()
    for row in rows:
        values = export.fields(row, both)
        number = testers.number_of({name: values.pop(name) for name in PERSON if name in values})
        same = known.get(_mark(values | ({"tester": number} if number is not None else {}), common))
        if same:
            found.add(same.pop())
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
