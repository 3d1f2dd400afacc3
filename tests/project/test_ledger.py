"""Reading the ledger: what is refused, and which release a version is compared with."""

from __future__ import annotations

import copy
import json

import pytest
from msgspec import convert

from pipeline.plain.errors import ProjectError
from pipeline.project.ledger import Release, find_release, ledger_with, read_ledger, released_before
from pipeline.project.loading.load import load_project
from tests.makers import make_project, problems

REMEDY = "\n    doit release writes this file: take it back from your version control"


def release(version: str = "0.1.0", **changed) -> dict:
    """Return an entry of a ledger; a keyword replaces a part."""
    image = {"bytes": 1048576, "used": 1000, "crc32": "00000000", "sha256": "1" * 64}
    entry = {"version": version, "phase": "alpha", "date": "2031-04-09", "build_code": "7K3Q0Z", "image": image, "budget": {"play": 500}}
    entry |= {"kit": {"file": f"TINF-{version}-7K3Q0Z.zip", "sha256": "2" * 64, "notes": "3" * 64}}
    entry |= {"assets": {"bell": {"kind": "sound", "bytes": 400, "sha256": "4" * 64, "picture": "5" * 16}}}
    return copy.deepcopy({**entry, "issues": {"open": ["TF-001"], "fixed": []}, **changed})


def kept(version: str = "0.1.0", **changed) -> Release:
    """Return a release as it is read from a ledger; a keyword replaces a part."""
    return convert(release(version, **changed), Release)


def write_ledger(folder, *releases: dict) -> None:
    """Write a ledger of some releases."""
    (folder / "ledger.json").write_text(json.dumps({"releases": list(releases)}), encoding="utf-8")


def test_what_other_tools_wrote_stays_in_the_file(tmp_path):
    """Keys that this one does not know, in the file and in a release, are there after a release is added, and nothing else changes."""
    entry = release(colour="blue")
    (tmp_path / "ledger.json").write_text(json.dumps({"releases": [entry], "shape": "round"}), encoding="utf-8")
    assert read_ledger(tmp_path) == [kept()]
    (tmp_path / "ledger.json").write_bytes(ledger_with(tmp_path, kept("0.2.0")))
    assert json.loads((tmp_path / "ledger.json").read_bytes()) == {"version": 1, "releases": [entry, release("0.2.0")], "shape": "round"}
    assert [one.version for one in read_ledger(tmp_path)] == ["0.1.0", "0.2.0"]


def test_first_release_makes_the_ledger(tmp_path):
    """With the version of its format first."""
    (tmp_path / "ledger.json").write_bytes(ledger_with(tmp_path, kept()))
    assert (tmp_path / "ledger.json").read_text().startswith('{\n  "version": 1,\n  "releases": [\n')
    assert read_ledger(tmp_path) == [kept()]


@pytest.mark.parametrize("version", [2, 0, "1", None, True, 1.5])
def test_ledger_of_another_format_is_refused(tmp_path, version):
    """It is neither read nor written over."""
    text = json.dumps({"version": version, "releases": []})
    (tmp_path / "ledger.json").write_text(text)
    for action in (lambda: read_ledger(tmp_path), lambda: ledger_with(tmp_path, kept())):
        with pytest.raises(ProjectError, match="ledger.json, version: is .*, this version of the tool reads the number 1"):
            action()
    assert (tmp_path / "ledger.json").read_text() == text


def test_no_ledger_is_no_release(tmp_path):
    """A project that was never released."""
    assert read_ledger(tmp_path) == []
    assert load_project(make_project(tmp_path / "p")).releases == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{", "ledger.json, line 1, column 2: not JSON: Expecting property name"),
        (b'{"releases": "\xe9"}', "ledger.json, byte 14: not UTF-8 text"),
        ("[]", "ledger.json: Expected object, got array"),
        ("{}", "ledger.json: Object missing required field releases"),
        ('{"releases": [{}]}', "ledger.json, releases[0]: Object missing required field version"),
        (json.dumps({"releases": [release(build_code=5)]}), "ledger.json, releases[0].build_code: Expected str, got int"),
        # Edited by hand: what would lead to another file, to no picture, to a code that nothing can be compared with.
        (json.dumps({"releases": [release(build_code="7K3Q0")]}), "ledger.json, releases[0].build_code: Expected str matching regex"),
        (json.dumps({"releases": [release(assets={"a": {"kind": "sprite", "bytes": 1, "sha256": "", "picture": "../a"}})]}),
         "ledger.json, releases[0].assets[...].picture: Expected str matching regex"),
        (json.dumps({"releases": [release(assets={"a": {"kind": "sprite", "bytes": 1, "sha256": "", "frame": [0, 9]}})]}),
         "ledger.json, releases[0].assets[...].frame[0]: Expected int >= 1"),
        (json.dumps({"releases": [release(budget={"play": -1})]}), "ledger.json, releases[0].budget[...]: Expected int >= 0"),
        (json.dumps({"releases": [release("1")]}), "ledger.json, releases[0].version: '1' is not a valid version"),
        (
            json.dumps({"releases": [release("0.2.0"), release("0.2.0-rc.1")]}),
            "ledger.json, releases[1].version: 0.2.0-rc.1 does not come after 0.2.0",
        ),
    ],
)
def test_ledger_that_is_none_is_refused(tmp_path, text, message):
    """Word for word, beside the problems of the project file."""
    folder = make_project(tmp_path / "p", ('code = "TINF"', 'code = "tinf"'))
    (folder / "ledger.json").write_bytes(text if isinstance(text, bytes) else text.encode())
    found = problems(folder)
    assert any(one.startswith(message) and one.endswith(REMEDY) for one in found)
    assert any("[game] code" in one for one in found)


def test_release_of_the_version_itself_does_not_count():
    """So that recording a release changes nothing that is reported of it."""
    releases = [kept("0.1.0"), kept("0.2.0-rc.1"), kept("0.2.0"), kept("0.10.0")]
    for version, before in (("0.1.0", None), ("0.2.0", "0.2.0-rc.1"), ("0.9.0", "0.2.0"), ("1.0.0", "0.10.0")):
        found = released_before(releases, version)
        assert (found and found.version) == before


def test_release_is_found_by_its_version():
    """One that was never made is refused with those that were."""
    assert find_release([kept("0.1.0")], "0.1.0").version == "0.1.0"
    with pytest.raises(ProjectError) as caught:
        find_release([kept("0.1.0"), kept("0.2.0")], "0.3.0")
    assert str(caught.value) == "since=: no version '0.3.0' was released\n    in the ledger are 0.1.0, 0.2.0"
