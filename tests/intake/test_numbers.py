"""The author's list of testers and the numbers intake gives: one person has one number, and is forgotten with both."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pipeline.plain.errors import ProjectError
from tests.intake.makers import bugs_csv, drop, kept, project, read

LIST = '[[tester]]\nnumber = 1\n\n# met at the fair\n[[tester]]\nnumber = 3\nname = "Mara Quill"\npads = ["three"]\n'


def listed(folder: Path, text: str = LIST) -> Path:
    project(folder)
    (folder / "reports").mkdir()
    (folder / "reports/testers.toml").write_text(text, encoding="utf-8")
    return folder


def rows(*names: str) -> bytes:
    """Return an export in which each of some people reports a bug of their own."""
    return bugs_csv(*({"time": str(rank), "build": "7zz9k2", "what": f"bug {rank}", "tester": name} for rank, name in enumerate(names)))


def numbers(folder: Path) -> list[int]:
    return [one["tester"] for one in kept(folder)]


def test_listed_people_have_their_numbers_and_others_the_free_ones(tmp_path):
    """T3, t03, 3 and the name are one; a newcomer never gets 1 or 3; a number nobody has on the list is a name like any other."""
    folder = listed(tmp_path)
    read(folder, rows("T3", "t03", " 3", "mara  quill", "Kofi", "Ann", "T9", "T1"))
    assert numbers(folder) == [3, 3, 3, 3, 2, 4, 5, 1]
    testers = json.loads((folder / "reports/testers.json").read_text())
    assert [one["number"] for one in testers["testers"]] == [1, 2, 3, 4, 5]
    assert "3 rows of the bugs form, 0 new" in read(folder, rows("T3", "t03", " 3"))


def test_somebody_listed_later_keeps_the_number_they_had(tmp_path):
    """The author gives it with the name that the forms have; another name for a number that is taken is refused."""
    folder = listed(tmp_path, "")
    read(folder, rows("Kofi", "Mara Quill"))
    (folder / "reports/testers.toml").write_text('[[tester]]\nnumber = 2\nname = "Mara Quill"\n')
    read(folder, bugs_csv({"time": "9", "what": "more", "tester": "T2"}))
    assert numbers(folder) == [1, 2, 2]
    (folder / "reports/testers.toml").write_text('[[tester]]\nnumber = 1\nname = "Zed"\n')
    with pytest.raises(ProjectError) as refusal:
        read(folder, rows("Kofi"))
    assert str(refusal.value).startswith("reports/testers.toml: number 1 is that of somebody in reports/testers.json already")
    assert not any(name in str(refusal.value) for name in ("Kofi", "Zed"))


def test_problems_of_the_list_refuse_the_export(tmp_path):
    """Nothing is kept then."""
    folder = listed(tmp_path, LIST.replace("number = 3", "number = 1"))
    with pytest.raises(ProjectError, match="1 is given twice"):
        read(folder, rows("T3"))
    assert not (folder / "reports/bugs.json").exists()


@pytest.mark.parametrize("who", ["T3", "3", "Mara Quill"])
def test_erasing_takes_list_packet_kit_reports_and_exports(tmp_path, who):
    """Whatever they signed with; what others sent and the rest of the list stay."""
    folder = listed(tmp_path)
    (folder / "build/work/testers").mkdir(parents=True)
    (folder / "build/kit/testers").mkdir(parents=True)
    own = [folder / "build/work/testers/T03-packet.pdf", folder / "build/kit/testers/TINF-0.3.0-AAAAAA-T03.zip"]
    other = folder / "build/work/testers/T01-packet.pdf"
    for path in (*own, other):
        path.write_bytes(b"x")
    read(folder, rows("T3", "Kofi", "Mara Quill", "T003"))
    (folder / "reports/round.csv").write_bytes(rows("T3", "Kofi", "Mara Quill", "T003"))
    said = drop(folder, who)
    for line in (
        "bugs.json: 3 reports", "testers.json: T3", "testers.toml: the entry of T3, lines 4 to 8", "round.csv: 3 rows",
        "build/work/testers/T03-packet.pdf: their own packet", "build/kit/testers/TINF-0.3.0-AAAAAA-T03.zip: their own kit",
    ):  # fmt: skip
        assert line in said
    assert "The name is still in" not in said
    assert numbers(folder) == [2]
    assert (folder / "reports/testers.toml").read_text() == "[[tester]]\nnumber = 1\n\n"
    assert other.exists()
    assert not any(path.exists() for path in own)
    assert b"Mara" not in b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file() and path.name != "export.csv")
    with pytest.raises(ProjectError, match="nothing of"):
        drop(folder, who)


def test_somebody_who_never_reported_is_forgotten_as_well(tmp_path):
    """The list is enough."""
    assert "testers.toml: the entry of T3" in drop(listed(tmp_path), "mara quill")


def test_an_entry_that_cannot_be_cut_out_is_reported(tmp_path):
    """Line and consequence; the name is still found in the list."""
    said = drop(listed(tmp_path, 'tester = [{ number = 3, name = "Mara Quill" }, { number = 1 }]\n'), "T3")
    assert "reports/testers.toml, line 1: remove the entry of T3 by hand; until then builds make their packet again." in said
    assert "The name is still in testers.toml" in said
