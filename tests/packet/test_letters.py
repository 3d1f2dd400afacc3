"""Texts the packet cannot set are refused where they were written: issues in their own file, words about versions in theirs."""

from __future__ import annotations

import pytest

import pipeline.project.file as pf
from pipeline.joints.places import Sources
from pipeline.packet.typeset.letters import check_letters, check_words
from pipeline.plain.errors import ProjectError
from tests.release.making import make_spec

REMEDY = "\n    use other characters: the packet's font has Latin, Greek and Cyrillic letters, arrows and common signs"
# Thai digit one; the name is the Unicode character database's.
WRONG = "'๑' (U+0E51 THAI DIGIT ONE) in 'Bell ๑' is not in the packet's font"


def test_an_issue_is_found_in_its_own_file(tmp_path):
    """With the line there, though the project file has tables of its own."""
    (tmp_path / "project.toml").write_text("format = 1\n")
    (tmp_path / "issues.toml").write_text('[[issue]]\nid = "A-1"\nwhat = "Bell ๑"\n', encoding="utf-8")
    issue = pf.Issue(id="A-1", severity="minor", where="w", what="Bell ๑")
    with pytest.raises(ProjectError) as caught:
        check_letters(Sources(tmp_path, ("project.toml", "issues.toml")), make_spec(issue=[issue]), "Basalt 32")
    assert str(caught.value) == f"issues.toml, line 3, [[issue]] number 1 what: {WRONG}{REMEDY}"


def test_words_about_versions_are_found_by_line():
    """All at once; those that can be set pass."""
    good, bad = {"text": "Bell one", "line": 3}, {"text": "Bell ๑", "line": 5}
    check_words([good])
    with pytest.raises(ProjectError) as caught:
        check_words([good, bad, bad | {"line": 7}])
    assert str(caught.value).split("\n")[::2] == [f"changes.md, line 5: {WRONG}", f"changes.md, line 7: {WRONG}"]
