"""The announcement: what is in it, how long the short one is, and its Markdown read by the rules of CommonMark."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import pipeline.project.file as pf
from pipeline.packet.content.content import packet_content
from pipeline.packet.content.filled import Wording
from pipeline.project.plan import Plan, Task
from pipeline.project.wording import find_wording, read_wording
from pipeline.release.announce import LONGEST, markdown, plain, short, write_announcement
from tests.packet.test_language import full_changes
from tests.release.making import BUGS, BUILD, DATE, FEEDBACK, STEM, make_game, make_spec, write_map

SHA = "ab" * 32
DOWNLOAD = f"https://example.org/d/{BUILD}"


def announce(folder: Path, language: str = "en", changes: bool = False, **changed) -> dict[str, str]:
    """Return the three texts by form, and what the step says under ``said``."""
    manifest = folder / "kit.json"
    manifest.write_text(json.dumps({"files": {f"{STEM}.zip": SHA, f"testers/{STEM}-T03.zip": "cd" * 32}}))
    outs = {form: folder / f"{form}.txt" for form in ("text", "markdown", "short")}
    spec = make_spec(**changed)
    more = {"changes_file": full_changes(folder)} if changes else {}
    said = write_announcement(write_map(folder), find_wording(folder, language), spec, DATE, "Basalt 32", manifest, outs, **more)
    return {form: path.read_text(encoding="utf-8") for form, path in outs.items()} | {"said": said}


def full(**game) -> dict:
    """Return the tables of a game that has everything to announce."""
    links = pf.Links(feedback="https://example.org/f/{build}", bugs="https://example.org/b?build={build}&kind=bug",
                     download="https://example.org/d/{build}?t={tester}")  # fmt: skip
    fixed = pf.Issue(id="KE-9", severity="minor", where="Nest", what="Chicks sang.", status="fixed", fixed_in="0.3.1")
    days = {"deadline": DATE.replace(day=20), "expires": DATE.replace(day=30)} | game
    instructions = pf.Instructions(test=["Dive from the highest cliff."], thanks=["T3", "Zoë"])
    plan = Plan(task=[Task(text="Go through all cliffs.")])
    return {"game": make_game(**days), "links": links, "issue": [fixed], "plan": plan, "instructions": instructions}


def test_announcement_says_what_testers_ask(tmp_path):
    """What is new, what to test, how to get and check it, where to report, until when, and the caution; nobody's number in a link."""
    found = announce(tmp_path, changes=True, **full())
    for form in ("text", "markdown"):
        text = found[form].replace("\\", "")
        for words in (
            "Kestrel 0.3.1 (beta) is ready to test", "Feathers are softer.", "Added: tern", "Fixed: KE-9", "Dive from the highest",
            "Go through all cliffs.", "Retest what we fixed: KE-9", DOWNLOAD, f"The SHA-256 of {STEM}.zip is {SHA}", BUILD, FEEDBACK,
            BUGS, "counts until 2031-04-20.", "after 2031-04-30", "start with the volume low, especially on headphones", "T3 and Zoë",
        ):  # fmt: skip
            assert words in text, (form, words)
        assert "{" not in text
        assert "?t=" not in text
    assert found["said"].startswith(found["text"])
    assert f"{len(found['short'])} of 500 characters" in found["said"]


def test_without_a_release_before_it_says_what_is_in(tmp_path):
    """And without a download link whom to ask, without days nothing of days, without thanks no thanks."""
    text = announce(tmp_path)["text"]
    assert "WHAT IS NEW\n* Three cliffs\n" in text
    assert f"Ask us for the kit {STEM}.zip." in text
    for absent in ("until", "after 20", "THANK", "Retest", "Download"):
        assert absent not in text


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("length", [0, 50, 200, 300, 450, 900])
def test_short_form_is_never_longer_than_it_may_be(tmp_path, language, length):
    """Title, caution and build code are always in; what does not fit is left out whole."""
    tables = full(title="The Long and Winding Search of the Kestrel for Its Breakfast", version="10.20.30-rc.1")
    tables["instructions"] = pf.Instructions(test=["Dive. " * (length // 6)])
    download = "https://example.org/" + "d" * length
    tables["links"] = pf.Links(feedback="https://example.org/f", bugs="https://example.org/b", download=download)
    text = announce(tmp_path, language, **tables)["short"]
    assert len(text) <= LONGEST
    assert tables["game"].title in text
    assert BUILD in text
    assert {"en": "read the packet's cautions first", "de": "zuerst die Warnhinweise"}[language] in text
    link = re.search(r"https://\S+", text)
    assert link is None or link[0] == tables["links"].download


def test_markdown_shows_what_was_written(tmp_path):
    """Every mark of CommonMark 0.31 (2.4) in the author's words is escaped; words that would begin a list are too (5.2)."""
    words = ["*stars* _lines_ `code` <b> [x](y) # no | ~tilde~ a\\b {{ c }}", "- a dash", "1. a number", "2) too", "+ plus"]
    words += ["0.4.0 is not one"]
    found = announce(tmp_path, instructions=pf.Instructions(test=words))["markdown"]
    lines = [line.removeprefix("- ") for line in found.splitlines() if line.startswith("- ")]
    assert [re.sub(r"\\([\\`*_{}\[\]<>#|~+.)-])", r"\1", line) for line in lines[1:7]] == words
    for line, mark in zip(lines[2:6], ("\\-", "1\\.", "2\\)", "\\+"), strict=True):
        assert line.startswith(mark)
    assert lines[6] == "0.4.0 is not one"
    assert all(f"\\{mark}" in lines[1] for mark in "*_`<[]#|~\\{")


def test_links_are_left_whole(tmp_path):
    """An underscore in a link is not escaped."""
    links = pf.Links(feedback="https://example.org/a_b_c", bugs="https://example.org/d_e")
    assert f"https://example.org/a_b_c?b={BUILD}" in announce(tmp_path, links=links)["markdown"]


def test_german_announcement_is_german(tmp_path):
    text = announce(tmp_path, "de", changes=True, **full())["text"]
    for words in ("kann getestet werden", "WAS NEU IST", "Herunterladen: ", "zählen bis 2031-04-20", "Danke".upper()):
        assert words in text
    for words in ("ready", "Download", "What", "until"):
        assert words not in text


def test_same_announcement_from_the_same_files(tmp_path):
    assert announce(tmp_path, changes=True, **full()) == announce(tmp_path, changes=True, **full())


def test_an_empty_announcement_has_only_its_title(tmp_path):
    """Pure functions: no section, no heading."""
    values = packet_content(make_spec(), _image(tmp_path), DATE, "Basalt 32")
    words = Wording(read_wording(find_wording(tmp_path, "en")), values | {"boot_screen": False})
    assert plain("Kestrel", []) == "Kestrel\n"
    assert markdown("Kestrel", []) == "# Kestrel\n"
    assert short("Kestrel", values, words, "kit.zip").startswith("Kestrel\n")


def _image(folder: Path):
    from pipeline.joints.map import read_map

    return read_map(write_map(folder)).image
