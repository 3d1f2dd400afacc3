"""Exports of forms as trees of rows and cells (RFC 4180), in every encoding, separator and quoting that occurs, right or wrong.

What is accepted is compared with the cells that Python's csv reads, and kept and reported as ``doit intake`` does.
"""

from __future__ import annotations

import csv
import functools
import io
import json
import random
import shutil
from pathlib import Path

import pipeline.project.file as pf
from pipeline.intake.exports import open_export
from pipeline.intake.forgetting.erase import erase
from pipeline.intake.take_in import take_in
from pipeline.project.intake import BugColumns, BugForm, FeedbackColumns, FeedbackForm, Intake
from tests.bench.fuzzing.formats import MIB, Format, Wrong
from tests.bench.fuzzing.parts import Part, damaged
from tests.bench.fuzzing.toml_data import ODD_TEXTS
from tests.intake.makers import kept_files

_HEADINGS = {
    "time": "Time",
    "build": "Build code",
    "what": "What happened",
    "severity": "How bad",
    "tester": "Your name",
    "contact": "E-mail",
    "picture": "Picture",
}
INTAKE = Intake(
    bugs=BugForm(columns=BugColumns(**_HEADINGS), severities={"Bad": "major"}, names={"Ada": ["the girl"]}),
    feedback=FeedbackForm(questions={"fun": "How much fun?"}, columns=FeedbackColumns(build="Build code", tester="Your name")),
)
GAME = {"title": "Tin Ferry", "code": "TINF", "version": "0.1.0", "phase": "alpha"}
_ISSUES = [pf.Issue(id="TF-007", severity="minor", where="Quay", what="The bell rings twice.")]
_WORDS = (
    "The bell rings twice.",
    "It stops",
    "7ZZ9K2",
    "110011",
    "Bad",
    "T3",
    "Ada",
    "ada@example.org",
    "https://example.org/p.png",
    "",
    "5",
    "1",
)
_BREAKING = ("line\nbreak", "line\r\nbreak", "a\rb", 'say "so"', ",;\t", "'", "=1+1", "-x", '"', '""', "\n", "R-0001", "<script>", "{{x}}")


def _csv(chance: random.Random) -> Part:
    separator = chance.choice((",", ",", ";", "\t"))
    end = chance.choice(("\r\n", "\r\n", "\n", "\r"))
    encoding = chance.choice(("utf-8",) * 5 + ("utf-8-sig", "utf-16-le", "utf-16-be", "utf-16", "latin-1", "utf-32", "cp1252"))
    headings = list(_HEADINGS.values()) if chance.random() < 0.8 else ["How much fun?", "Build code", "Your name"]
    if chance.random() < 0.2:
        _change_headings(chance, headings)
    if chance.random() < 0.3:
        chance.shuffle(headings)
    count = chance.choice((0, 1, 2, 3, 8)) if chance.random() < 0.99 else chance.choice((300, 3000))
    rows = [_row(chance, headings, separator, end, encoding)]
    for _ in range(count):
        cells = [_cell(chance) for _ in headings]
        if chance.random() < 0.02:
            cells = cells[:-1] if chance.random() < 0.5 else [*cells, "more"]
        rows.append(_row(chance, cells, separator, end, encoding))
        if chance.random() < 0.05:
            rows.append(_coded(end, encoding))
    if chance.random() < 0.02:
        rows.append(_coded(chance.choice(('"never closed', 'a"b' + separator, "\0", "\x1a")), encoding))
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"") if chance.random() < 0.95 else b""
    if chance.random() < 0.02:
        mark = chance.choice((b"\xff\xfe", b"\xef\xbb\xbf", b"\xef\xbb", b"\xff\xfe\0\0"))
    top = Part([mark, Part(rows)])
    return damaged(chance, top, chance.choice((1, 1, 2, 4))) if chance.random() < 0.25 else top


def _change_headings(chance: random.Random, headings: list[str]) -> None:
    at = chance.randrange(len(headings))
    how = chance.randrange(4)
    if how == 0:
        headings[at] = chance.choice((headings[at].upper(), f"  {headings[at]} ", headings[at] + "?", "what happend", *ODD_TEXTS[:20]))
    elif how == 1:
        del headings[at]
    elif how == 2:
        headings.append(headings[at])
    else:
        headings.append(chance.choice(ODD_TEXTS))


def _cell(chance: random.Random) -> str:
    form = chance.random()
    if form < 0.8:
        return chance.choice(_WORDS)
    if form < 0.9:
        return chance.choice(_BREAKING)
    if form < 0.997:
        return chance.choice(ODD_TEXTS)
    return "x" * chance.choice((131_071, 131_072, 131_073, 300_000))


def _row(chance: random.Random, cells: list[str], separator: str, end: str, encoding: str) -> Part:
    made = []
    for cell in cells:
        quoted = any(char in cell for char in f'{separator}"\r\n') or chance.random() < 0.2
        if chance.random() < 0.003:
            quoted = not quoted
        escaped = cell.replace('"', '""') if chance.random() < 0.998 else cell
        made.append(_coded(f'"{escaped}"' if quoted else cell, encoding))
    return Part(made, functools.partial(_separated, _coded(separator, encoding), _coded(end, encoding)))


def _separated(separator: bytes, end: bytes, pieces: list[bytes]) -> bytes:
    return separator.join(pieces) + end


def _coded(text: str, encoding: str) -> bytes:
    if encoding == "utf-8-sig":
        encoding = "utf-8"
    return text.encode({"utf-16": "utf-16-le"}.get(encoding, encoding), "replace")


def _run(folder: Path, data: bytes) -> str:
    shutil.rmtree(folder / "reports", ignore_errors=True)
    path = folder / "export.csv"
    forms = {"bugs": INTAKE.bugs, "feedback": INTAKE.feedback}
    export = open_export(path, "export.csv", forms)
    rows = [row.cells for row in export.rows()]
    wanted = _rows_of(data[len(export.mark) :].decode(export.encoding), export.separator)
    if rows != wanted:
        raise Wrong("Python's csv reads other cells")
    said = take_in(*kept_files(folder), INTAKE, _ISSUES, GAME, {}, path, "")
    kept = json.loads((folder / f"reports/{export.form}.json").read_bytes())["reports"]
    if len(kept) != len(wanted):
        raise Wrong("another number of reports is kept than the export has rows")
    if len(data) % 4 == 0:
        _again(folder, path)
    if not said:
        raise Wrong("nothing is said")
    return "accepted"


def _again(folder: Path, path: Path) -> None:
    """Read the export again, which adds nothing, and erase the first tester."""
    said = take_in(*kept_files(folder), INTAKE, _ISSUES, GAME, {}, path, "")
    if " 0 new" not in said.splitlines()[0]:
        raise Wrong("the same export read twice adds reports")
    testers = json.loads((folder / "reports/testers.json").read_bytes())["testers"]
    if testers:
        kept, *others = kept_files(folder)
        erase(kept, folder / "build", *others, INTAKE, _ISSUES, GAME, {}, f"T{testers[0]['number']}")


def _rows_of(text: str, separator: str) -> list[list[str]]:
    csv.field_size_limit(1 << 30)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    finally:
        csv.field_size_limit(131_072)
    return [row for row in rows if any(cell.strip() for cell in row)][1:]


def _prepare(folder: Path) -> None:
    (folder / "build").mkdir()


FORMATS = (Format("csv", _csv, "export.csv", _prepare, _run, 256 * MIB, own=("reports",)),)
