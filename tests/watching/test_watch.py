"""``watch`` as a process: a real project, real saves, and the page and its events as a browser gets them.

All tests of this file share one process, in their order; the last ends it. Common practice, no source, where nothing else is named.
"""

from __future__ import annotations

import base64
import fcntl
import html
import os
import shutil
import signal
import sys
from pathlib import Path

import pytest
from PIL import Image

from tests.browser import Browser
from tests.conftest import need_tool, only_long
from tests.graph.builds import build, make_tiny, outputs
from tests.watched import Watched

_SPRITE = '[sprite.dot]\nframes = "art/dot/*.png"\npalette = "dots"\n[palette.dots]\ncolours = 8\ntransparent = true\n'


def draw(folder: Path, name: str, colour: tuple[int, int, int]) -> None:
    """Save a small frame as an editor would, in one go."""
    (folder / "art/dot").mkdir(parents=True, exist_ok=True)
    picture = Image.new("RGBA", (16, 16))
    picture.paste((*colour, 255), (4, 4, 12, 12))
    picture.save(folder / f"art/dot/{name}.png")


def make(folder: Path) -> Path:
    """Write a project of a program, a file of data and a sprite of two frames."""
    make_tiny(folder)
    draw(folder, "a0", (200, 0, 0))
    draw(folder, "a1", (0, 200, 0))
    with (folder / "project.toml").open("a") as file:
        file.write(_SPRITE)
    return folder


@pytest.fixture(scope="module")
def project(tmp_path_factory) -> Path:
    return make(tmp_path_factory.mktemp("watch") / "game")


@pytest.fixture(scope="module")
def watched(project):
    """A process that watches the project, after its first build."""
    found = Watched(project, door=("-m", "doit"))
    builds_until_good(found)
    yield found
    if found.process.poll() is None:
        found.end(signal.SIGKILL)


def builds_until_good(watched: Watched) -> int:
    """Return for how many saves builds were begun until one ended well; those of before are not counted."""
    watched.until(build="good")
    said, watched.counted = watched.lines[watched.counted :], len(watched.lines)
    return sum(line.startswith("Saved ") for line in said)


def picture_on(page: str, file: Path) -> bool:
    """Whether a page shows the bytes of a picture (RFC 2397: a data URL holds them in base 64)."""
    return base64.b64encode(file.read_bytes()).decode() in page


def test_page_shows_the_report_and_the_file_stays_as_it_is(project, watched):
    """The script and the state are in what is served, not in the file; a browser may run that script and load nothing."""
    status, page, answer = watched.get()
    assert status == 200
    assert picture_on(page, project / "build/work/dot.shown.png")
    written = (project / "build/report.html").read_text()
    assert "nonce" not in written
    assert 'id="watch"' not in written
    assert 'id="watch" data-build="good"' in page
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy  # CSP Level 3: what is not named is not loaded
    nonce = policy.partition("'nonce-")[2].partition("'")[0]
    assert f'<script nonce="{nonce}">' in page
    # The report's own script too, once; beside both there is only data, which nothing runs.
    assert page.count(f'<script id="live" nonce="{nonce}">') == written.count('<script id="live">') == 1
    assert page.count("<script") == 3
    assert '<script type="application/json"' in page
    assert "http-equiv" not in page


def test_ten_saves_at_once_are_one_build_whose_picture_is_on_the_page(project, watched):
    """Nor does anything that the build writes start another: the next save is counted from here."""
    before = watched.get()[1]
    draw(project, "a0", (0, 0, 200))
    for rank in range(9):
        (project / f"notes{rank}.txt").write_text("one\n")
    assert builds_until_good(watched) == 1
    page = watched.get()[1]
    assert picture_on(page, project / "build/work/dot.shown.png")
    assert not picture_on(before, project / "build/work/dot.shown.png")


def test_file_that_is_still_being_written_is_waited_for(project, watched):
    """One build, of the whole file: a second one would say that the first was of half of it."""
    whole = bytes(range(200))
    with (project / "level.bin").open("wb") as file:
        file.write(whole[:50])
        file.flush()
        assert watched.nothing_for(0.2)
        file.write(whole[50:])
    assert builds_until_good(watched) == 1
    assert (project / "build/blobs/level.bin").read_bytes() == whole


def test_frame_that_is_added_or_removed_counts(project, watched):
    """A pattern finds it at the next build."""
    draw(project, "a2", (90, 90, 90))
    assert builds_until_good(watched) == 1
    assert "3 frames" in watched.get()[1]
    (project / "art/dot/a2.png").unlink()
    assert builds_until_good(watched) == 1
    assert "2 frames" in watched.get()[1]


def test_broken_project_is_on_the_page_with_its_line_and_goes_away(project, watched):
    """Escaped, in the page and in its events; the report of before stays."""
    file = project / "project.toml"
    good = file.read_text()
    file.write_text(good.replace('phase = "alpha"', 'phase = "<i>&"'))
    said = watched.until(build="failed")["said"]
    line = 1 + good[: good.index("phase")].count("\n")
    assert f"project.toml, line {line}" in said
    assert "<i>&" in said
    page = watched.get()[1]
    assert html.escape(said) in page
    assert "<i>&" not in page
    assert picture_on(page, project / "build/work/dot.shown.png")
    file.write_text(good)
    assert builds_until_good(watched) == 2
    assert watched.events[-1]["said"] == ""
    assert "project.toml, line" not in watched.get()[1]
    assert any(f"project.toml, line {line}" in text for text in watched.lines)


def test_command_does_not_run_without_a_yes_and_nobody_is_asked(project, watched, tmp_path):
    """What the page and the terminal show is how to allow it."""
    file, mark = project / "project.toml", tmp_path / "ran"
    good = file.read_text()
    command = f'command = ["{sys.executable}", "-c", "open(\'{mark}\', \'w\')", "{{output}}"]\n'
    file.write_text(good.replace('file = "main.bin"\n', command))
    assert "add commands=yes" in watched.until(build="failed")["said"]
    assert not mark.exists()
    file.write_text(good)
    builds_until_good(watched)


def test_another_build_is_waited_for(project, watched):
    """The lock is the system's (flock(2)), so anybody who holds it is another build."""
    with (project / "build/.state/lock").open("r+") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        draw(project, "a1", (9, 9, 9))
        watched.until(build="waiting")
        watched.until_printed("Another build of this project is running")
    assert builds_until_good(watched) == 1


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        ("/", {"Host": "example.org"}, 421),
        ("/", {"Host": "127.0.0.1"}, 421),  # a browser names a port that is not HTTP's own, RFC 9110 section 7.2
        ("/events", {"Host": "example.org:80"}, 421),
        ("/report.html", {}, 404),
        ("/proofs/", {}, 404),
        ("/../project.toml", {}, 404),
        ("//project.toml", {}, 404),
    ],
)
def test_other_hosts_and_addresses_are_refused(watched, path, headers, status):
    """A name that leads here is not enough (DNS rebinding); there are no other files and no list of them."""
    assert watched.get(path, **headers)[0] == status


def test_only_this_computer_is_served(watched):
    """The socket listens on the loopback address alone, as the system lists it (proc(5), /proc/net/tcp)."""
    rows = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    listening = [row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{watched.port:04X}")]
    assert listening == [f"0100007F:{watched.port:04X}"]


def test_process_that_forks_runs_no_thread_and_is_started_again_where_it_was_ended(project, watched):
    """A thread that holds a lock as another forks leaves it locked for ever in the child (fork(2))."""
    children = Path(f"/proc/{watched.process.pid}/task/{watched.process.pid}/children").read_text().split()
    assert len(children) == 1
    assert len(os.listdir(f"/proc/{children[0]}/task")) == 1
    os.kill(int(children[0]), signal.SIGKILL)
    draw(project, "a1", (9, 9, 99))
    assert builds_until_good(watched) == 1


def test_browser_shows_the_new_picture_and_stays_in_its_place(project, watched, tmp_path):
    """Chromium: no page is loaded again, the place and what was opened stay, a failure is there and goes; nothing is blocked or fails."""
    only_long()
    browser = Browser(need_tool("chromium"), tmp_path, f"http://127.0.0.1:{watched.port}/", size=(600, 400))
    try:
        browser.until("document.readyState === 'complete' && document.querySelector('#watch')?.dataset.build === 'good'")
        browser.value("window.mine = 1; document.querySelector('details').open = true; window.scrollTo(0, 700); document.body.offsetHeight")
        at = browser.value("window.scrollY")
        draw(project, "a0", (0, 120, 120))
        watched.until(build="good")
        new = base64.b64encode((project / "build/work/dot.shown.png").read_bytes()).decode()
        browser.until(f"[...document.images].some((one) => one.src.endsWith('{new}'))")
        assert browser.value("[window.mine, document.querySelector('details').open, window.scrollY]") == [1, True, at]
        assert at > 100
        good = (project / "project.toml").read_text()
        (project / "project.toml").write_text(good.replace("alpha", "<i>"))
        browser.until("document.querySelector('#watch pre').textContent.includes('project.toml, line 7')")
        assert browser.value("document.querySelectorAll('#watch i').length") == 0
        (project / "project.toml").write_text(good)
        browser.until("document.querySelector('#watch').dataset.build === 'good'")
        assert browser.value("[document.querySelector('#watch pre').hidden, window.scrollY, window.mine]") == [True, at, 1]
        assert browser.value("performance.getEntriesByType('resource').filter((one) => !one.name.startsWith(location.origin)).length") == 0
    finally:
        browser.close()
    builds_until_good(watched)


def test_stopped_by_hand_in_a_build_it_leaves_what_the_next_build_makes_whole(project, watched, tmp_path):
    """No build goes on; the next ordinary one leaves what a clean build leaves."""
    draw(project, "a0", (200, 200, 0))
    watched.until(build="building")
    assert watched.end() == -signal.SIGINT
    assert not any("Traceback" in line for line in watched.lines)
    with (project / "build/.state/lock").open("r+") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    build(project)
    shutil.copytree(project, tmp_path / "copy", ignore=shutil.ignore_patterns("build"))
    build(tmp_path / "copy")
    assert outputs(project) == outputs(tmp_path / "copy")
