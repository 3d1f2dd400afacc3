"""Nothing counted twice, nothing lost: exports saved again in other styles, and answers that were edited since."""

from __future__ import annotations

import csv
import io
import json

import pytest
from msgspec import structs

from pipeline.plain.errors import ProjectError
from tests.conftest import some
from tests.intake.makers import BUGS, FORMS, HEADINGS, bugs_csv, kept, project, read, table

TIMES = ["2026-03-09 10:12:33", "2026-03-09 10:12:40", "2026-03-12 23:59:59", "2026-04-01 00:00:05", "2026-04-02 12:30:00"]
ROWS = [
    {"time": time, "build": "7zz9k2", "what": what, "often": "3,5", "tester": name}
    for time, what, name in zip(TIMES, ["It hangs;\nthen \"beeps\"", "It hangs;\nthen \"beeps\"", "Grün, zu grün", "Hangs", "ok"],
                                ["Anna", "Anna", "Jörg", "", "Kofi"], strict=True)
]  # fmt: skip
ROW_FORMS = structs.replace(FORMS, bugs=structs.replace(BUGS, columns=structs.replace(BUGS.columns, row="Response")))


def saved(style: str, separator: str, encoding: str, quoting: int = csv.QUOTE_MINIMAL, ends: str = "\r\n") -> bytes:
    """Return the rows as a spreadsheet saves them again: its own dates, separator, quotes, encoding and line ends."""
    import datetime

    def cell(key: str, row: dict[str, str]) -> str:
        if key != "time":
            return row.get(key, "").replace("\n", "\r\n" if ends == "\r" else "\n")
        time = datetime.datetime.fromisoformat(row["time"])
        if style == "serial":
            return f"{(time - datetime.datetime(1899, 12, 30)) / datetime.timedelta(1):.6f}".replace(".", ",")
        return time.strftime(style)

    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=separator, quoting=quoting, lineterminator=ends)
    writer.writerows([list(HEADINGS.values()), *([cell(key, row) for key in HEADINGS] for row in ROWS)])
    return text.getvalue().encode(encoding)


STYLES = [
    ("%d.%m.%Y %H:%M:%S", ";", "utf-8-sig"), ("%d.%m.%y %H:%M", ";", "utf-16"), ("%m/%d/%Y %I:%M %p", ",", "utf-8"),
    ("%d/%m/%Y %H:%M", ";", "utf-8-sig"), ("%Y-%m-%dT%H:%M:%SZ", ",", "utf-8"), ("%d %B %Y %H:%M:%S", "\t", "utf-8"),
    ("%d/%m/%Y", ",", "utf-8"), ("serial", "\t", "utf-16"),
]  # fmt: skip


@pytest.mark.parametrize(("style", "separator", "encoding"), some(STYLES, 3))
@pytest.mark.parametrize("quoting", [csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
def test_an_export_saved_again_is_the_same_rows(tmp_path, style, separator, encoding, quoting):
    """Whichever came first: dates in another style, coarser ones too, marks, separators, quotes and line ends of spreadsheets."""
    exports = [bugs_csv(*ROWS), saved(style, separator, encoding, quoting)]
    for rank, (first, second) in enumerate((exports, exports[::-1])):
        (tmp_path / f"{rank}").mkdir()
        folder = project(tmp_path / f"{rank}")
        assert "5 rows of the bugs form, 5 new" in read(folder, first)
        assert "5 rows of the bugs form, 0 new;" in read(folder, second)
        assert [one["id"] for one in kept(folder)] == [f"R-000{rank}" for rank in range(1, 6)]
        # Of the two times the one that says more is kept.
        assert [one["at"] for one in kept(folder)] == [time.replace(" ", "T") for time in TIMES]
    assert "0 new;" in read(folder, saved(style, separator, encoding, quoting, "\r"))


def test_unclear_dates_are_refused_with_the_setting_and_read_with_it(tmp_path):
    """Nothing is kept of an export whose days may be months; the page says how dates were read."""
    folder = project(tmp_path)
    rows = [{"time": time, "what": f"bug {time}", "tester": "Anna"} for time in ("03/04/2026 10:00", "05/04/2026 11:00")]
    with pytest.raises(ProjectError, match=r"export.csv, line 2, column 'Timestamp': '03/04/2026 10:00' may be day first or month first"):
        read(folder, bugs_csv(*rows))
    assert not (folder / "reports").exists()
    said = read(folder, bugs_csv(*rows), structs.replace(FORMS, bugs=structs.replace(BUGS, dates="day first")))
    assert "Dates of export.csv are read day first, as project.toml says." in said
    assert [one["at"] for one in kept(folder)] == ["2026-04-03T10:00", "2026-04-05T11:00"]
    assert "Dates of export.csv are read day first" in (folder / "build/triage.html").read_text()
    again = [row | {"time": time} for row, time in zip(rows, ("2026-04-03 10:00", "2026-04-05 11:00"), strict=True)]
    assert "0 new" in read(folder, bugs_csv(*again))


def test_times_that_are_not_kept_are_not_asked_about(tmp_path):
    """A project that keeps no times needs no style."""
    forms = structs.replace(FORMS, bugs=structs.replace(BUGS, keep=["what"]))
    assert "1 new" in read(project(tmp_path), bugs_csv({"time": "03/04/2026", "what": "It hangs"}), forms)


def edited(folder) -> list[tuple[str, list[dict[str, str]]]]:
    return [(one["what"], one["former"]) for one in kept(folder) if "former" in one]


def test_an_edited_answer_replaces_what_it_said(tmp_path):
    """Same tester and minute, other text: one report, its former text kept and marked on the page; old exports do not bring it back."""
    folder = project(tmp_path)
    old = {"time": "2026-03-01 10:12:33", "build": "7zz9k2", "what": "It hangs", "severity": "minor", "tester": "Anna"}
    new = old | {"what": "Screen goes dark <b>at the quay", "severity": "critical", "often": "always"}
    other = old | {"time": "2026-03-01 11:00:00", "what": "It hums"}
    read(folder, bugs_csv(old, other))
    assert "2 rows of the bugs form, 0 new, 1 edited since" in read(folder, bugs_csv(new | {"time": "01.03.2026 10:12"}, other))
    former = {"what": "It hangs", "severity": "minor", "often": ""}
    assert edited(folder) == [(new["what"], [former])]
    page = (folder / "build/triage.html").read_text()
    assert "Edited since; before: <del><bdi>It hangs</bdi></del>; no often; severity <del><bdi>minor</bdi></del>" in page
    assert "what: It hangs" in (folder / "build/triage.csv").read_text(encoding="utf-8-sig")
    before = (folder / "reports/bugs.json").read_bytes()
    for again in (bugs_csv(new, other), bugs_csv(old, other), bugs_csv(old, new, other), bugs_csv(other)):
        assert " 0 new;" in read(folder, again)
        assert json.loads((folder / "reports/bugs.json").read_bytes())["reports"] == json.loads(before)["reports"]
    newer = new | {"what": "Dark at the quay"}
    assert "1 edited since" in read(folder, bugs_csv(newer, other))
    assert edited(folder) == [("Dark at the quay", [former, {"what": new["what"]}])]
    assert " 0 new;" in read(folder, bugs_csv(new, other))
    assert [one["id"] for one in kept(folder)] == ["R-0001", "R-0002"]


@pytest.mark.parametrize(
    ("old", "new", "is_edit"),
    [
        # One day and one name is weak: half of the words must be the same.
        ({"time": "2026-03-01", "tester": "Anna"}, {"what": "It hangs at the quay"}, True),
        ({"time": "2026-03-01", "tester": "Anna"}, {"what": "Colours are odd"}, False),
        ({"time": "2026-03-01 10:12", "tester": "Anna"}, {"what": "Colours are odd"}, True),
        ({"time": "2026-03-01 10:12", "tester": "Anna"}, {"tester": "Kofi", "what": "It hangs at the quay"}, False),
        ({"time": "2026-03-01 10:12", "tester": "Anna"}, {"time": "2026-03-01 10:13", "what": "It hangs at the quay"}, False),
        ({"time": "2026-03-01 10:12:33"}, {"what": "It hangs at the quay"}, True),
        ({"time": "2026-03-01 10:12:33"}, {"what": "Colours are odd"}, False),
        ({"time": "2026-03-01"}, {"what": "It hangs at the quay"}, False),
        ({"time": "on Tuesday", "tester": "Anna"}, {"what": "It hangs at the quay"}, True),
        ({"time": "on Tuesday", "tester": "Anna"}, {"what": "Colours are odd"}, False),
        ({"tester": "Anna"}, {"what": "It hangs at the quay"}, False),
    ],
)
def test_what_counts_as_the_same_answer(tmp_path, old, new, is_edit):
    """Common practice, no source: see the module ``keep``."""
    folder = project(tmp_path)
    old = {"what": "It hangs"} | old
    read(folder, bugs_csv(old))
    assert ("1 edited since" in read(folder, bugs_csv(old | new))) == is_edit
    assert len(kept(folder)) == 2 - is_edit


def test_two_answers_of_one_minute_stay_two(tmp_path):
    """An export that still has the first is not an edit of it by the second, and both can be edited."""
    folder = project(tmp_path)
    first = {"time": "2026-03-01 10:12", "what": "It hangs", "tester": "Anna"}
    second = first | {"what": "Colours are odd at the pier"}
    assert "1 new" in read(folder, bugs_csv(first))
    assert "2 rows of the bugs form, 1 new;" in read(folder, bugs_csv(first, second))
    assert "0 new, 2 edited since" in read(
        folder, bugs_csv(first | {"what": "It hangs twice"}, second | {"what": "Odd colours at the pier"})
    )
    assert edited(folder) == [
        ("It hangs twice", [{"what": "It hangs"}]), ("Odd colours at the pier", [{"what": "Colours are odd at the pier"}]),
    ]  # fmt: skip


def numbered(*rows: tuple[str, str, str, str]) -> bytes:
    return table([["Response", "Timestamp", "Your name", "What happened"], *map(list, rows)])


def test_a_row_is_known_by_what_the_form_calls_it(tmp_path):
    """Another text, name or time under the same number is an edit, also within one export; two forms that count from 1 stay apart."""
    folder = project(tmp_path)
    read(folder, numbered(("1", "2026-03-01 10:12", "Anna", "It hangs"), ("2", "2026-03-01 10:20", "", "It hums")), ROW_FORMS)
    once, twice = ("1", "2026-03-02 08:00", "Anna", "Dark"), ("1", "2026-03-02 08:00", "Anna", "Darker")
    again = numbered(once, ("2", "2026-03-01 10:20", "Kofi", "Loud"), twice)
    assert "3 rows of the bugs form, 0 new, 3 edited since" in read(folder, again, ROW_FORMS)
    assert edited(folder) == [("Darker", [{"what": "It hangs"}, {"what": "Dark"}]), ("Loud", [{"what": "It hums"}])]
    assert "0 new;" in read(folder, again, ROW_FORMS)
    assert len(edited(folder)) == 2
    assert "1 new" in read(folder, numbered(("2", "2026-05-01 09:00", "Mei", "It clicks")), ROW_FORMS)
    assert [one["what"] for one in kept(folder)] == ["Darker", "Loud", "It clicks"]


def test_reports_of_the_earlier_format_get_their_moments(tmp_path):
    """A file that was kept before moments were is read, and an export in another style adds nothing to it."""
    folder = project(tmp_path)
    read(folder, bugs_csv(*ROWS))
    path = folder / "reports/bugs.json"
    data = json.loads(path.read_bytes())
    for one in data["reports"]:
        del one["at"]
    path.write_text(json.dumps({"format": 1, "next": data["next"], "fields": data["fields"], "reports": data["reports"]}))
    assert "5 rows of the bugs form, 0 new" in read(folder, saved("%d.%m.%Y %H:%M:%S", ";", "utf-8-sig"))
    assert json.loads(path.read_bytes())["format"] == 2


def test_a_person_takes_what_they_said_before_along(tmp_path):
    """Fields that are no longer kept go from former texts too."""
    folder = project(tmp_path)
    old = {"time": "2026-03-01 10:12:33", "what": "It hangs", "where": "Quay", "tester": "Anna"}
    read(folder, bugs_csv(old))
    read(folder, bugs_csv(old | {"what": "Dark", "where": "Pier"}))
    assert edited(folder) == [("Dark", [{"what": "It hangs", "where": "Quay"}])]
    read(
        folder, bugs_csv(old | {"what": "Dark", "where": "Pier"}), structs.replace(FORMS, bugs=structs.replace(BUGS, keep=["what", "time"]))
    )
    assert edited(folder) == [("Dark", [{"what": "It hangs"}])]
    assert b"Quay" not in (folder / "reports/bugs.json").read_bytes()
