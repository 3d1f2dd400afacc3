"""``watch``: a build at every save, and the report in a browser, until Ctrl-C."""

from __future__ import annotations

import queue
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from pipeline.graph.freshness.lock import LOCK, is_taken
from pipeline.graph.stopping import SIGNALS
from pipeline.plain.errors import ProjectError, shown
from pipeline.watching.builder import Builder
from pipeline.watching.known import BUILDING, FAILED, GOOD, WAITING, Known
from pipeline.watching.page import name_of
from pipeline.watching.saves import Saves, Settling, ignore_leases
from pipeline.watching.server import Server
from pipeline.watching.words import Asked, read_words

_SETTLING, _LOCKED = 0.01, 0.1  # seconds between looks at files that were saved, and at another build's lock
_MOST_NAMED = 3  # files that were saved
_MOST_SAID = 100_000  # characters of why a build failed
_REFUSED = 3  # the exit status, as doit has it


def watch_project(words: Sequence[str]) -> int:
    """Do what a command line that names ``watch`` asks for; return the exit status if it is refused.

    Raises:
        KeyboardInterrupt: it was ended by hand, which is its only end. No build is left running.
    """
    try:
        asked = read_words(words)
        report = asked.folder / "build" / "report.html"
        known = Known(name_of(report))
        server = Server(report, known, asked.port)
    except ProjectError as error:
        sys.stderr.write(f"ERROR: {error}\n")
        return _REFUSED
    server.start()
    loop = _Loop(asked, known, report)
    try:
        print(f"Report  {server.url}  (for this computer only; refreshed after each build)")
        print(f"Watching {shown(asked.folder.name)}. Ctrl-C ends it.", flush=True)
        return loop.run()
    finally:
        for number in SIGNALS:
            signal.signal(number, signal.SIG_IGN)  # it ends already
        loop.close()
        known.end()
        server.shutdown()


class _Loop:
    """What happens, one event after another: a save, something of a build, a moment passed."""

    def __init__(self, asked: Asked, known: Known, report: Path) -> None:
        self._folder, self._known, self._report = asked.folder, known, report
        self._lock = asked.folder / "build" / ".state" / LOCK
        self._events: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self._settling = Settling()
        self._wanted = True  # a build, as soon as one can begin
        self._running = self._stopping = self._shown = self._busy = self._waits = False
        self._said: list[str] = []
        ignore_leases()
        self._builder = Builder(asked.folder, asked.words, lambda kind, text: self._events.put((kind, text)))
        self._saves = Saves(asked.folder, lambda paths: self._events.put(("saved", paths)))
        if self._saves.polls:
            print("The system has no room to report saves, so all files are looked at again and again, which is slower.")

    def run(self) -> int:
        """Go on until it cannot; return the exit status."""
        while True:
            self._begin_if_wanted()
            with suppress(queue.Empty):
                self._take(*self._events.get(timeout=self._pause()))
            if self._settling.paths and self._settling.is_over():
                self._saved(self._settling.take())
            if not self._folder.is_dir():
                sys.stderr.write(f"ERROR: the folder {shown(self._folder)} is gone\n    start watch again where it is now\n")
                return _REFUSED

    def close(self) -> None:
        """End the running build as Ctrl-C ends an ordinary one, and wait for that."""
        self._builder.close()
        self._saves.close()

    def _pause(self) -> float | None:
        """Return how long to wait for an event; None for as long as it takes."""
        if self._settling.paths:
            return _SETTLING
        return _LOCKED if self._waits else None

    def _begin_if_wanted(self) -> None:
        if self._running or not self._wanted or self._settling.paths:
            return
        if is_taken(self._lock):
            if not self._waits:
                print("Another build of this project is running; watch waits for it to end.", flush=True)
                self._known.set(build=WAITING)
            self._waits = True
            return
        self._wanted = self._stopping = self._shown = self._busy = self._waits = False
        self._running, self._said = True, []
        self._known.set(build=BUILDING)
        self._builder.build()

    def _saved(self, paths: set[Path]) -> None:
        names = sorted(path.relative_to(self._folder).as_posix() for path in paths)
        more = f" and {len(names) - _MOST_NAMED:,} more" if len(names) > _MOST_NAMED else ""
        print(f"\nSaved   {', '.join(map(shown, names[:_MOST_NAMED]))}{more}", flush=True)
        self._wanted = True
        self._make_room()

    def _make_room(self) -> None:
        """Stop a build that has shown what it was for: packet and kit are for the last of several saves."""
        if self._running and self._shown and self._wanted and not self._stopping:
            self._stopping = True
            self._builder.stop()

    def _take(self, kind: str, what: Any) -> None:
        if kind == "saved":
            self._settling.add(what)
        elif kind == "good" and what == "report":
            self._shown = True
            self._known.set(report=name_of(self._report))
            self._make_room()
        elif kind in ("failed", "error"):
            self._said.append(what.rstrip("\n") + "\n\n" if kind == "failed" else what)
        elif kind == "busy":
            self._busy = True
        elif kind == "stale":
            print("Romwright itself was changed, so it is loaded again.", flush=True)
            self._restart()
        elif kind == "ended":
            self._ended(int(what))
        elif kind == "lost":
            self._builder.close()  # the next build begins another
            if self._running:
                self._said.append(f"The process that builds has ended with status {what}. The next save starts it again.\n")
                sys.stderr.write(self._said[-1])
                self._ended(1)

    def _restart(self) -> None:
        self._builder.close()
        self._running, self._wanted = False, True

    def _ended(self, status: int) -> None:
        self._running = False
        report = name_of(self._report)
        if self._busy:
            self._wanted = True
        if self._wanted or self._settling.paths:  # another build is about to say how things are
            self._known.set(report=report)
        elif status:
            said = "".join(self._said).strip("\n") or f"The build ended with status {status}."
            self._known.set(build=FAILED, said=said[:_MOST_SAID], report=report)
        else:
            self._known.set(build=GOOD, said="", report=report)
