"""Who is forgotten: number, name and address that meet in any row are one person's, as far as they cannot be another's.

No outside source for what counts as one person: see the module ``persons``. The right itself: GDPR, article 17.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from msgspec import structs

from pipeline.plain.errors import ProjectError
from tests.conftest import some
from tests.intake.makers import BUGS, FORMS, bugs_csv, drop, kept, project, read

A, B, HOME = "anna@example.org", "other@example.org", "home@example.org"


def exported(folder: Path, *rows: tuple[str, str], listed: str = "", intake=FORMS, name: str = "reports/march.csv") -> Path:
    """Keep an export under reports, in which each name and address report a bug of their own, and return the project."""
    project(folder)
    (folder / "reports").mkdir()
    if listed:
        (folder / "reports/testers.toml").write_text(listed)
    read(folder, bugs_csv(*(bug(rank, *row) for rank, row in enumerate(rows))), intake, name)
    return folder


def bug(rank: int, name: str, address: str) -> dict[str, str]:
    return {"time": f"2026-03-01 10:{rank:02}", "what": f"bug {rank}", "tester": name, "contact": address}


def left(folder: Path) -> list[int]:
    """Return which bugs are left, in what is kept and in the export alike."""
    found = [int(one["what"].split()[1]) for one in kept(folder)]
    text = (folder / "reports/march.csv").read_text()
    assert [rank for rank in range(20) if f"bug {rank}," in text] == found
    return found


KEEPING = structs.replace(FORMS, bugs=structs.replace(BUGS, keep=["what", "time", "tester", "contact"]))


@pytest.mark.parametrize("intake", [FORMS, KEEPING], ids=["contact not kept", "contact kept"])
@pytest.mark.parametrize("who", some(["T3", "anna becker", A.upper(), B], 2))
def test_number_name_and_address_lead_to_each_other(tmp_path, intake, who):
    """From each to all: T3 of the list met an address, the address a name, the name another address, that one rows without a name."""
    rows = [("T3", A), ("Anna Becker", A), ("", A), ("ANNA  BECKER", B), ("", B), ("Kofi", HOME), ("", HOME), ("", "")]
    folder = exported(tmp_path, *rows, listed="[[tester]]\nnumber = 3\n", intake=intake)
    said = drop(folder, who, intake)
    assert left(folder) == [5, 6, 7]
    assert "Not decided" not in said
    assert "testers.toml: the entry of T3" in said
    everything = b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())
    assert not any(text in everything for text in (A.encode(), B.encode(), b"Anna", b"ANNA"))
    with pytest.raises(ProjectError, match="nothing of"):
        drop(folder, who, intake)


@pytest.mark.parametrize("intake", [FORMS, KEEPING], ids=["contact not kept", "contact kept"])
def test_an_address_that_two_share_decides_nothing(tmp_path, intake):
    """Others' rows stay, those without a name are listed by line; asked for the address alone, nothing is removed."""
    folder = exported(tmp_path, ("Anna", HOME), ("Kofi", HOME), ("", HOME), ("Anna", A), ("", A), intake=intake)
    with pytest.raises(ProjectError, match=r"'home@example.org' may be T1, T2"):
        drop(folder, HOME, intake)
    assert left(folder) == [0, 1, 2, 3, 4]
    said = drop(folder, "Anna", intake)
    assert left(folder) == [1, 2]
    assert "Not decided, and left; look at these yourself:\n  march.csv, line 4: no name, and an address that others use too" in said
    assert ("T3: known by an address alone that others use too" in said) == (intake is KEEPING)
    assert HOME in (folder / "reports/march.csv").read_text()


def test_two_of_the_list_are_two_whatever_they_share(tmp_path):
    """Two numbers of the author's list are two people, though neither has a name."""
    folder = exported(tmp_path, ("T1", HOME), ("T2", HOME), ("", HOME), listed="[[tester]]\nnumber = 1\n[[tester]]\nnumber = 2\n")
    assert "march.csv, line 4: no name" in drop(folder, "T1")
    assert left(folder) == [1, 2]


def test_wordings_of_one_name_under_one_address(tmp_path):
    """Anna and Anna Becker with one address are one; Anna elsewhere is whoever signs alike; Annabel is not."""
    folder = exported(tmp_path, ("Anna", A), ("Anna Becker", A), ("Anna", ""), ("Annabel", B), ("Becker Anna", ""))
    drop(folder, "Anna Becker")
    assert left(folder) == [3, 4]


def test_later_addresses_are_known_where_contacts_are_kept(tmp_path):
    """Also when the export that had them is gone: each address of a tester is kept with the others."""
    folder = exported(tmp_path, ("Anna", A), ("", B), intake=KEEPING)
    read(folder, bugs_csv(bug(2, "Anna", B)), KEEPING)
    testers = json.loads((folder / "reports/testers.json").read_bytes())["testers"]
    assert testers == [{"number": 1, "tester": "Anna", "contact": A, "also": [B]}, {"number": 2, "tester": B, "contact": B}]
    (folder / "reports/march.csv").unlink()
    drop(folder, B, KEEPING)
    assert kept(folder) == []
    assert json.loads((folder / "reports/testers.json").read_bytes())["testers"] == []


def test_rows_of_others_are_cut_nowhere(tmp_path):
    """A row whose text ends another's row is taken out at its own line; line breaks inside cells are counted."""
    folder = project(tmp_path)
    (folder / "reports").mkdir()
    text = 'What happened,Your name,E-mail\r\n"two\r\nlines, x",Kofi,k@example.org\r\nx y,Anna,\r\n'
    text += '"x\ny,Anna,",Mei,\r\n y,Anna,\r\nz,Kofi,\r\n'
    (folder / "reports/a.csv").write_bytes(text.encode())
    read(folder, text.encode())
    assert "a.csv: 2 rows" in drop(folder, "Anna")
    expected = 'What happened,Your name,E-mail\r\n"two\r\nlines, x",Kofi,k@example.org\r\n"x\ny,Anna,",Mei,\r\nz,Kofi,\r\n'
    assert (folder / "reports/a.csv").read_bytes() == expected.encode()


def test_an_export_in_another_style_finds_the_same_reports(tmp_path):
    """The nameless row is found by its moment, not by how the export under reports writes it."""
    folder = exported(tmp_path, ("Anna", A), ("", A), ("Kofi", ""))
    text = (folder / "reports/march.csv").read_text()
    (folder / "reports/march.csv").write_text(text.replace("2026-03-01 10:", "01.03.2026 10:"))
    drop(folder, "Anna")
    assert left(folder) == [2]


def test_a_file_that_is_no_whole_export_ends_nothing(tmp_path):
    """It is looked through for the name alone."""
    folder = exported(tmp_path, ("Anna", A), ("Kofi", ""))
    (folder / "reports/odd.csv").write_text("What happened,Your name\nx,Anna\nshort\n")
    assert "The name is still in odd.csv" in drop(folder, "Anna")
