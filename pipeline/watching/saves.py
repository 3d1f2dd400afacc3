"""Which files of a project were saved, and whether they are whole: programs write a file in pieces, and ten files at once."""

from __future__ import annotations

import fcntl
import os
import signal
import threading
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from pathlib import Path

from watchfiles._rust_notify import RustNotify  # its documented use without a generator: watching has begun when it is made

from pipeline.graph.freshness.marks import Mark, mark_of

_TOGETHER, _STEP = 200, 10  # milliseconds: saves are reported after a pause of a step, and at the latest after this
_LOOK = 1000  # milliseconds between looks whether to end
_POLL = 200  # milliseconds between looks at all files where the system does not report changes
_QUIET = 0.03  # seconds without a change after which a file is whole
_LONGEST_OPEN = 3.0  # seconds without a change after which a file that a program keeps open for writing counts as whole
_SYSTEM = ("thumbs.db", "desktop.ini", "__macosx", "__pycache__")  # what systems leave in folders, in small letters
_MOST_FILES = 20_000  # of a new folder that are looked at


class Saves:
    """A thread that reports what was saved below a folder.

    Args:
        folder: its real path.
        report: called in the thread with the paths of one or more saves.

    Attributes:
        polls: whether all files are looked at again and again, since the system has no room to report changes.
    """

    def __init__(self, folder: Path, report: Callable[[set[Path]], None]) -> None:
        self._folder, self._report = folder, report
        self.named: Collection[str] = ()  # hidden files that count all the same: the build reads them
        self.polls = False
        self._ends = threading.Event()
        try:
            self._watcher = self._watched(polls=False)
        except OSError:
            self.polls = True
            self._watcher = self._watched(polls=True)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _watched(self, polls: bool) -> RustNotify:
        return RustNotify([str(self._folder)], False, polls, _POLL, True, True)

    def _run(self) -> None:
        while True:
            found = self._watcher.watch(_TOGETHER, _STEP, _LOOK, self._ends)
            if isinstance(found, str):
                if found == "timeout":
                    continue
                return
            paths = {Path(path) for _, path in found if counts(path, self._folder, self.named)}
            if paths:
                self._report(paths)

    def close(self) -> None:
        """End the thread."""
        self._ends.set()
        self._thread.join(_LOOK / 500)


def counts(path: str, folder: Path, named: Collection[str] = ()) -> bool:
    """Return whether a save of a file below a project's folder can change a build.

    What the build writes does not, nor do files that no pattern finds: hidden ones, and copies that editors keep.

    Args:
        named: paths from the folder that count in any case.
    """
    inside = os.path.relpath(path, folder)
    parts = inside.split(os.sep)
    if parts[0] in ("build", os.pardir):
        return False
    return inside == "." or inside in named or not any(part[0] == "." or part[-1] == "~" or part.lower() in _SYSTEM for part in parts)


class Settling:
    """Files that were saved, until none of them changes any more."""

    def __init__(self) -> None:
        self.paths: set[Path] = set()
        self._marks: dict[Path, Mark | None] = {}
        self._since = 0.0

    def add(self, paths: Collection[Path]) -> None:
        """Wait for these files too."""
        self.paths |= set(paths)
        self._since = time.monotonic()

    def is_over(self) -> bool:
        """Return whether every file is as it was for a while, and no program has one open for writing."""
        marks = {file: mark_of(file) for path in self.paths for file in _files(path)}
        now = time.monotonic()
        if marks != self._marks:
            self._marks, self._since = marks, now
        still = now - self._since
        return still >= _QUIET and (still >= _LONGEST_OPEN or not any(map(is_being_written, marks)))

    def take(self) -> set[Path]:
        """Return the files, and begin again with none."""
        taken, self.paths, self._marks = self.paths, set(), {}
        return taken


def _files(path: Path) -> list[Path]:
    """Return a file itself, or the files in a folder: those of a new one are not all reported."""
    if not path.is_dir():
        return [path]
    found: list[Path] = []
    for folder, folders, names in os.walk(path):
        folders[:] = [name for name in folders if name[0] != "." and name != "build"]
        found += [Path(folder, name) for name in names]
        if len(found) > _MOST_FILES:
            break
    return found


def is_being_written(path: Path) -> bool:
    """Return whether some program has a file open for writing; False where the system does not say (it does on Linux, of own files).

    A lease for reading is granted only on a file that nobody has open for writing, fcntl(2). It is given back at once.
    """
    if not hasattr(fcntl, "F_SETLEASE"):
        return False
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        fcntl.fcntl(handle, fcntl.F_SETLEASE, fcntl.F_RDLCK)
        fcntl.fcntl(handle, fcntl.F_SETLEASE, fcntl.F_UNLCK)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False


def ignore_leases() -> None:
    """Ignore the signal that a program now wants to write a file which is being looked at; to be called in the main thread."""
    with suppress(AttributeError, ValueError):
        signal.signal(signal.SIGIO, signal.SIG_IGN)
