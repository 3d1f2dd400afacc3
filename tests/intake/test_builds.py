"""Build codes as testers type them, against D. Crockford's published "Base 32" (its table is given from memory)."""

from __future__ import annotations

import json

import pytest

from pipeline.errors import ProjectError
from pipeline.intake.builds import Build, Builds, known_builds

KNOWN = Builds([Build("7ZZ9K2", "0.1.0"), Build("0A1B0D", "0.2.0"), Build("110011", "0.3.0")])


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("7ZZ9K2", "7ZZ9K2"),
        ("7zz9k2", "7ZZ9K2"),  # either case
        ("oaibod", "0A1B0D"),  # o as 0, i as 1
        ("OALBOD", "0A1B0D"),  # O as 0, L as 1
        ("IlOoLi", "110011"),
        ("7ZZ-9K2", "7ZZ9K2"),  # hyphens do not count
        ("7zz – 9k2", "7ZZ9K2"),  # a dash that an editor made of the hyphen
        (" 7Z Z9\u00a0K2 ", "7ZZ9K2"),
        ("A1B0D", "0A1B0D"),  # a spreadsheet ate the zero
        ("build 7ZZ9K2", "7ZZ9K2"),
        ("v7ZZ9K2", "7ZZ9K2"),
        ("0.1.0 (7zz9k2)", "7ZZ9K2"),
        ("７ＺＺ９Ｋ２", "7ZZ9K2"),
        ("7ZZ9K3", ""),
        ("UZZ9K2", ""),  # U is no digit
        ("", ""),
        ("the newest one", ""),
        ("7ZZ9K27ZZ9K27ZZ9K27ZZ9K27ZZ9K2", "7ZZ9K2"),
    ],
)
def test_codes_as_typed(typed, code):
    """Read as the description says, and only a build that is known is found."""
    assert KNOWN.match(typed) == code


def test_near_codes_are_told_when_there_is_only_one():
    """One character off is near, two are not."""
    assert KNOWN.near("7zz9k3") == "7ZZ9K2"
    assert KNOWN.near("7zz8k3") == ""


def test_ledger_and_the_build_at_hand(tmp_path):
    """Releases come first, then the map's build; what a release drops from its issues, or says outright, is said to be fixed."""
    releases = [
        {"version": "0.1.0", "phase": "alpha", "build_code": "7ZZ9K2", "date": "2026-01-01", "issues": ["A-1", {"id": "A-2"}]},
        {"version": "0.2.0", "phase": "alpha", "build_code": "0A1B0D", "issues": [{"id": "A-2"}], "fixed": ["A-7"]},
        {"version": "0.2.1"},
    ]
    (tmp_path / "ledger.json").write_text(json.dumps({"releases": releases}))
    (tmp_path / "map.json").write_text(json.dumps({"image": {"build_code": "110011"}}))
    found = known_builds(tmp_path, tmp_path / "map.json", "0.3.0", "beta")
    assert [(one.code, one.version, one.phase) for one in found.builds] == [
        ("7ZZ9K2", "0.1.0", "alpha"), ("0A1B0D", "0.2.0", "alpha"), ("110011", "0.3.0", "beta"),
    ]  # fmt: skip
    assert found.fixed == {"A-1": 1, "A-7": 1}
    (tmp_path / "ledger.json").write_text(json.dumps(releases[:1]))
    assert [one.code for one in known_builds(tmp_path, tmp_path / "none", "", "").builds] == ["7ZZ9K2"]


@pytest.mark.parametrize(("text", "message"), [("{", "ledger.json: not JSON"), ("3", "ledger.json: no list of releases")])
def test_damaged_ledger_is_refused(tmp_path, text, message):
    """Builds that cannot be known are no reason to call every report unknown."""
    (tmp_path / "ledger.json").write_text(text)
    with pytest.raises(ProjectError, match=message):
        known_builds(tmp_path, tmp_path / "none", "", "")
