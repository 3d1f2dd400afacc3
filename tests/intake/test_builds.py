"""Build codes as testers type them, against D. Crockford's published "Base 32" (its table is given from memory)."""

from __future__ import annotations

import json

import pytest

from pipeline.intake.builds import Build, Builds, known_builds
from pipeline.plain.errors import ProjectError
from pipeline.project.file import Issue
from tests.intake.makers import release, write_ledger
from tests.makers import map_json

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
        ("UZZ9K2", ""),  # U is not a digit
        ("", ""),
        ("the newest one", ""),
        ("7ZZ9K27ZZ9K27ZZ9K27ZZ9K27ZZ9K2", "7ZZ9K2"),
    ],
)
def test_codes_as_typed(typed, code):
    """Read as the description says, and only a build that is known is found."""
    assert KNOWN.match(typed) == code


@pytest.mark.parametrize(
    ("typed", "codes"),
    [
        ("0.2.0", ["0A1B0D"]), ("v0.1.0", ["7ZZ9K2"]), ("V.0.3.0", ["110011"]), ("version 0.2.0, I think", ["0A1B0D"]),
        ("0.2.0 oaibod", ["0A1B0D"]), ("0.9.0", []), ("0.2", []), ("10.2.0", []), ("0.2.0.1", []), ("1.0.0-BETA.2", ["220022"]),
        ("7ZZ9K2 and 0A1B0D", ["7ZZ9K2", "0A1B0D"]), ("7zz9k2, later oaibod; 7ZZ9K2", ["7ZZ9K2", "0A1B0D"]), 
        ("0.1.0 / 0.2.0", ["7ZZ9K2", "0A1B0D"]),
    ],
)  # fmt: skip
def test_versions_instead_of_codes_and_two_builds_at_once(typed, codes):
    """A version is that of the release; a code counts more than a version; where two builds are named, neither is matched."""
    known = Builds([*KNOWN.builds, Build("220022", "1.0.0-beta.2"), Build("330033", "0.2.0")])
    assert known.named(typed) == codes
    assert known.match(typed) == (codes[0] if len(codes) == 1 else "")


def test_near_codes_are_reported_when_there_is_only_one():
    """One character off is near, two are not."""
    assert KNOWN.near("7zz9k3") == "7ZZ9K2"
    assert KNOWN.near("7zz8k3") == ""


def test_ledger_and_the_build_at_hand(tmp_path):
    """Releases come first, then the map's build; without either there is none."""
    write_ledger(tmp_path, [release("0.1.0", "7ZZ9K2"), release("0.2.0", "0A1B0D")])
    (tmp_path / "map.json").write_text(json.dumps(map_json()))
    found = known_builds(tmp_path, tmp_path / "map.json", "0.3.0", "beta", [])
    assert [(one.code, one.version, one.phase) for one in found.builds] == [
        ("7ZZ9K2", "0.1.0", "alpha"), ("0A1B0D", "0.2.0", "alpha"), ("110011", "0.3.0", "beta"),
    ]  # fmt: skip
    (tmp_path / "ledger.json").unlink()
    assert known_builds(tmp_path, tmp_path / "none", "", "", []).builds == []


def test_what_is_said_to_be_fixed(tmp_path):
    """The last release that says so counts, unless one opens the issue again; the project's own word comes after."""
    releases = [
        release("0.1.0", "7ZZ9K2", ("A-1", "A-2", "A-3", "A-4")),
        release("0.2.0", "0A1B0D", ("A-4",), ("A-1", "A-2", "A-3")),
        release("0.2.1", "00000A", ("A-2",), ()),
        release("0.2.2", "00000B", (), ("A-2",)),
    ]
    write_ledger(tmp_path, releases)
    (tmp_path / "map.json").write_text(json.dumps(map_json()))

    def fixed(*issues: Issue) -> dict[str, int]:
        return known_builds(tmp_path, tmp_path / "map.json", "0.3.0", "beta", list(issues)).fixed

    def issue(name: str, **more: str) -> Issue:
        return Issue(id=name, severity="minor", where="Quay", what="It drips.", **more)

    assert fixed() == {"A-1": 1, "A-2": 3, "A-3": 1}  # A-4 is no longer listed, but nobody says it is fixed
    assert fixed(issue("A-3"), issue("A-4", status="by design")) == {"A-1": 1, "A-2": 3}
    assert fixed(issue("A-4", status="fixed", fixed_in="0.3.0"), issue("A-1", status="fixed", fixed_in="0.2.0"))["A-4"] == 4
    assert "A-9" not in fixed(issue("A-9", status="fixed", fixed_in="0.4.0"))  # nobody has that build yet


@pytest.mark.parametrize(("text", "message"), [("{", "ledger.json, line 1, column 2: not JSON"), ("[]", "ledger.json: Expected `?object")])
def test_damaged_ledger_is_refused(tmp_path, text, message):
    """Builds that cannot be known do not give a reason to call every report unknown."""
    (tmp_path / "ledger.json").write_text(text)
    with pytest.raises(ProjectError, match=message):
        known_builds(tmp_path, tmp_path / "none", "", "", [])
