"""Reading exports, against RFC 4180's own examples and Python's csv."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.exports import open_export
from pipeline.plain.errors import ProjectError
from pipeline.project.intake import BugColumns, BugForm, FeedbackColumns, FeedbackForm

RFC = {"bugs": BugForm(columns=BugColumns(what="aaa", where="bbb", build="ccc"))}
FORMS = {
    "bugs": BugForm(columns=BugColumns(what="What happened", build="Build code")),
    "feedback": FeedbackForm(columns=FeedbackColumns(build="Build code"), questions={"fun": "How much fun?"}),
}


def cells(path: Path, data: bytes, forms=RFC, wanted: str = "") -> list[list[str]]:
    """Return the cells of every row of a file."""
    path.write_bytes(data)
    return [row.cells for row in open_export(path, "file.csv", forms, wanted).rows()]


def refused(path: Path, data: bytes, forms=FORMS, wanted: str = "") -> list[str]:
    """Return the problems of reading a file."""
    with pytest.raises(ProjectError) as caught:
        cells(path, data, forms, wanted)
    return [str(one) for one in caught.value.problems]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # RFC 4180, section 2, rules 1 to 7, each with a header line aaa,bbb,ccc before it so that the columns have names.
        ("zzz,yyy,xxx\r\n", [["zzz", "yyy", "xxx"]]),
        ("zzz,yyy,xxx", [["zzz", "yyy", "xxx"]]),  # rule 2: the last record may have no line break
        ('"zzz","yyy","xxx"\r\nz,y,x', [["zzz", "yyy", "xxx"], ["z", "y", "x"]]),
        ('"zzz","b \r\nbb","ccc"\r\nzzz,yyy,xxx', [["zzz", "b \r\nbb", "ccc"], ["zzz", "yyy", "xxx"]]),  # rule 6
        ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),  # rule 7
        (" zzz,yyy ,xxx", [[" zzz", "yyy ", "xxx"]]),  # rule 4: spaces are part of a field
    ],
)
def test_examples_of_the_rfc(tmp_path, text, expected):
    """The records of RFC 4180's examples are read as it says."""
    assert cells(tmp_path / "a.csv", b"aaa,bbb,ccc\r\n" + text.encode()) == expected


_TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)


_ROWS = st.lists(st.lists(_TEXTS, min_size=3, max_size=3), max_size=6)


@given(_ROWS, st.sampled_from(",;\t"), st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
def test_what_pythons_csv_writes_is_read(tmp_path_factory, rows, separator, encoding):
    """Rows of any text, with any of the separators and encodings, come back; rows of white space alone are skipped."""
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator).writerows([["aaa", "bbb", "ccc"], *rows])
    path = tmp_path_factory.mktemp("csv") / "a.csv"
    assert cells(path, text.getvalue().encode(encoding)) == [row for row in rows if any(cell.strip() for cell in row)]


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf_16_by_its_mark_in_either_order(tmp_path, encoding):
    """A tab-separated export as a spreadsheet saves "Unicode text" (UTF-16 with a mark, tabs), quotes and line feeds inside."""
    text = '\ufeffBuild code\tWhat happened\r\n7ZZ9K2\t"Grün;\n ""blink"""\r\n'
    assert cells(tmp_path / "a.txt", text.encode(encoding), FORMS) == [["7ZZ9K2", 'Grün;\n "blink"']]


def test_lines_and_texts_of_rows_are_those_of_the_file(tmp_path):
    """A row knows its first line and its own text, also after a quoted line break and an empty line."""
    path = tmp_path / "a.csv"
    path.write_bytes(b'aaa,bbb,ccc\n1,"two\nlines",3\n\n4,5,6\n')
    rows = list(open_export(path, "a.csv", RFC).rows())
    assert [(row.line, row.text) for row in rows] == [(2, '1,"two\nlines",3\n'), (5, "4,5,6\n")]


def test_form_is_found_by_its_headings_in_any_order_and_case(tmp_path):
    """Headings decide, not the file's name; a separator inside a heading does no harm."""
    path = tmp_path / "a.csv"
    path.write_text('"Sent, when";  HOW MUCH  fun? ;build CODE\n1;2;3\n', encoding="utf-8")
    export = open_export(path, "a.csv", FORMS)
    assert (export.form, export.separator, export.places) == ("feedback", ";", {"build": (2,), "fun": (1,)})


def test_single_column_reads_alike_with_any_separator(tmp_path):
    """Separators that fit equally well are not two forms."""
    one = {"feedback": FeedbackForm(columns=FeedbackColumns(build="Build code"), questions={})}
    assert cells(tmp_path / "a.csv", b"Build code\n7ZZ9K2\n", one) == [["7ZZ9K2"]]


def test_form_that_is_asked_for(tmp_path):
    """An export that fits both forms equally well is refused until the author says which it is."""
    data = b"Build code,What happened,How much fun?\n1,2,3\n"
    assert refused(tmp_path / "a.csv", data) == [
        "file.csv, line 1: the columns of both forms are there\n    say which it is: form=bugs or form=feedback"
    ]
    assert cells(tmp_path / "a.csv", data, FORMS, "feedback") == [["1", "2", "3"]]
    assert "there is no form 'bug'\n    did you mean bugs?" in refused(tmp_path / "a.csv", data, wanted="bug")[0]


@pytest.mark.parametrize(
    ("data", "messages"),
    [
        (b"", ["file.csv: the file is empty"]),
        (b"Build code,What hapened\n", ["file.csv, line 1: no column 'What happened', which [intake.bugs] names\n    did the form"]),
        (b"B\0u\0", ["file.csv, byte 0: no text, or UTF-16 without a byte order mark"]),
        (b"\xff\xfe\0\0B\0\0\0", ["file.csv, byte 0: UTF-32"]),
        (b"Build code,What happened\n1,caf\xe9\n", ["file.csv, line 2: not UTF-8 text"]),
        (b'Build code,What happened\n1,"open\n', ["file.csv, line 2: not CSV: unexpected end of data"]),
        (b'Build code,What happened\n1,"a"b\n', ["file.csv, line 2: not CSV: ',' expected after '\"'"]),
        (
            b"Build code,What happened\n1\n1,2\n1,2,3\n",
            ["file.csv, line 2: 1 cell, where the heading has 2", "file.csv, line 4: 3 cells, where the heading has 2"],
        ),
        (b"Build code,What happened,what happened\n", ["file.csv, line 1: the column 'What happened' is there more than once"]),
    ],
)
def test_what_cannot_be_read_is_reported_with_its_place(tmp_path, data, messages):
    """Every refusal names the line and what to do."""
    refusals = refused(tmp_path / "a.csv", data)
    assert len(refusals) == len(messages)
    for text, start in zip(refusals, messages, strict=True):
        assert text.startswith(start)
        assert "\n    " in text


_BOTH = BugColumns(what=["What happened?", "Was ist passiert?"], pad=["Pad", "Controller"], severity="How bad?")
SEVERAL = {"bugs": BugForm(columns=_BOTH)}


@pytest.mark.parametrize(
    ("data", "found", "absent"),
    [
        ("Was ist passiert?,Controller\nHängt,sechs\n", [{"what": "Hängt", "pad": "sechs"}], ("severity",)),
        ("PAD,what  happened?,How bad?\nthree,It hangs,very\n", [{"what": "It hangs", "pad": "three", "severity": "very"}], ()),
        # Two exports joined by hand: each row fills in one of the two columns.
        (
            "What happened?,Was ist passiert?,How bad?\nIt hangs,,1\n,Hängt,2\n",
            [{"what": "It hangs", "severity": "1"}, {"what": "Hängt", "severity": "2"}],
            ("pad",),
        ),
    ],
)
def test_columns_with_several_headings(tmp_path, data, found, absent):
    """A form that was reworded, or asked in two languages, gives one field; what no column gives is known, and no reason to refuse."""
    path = tmp_path / "a.csv"
    path.write_text(data, encoding="utf-8")
    export = open_export(path, "a.csv", SEVERAL)
    assert [export.fields(row, ("what", "pad", "severity")) for row in export.rows()] == found
    assert export.absent == absent


def test_several_headings_of_which_none_is_there(tmp_path):
    """The nearest of all headings is named."""
    assert refused(tmp_path / "a.csv", b"Was ist passirt?,x\n", SEVERAL)[0].startswith(
        "file.csv, line 1: no column 'What happened?', which [intake.bugs] names\n    did the form's column become 'Was ist passirt?'?"
    )
