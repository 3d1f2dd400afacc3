"""Reading the export of a web form: RFC 4180, in the encodings and with the separators that forms and spreadsheets write.

A file is read as it streams by; only the current row is held, which is bounded like the file (``bounds``).
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.plain.bounded import open_regular, too_large, unreadable
from pipeline.plain.bounds import EXPORT_BYTES, EXPORT_CELL, EXPORT_COLUMNS, EXPORT_ROW, EXPORT_ROWS
from pipeline.plain.errors import Problem, ProjectError, nearest_name, refuse
from pipeline.plain.sizes import counted
from pipeline.project.intake import BugForm, FeedbackForm, named_columns, needed_fields, same_heading

FORMS = ("bugs", "feedback")
EXPORTS = (".csv", ".tsv", ".txt")  # how files of exports end
_SEPARATORS = (",", ";", "\t")
# Byte order marks, Unicode 16.0, table 2-4 (numbers from memory), and how Python calls what follows.
_MARKS = ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"), (b"\xef\xbb\xbf", "utf-8"))
_MARKS_OF_UTF_32 = (b"\xff\xfe\0\0", b"\0\0\xfe\xff")  # the first begins like the mark of UTF-16
_MOST_SHOWN = 20  # problems of one file


@dataclass(frozen=True)
class Row:
    """One record: its first line from 1, its cells, and the text it was read from, line end included."""

    line: int
    cells: list[str]
    text: str


@dataclass(frozen=True)
class Export:
    """What the beginning of a file says of it.

    Attributes:
        path, shown: the file, and its name in messages.
        mark: its byte order mark, or nothing; ``encoding``: what follows.
        separator: between cells.
        form: one of ``FORMS``; ``places``: field -> columns from 0, of which the first that is
            filled in counts.
        absent: fields that the form has and no column of this file gives.
        headings: of all columns, as the file has them.
    """

    path: Path
    shown: str
    mark: bytes
    encoding: str
    separator: str
    form: str
    places: dict[str, tuple[int, ...]]
    absent: tuple[str, ...]
    headings: tuple[str, ...]
    from_page = False

    @property
    def width(self) -> int:
        """Cells of the heading."""
        return len(self.headings)

    def heading(self, field: str) -> str:
        """Return the heading of the first column that gives a field."""
        return self.headings[self.places[field][0]].strip()

    def rows(self) -> Iterator[Row]:
        """Yield the records after the heading; empty lines are skipped.

        Raises:
            ProjectError: at the end of the file, every record whose cells are not as many as the heading's; at once, what
                is not text in the file's encoding, or not CSV.
        """
        problems: list[Problem] = []
        for count, row in enumerate(_records(self.path, self.shown, self.mark, self.encoding, self.separator, skip=1), 1):
            if count > EXPORT_ROWS:
                wrong = f"{count:,} rows and more, at most {EXPORT_ROWS:,} are read"
                raise refuse(self.shown, f"line {row.line}", wrong, "export the form in parts, by date")
            if len(row.cells) != self.width and len(problems) < _MOST_SHOWN:
                wrong = f"{counted(len(row.cells), 'cell')}, where the heading has {self.width}"
                remedy = "a quote or a separator is missing there or before; export the form again"
                problems.append(Problem(self.shown, f"line {row.line}", wrong, remedy))
            if not problems:
                yield row
        if problems:
            raise ProjectError(problems)

    def fields(self, row: Row, names: Iterable[str]) -> dict[str, str]:
        """Return some fields of a row that are not empty; white space at the ends does not count."""
        found = ((name, (row.cells[at].strip() for at in self.places[name])) for name in names if name in self.places)
        return {name: text for name, texts in found if (text := next(filter(None, texts), ""))}


def open_export(path: Path, shown: str, forms: dict[str, BugForm | FeedbackForm], wanted: str = "") -> Export:
    """Look at the heading of a file and find the form it is of, and the separator.

    Args:
        forms: name -> form, for those the project has.
        wanted: the form's name, where the author says it.

    Raises:
        ProjectError: no such file, no text, no form whose columns it has, or two that fit equally well.
    """
    if not forms:
        remedy = "add [intake.bugs] or [intake.feedback] with columns; see pipeline/guide/intake.md"
        raise refuse("project.toml", "[intake]", "no form is described, so no export can be read", remedy)
    if wanted and wanted not in forms:
        near = nearest_name(wanted, forms)
        raise refuse("form=", "", f"there is no form {wanted!r}", f"did you mean {near}?" if near else f"the forms are {', '.join(forms)}")
    mark, encoding = _encoding(path, shown)
    found = []
    headings: list[str] = []
    for separator in _SEPARATORS:
        cells = _heading(path, shown, mark, encoding, separator)
        headings = max(headings, cells, key=len)
        for name in [wanted] if wanted else forms:
            places, absent, doubled = _places(cells, forms[name])
            needed = any(field in places for field in needed_fields(forms[name]))
            found.append((not needed or bool(doubled), -len(places), name, separator, places, absent, doubled, cells))
    if len(headings) > EXPORT_COLUMNS:
        wrong = f"{len(headings):,} columns, at most {EXPORT_COLUMNS:,} are read"
        raise refuse(shown, "line 1", wrong, "export fewer columns")
    if not any(headings):
        raise refuse(shown, "", "the file is empty", "export the form again; its first line names the columns")
    found.sort(key=lambda one: one[:2])  # stable: the first form and the first separator win
    best = found[0]
    if best[0]:
        raise _missing(shown, best[2], forms[best[2]], best[5], best[6], headings)
    if len(found) > 1 and found[1][:2] == best[:2] and found[1][2] != best[2]:
        raise refuse(shown, "line 1", "the columns of both forms are there", "say which it is: form=bugs or form=feedback")
    return Export(path, shown, mark, encoding, best[3], best[2], best[4], tuple(best[5]), tuple(best[7]))


def _encoding(path: Path, shown: str) -> tuple[bytes, str]:
    try:
        with open_regular(path) as file:
            start, size = file.read(4), os.fstat(file.fileno()).st_size
    except FileNotFoundError:
        raise refuse(shown, "", "there is no such file", "name the export: intake csv=FILE") from None
    except OSError as error:
        raise unreadable(shown, error) from None
    if size > EXPORT_BYTES:
        raise too_large(shown, size, EXPORT_BYTES)
    if start in _MARKS_OF_UTF_32:
        raise refuse(shown, "byte 0", "UTF-32", "export or save it as UTF-8")
    for mark, encoding in _MARKS:
        if start.startswith(mark):
            return mark, encoding
    if b"\0" in start:
        raise refuse(shown, "byte 0", "no text, or UTF-16 without a byte order mark", "export or save it as UTF-8")
    return b"", "utf-8"


def _heading(path: Path, shown: str, mark: bytes, encoding: str, separator: str) -> list[str]:
    try:
        return next(_records(path, shown, mark, encoding, separator)).cells
    except (StopIteration, csv.Error):
        return []


def _places(cells: list[str], form: BugForm | FeedbackForm) -> tuple[dict[str, tuple[int, ...]], list[str], list[str]]:
    """Return field -> columns, the fields that no column gives, and the headings that are there more than once."""
    plain = [same_heading(cell) for cell in cells]
    places, absent, doubled = {}, [], []
    for key, headings in named_columns(form).items():
        there = [heading for heading in map(same_heading, headings) if heading in plain]
        doubled += [cells[plain.index(heading)].strip() for heading in there if plain.count(heading) > 1]
        if there:
            places[key] = tuple(plain.index(heading) for heading in there)
        else:
            absent.append(key)
    return places, absent, doubled


def _missing(
    shown: str, form: str, spec: BugForm | FeedbackForm, absent: list[str], doubled: list[str], headings: list[str]
) -> ProjectError:
    problems = [Problem(shown, "line 1", f"the column {one!r} is there more than once", "rename one in the form") for one in doubled]
    seen = ", ".join(repr(cell) for cell in headings[:30])
    named = named_columns(spec)
    needed = [field for field in needed_fields(spec) if field in absent]
    for field in needed if not problems else []:
        near = next((found for heading in named[field] if (found := nearest_name(heading, headings))), "")
        hint = f"did the form's column become {near!r}? " if near else ""
        # What the export has is listed once, after the first.
        note = f"; it has {seen}" if not problems else ""
        remedy = f"{hint}write the export's own headings into [intake.{form}]{note}"
        problems.append(Problem(shown, "line 1", f"no column {named[field][0]!r}, which [intake.{form}] names", remedy))
    return ProjectError(problems)


def _records(path: Path, shown: str, mark: bytes, encoding: str, separator: str, skip: int = 0) -> Iterator[Row]:
    """Yield the records of a file, headings among them unless skipped.

    Raises:
        csv.Error: the first record cannot be read with this separator.
        ProjectError: a later one cannot be read, or its bytes are not text.
    """
    read: list[str] = []

    def lines(file) -> Iterator[str]:
        length = 0
        while text := file.readline(EXPORT_ROW + 1):
            length = length + len(text) if read else len(text)
            if length > EXPORT_ROW:
                wrong = f"a row of {length:,} characters or more, at most {EXPORT_ROW:,} are read"
                raise refuse(shown, f"line {line}", wrong, "a quote may be missing there; or shorten the answers in the form's table")
            read.append(text)
            yield text

    line, first = 1, True
    csv.field_size_limit(EXPORT_ROW)  # longer than a row can be, so that what a cell has too much can be counted
    with open_regular(path) as raw:
        raw.seek(len(mark))
        file = io.TextIOWrapper(raw, encoding=encoding, newline="")
        # strict: a quote that is never closed, or closed in the middle of a cell, is refused, not guessed at.
        reader = csv.reader(lines(file), delimiter=separator, strict=True)
        try:
            for cells in reader:
                _check_cells(cells, shown, line)
                row = Row(line, cells, "".join(read))
                line, read[:] = reader.line_num + 1, []
                if cells and skip:
                    skip -= 1
                elif any(cell.strip() for cell in cells):
                    yield row
                first = False
        except UnicodeDecodeError as error:
            wrong = f"not {encoding.upper()[:6].rstrip('-')} text: {error.reason}"
            raise refuse(shown, _bad_place(path, encoding), wrong, "export or save it as UTF-8") from None
        except csv.Error as error:
            if first:
                raise
            remedy = "a quote is missing there or before; export the form again"
            raise refuse(shown, f"line {line}", f"not CSV: {error}", remedy) from None


def _check_cells(cells: list[str], shown: str, line: int) -> None:
    for column, cell in enumerate(cells, 1):
        if len(cell) > EXPORT_CELL:
            wrong = f"{len(cell):,} characters in one cell, at most {EXPORT_CELL:,} are read"
            raise refuse(shown, f"line {line}, column {column}", wrong, "shorten the answer in the form's table, or find the missing quote")


def _bad_place(path: Path, encoding: str) -> str:
    """Return the first line that is not UTF-8; nothing if bytes do not separate lines."""
    if encoding != "utf-8":
        return ""
    with open_regular(path) as file:
        for number, line in enumerate(file, start=1):
            try:
                line.decode()
            except UnicodeDecodeError:
                return f"line {number}"
    return ""
