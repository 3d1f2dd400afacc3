"""Which saves count, and when a file is whole. Common practice, no source, where nothing else is named."""

from __future__ import annotations

import os
import queue
import time
from pathlib import Path

import pytest
from watchfiles._rust_notify import RustNotify

from pipeline.watching import saves
from pipeline.watching.saves import Settling, counts, is_being_written


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("project.toml", True),
        ("art/one/f0.png", True),
        ("templates/notes.txt.j2", True),
        ("art/build/f0.png", True),
        ("art/new folder", True),
        ("build/report.html", False),
        ("build", False),
        ("art/.f0.png.swp", False),
        ("art/f0.png~", False),
        (".git/index", False),
        ("art/Thumbs.db", False),
        ("art/.named.png", True),
        ("../other/project.toml", False),
    ],
)
def test_what_counts(path, expected):
    """What no pattern of a project finds does not, unless a build reads it; nor what the build writes."""
    folder = Path("/somewhere/.hidden/game")
    assert counts(str(folder / path), folder, {"art/.named.png"}) is expected


def test_all_files_are_looked_at_where_the_system_reports_no_changes(tmp_path, monkeypatch):
    """As where a system's limit of watched folders is reached (inotify(7), ENOSPC)."""

    def limited(paths, debug, polls, *words):
        if not polls:
            raise OSError("OS file watch limit reached")
        return RustNotify(paths, debug, polls, *words)

    monkeypatch.setattr(saves, "RustNotify", limited)
    found: queue.SimpleQueue = queue.SimpleQueue()
    watching = saves.Saves(tmp_path, found.put)
    try:
        assert watching.polls
        (tmp_path / "a.png").write_bytes(b"1")
        assert tmp_path / "a.png" in found.get(timeout=10)
    finally:
        watching.close()


def until_over(settling: Settling) -> float:
    """Return after how many seconds files have settled."""
    began = time.monotonic()
    while not settling.is_over():
        assert time.monotonic() - began < 10
        time.sleep(0.002)
    return time.monotonic() - began


def test_file_that_grows_has_not_settled(tmp_path):
    """A short pause is enough where nobody has it open; a new size begins the pause again."""
    file, settling = tmp_path / "a.png", Settling()
    file.write_bytes(b"1")
    settling.add({file})
    for rank in range(6):
        file.write_bytes(b"1" * (rank + 2))
        assert not settling.is_over()
        time.sleep(0.01)
    assert until_over(settling) < 1
    assert settling.take() == {file}
    assert settling.paths == set()


def test_file_in_a_new_folder_is_waited_for(tmp_path):
    """The system reports the folder; what is copied into it at once is found by looking."""
    (tmp_path / "new/deep").mkdir(parents=True)
    file, settling = tmp_path / "new/deep/a.png", Settling()
    settling.add({tmp_path / "new"})
    with file.open("wb") as writer:
        writer.write(b"1")
        writer.flush()
        settling.is_over()
        time.sleep(0.05)
        assert not settling.is_over()
    until_over(settling)


def test_only_a_writer_counts_as_writing(tmp_path):
    """fcntl(2), F_SETLEASE: a lease for reading is refused while the file is open for writing. Nobody is held up by the question."""
    file = tmp_path / "a.png"
    file.write_bytes(b"1")
    with file.open("rb"):
        assert not is_being_written(file)
    with file.open("ab") as writer:
        assert is_being_written(file)
        writer.write(b"2")
    assert not is_being_written(file)
    assert not is_being_written(tmp_path / "missing.png")
    os.mkfifo(tmp_path / "pipe")
    assert not is_being_written(tmp_path / "pipe")
