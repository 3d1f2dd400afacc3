"""Releases from the first build to the second: the ledger, what changed as a tester and the author read it, refusals."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
import shutil
import zipfile
from pathlib import Path

import numpy as np
import pypdf
import pytest
from PIL import Image

from pipeline.graph.plan import plan_project
from pipeline.project.loading.load import load_project
from tests.conftest import some
from tests.graph.builds import build, clean_outputs, copy_built, draw_frame, make_project, outputs, run
from tests.graph.looks import looks_of
from tests.recorded import differing

ISSUES = """
[[issue]]
id = "SG-1"
title = "Stuck in the hill"
severity = "major"
where = "Hill"
what = "The figure stands in the hill up to its knees."
since = "0.0.9"
reproduce = ["Walk to the hill.", "Jump once."]
[[issue]]
id = "SG-2"
severity = "minor"
where = "Start"
what = "The first picture comes late."
"""
FIXED = 'reproduce = ["Walk to the hill.", "Jump once."]\nstatus = "fixed"\nfixed_in = "0.2.0"'
NEW = """
[[issue]]
id = "SG-10"
severity = "cosmetic"
where = "Hill"
what = "One pixel is green."
"""
WORDS = """# What changed, in my words

## 0.2.0

The figure one wears
another coat.

- It also jumps higher.

## 0.1.0

The very first one.
"""


def change(path: Path, *pairs: tuple[str, str]) -> None:
    text = path.read_text(encoding="utf-8")
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")


def ready(folder: Path) -> Path:
    """Write a small project of which every check before a release is a tick."""
    make_project(folder)
    own = 'origin = "Drawn for the tests."\n'
    change(
        folder / "project.toml",
        ("https://example.org/f/{build}", "https://forms.relay.tld/f/{build}"),
        ("https://example.org/b/{build}", "https://forms.relay.tld/b/{build}"),
        ("[defaults.sprite]\n", "[defaults.sprite]\n" + own),
        ("[background.hill]\n", "[background.hill]\n" + own),
        ("[data.level]\n", "[data.level]\n" + own),
        ("[program.main]\n", "[program.main]\n" + own),
    )
    (folder / "issues.toml").write_text(ISSUES, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def walk(tmp_path_factory) -> dict:
    """A project released, changed and released again; what was seen on the way."""
    folder = ready(tmp_path_factory.mktemp("walk") / "small")
    seen = {"folder": folder, "first": run(folder, "release"), "first ledger": (folder / "ledger.json").read_bytes()}
    seen["first pictures"] = {path.name for path in (folder / "ledger").iterdir()}
    seen["first image"] = json.loads((folder / "build/map.json").read_bytes())["image"]
    build(folder)
    seen["first outputs"] = outputs(folder)
    seen["first page"] = (folder / "build/report.html").read_text(encoding="utf-8")
    seen["again"] = run(folder, "release")
    seen["ledger again"] = (folder / "ledger.json").read_bytes()
    for rank in range(4):
        # Another colour only: the sprite's bytes stay, its palette's change, and the other sprite of that palette looks the same.
        draw_frame(folder / f"art/one/f{rank}.png", (230, 200, 20, 255), rank)
    seen["early"] = run(folder, "preflight")
    change(folder / "issues.toml", ('reproduce = ["Walk to the hill.", "Jump once."]', FIXED))
    (folder / "issues.toml").write_text((folder / "issues.toml").read_text() + NEW, encoding="utf-8")
    more = '[data.scores]\nfile = "level.bin"\norigin = "x"\n[data.level]\n'
    change(folder / "project.toml", ('"0.1.0"', '"0.2.0"'), ("[data.level]\n", more))
    (folder / "changes.md").write_text(WORDS, encoding="utf-8")
    build(folder)
    seen["built"] = outputs(folder)
    seen["listed"] = run(folder, "changes").stdout
    seen["second"] = run(folder, "release")
    return seen


def test_second_release_looks_as_it_was_looked_at(walk):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing("second release", looks_of(walk["folder"])) == set()


def test_first_release_tells_what_to_commit_and_records_the_build(walk):
    """The entry agrees with the map, with hashlib on the kit and the notes in it, and with the facts."""
    folder = walk["folder"]
    assert walk["first"].returncode == 0, walk["first"].stdout
    assert "0.1.0 is in the ledger: build" in walk["first"].stdout
    (entry,) = json.loads(walk["first ledger"])["releases"]
    assert list(entry) == ["version", "phase", "date", "build_code", "image", "budget", "kit", "assets", "issues", "controls", "contents"]
    assert entry["image"] == {key: walk["first image"][key] for key in ("bytes", "used", "crc32", "sha256")}
    assert (entry["version"], entry["phase"], entry["date"]) == ("0.1.0", "alpha", "2026-01-02")
    assert entry["issues"] == {"open": ["SG-1", "SG-2"], "fixed": []}
    assert set(entry["assets"]) == {"one", "two", "hill", "figures", "hill_colours", "level", "main", "boot"}
    assert entry["assets"]["level"] == {"kind": "data", "bytes": 100, "sha256": hashlib.sha256(bytes(range(100))).hexdigest()}
    assert entry["kit"]["file"] == f"SMALL-0.1.0-{entry['build_code']}.zip"
    assert list(entry["budget"]) == ["play"]
    assert walk["first pictures"] == {f"{one['picture']}.png" for one in entry["assets"].values() if "picture" in one}
    for one in entry["assets"].values():
        if "picture" in one:
            png = (folder / f"ledger/{one['picture']}.png").read_bytes()
            assert hashlib.sha256(png).hexdigest()[:16] == one["picture"]
            assert len(png) < 8192


def test_recording_a_release_changes_nothing_that_is_handed_out(walk):
    """A build after the release has the kit that was recorded; releasing again leaves the ledger as it is."""
    (entry,) = json.loads(walk["first ledger"])["releases"]
    assert walk["first outputs"][f"kit/{entry['kit']['file']}"] == entry["kit"]["sha256"]
    assert walk["again"].returncode == 0
    assert "0.1.0 is in the ledger already, with the same content: nothing was changed." in walk["again"].stdout
    assert walk["ledger again"] == walk["first ledger"]
    assert "No earlier release is in the ledger" in walk["first page"]


def test_other_content_under_a_released_version_is_refused(walk):
    """Word for word, with both build codes."""
    (entry,) = json.loads(walk["first ledger"])["releases"]
    early = walk["early"]
    assert early.returncode != 0
    said = re.search(r"✗ version  (.*)\n +(.*)\n", early.stdout)
    assert said, early.stdout
    assert re.fullmatch(rf"0\.1\.0 was released as build {entry['build_code']}; this is build [0-9A-Z]{{6}}", said[1])
    assert said[2] == "set version in [game] to a later one: what testers have must keep its number"


def test_packet_tells_what_changed_and_what_to_test_again(walk, tmp_path):
    """Read with pypdf: own words, assets, whose sizes are nothing to testers, issues; the fixed one is no longer a known issue."""
    copy = copy_built(walk["folder"], tmp_path / "copy")
    next(step for step in plan_project(load_project(copy)).steps if step.name == "packet").run()  # here, where page numbers are right
    pages = pypdf.PdfReader(copy / "build/packet.pdf").pages
    text = " ".join(" ".join(page.extract_text().split()) for page in pages)
    old = json.loads(walk["first ledger"])["releases"][0]
    assert f"What changed Since version 0.1.0, build {old['build_code']}, of 2026-01-02." in text
    assert "The figure one wears another coat. It also jumps higher." in text
    assert "The very first one." not in text
    assert "Added scores Changed one Fixed SG-1: please retest" in text
    assert "New known issues SG-10" in text
    again = text[text.index("Retest what we fixed These were") : text.index("Known issues The worst")]
    place = re.search(r"☐ Retest what we fixed: see page (\d+)\.", text)
    assert "Retest what we fixed" in pages[int(place[1]) - 1].extract_text()
    assert "☐ SG-1 Hill Stuck in the hill The figure stands in the hill up to its knees." in again
    assert "To check whether it still happens: 1. Walk to the hill. 2. Jump once." in again
    known = text[text.index("Known issues The worst") : text.index("What changed Since")]
    assert "SG-2" in known
    assert "SG-10" in known
    assert not re.search(r"SG-1\b", known)


def test_notes_tell_the_same(walk):
    """The plain text has both lists, no line too long."""
    text = (walk["folder"] / "build/work/NOTES.txt").read_text(encoding="utf-8")
    lines = text.splitlines()
    for line in ("Retest what we fixed", "SG-1: Hill, Stuck in the hill", "    1. Walk to the hill.", "    2. Jump once.", "What changed"):
        assert line in lines
    assert "  * Added: scores" in lines
    assert "  * Changed: one" in lines
    assert "  * New known issues: SG-10" in lines
    assert "  * Fixed: SG-1: please retest" in lines
    assert "\n\n\n\n" not in text
    assert all(len(line) <= 76 for line in lines)


def test_page_shows_the_old_and_the_new_figure(walk):
    """The picture called before is the ledger's of the first release; the one called now has the new colour, decoded again."""
    page = (walk["folder"] / "build/report.html").read_text(encoding="utf-8")
    shown = dict(re.findall(r'<img src="data:image/png;base64,([^"]+)"[^>]*alt="(one, (?:before|now))"', page))
    pictures = {words: base64.b64decode(data) for data, words in shown.items()}
    old = json.loads(walk["first ledger"])["releases"][0]["assets"]["one"]
    width, height = old["frame"]
    with Image.open(walk["folder"] / f"ledger/{old['picture']}.png") as kept, Image.open(io.BytesIO(pictures["one, before"])) as row:
        sheet, first = np.asarray(kept.convert("RGB")), np.asarray(row.convert("RGB"))[:, :width]
    places = [(top, left) for top in range(0, sheet.shape[0], height) for left in range(0, sheet.shape[1], width)]
    assert any(np.array_equal(first, sheet[top : top + height, left : left + width]) for top, left in places)
    # The frames are one rectangle each: (200, 60, 40) before and (230, 200, 20) now, to what the console's colours allow.
    for words, colour in (("one, before", (200, 60, 40)), ("one, now", (230, 200, 20))):
        with Image.open(io.BytesIO(pictures[words])) as picture:
            pixels = np.asarray(picture.convert("RGB")).astype(int)
        assert (np.abs(pixels - colour).max(axis=-1) <= 8).mean() > 0.1, words
    assert "<td>one</td><td>sprite, changed</td>" in page
    assert "<td>scores</td><td>data, added</td>" in page
    assert "To be tested again" in page


def test_terminal_tells_changes_with_bytes(walk):
    """``doit changes``: every changed asset by name."""
    assert "  added      scores (data): 100 bytes" in walk["listed"]
    assert "  changed    one (sprite): 4.1 KiB as before" in walk["listed"]
    assert "two" not in walk["listed"]
    assert "  issues     fixed: SG-1" in walk["listed"]
    assert "(screen)" not in walk["listed"]


def test_second_release_stands_behind_the_first_and_shares_its_pictures(walk):
    """The first entry is byte for byte as it was; a clean build of a copy with the ledger is the same build."""
    assert walk["second"].returncode == 0, walk["second"].stdout
    first, second = json.loads((walk["folder"] / "ledger.json").read_bytes())["releases"]
    assert [first] == json.loads(walk["first ledger"])["releases"]
    assert second["version"] == "0.2.0"
    assert second["issues"] == {"open": ["SG-2", "SG-10"], "fixed": ["SG-1"]}
    assert second["assets"]["hill"]["picture"] == first["assets"]["hill"]["picture"]
    assert second["assets"]["one"]["picture"] != first["assets"]["one"]["picture"]
    assert walk["built"][f"kit/{second['kit']['file']}"] == second["kit"]["sha256"]


def test_rebuild_with_a_ledger_equals_a_clean_build(walk, tmp_path):
    """After all that history, in another folder."""
    build(walk["folder"])
    assert build(walk["folder"]) == []
    assert outputs(walk["folder"]) == clean_outputs(walk["folder"], tmp_path)


def test_a_picture_with_other_bytes_is_only_not_shown(walk, tmp_path):
    """A pointer that a version control system left in its place, say: what changed is reported and the report has what is now."""
    folder = copy_built(walk["folder"], tmp_path / "p")
    for path in (folder / "ledger").iterdir():
        path.write_text("version https://example.org/pointer\n", encoding="utf-8")
    build(folder)
    page = (folder / "build/report.html").read_text(encoding="utf-8")
    assert 'alt="one, now"' in page
    assert 'alt="one, before"' not in page


def test_since_compares_with_an_older_release(walk):
    """One that never was is refused before anything runs."""
    listed = run(walk["folder"], "changes", "since=0.2.0").stdout
    assert listed.startswith("Since 0.2.0 of 2026-01-02, build ")
    assert "No asset was added, removed, changed or renamed." in listed
    wrong = run(walk["folder"], "changes", "since=0.1.5")
    assert wrong.returncode == 3
    assert "since=: no version '0.1.5' was released\n    in the ledger are 0.1.0, 0.2.0" in wrong.stdout + wrong.stderr


def test_testers_who_skipped_a_release_read_what_changed_since_theirs(walk, tmp_path):
    """In packet and notes of their own kit; everybody compares with the release that the project names, or the last before this one."""
    folder = copy_built(walk["folder"], tmp_path / "copy")
    change(folder / "project.toml", ('version = "0.2.0"', 'version = "0.3.0"'))
    (folder / "reports").mkdir(exist_ok=True)
    (folder / "reports/testers.toml").write_text('[[tester]]\nnumber = 1\n[[tester]]\nnumber = 2\nsince = "0.1.0"\n', encoding="utf-8")
    build(folder)

    def told(name: str) -> str:
        (kit,) = (folder / "build/kit").rglob(name)
        with zipfile.ZipFile(kit) as archive:
            pdf, notes = (next(one for one in archive.namelist() if one.endswith(end)) for end in ("packet.pdf", "notes.txt"))
            pages = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(archive.read(pdf))).pages)
            both = [" ".join(text.split()) for text in (pages, archive.read(notes).decode())]
        since = {re.search(r"Since version ([0-9.]+), build", text)[1] for text in both}
        assert len(since) == 1
        assert all(("scores" in text) == (since == {"0.1.0"}) for text in both)
        return since.pop()

    assert [told(name) for name in ("SMALL-*-??????.zip", "*-T01.zip", "*-T02.zip")] == ["0.2.0", "0.2.0", "0.1.0"]
    assert outputs(folder) == clean_outputs(folder, tmp_path)
    change(folder / "project.toml", ('version = "0.3.0"\n', 'version = "0.3.0"\nsince = "0.1.0"\n'))
    build(folder)
    assert [told(name) for name in ("SMALL-*-??????.zip", "*-T01.zip", "*-T02.zip")] == ["0.1.0"] * 3
    assert not (folder / "build/work/changes-0.1.0.json").exists()
    change(folder / "project.toml", ('since = "0.1.0"\n', 'since = "0.3.0"\n'))
    change(folder / "reports/testers.toml", ('"0.1.0"', '"0.1.1"'))
    refused = run(folder, "changes")
    wrong = "[game] since: 0.3.0 was not released before this version\n    name one of 0.1.0, 0.2.0, or leave it out"
    assert wrong in refused.stdout + refused.stderr
    change(folder / "project.toml", ('since = "0.3.0"\n', ""))
    refused = run(folder, "changes")
    assert "0.1.1 was not released before this version" in refused.stdout + refused.stderr


def test_a_palette_that_moved_a_shade_shows_no_pictures(walk, tmp_path):
    """Art in colours a level away is neither recoloured nor shown; the report lists it."""
    folder = copy_built(walk["folder"], tmp_path / "copy")
    change(folder / "project.toml", ('version = "0.2.0"', 'version = "0.3.0"'))
    for rank in range(4):
        draw_frame(folder / f"art/one/f{rank}.png", (238, 200, 20, 255), rank)
    build(folder)
    found = json.loads((folder / "build/work/changes.json").read_bytes())
    assert [one["name"] for one in found["changed"] if one["kind"] == "sprite"] == ["one"]
    assert all(one["pictures"] == {"before": None, "now": None} for one in found["changed"] if one["kind"] == "sprite")


def test_terminal_without_the_letters_ends_nothing(walk):
    """In ASCII a tick becomes a question mark."""
    done = run(walk["folder"], "preflight", PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert "  ? version  0.2.0 is in the ledger, with this content" in done.stdout


def test_release_tells_every_cross_at_once_and_writes_nothing(walk, tmp_path):
    """Version and phase back, placeholder links, no origin, an issue that vanished: word for word."""
    folder = copy_built(walk["folder"], tmp_path / "copy")
    before = (folder / "ledger.json").read_bytes()
    change(
        folder / "project.toml",
        ('"0.2.0"', '"0.2.0-rc.1"'),
        ('"alpha"', '"pre-alpha"'),
        ("https://forms.relay.tld/f/{build}", "https://todo.relay.tld/f/{build}"),
        ('[data.scores]\nfile = "level.bin"\norigin = "x"\n', '[data.scores]\nfile = "level.bin"\n'),
    )
    (folder / "issues.toml").write_text(NEW, encoding="utf-8")
    done = run(folder, "release")
    assert done.returncode != 0
    for line in (
        "  ✗ version  0.2.0-rc.1 comes before 0.2.0, the last release",
        "  ✗ phase    pre-alpha comes before alpha, the phase of 0.1.0",
        "  ✓ image    read back and found as meant",
        "  ✗ links    feedback (https://todo.relay.tld/f/{build}): it says 'todo'",
        "  ✗ origins  no origin: scores",
        "  ✗ issues   known in 0.1.0 and missing now: SG-1, SG-2",
        "  ✗ changes  changes.md says nothing about 0.2.0-rc.1",
        "  ✓ ledger   can be written",
        "6 of 12 checks have crosses.",
    ):
        assert f"  {line}\n" in done.stdout or f"{line}\n" in done.stdout, line
    assert (folder / "ledger.json").read_bytes() == before


THAI = "Bell \\u0e51"  # a letter that the packet's fonts lack, in TOML


def a_link(folder: Path) -> None:
    shutil.move(folder / "ledger", folder / "elsewhere")
    (folder / "ledger").symlink_to("elsewhere")


@pytest.mark.parametrize(
    ("cross", "spoil"),
    some([
        ("version", lambda folder: change(folder / "project.toml", ('"0.3.0"', '"0.2.0"'), ("Small Game", "Little Game"))),
        ("phase", lambda folder: change(folder / "project.toml", ('"alpha"', '"pre-alpha"'))),
        ("date", lambda folder: change(folder / "project.toml", ("2026-01-02", "2026-01-01"))),
        ("changes", lambda folder: change(folder / "changes.md", ("## 0.3.0", "## 0.3.1"))),
        ("links", lambda folder: change(folder / "project.toml", ("forms.relay.tld/f", "example.org/f"))),
        ("origins", lambda folder: change(folder / "project.toml", ('origin = "x"', 'origin = ""'))),
        ("issues", lambda folder: (folder / "issues.toml").write_text("", encoding="utf-8")),
        ("letters", lambda folder: change(folder / "issues.toml", ("One pixel is green.", THAI))),
        ("letters", lambda folder: change(folder / "changes.md", ("Nothing much.", "\u0e51"))),
        ("ledger", a_link),
    ], 3),
)
def test_preflight_says_what_a_release_would_fail_on(walk, tmp_path, cross, spoil):
    """One after another: both end with an error that names it, and the release has written nothing."""
    folder = copy_built(walk["folder"], tmp_path / "copy")
    change(folder / "project.toml", ('"0.2.0"', '"0.3.0"'))
    (folder / "changes.md").write_text("## 0.3.0\n\nNothing much.\n", encoding="utf-8")
    spoil(folder)
    before = {path.name: path.read_bytes() for path in (folder / "ledger.json", *(folder / "ledger").iterdir())}
    preflight = run(folder, "preflight")
    assert preflight.returncode != 0
    crosses = re.findall(r"✗ (\w+)", preflight.stdout)
    assert crosses == [cross], preflight.stdout
    assert run(folder, "release").returncode != 0
    assert {path.name: path.read_bytes() for path in (folder / "ledger.json", *(folder / "ledger").iterdir())} == before


def test_a_name_in_other_letters_is_no_hindrance(walk, tmp_path):
    """Their packet has the number alone; preflight and release are as if the name were left out."""
    folder = copy_built(walk["folder"], tmp_path / "copy")
    change(folder / "project.toml", ('"0.2.0"', '"0.3.0"'))
    (folder / "changes.md").write_text("## 0.3.0\n\nNothing much.\n", encoding="utf-8")
    (folder / "reports").mkdir(exist_ok=True)
    (folder / "reports/testers.toml").write_text('[[tester]]\nnumber = 1\nname = "\u05d3\u05e0\u05d4"\n', encoding="utf-8")
    done = run(folder, "release")
    assert done.returncode == 0, done.stdout
    assert "T1: 4 pages" in done.stdout
    assert "without a name, whose letters the packet cannot set" in done.stdout
    assert "0.3.0 is in the ledger" in done.stdout


def test_over_budget_is_a_cross(tmp_path):
    """With the memory of a console too small, preflight says so; the kit is refused as well."""
    folder = ready(tmp_path / "small")
    target = (Path(__file__).parents[2] / "pipeline/targets/basalt32.toml").read_text(encoding="utf-8")
    (folder / "little.toml").write_text(target.replace('size = "2 MiB"', 'size = "192 KiB"', 1), encoding="utf-8")
    change(folder / "project.toml", ('target = "basalt32"', 'target = "little.toml"'))
    done = run(folder, "release")
    assert done.returncode != 0
    assert re.search(r"✗ memory   play needs 193\.\d KiB at worst, 1\.\d KiB OVER\n +doit fit and doit savings show what", done.stdout)
    assert not (folder / "ledger.json").exists()
