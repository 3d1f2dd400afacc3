"""The checks before a build is handed out, each alone."""

from __future__ import annotations

import pickle
from typing import Any

import pytest

import pipeline.project.file as pf
from pipeline.release.checks import Crosses, HeaderProgram, all_checks, content_of, page_of
from tests.makers import as_budget, budget_json
from tests.project.test_ledger import kept
from tests.release.making import make_game

HASH = "1" * 64
FORMS = pf.Links(feedback="https://forms.relay.tld/f", bugs="https://forms.relay.tld/b")
ISSUE = pf.Issue(id="TF-001", severity="minor", where="w", what="x")


def check(name: str, **changed: Any) -> tuple[bool, str, str]:
    """Return whether a check is a tick, its finding, and its remedy; a keyword replaces what it looks at."""
    given = {
        "releases": [kept("0.2.0")],
        "content": content_of("9" * 64, "8" * 64, "NEW000"),
        "game": make_game(phase="alpha"),
        "links": FORMS,
        "budget": as_budget(budget_json({"play": {}, "fight": {"margin": 50}})),
        "seen": {"file": HASH, "map": HASH, "verified": HASH},
        "origins": {"ada": "Drawn."},
        "issues": [ISSUE],
        "program": HeaderProgram("main", "main", ("main", "driver")),
        "date": "2031-04-10",
        "words": ["0.3.1", "0.10.0", "0.2.0-rc.1", "0.1.9", "1.0.0-alpha"],
    }
    rows = all_checks(**(given | changed))
    assert all(one["good"] for one in rows if one["name"] != name)
    assert all(one["good"] == (not one["remedy"]) for one in rows)
    (row,) = [one for one in rows if one["name"] == name]
    return row["good"], row["finding"], row["remedy"]


@pytest.mark.parametrize(
    ("version", "good", "finding"),
    [
        ("0.3.1", True, "0.3.1 comes after 0.2.0, the last release"),
        ("0.10.0", True, "0.10.0 comes after 0.2.0, the last release"),
        ("0.2.0-rc.1", False, "0.2.0-rc.1 comes before 0.2.0, the last release"),
        ("0.1.9", False, "0.1.9 comes before 0.2.0, the last release"),
        ("0.2.0", False, "0.2.0 was released as build 7K3Q0Z; this is build NEW000"),
    ],
)
def test_version_goes_forward(version, good, finding):
    """By the order of Semantic Versioning."""
    assert check("version", game=make_game(version=version, phase="alpha"))[:2] == (good, finding)


def test_first_version_of_all():
    """Nothing comes before it."""
    assert check("version", releases=[])[:2] == (True, "0.3.1 is the first in the ledger")


def test_released_version_keeps_its_content():
    """The same image and notes are the same release; the same image with other notes is reported as such."""
    game, same = make_game(version="0.2.0", phase="alpha"), content_of("1" * 64, "3" * 64, "7K3Q0Z")
    assert check("version", game=game, content=same)[:2] == (True, "0.2.0 is in the ledger, with this content")
    good, finding, remedy = check("version", game=game, content=same | {"notes": "8" * 64})
    assert (good, finding) == (False, "0.2.0 was released with this image, but its packet and notes said something else")
    assert remedy == "set version in [game] to a later one: what testers have must keep its number"


@pytest.mark.parametrize("version", ["0.2.0", "0.3.1"])
@pytest.mark.parametrize(
    ("content", "finding"),
    [
        (content_of("9" * 64, "3" * 64, "7K3Q0Z"), "0.2.0 is in the ledger with this build's code, 7K3Q0Z, but with another image"),
        (content_of("1" * 64, "3" * 64, "NEW000"), "0.2.0 is in the ledger with this image, but as build 7K3Q0Z; this is NEW000"),
    ],
)
def test_one_code_is_one_image(version, content, finding):
    """A ledger that was changed by hand, or two images that came to one code: reports could not be matched to a build."""
    good, said, remedy = check("version", game=make_game(version=version, phase="beta"), content=content)
    assert (good, said) == (False, finding)
    assert remedy.startswith("take ledger.json back")


@pytest.mark.parametrize(
    ("phase", "version", "good", "finding"),
    [
        ("beta", "0.3.1", True, "beta, as before"),
        ("release candidate", "0.3.1", True, "release candidate after beta"),
        ("alpha", "0.3.1", False, "alpha comes before beta, the phase of 0.2.0"),
        ("pre-alpha", "1.0.0-alpha", True, "pre-alpha, as 1.0.0-alpha begins a new major version after 0.2.0"),
    ],
)
def test_phase_goes_forward_within_a_major_version(phase, version, good, finding):
    """Phases in the order of the project file's record."""
    found = check("phase", releases=[kept("0.2.0", phase="beta")], game=make_game(version=version, phase=phase))
    assert found[:2] == (good, finding)


def test_memory():
    """The fullest scene is named; over budget is a cross; no scene is a tick."""
    assert check("memory")[:2] == (True, "every scene fits; the fullest is fight, with 50 bytes free")
    over = as_budget(budget_json({"play": {"margin": -100}}, over=["play"]))
    assert check("memory", budget=over)[:2] == (False, "play needs 500 bytes at worst, 100 bytes OVER")
    assert check("memory", budget=as_budget(budget_json({})))[:2] == (True, "no scene is named, so nothing is known")


@pytest.mark.parametrize("part", ["file", "map", "verified"])
def test_image_must_be_the_one_that_was_read_back(part):
    """Whichever of the three differs."""
    seen = {"file": HASH, "map": HASH, "verified": HASH} | {part: "0" * 64}
    assert check("image", seen=seen)[:2] == (False, "is not the image that was read back and verified")


def test_choice_of_a_program_is_compared_and_named():
    """Of several programs; of one there is nothing to choose."""
    both = ("driver", "main", "music")
    assert check("program")[:2] == (True, "the header's program values are those of main, not of driver")
    assert check("program", program=HeaderProgram("main", "main", both))[1].endswith("those of main, not of driver and music")
    wrong = check("program", program=HeaderProgram("main", "driver", both))
    assert wrong == (False, "the header was compared with another program", "run doit verify")
    assert check("program", program=HeaderProgram(None, None, both))[:2] == (True, "the header is about none of driver, main and music")
    with pytest.raises(ValueError, match="unpack"):
        check("program", program=HeaderProgram("main", "main", ("main",)))


def test_links():
    """All placeholders at once, further links too; a project may say that they are meant to be."""
    links = pf.Links(feedback="https://example.org/f", bugs="https://forms.relay.tld/b", more={"Rules": "https://rules.test/"})
    good, finding, _ = check("links", links=links)
    assert not good
    assert finding.split("\n") == [
        "feedback (https://example.org/f): example.org is kept for examples (RFC 2606)",
        "Rules (https://rules.test/): .test leads nowhere (RFC 2606)",
    ]
    meant = pf.Links(feedback="https://example.org/f", bugs="https://example.org/b", placeholders=True)
    assert check("links", links=meant)[:2] == (True, "lead nowhere on purpose, as placeholders in [links] says, and the packet says so too")


def test_origins():
    """Blanks are none."""
    assert check("origins", origins={"ada": "Drawn.", "bell": " ", "quay": ""})[:2] == (False, "no origin: bell, quay")
    started = {"hopper": "Placeholder drawn by Romwright; replace it.", "quay": "Drawn."}
    assert check("origins", origins=started)[:2] == (False, "said to be a placeholder: hopper")


def test_an_issue_never_just_vanishes():
    """One known in the last release is listed with whatever status; none without that."""
    assert check("issues")[:2] == (True, "1 known issue, each with a severity")
    assert check("issues", issues=[])[:2] == (False, "known in 0.2.0 and missing now: TF-001")
    settled = pf.Issue(id="TF-001", severity="minor", where="w", what="x", status="by design")
    assert check("issues", issues=[settled])[:2] == (True, "no known issue")


def test_page_of_crosses_is_an_error_that_survives_a_worker():
    """The whole page is the error's text, also after pickling, as it comes back from a worker process."""
    tick = {"name": "version", "good": True, "finding": "fine", "remedy": ""}
    rows = [tick, {"name": "links", "good": False, "finding": "a\nb", "remedy": "c"}]
    with pytest.raises(Crosses) as caught:
        page_of({"version": "0.1.0", "build_code": "7K3Q0Z", "checks": rows})
    page = (
        "Before version 0.1.0, build 7K3Q0Z, is handed out:\n\n"
        "  ✓ version  fine\n  ✗ links    a\n             b\n               c\n\n1 of 2 checks has a cross."
    )
    assert str(caught.value) == page
    assert str(pickle.loads(pickle.dumps(caught.value))) == page
    assert page_of({"version": "0.1.0", "build_code": "7K3Q0Z", "checks": [tick]}).endswith("fine\n\nAll is well.")


@pytest.mark.parametrize(
    ("date", "good", "finding"),
    [
        ("2031-04-10", True, "2031-04-10 comes after 2031-04-09, the date of 0.2.0"),
        ("2031-04-09", True, "2031-04-09 comes on 2031-04-09, the date of 0.2.0"),
        ("2031-04-08", False, "2031-04-08 comes before 2031-04-09, the date of 0.2.0"),
        ("", True, "none is given"),
    ],
)
def test_date_goes_forward(date, good, finding):
    """ISO 8601 dates sort as text; a release of the same day is one after it."""
    assert check("date", date=date)[:2] == (good, finding)


def test_date_has_nothing_to_be_compared_with():
    """Before the first release, and after one that had no date."""
    assert check("date", releases=[])[:2] == (True, "2031-04-10")
    assert check("date", releases=[kept("0.2.0", date="")])[:2] == (True, "2031-04-10")


def test_change_notes_are_needed_from_the_second_release_on():
    """For this version and no other; a version that is released says what it said."""
    assert check("changes")[:2] == (True, "changes.md says what changed in 0.3.1")
    good, finding, remedy = check("changes", words=["0.2.0", "0.4.0"])
    assert (good, finding) == (False, "changes.md says nothing about 0.3.1")
    assert remedy == "write ## 0.3.1 into changes.md, and under it what changed for testers since 0.2.0"
    assert check("changes", words=[], releases=[])[:2] == (True, "nothing to compare with before the first release")
    same = {"game": make_game(version="0.3.1", phase="alpha"), "content": content_of("1" * 64, "3" * 64, "7K3Q0Z")}
    first = kept("0.2.0", build_code="AAAAAA", image={"bytes": 9, "used": 9, "crc32": "0" * 8, "sha256": "7" * 64})
    again = [first, kept("0.3.1")]
    assert check("changes", words=[], releases=again, **same)[:2] == (True, "as they were released")


def test_letters_that_the_packet_lacks():
    """Each text on a line of its own."""
    assert check("letters")[:2] == (True, "the packet can set every text")
    good, finding, remedy = check("letters", letters=["issues.toml, line 3: one", "changes.md, line 5: two"])
    assert (good, finding) == (False, "issues.toml, line 3: one\nchanges.md, line 5: two")
    assert remedy.startswith("the packet cannot be made")
