"""Kills in the middle: a few of ``tests/bench/kills.py`` with fixed seeds, and one before every single write of what the author keeps.

What must hold is said there; that a rename is whole or not at all is POSIX.1-2017 ``rename``.
"""

from __future__ import annotations

import dataclasses
import os
import shutil
from pathlib import Path

import pytest

from pipeline.plain.errors import ProjectError
from pipeline.questions.start import start_project
from pipeline.release.record import add_release, picture_name
from tests.bench import kills
from tests.conftest import only_long, some
from tests.intake.makers import bugs_csv, drop, project, read
from tests.project.test_ledger import kept

ANNA = {"time": "1", "build": "7zz9k2", "what": "It hangs", "tester": "Anna B", "contact": "anna@example.org"}
KOFI = {"time": "2", "build": "oaibod", "what": "It hums", "tester": "Kofi", "contact": "kofi@example.org"}
NAMELESS = {"time": "9", "what": "It squeaks", "contact": "anna@example.org"}
# Seed, and what else is fixed so that all share one project. The short form kills only erasing, before each write.
SEEDS = {3: "testers -n 2", 5: "erase", 13: "release"}


@pytest.fixture(scope="module")
def world(tmp_path_factory):
    return kills.World(tmp_path_factory.mktemp("kills"))


@pytest.mark.parametrize("seed", SEEDS)
def test_kill_at_a_random_moment(world, seed):
    """A kill leaves whole files, no process and no lock, and the next run makes it good; see the module."""
    only_long()
    case = dataclasses.replace(kills.draw(seed), target="pebble8", what=SEEDS[seed], edit=1, back=False)
    kills.do_case(world, case)


class Killed(BaseException):
    """Represents the end of the process."""


def _killed_before_write(monkeypatch, count: int, act) -> bool:
    """Do something that ends before its count-th change of a file; return whether it came to that."""
    left = [count]

    def counted(change):
        def changed(*words, **options):
            if left[0] == 0:
                raise Killed
            left[0] -= 1
            return change(*words, **options)

        return changed

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", counted(os.replace))
        patch.setattr(Path, "unlink", counted(Path.unlink))
        # A real kill removes nothing: the temporary file stays, as prune will find it.
        try:
            act()
        except Killed:
            return True
    return False


def _kept(folder: Path) -> dict[str, bytes]:
    found = {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}
    return {name: data for name, data in found.items() if not name.endswith(".part")}


def _at_every_write(tmp_path, monkeypatch, make, act) -> int:
    """Kill an act before each of its writes and do it again: it leaves what it leaves undisturbed. Return how many writes it has."""
    whole = make(tmp_path / "whole")
    act(whole)
    for count in range(100):
        folder = make(tmp_path / f"killed {count}")
        if not _killed_before_write(monkeypatch, count, lambda folder=folder: act(folder)):
            return count
        _again(act, folder)
        assert _kept(folder) == _kept(whole), f"after {count} writes"
        shutil.rmtree(folder)
    raise AssertionError("it has no end")


def _again(act, folder: Path) -> None:
    """Do something again; that somebody is forgotten already is reported as a refusal."""
    try:
        act(folder)
    except ProjectError as error:
        if "nothing of" not in str(error):
            raise


def _with_reports(folder: Path) -> Path:
    """A project with reports of two, one of which Anna sent without a name, an export that lies beside them, and a list of testers."""
    folder.mkdir()
    project(folder)
    (folder / "reports").mkdir()
    read(folder, bugs_csv(ANNA, KOFI, NAMELESS), name="reports/bugs.csv")
    return folder


@pytest.mark.parametrize("who", some(["T1", "Anna B", "anna@example.org"], 1))
def test_erasing_that_was_cut_short_is_done_to_its_end_by_the_same_command(tmp_path, monkeypatch, who):
    """Before the last write there is still something that says who the person is; and the page shows nobody who is forgotten."""
    assert _at_every_write(tmp_path, monkeypatch, _with_reports, lambda folder: drop(folder, who)) >= 4


def test_erasing_somebody_on_the_list_that_was_cut_short(tmp_path, monkeypatch):
    """The same with a list of testers, packets and kits of their own."""

    only_long()
    def make(folder):
        _with_reports(folder)
        (folder / "reports/testers.toml").write_text('[[tester]]\nnumber = 1\nname = "Anna B"\n\n[[tester]]\nnumber = 7\nname = "Quill"\n')
        for name in ("work/testers/T01-packet.pdf", "work/testers/T07-packet.pdf", "kit/testers/TINF-0.3.0-110011-T01.zip"):
            (folder / "build" / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / "build" / name).write_bytes(b"theirs")
        return folder

    assert _at_every_write(tmp_path, monkeypatch, make, lambda folder: drop(folder, "T1")) >= 7


def test_reading_an_export_that_was_cut_short_is_done_by_reading_it_again(tmp_path, monkeypatch):
    """Numbers of testers and reports are those of an undisturbed run."""

    def make(folder):
        folder.mkdir()
        return project(folder)

    assert _at_every_write(tmp_path, monkeypatch, make, lambda folder: read(folder, bugs_csv(ANNA, KOFI, NAMELESS))) >= 4


def test_release_that_was_cut_short_is_done_by_the_same_command(tmp_path, monkeypatch):
    """Pictures come before the ledger that names them: a release in the ledger has all of them. Each file is written, then placed."""
    pictures = [b"one", b"two", b"three"]
    sound = {"kind": "sound", "bytes": 400, "sha256": "4" * 64}
    entry = kept(assets={name: sound | {"picture": picture_name(name.encode())} for name in ("one", "two", "three")})

    def make(folder):
        folder.mkdir()
        return folder

    def act(folder):
        if not (folder / "ledger.json").exists():
            assert add_release(folder, entry, pictures) is None
        assert len(list((folder / "ledger").iterdir())) >= 3

    assert _at_every_write(tmp_path, monkeypatch, make, act) == 2 * 4


def test_start_that_was_cut_short_is_done_by_the_same_command(tmp_path, monkeypatch):
    """The project file comes last, and a file that is already what it becomes is not a reason to refuse."""

    def make(folder):
        folder.mkdir()
        return folder

    def act(folder):
        if not (folder / "project.toml").exists():
            start_project(folder, "new")
        assert (folder / "program/wait.bin").exists()

    assert _at_every_write(tmp_path, monkeypatch, make, act) >= 10
    (tmp_path / "other/art").mkdir(parents=True)
    (tmp_path / "other/art/backdrop.png").write_bytes(b"mine")
    with pytest.raises(ProjectError, match="is already in"):
        start_project(tmp_path / "other", "new")
