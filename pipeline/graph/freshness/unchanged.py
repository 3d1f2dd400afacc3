"""Whether anything at all changed since a build with the same words ended well: if not, its answer holds, and no graph is loaded.

After a build one sum is kept of the names and marks of every file that can count: the project folder with its build, the tool, the
folders of libraries. Before the next build the same sum is taken again. Where it differs, or cannot be taken, the full check runs
(``compare``). See ``marks`` for when a mark can be relied on.
"""

from __future__ import annotations

import itertools
import json
import os
import re
import stat
import sys
import time
import zlib
from collections.abc import Collection, Iterable, Iterator
from hashlib import blake2b
from pathlib import Path
from typing import NamedTuple

from pipeline.graph.freshness.lock import LOCK, is_taken
from pipeline.graph.freshness.marks import Mark, mark_in, unsettled_for
from pipeline.plain.shipped import TEMPLATES

RECORD = "unchanged.json"
REMEMBERED = "remembered"  # see ``remembered``: it is of no use to anything that is not looked at here
_FORMAT = 1
_MOST_FILES = 20_000  # after which a look would take longer than it saves
_MOST_BYTES = 1 << 20  # of a record
_LONGEST_WAIT = 50_000_000  # nanoseconds for marks to settle
_TOOL = Path(__file__).parents[3]
# Folders that are left out: of version control, and of Python, which fills its own as it runs.
_UNSEEN = frozenset({".git", ".hg", ".svn", "__pycache__"})
_CONFIGURATIONS = ("doit.cfg", "pyproject.toml")  # of doit, in the current folder
# Words whose answer is the same while no file changes: which steps, of what project, by how many workers.
_VARIABLE = re.compile(r"(?:project|why|commands)=", re.DOTALL)
_STEP = re.compile(r"[a-z_]+(?::.*)?", re.DOTALL)
_OPTION = re.compile(r"-[fdn]")

_Row = tuple[str, int, Mark | None]  # path, mode, mark; no mark for a folder, whose entries are looked at


class _Unclear(Exception):
    """A look at files does not show what they are like."""


class Look(NamedTuple):
    """What files were like at one moment.

    Attributes:
        sum: over their names and marks.
        unsettled: for how many nanoseconds after that moment a change may still leave the same sum.
    """

    sum: str
    unsettled: int


class Watch:
    """A look at everything that a build depends on, taken as it starts.

    Args:
        words: of the command line, without the program.

    Attributes:
        tool: what tool and libraries were like; None where that is not clear, or no words of a build were given.
    """

    def __init__(self, words: Iterable[str]) -> None:
        self._words = list(words)
        self._began = time.time_ns()
        self._tool = _folders_of_tool()
        try:
            self._folder = _project_in(self._words)
        except OSError:  # the current folder was removed
            self._folder = None
        self._state = Path(self._folder or "", "build", ".state")
        self.tool = look_at_tool(self._began) if self._folder else None
        self._sources = self._look_at_sources(self.tool)

    def answer(self) -> str | None:
        """Return what a build with these words says while all is as it is now; None when that is not known."""
        known = self._kept()
        said = known.get("said")
        if self._sources is None or known.get("sources") != self._sources.sum or not isinstance(said, str):
            return None
        build = self._look_at_build()
        if build is None or known.get("build") != build.sum or is_taken(self._state / LOCK):
            return None
        return said

    def covers(self, path: Path) -> bool:
        """Return whether a look sees a file."""
        text = str(path)  # which is quicker than a path's own parts; all files of all steps are asked about
        for folder in (self._folder, *self._tool):
            if folder and text.startswith(folder + os.sep):
                return _UNSEEN.isdisjoint(text[len(folder) :].split(os.sep))
        return False

    def look_again(self) -> Look | None:
        """Return a look at the build that can be relied on, or None where there is none, or sources are not as they were at the start.

        What is found out about the build's files after this is true for as long as a look at them gives the same.
        """
        if self._sources is None or self._sources.unsettled or self._look_at_sources(look_at_tool(self._began)) != self._sources:
            return None
        build = self._look_at_build()
        if build is not None and 0 < build.unsettled <= _LONGEST_WAIT:
            time.sleep(build.unsettled / 1e9)
            build = self._look_at_build()
        return None if build is None or build.unsettled else build

    def keep(self, build: Look, said: str) -> None:
        """Keep an answer for as long as nothing changes.

        Args:
            build: of ``look_again``, after which all outputs were found to be as their steps left them.

        Raises:
            ProjectError: the system would not write it.
        """
        # Loaded here: a build with nothing to do keeps no new answer.
        from pipeline.plain.files import write_bytes

        assert self._sources is not None, "look_again gave a look"
        kept = {"key": self._key(), "sources": self._sources.sum, "build": build.sum, "said": said}
        write_bytes(self._state / RECORD, json.dumps(kept).encode())

    def _key(self) -> list[str | None]:
        """Return what an answer depends on apart from files."""
        epoch = os.environ.get("SOURCE_DATE_EPOCH")
        return [str(_FORMAT), sys.version, zlib.ZLIB_RUNTIME_VERSION, epoch, _here(), self._folder, *self._words]

    def _kept(self) -> dict:
        """Return what was kept with these words, or nothing."""
        try:
            with os.fdopen(os.open(self._state / RECORD, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK), "rb") as file:
                known = json.loads(file.read(_MOST_BYTES))
        except (OSError, ValueError, RecursionError):
            return {}
        return known if isinstance(known, dict) and known.get("key") == self._key() else {}

    def _look_at_sources(self, tool: Look | None) -> Look | None:
        if self._folder is None or tool is None:
            return None
        project = _look([self._folder], (), {os.path.join(self._folder, "build")}, self._began)
        if project is None:
            return None
        both = blake2b((tool.sum + project.sum).encode(), digest_size=32).hexdigest()
        return Look(both, max(tool.unsettled, project.unsettled))

    def _look_at_build(self) -> Look | None:
        now, state = time.time_ns(), str(self._state)
        try:
            with os.scandir(state) as entries:  # what is kept in folders is checked as it is read
                records = [one.path for one in entries if one.name not in (RECORD, REMEMBERED) and not one.is_dir(follow_symlinks=False)]
        except OSError:
            return None
        return _look([str(self._state.parent)], sorted(records), {state}, now)


def look_at_tool(now: int | None = None) -> Look | None:
    """Return a look at the tool and the folders of libraries, as they are for any project; None where it is not clear.

    Args:
        now: ``time.time_ns()`` from before; that of this moment by default.
    """
    return _look(*_places_of_tool(), (), now or time.time_ns())


def _folders_of_tool() -> list[str]:
    return [str(_TOOL / "pipeline"), str(TEMPLATES)]


def _places_of_tool() -> tuple[list[str], list[str]]:
    """Return the folders of the tool, and the files and folders beside them that count by their own marks."""
    here = _here()
    # A library that comes or goes changes its folder.
    files = [str(_TOOL / "dodo.py"), *(path for path in sys.path if path and os.path.realpath(path) != here)]
    return _folders_of_tool(), [*files, *(os.path.join(here or "", name) for name in _CONFIGURATIONS)]


def _here() -> str | None:
    """Return the current folder, or None where it was removed."""
    try:
        return os.getcwd()
    except OSError:
        return None


def _project_in(words: list[str]) -> str | None:
    """Return the real path of the project that some words ask for; None where it is not clear, or their answer can change by itself."""
    folder, waiting = None, iter(words)
    for word in waiting:
        if _OPTION.match(word):
            if len(word) == 2:
                next(waiting, None)
        elif _VARIABLE.match(word):
            folder = word.partition("=")[2] if word.startswith("project=") else folder
        elif not _STEP.fullmatch(word):
            return None
    folder = os.path.realpath(os.path.expanduser(folder)) if folder else None
    return folder if folder and os.path.isfile(os.path.join(folder, "project.toml")) else None


def _look(folders: Iterable[str], files: Iterable[str], leave_out: Collection[str], now: int) -> Look | None:
    """Look at all below some folders, and at some files; None where there are too many, a link to a folder, or what cannot be read.

    Args:
        leave_out: paths of folders that are not entered.
        now: ``time.time_ns()`` from before.
    """
    try:
        rows = [_row(path) for path in files]
        for folder in folders:
            for some in _rows_below(folder, leave_out):
                rows += some
                if len(rows) > _MOST_FILES:
                    return None
    except (OSError, _Unclear):
        return None
    left = max([0, *(unsettled_for(mark, now) for _, _, mark in rows if mark)])
    return Look(blake2b(repr(rows).encode("utf-8", "surrogateescape"), digest_size=32).hexdigest(), left)


def _row(path: str) -> _Row:
    try:
        known = os.stat(path)
    except FileNotFoundError:
        return path, 0, None
    return path, known.st_mode, mark_in(known)


def _rows_below(folder: str, leave_out: Collection[str]) -> Iterator[list[_Row]]:
    """Yield what is in a folder, then in each below it."""
    waiting = [folder]
    while waiting:
        with os.scandir(waiting.pop()) as entries:
            found = list(itertools.islice(entries, _MOST_FILES + 1))
        if len(found) > _MOST_FILES:
            raise _Unclear
        rows: list[_Row] = []
        for entry in sorted(found, key=lambda entry: entry.name):
            known = entry.stat(follow_symlinks=False)
            if stat.S_ISDIR(known.st_mode):
                if entry.name not in _UNSEEN and entry.path not in leave_out:
                    rows.append((entry.path, known.st_mode, None))
                    waiting.append(entry.path)
                continue
            rows.append((entry.path, known.st_mode, mark_in(known)))
            if stat.S_ISLNK(known.st_mode):
                rows.append(_linked(entry.path))
        yield rows


def _linked(path: str) -> _Row:
    """Return what a link leads to; a folder may hold more than is seen from here."""
    row = _row(path)
    if stat.S_ISDIR(row[1]):
        raise _Unclear
    return row
