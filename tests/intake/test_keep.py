"""What is kept of reports and what is not, and that a person can be forgotten."""

from __future__ import annotations

import json

import msgspec
import pytest

from pipeline.intake import store
from pipeline.intake.shown import cell
from pipeline.intake.store import Reports, load_reports, save_reports
from pipeline.plain.errors import ProjectError
from tests.intake.makers import BUGS, FORMS, bugs_csv, drop, kept, project, read, table

ANNA = {"time": "1", "build": "7zz9k2", "what": "It hangs", "tester": "Anna B", "contact": "anna@example.org"}
KOFI = {"time": "2", "build": "oaibod", "what": "It hums", "tester": "Kofi", "contact": "kofi@example.org"}


def files(folder) -> dict[str, bytes]:
    """Return every file under the reports and the build."""
    found = [path for part in ("reports", "build") for path in (folder / part).rglob("*") if path.is_file()]
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(found)}


def keeping(*fields: str):
    """Return the forms, with these fields kept of a bug report."""
    return msgspec.structs.replace(FORMS, bugs=msgspec.structs.replace(BUGS, keep=list(fields)))


def test_same_export_twice_adds_nothing(tmp_path):
    """Neither a second reading nor a longer export changes what was kept; a row three times counts three times."""
    folder = project(tmp_path)
    assert read(folder, bugs_csv(ANNA, KOFI, KOFI)).startswith("export.csv: 3 rows of the bugs form, 3 new; not kept: contact")
    before = files(folder)
    assert "3 rows of the bugs form, 0 new" in read(folder, bugs_csv(ANNA, KOFI, KOFI))
    assert files(folder) == before
    assert "4 rows of the bugs form, 1 new" in read(folder, bugs_csv(ANNA, KOFI, KOFI, KOFI))
    assert [one["id"] for one in kept(folder)] == ["R-0001", "R-0002", "R-0003", "R-0004"]


def test_what_is_not_kept_is_nowhere(tmp_path):
    """Neither a contact's text nor a hash of it is written: another contact gives the same bytes."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA))
    first = files(folder)
    assert not any(b"anna@" in data or b"example.org" in data for data in first.values())
    for path in (folder / "reports").iterdir():
        path.unlink()
    read(folder, bugs_csv(ANNA | {"contact": "somebody@example.org"}))
    assert files(folder) == first
    assert kept(folder) == [{"id": "R-0001", "what": "It hangs", "build": "7zz9k2", "time": "1", "tester": 1}]


def test_fields_that_are_asked_for_later_or_no_more(tmp_path):
    """The same export completes what is kept, and fields no longer kept go, without a report being counted twice."""
    folder = project(tmp_path)

    assert "2 new" in read(folder, bugs_csv(ANNA, KOFI), keeping("what", "time"))
    assert not (folder / "reports/testers.json").read_text().count("Anna")
    assert "0 new" in read(folder, bugs_csv(ANNA, KOFI), keeping("what", "time", "build", "tester", "contact"))
    assert [one["build"] for one in kept(folder)] == ["7zz9k2", "oaibod"]
    assert json.loads((folder / "reports/testers.json").read_bytes())["testers"] == [
        {"number": 1, "tester": "Anna B", "contact": "anna@example.org"},
        {"number": 2, "tester": "Kofi", "contact": "kofi@example.org"},
    ]
    assert "0 new" in read(folder, bugs_csv(ANNA, KOFI), keeping("what"))
    assert kept(folder) == [{"id": "R-0001", "what": "It hangs"}, {"id": "R-0002", "what": "It hums"}]
    assert not any(b"Anna" in data or b"kofi@" in data for data in files(folder).values())


@pytest.mark.parametrize("who", ["1", "T1", "anna b"])
def test_forgotten_person_is_nowhere(tmp_path, who):
    """Reports, feedback, name, page and the rows of an export kept beside go; ids and numbers are not given again."""
    folder = project(tmp_path)
    (folder / "reports").mkdir()
    read(folder, bugs_csv(ANNA, KOFI, ANNA | {"time": "3", "what": "Still\nhangs"}), name="reports/march.csv")
    heads = ["Timestamp", "Build code", "Your name", "How much fun?", "How was the pace?", "What do you wish for?"]
    read(folder, table([heads, ["1", "7ZZ9K2", "ANNA B", "5", "Too fast", "More bells"]]))
    output = drop(folder, who)
    for line in ("bugs.json: 2 reports (R-0001, R-0003)", "feedback.json: 1 report (F-0001)", "testers.json: T1", "march.csv: 2 rows"):
        assert line in output
    assert "brings them back" in output
    assert not any(b"nna" in data.replace(b"channa", b"") or b"hangs" in data or b"More bells" in data for data in files(folder).values())
    assert (folder / "reports/march.csv").read_bytes() == bugs_csv(KOFI)
    read(folder, bugs_csv({"what": "New", "tester": "Mei"}))
    assert [(one["id"], one["tester"]) for one in kept(folder)] == [("R-0002", 2), ("R-0004", 3)]
    with pytest.raises(ProjectError, match="nothing of 'anna b' is in reports"):
        drop(folder, "anna b")


def test_a_contact_that_is_kept_finds_the_person(tmp_path):
    """An address names the same person as number and name do: reports, name and address go, those of others stay."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA | {"contact": "anna@example.org"}, KOFI), keeping("what", "time", "tester", "contact"))
    output = drop(folder, "ANNA@example.org")
    assert "bugs.json: 1 report (R-0001)" in output
    assert "testers.json: T1" in output
    assert [one["id"] for one in kept(folder)] == ["R-0002"]
    assert not any(b"nna" in data.replace(b"channa", b"") for data in files(folder).values())


def test_a_contact_that_is_not_kept_finds_reports_by_the_export(tmp_path):
    """The address is in an export alone: the reports its rows became go, with the name beside it when nothing else has it."""
    folder = project(tmp_path)
    (folder / "reports").mkdir()
    nameless = {"time": "9", "what": "It squeaks", "contact": "ANNA@example.org"}
    anna, kofi = ANNA | {"contact": "anna@example.org"}, KOFI | {"contact": "kofi@example.org"}
    other = {"time": "9", "what": "It squeaks", "tester": "Mei"}
    read(folder, bugs_csv(anna, kofi, nameless, other), name="reports/april.csv")
    output = drop(folder, "anna@example.org")
    for line in ("bugs.json: 2 reports (R-0001, R-0003)", "testers.json: T1", "april.csv: 2 rows"):
        assert line in output
    assert [one["id"] for one in kept(folder)] == ["R-0002", "R-0004"]
    assert not any(b"nna" in data.replace(b"channa", b"") for data in files(folder).values())


def test_nothing_is_removed_while_the_page_cannot_be_made(tmp_path):
    """Else the old page would go on showing what was erased, and the second try find nothing to erase."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA, KOFI))
    (folder / "reports/decisions.toml").write_text('issue = { R-0001 = "TF-999" }\n')
    before = files(folder)
    with pytest.raises(ProjectError, match="there is no known issue 'TF-999'"):
        drop(folder, "Anna B")
    assert files(folder) == before
    (folder / "reports/decisions.toml").unlink()
    assert "bugs.json: 1 report (R-0001)" in drop(folder, "Anna B")
    assert b"It hangs" not in (folder / "build/triage.html").read_bytes()


def test_name_in_what_others_wrote_is_reported(tmp_path):
    """Texts of others are not cut; that they name the person is said."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA, KOFI | {"what": "As Anna B said, it hums"}))
    assert "The name is still in bugs.json" in drop(folder, "Anna B")


def test_number_that_may_mean_two_persons_is_refused(tmp_path):
    """Where a form gives testers numbers of its own, a bare number may be either; T and a number is not."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA | {"tester": "2"}, KOFI | {"tester": "9"}))
    with pytest.raises(ProjectError, match="'2' may be T1, T2"):
        drop(folder, "2")
    assert "testers.json: T2" in drop(folder, "T2")
    with pytest.raises(ProjectError, match="nobody is named"):
        drop(folder, " ")


def test_bad_export_changes_nothing(tmp_path):
    """A row that is wrong at the end leaves what is kept, and the page, as they were."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA))
    before = files(folder)
    with pytest.raises(ProjectError, match="line 3: 1 cell,"):
        read(folder, bugs_csv(KOFI) + b"oops\r\n")
    assert files(folder) == before


STORED = '{"format": 1, "next": 2, "reports": [%s]}'


@pytest.mark.parametrize(
    "text",
    [
        "{", "[]", '{"format": 2}', STORED % "3", STORED % '{"what": "x"}', STORED % '{"id": "R-0001", "what": 5}',
        STORED % '{"id": "R-0001", "tester": "Anna"}', STORED % '{"id": "R-0001"}, {"id": "R-0001"}',
    ],
)  # fmt: skip
def test_damaged_store_is_refused(tmp_path, text):
    """What this tool did not write is not written over."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA))
    (folder / "reports/bugs.json").write_text(text)
    with pytest.raises(ProjectError, match=r"reports/bugs\.json(, line 1, column 2)?: not "):
        read(folder, bugs_csv(KOFI))
    assert (folder / "reports/bugs.json").read_text() == text


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", "  =1", "＝1"])
def test_cells_that_would_run_as_a_formula(text):
    """OWASP, "CSV Injection": cells that begin with one of = + - @ tab CR get an apostrophe before them."""
    assert cell(text).startswith("'")
    assert cell("a" + text)[0] == "a"


def test_file_of_the_most_bytes_is_read_again(tmp_path, monkeypatch):
    """A byte more than can be read again is refused, and the file stays as it was."""
    folder = tmp_path / "reports"
    folder.mkdir()
    reports = Reports("bugs", 3, ("what",), [{"id": f"R-000{rank}", "row": "x", "what": "Bell"} for rank in (1, 2)])
    save_reports(folder, reports)
    data = (folder / "bugs.json").read_bytes()
    monkeypatch.setattr(store, "REPORTS_BYTES", len(data))
    save_reports(folder, reports)
    assert load_reports(folder, "bugs") == reports
    monkeypatch.setattr(store, "REPORTS_BYTES", len(data) - 1)
    with pytest.raises(ProjectError, match=f"reports/bugs.json: would have .* at most {len(data) - 1:,} are read again"):
        save_reports(folder, reports)
    assert (folder / "bugs.json").read_bytes() == data


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-le", "utf-16-be"])
def test_name_in_an_export_is_reported_in_any_encoding(tmp_path, encoding):
    """A file that somebody put beside the reports is looked through; UTF-16 has a mark, in either order (RFC 2781)."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA, KOFI))
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    (folder / "reports/notes.txt").write_bytes(mark + "Seen by Anna B".encode(encoding))
    assert "The name is still in notes.txt, in what others wrote" in drop(folder, "Anna B")


@pytest.mark.parametrize(
    "change",
    [
        lambda text: json.dumps(json.loads(text), indent=2),
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("It hangs", "\\u0049t hangs"),
    ],
)
def test_a_store_laid_out_otherwise_is_the_same(tmp_path, change):
    """Line by line as it is written, or as a whole where an editor laid it out otherwise (reference: the standard library's json)."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA, KOFI))
    read(folder, bugs_csv(ANNA | {"time": "1", "what": "It hangs now"}, KOFI))
    path = folder / "reports/bugs.json"
    before = load_reports(folder / "reports", "bugs")
    path.write_bytes(change(path.read_text(encoding="utf-8")).encode())
    assert load_reports(folder / "reports", "bugs") == before
    assert before.reports == json.loads(path.read_text(encoding="utf-8-sig"))["reports"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("},\n", "}\n"), ("},\n", "},,\n"), ("}\n]", "},\n]"), ('"what": ', '"what": "", "what": '), ("It hums", "\\ud800"),
        ('"tester": 2', '"tester": NaN'),
        ('"tester": 2', '"tester": 9223372036854775808'), ("]\n}", "]\n}}"), ("]\n}", "]"),
        ('"next": 3', '"next": 3, "next": 3'), ("{\n", "[\n"),
    ],
)  # fmt: skip
def test_a_store_that_is_not_json_is_refused(tmp_path, old, new):
    """What RFC 8259 and RFC 7493 do not allow is refused, however a file is laid out."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ANNA, KOFI))
    path = folder / "reports/bugs.json"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ProjectError, match=r"reports/bugs\.json"):
        load_reports(folder / "reports", "bugs")
