"""The plain-text notes."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

import pipeline.project.file as pf
from pipeline.plain.errors import ProjectError
from pipeline.release.notes import write_notes
from tests.release.making import BUGS, BUILD, DATE, FEEDBACK, IMAGE_BYTES, STEM, make_game, make_spec, notes_files


def make_notes(folder: Path, date=DATE, **changed) -> str:
    out = folder / "NOTES.txt"
    said = write_notes(*notes_files(folder), make_spec(**changed), date, "Basalt 32", out)
    data = out.read_bytes()
    assert said == f"{data.count(10)} lines, {len(data):,} bytes"
    return data.decode("utf-8")


def test_notes_tell_what_a_tester_needs(tmp_path):
    """Code, links, contents, issues, checksum; SHA-256 from hashlib."""
    text = make_notes(tmp_path)
    for line in (
        "Kestrel 0.3.1, beta",
        f"Build code   {BUILD}",
        "Date         2031-04-09",
        f"Feedback     {FEEDBACK}",
        f"A bug        {BUGS}",
        "  * Three cliffs",
        "  * Rain",
        "  * Dive from the highest cliff.",
        "  * Lightning on the third cliff flashes twice.",
        "KE-2, critical: Start",
        "    Stops after an hour.",
        "    Workaround: Save often.",
        "    sha256sum -c SHA256SUMS",
        f"    {hashlib.sha256(IMAGE_BYTES).hexdigest()}",
    ):
        assert line in text.splitlines()
    assert f"{STEM}.rom" in text
    assert text.index("KE-2,") < text.index("KE-3,") < text.index("KE-1,") < text.index("KE-10,")


def test_lines_are_short_and_clean(tmp_path):
    """No line over 76 characters but an unbreakable one, no blank at its end, no two empty lines but before a heading."""
    long = pf.Issue(id="KE-1", severity="minor", where="Cliff", what="A feather flickers and so on. " * 20)
    text = make_notes(tmp_path, issue=[long])
    assert text.endswith("\n")
    assert not text.endswith("\n\n")
    assert "\r" not in text
    assert "\n\n\n\n" not in text
    assert all(len(line) <= 76 and line == line.rstrip() for line in text.splitlines())


def test_links_are_never_broken(tmp_path):
    """A long link stays on one line, so that it can be copied."""
    link = "https://example.org/" + "form-" * 30
    text = make_notes(tmp_path, links=pf.Links(feedback=link, bugs=link + "b", more={"Map": link + "m"}))
    lines = [f"Feedback     {link}?b={BUILD}", f"A bug        {link}b?b={BUILD}", f"Map          {link}m"]
    assert [line for line in text.splitlines() if link in line] == lines


def test_author_text_is_plain(tmp_path):
    """Template marks in the author's texts stay text, letters stay letters, control characters go."""
    contents = pf.Contents(included=["{{ build }} <b>&", "Łódź 隼 🚀", "bell\x07"])
    lines = make_notes(tmp_path, contents=contents).splitlines()
    assert "  * {{ build }} <b>&" in lines
    assert "  * Łódź 隼 🚀" in lines
    assert "  * bell" in lines


def test_little_to_tell_makes_short_notes(tmp_path):
    """Without contents, issues and date there are no empty sections."""
    empty = {"issue": [], "contents": pf.Contents(), "instructions": pf.Instructions(), "game": make_game(author="", summary="")}
    text = make_notes(tmp_path, date=None, **empty)
    assert "None are known in this build." in text
    for absent in ("What is in this build", "What is not in yet", "Test checklist", "Date", "From"):
        assert absent not in text


def test_own_template_wins_and_its_mistakes_are_reported(tmp_path):
    """A project's templates/notes.txt.j2 replaces the shipped one."""
    (tmp_path / "templates").mkdir()
    own = tmp_path / "templates" / "notes.txt.j2"
    own.write_text("{{ title }} is {{ build }}")
    assert make_notes(tmp_path) == f"Kestrel is {BUILD}\n"
    own.write_text("{{ titel }}")
    with pytest.raises(ProjectError) as refusal:
        make_notes(tmp_path)
    remedy = "correct the template, or remove it to use the shipped one"
    assert str(refusal.value) == f"templates/notes.txt.j2, line 1: 'titel' is undefined\n    {remedy}"


@pytest.mark.parametrize("placeholders", [False, True])
def test_notes_of_an_example_say_that_its_links_lead_nowhere(tmp_path, placeholders):
    """Only where the project says so."""
    links = pf.Links(feedback="https://example.org/f", bugs="https://example.org/b", placeholders=placeholders)
    text = make_notes(tmp_path, links=links)
    assert ("These notes are an example. Their links are made up and lead nowhere." in text) == placeholders
