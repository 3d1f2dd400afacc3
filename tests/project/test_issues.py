"""Known issues in a file of their own or in the project file: where each mistake is reported, and what must agree."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from pipeline.project.file import Issue
from pipeline.project.issues import frame_shown, issue_title, open_issues, to_retest
from pipeline.project.loading.load import load_project
from tests.makers import make_project, problems, project_text, write_text
from tests.project.test_ledger import release, write_ledger

OWN = '[[issue]]\nid = "TF-001"\nseverity = "minor"\nwhere = "Quay"\nwhat = "The bell rings twice."\n'


@pytest.fixture
def folder(tmp_path):
    """A project whose issues are in issues.toml."""
    folder = make_project(tmp_path / "p")
    write_text(folder, project_text((OWN, "")))
    (folder / "issues.toml").write_text(OWN, encoding="utf-8")
    return folder


def add(folder, text: str) -> list[str]:
    """Add lines to the issues file and return the problems."""
    (folder / "issues.toml").write_text(OWN + text, encoding="utf-8")
    return problems(folder)


def test_issues_come_from_either_file(folder):
    """The same record from both; a file without issues has none."""
    from_file = load_project(folder).spec.issue
    assert from_file == [Issue(id="TF-001", severity="minor", where="Quay", what="The bell rings twice.")]
    (folder / "issues.toml").unlink()
    write_text(folder, project_text())
    assert load_project(folder).spec.issue == from_file
    write_text(folder, project_text((OWN, "")))
    (folder / "issues.toml").write_text("# none\n", encoding="utf-8")
    assert load_project(folder).spec.issue == []


def test_issues_in_both_files_are_refused(folder):
    """The place is the first in the project file."""
    text = project_text()
    write_text(folder, text)
    line = text.splitlines().index("[[issue]]") + 1
    (problem,) = problems(folder)
    assert problem == (
        f"project.toml, line {line}, [[issue]] number 1: issues.toml holds known issues too\n"
        "    keep known issues in one of the two: move these to issues.toml, or remove that file"
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            'status = "closed"\n',
            "issues.toml, line 6, [[issue]] number 1 status: "
            'expected "open" or "fixed" or "cannot reproduce" or "by design", saw \'closed\'\n    write one of those',
        ),
        ('status = "fixd"\n', 'did you mean "fixed"?'),
        (
            'status = "fixed"\n',
            'issues.toml, line 1, [[issue]] number 1 fixed_in: TF-001 is fixed, but fixed_in is missing\n    add fixed_in = "0.1.0"',
        ),
        (
            'fixed_in = "0.1.0"\n',
            "issues.toml, line 6, [[issue]] number 1 fixed_in: TF-001 has fixed_in, but its status is open\n"
            '    set status = "fixed", or remove fixed_in',
        ),
        (
            'status = "fixed"\nfixed_in = "0.0.8"\n',
            "issues.toml, line 7, [[issue]] number 1 fixed_in: 0.0.8 is neither in the ledger nor this version, 0.1.0\n"
            "    name the version in which testers get the fix; an issue long fixed may be removed",
        ),
        (
            'status = "fixed"\nfixed_in = "0.1.0"\nsince = "0.1.1-rc.1"\n',
            "issues.toml, line 8, [[issue]] number 1 since: 0.1.1-rc.1 comes after fixed_in, 0.1.0\n"
            "    since is the version in which it was first seen; correct one of the two",
        ),
        (OWN, "issues.toml, line 7, [[issue]] number 2 id: the id 'TF-001' is used twice\n    ids stay the same for ever; take a new one"),
        ("severty = 1\n", "issues.toml, line 6, [[issue]] number 1 severty: unknown key 'severty'\n    did you mean severity?"),
        ("\n[[issues]]\n", "unknown key 'issues'\n    did you mean issue?"),
        ("what\n", "issues.toml, line 6, column 5: not TOML"),
    ],
)
def test_what_cannot_be_is_refused_in_its_own_file(folder, text, message):
    """Word for word, with the line of issues.toml."""
    (found,) = add(folder, text)
    assert message in found


def test_a_version_of_the_ledger_may_have_the_fix(folder):
    """0.0.8 is refused above; once released it is known."""
    write_ledger(folder, release("0.0.8"))
    assert add(folder, 'status = "fixed"\nfixed_in = "0.0.8"\n') == []


def test_problems_of_both_files_are_reported_at_once(folder):
    """A wrong version of the project does not make a fix wrong too."""
    write_text(folder, project_text((OWN, ""), ('version = "0.1.0"', 'version = "0.1"')))
    found = add(folder, 'status = "fixed"\nfixed_in = "0.0.8"\nsince = "0.0.9"\n')
    assert len(found) == 2
    assert any(one.startswith("project.toml") and "version" in one for one in found)
    assert any(one.startswith("issues.toml") and "since" in one for one in found)


def test_titles_are_short():
    """Without a title the first whole words of what happens replace it, at most 60 characters."""
    short = Issue(id="A", severity="minor", where="w", what="The bell rings twice.")
    words = "The  bell rings,\nand rings again, and whoever hears it thinks of a ship, of any ship."
    long = Issue(id="A", severity="minor", where="w", what=words)
    assert issue_title(short) == "The bell rings twice."
    assert issue_title(long) == "The bell rings, and rings again, and whoever hears it…"
    assert issue_title(Issue(id="A", severity="minor", where="w", what="Whatever.", title="Bell")) == "Bell"
    assert len(issue_title(Issue(id="A", severity="minor", where="w", what="x" * 90))) == 60


def test_issues_are_open_or_to_be_tested_again_or_neither():
    """Only what was fixed in the version itself is asked for again."""
    states = (("open", None), ("fixed", "0.2.0"), ("fixed", "0.1.0"), ("by design", None), ("cannot reproduce", None))
    every = {"severity": "minor", "where": "w", "what": "x"}
    issues = [Issue(id=f"A-{rank}", status=state, fixed_in=at, **every) for rank, (state, at) in enumerate(states)]
    assert [one.id for one in open_issues(issues)] == ["A-0"]
    assert [one.id for one in to_retest(issues, "0.2.0")] == ["A-1"]


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ('picture = "art/none.png"', "picture: there is no file 'art/none.png'"),
        ('picture = "notes.txt"', "picture: 'notes.txt' does not end like a picture\n    known are .png"),
        ('picture = "../out.png"', "picture: "),
        ('picture = "a.png"\nframe = "ada/x"', "frame: TF-001 has a picture and a frame\n    keep one of the two"),
        ('frame = "nobody/walk"', "frame: there is no asset 'nobody'"),
        ('frame = "ada"', "frame: 'ada' is not a frame: ada is a sprite\n    write SPRITE/FRAME"),
        ('frame = "ada/nowhere"', "frame: ada has no frame 'nowhere'"),
    ],
)
def test_pictures_of_issues_that_are_not_there_are_refused(folder, line, problem):
    """With file, line, key and remedy."""
    (said,) = add(folder, line + "\n")
    assert said.startswith("issues.toml, line ")
    assert problem in said


def test_a_frame_is_found_by_name_and_by_number(folder):
    """Names of files without ending; a number from 0, which only the step can compare with what is there."""
    project = load_project(folder)
    names = [Path(file).stem for file in project.frame_names(project.assets["ada"])]
    for frame, number in ((names[-1], len(names) - 1), ("0", 0), ("7", 7)):
        issue = msgspec.structs.replace(project.spec.issue[0], frame=f"ada/{frame}")
        assert frame_shown(issue, project) == ("ada", number)
    for frame in ("ada/", "ada/-1", "ada/²", "ada/1234567", "main", "nobody/0"):
        issue = msgspec.structs.replace(project.spec.issue[0], frame=frame)
        assert frame_shown(issue, project)[1] is None, frame
