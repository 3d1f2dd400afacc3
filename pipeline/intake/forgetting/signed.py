"""Exports and filled pages under ``PROJECT/reports``, by how their rows are signed; taking rows out of them."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.intake.dates import DateColumn
from pipeline.intake.exports import Export, Row, open_export
from pipeline.intake.filled import Pages, read_pages
from pipeline.intake.forgetting.persons import People, Person, Signed
from pipeline.intake.keep import export_dates
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import EXPORT_BYTES
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import counted
from pipeline.project.intake import BugForm, FeedbackForm, same_heading

_LINE_END = re.compile(r"\r\n|\r|\n")  # as lines of CSV are read


@dataclass
class SignedFile:
    """An export or a filled page.

    Attributes:
        source: what it is read as. signed: how its rows are, each way once. dates: how its times are read.
        theirs: rows of the person. unclear: lines that may be theirs.
    """

    path: Path
    shown: str
    source: Export | Pages
    signed: set[Signed]
    dates: DateColumn = field(default_factory=DateColumn)
    theirs: list[Any] = field(default_factory=list)
    unclear: list[int] = field(default_factory=list)

    def choose(self, people: People, person: Person) -> None:
        """Find the rows of a person, and those that may be theirs."""
        for row in self.source.rows():
            signed = _signed(self.source, row)
            if people.are_theirs(signed, person):
                self.theirs.append(row)
            elif not signed.name and same_heading(signed.address) in person.shared:
                self.unclear.append(row.line)

    @property
    def form(self) -> str:
        """The form it is of."""
        return self.source.form

    def remove(self) -> str:
        """Take their rows out of an export, or remove their page; return a line that says so."""
        if isinstance(self.source, Pages):
            self.path.unlink()
            return f"reports/{self.shown}: their filled page"
        _cut_out(self.source, self.theirs)
        return f"{self.shown}: {counted(len(self.theirs), 'row')}"


def _signed(source: Export | Pages, row: Any) -> Signed:
    values = source.fields(row, ("tester", "contact"))
    return Signed(values.get("tester", ""), values.get("contact", ""))


def signed_export(path: Path, shown: str, forms: dict[str, BugForm | FeedbackForm]) -> SignedFile:
    """Read an export.

    Raises:
        ProjectError: it is not an export of these forms, or cannot be read to its end.
    """
    export = open_export(path, shown, forms)
    found = SignedFile(path, shown, export, {_signed(export, row) for row in export.rows()})
    with suppress(ProjectError):  # then what reads alike is found by what was typed
        found.dates = export_dates(export, ("time",), forms[export.form].dates or "")
    return found


def signed_page(path: Path, shown: str) -> SignedFile:
    """Read a filled page; one that is not has no rows."""
    pages = read_pages([(path, shown)])
    return SignedFile(path, shown, pages, {_signed(pages, row) for row in pages.rows()})


def _cut_out(export: Export, rows: list[Row]) -> None:
    data = read_whole(export.path, export.shown, EXPORT_BYTES)
    text = data[len(export.mark) :].decode(export.encoding)
    # By line, since the text of a row may be part of another's.
    starts = [0, *(end.end() for end in _LINE_END.finditer(text))]
    at, kept = 0, []
    for row in rows:
        start = starts[row.line - 1]
        kept.append(text[at:start])
        at = start + len(row.text)
    write_bytes(export.path, export.mark + "".join([*kept, text[at:]]).encode(export.encoding))
