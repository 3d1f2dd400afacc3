"""The process that builds are forked from: it has loaded everything, and runs no thread, so that forking it is safe.

Requests are lines of JSON, ``["build", FOLDER, WORDS]`` and ``["stop"]``; what happens is answered likewise, ``[KIND, TEXT]``: "good"
(a step), "failed" and "error" (texts for a person), "busy", "ended" (the exit status), and "stale" where the tool itself was changed
since it was loaded. Another process must then take this one's place. Without requests it ends, and a running build with it.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import json
import marshal
import os
import pkgutil
import select
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, TextIO

import pipeline
from pipeline.cache.code import code_digests, library_versions
from pipeline.graph import progress, stopping
from pipeline.graph.command import run_words
from pipeline.graph.freshness.digest import known_digests, learn_digests
from pipeline.graph.freshness.unchanged import Watch, look_at_tool
from pipeline.graph.plan import plan_project
from pipeline.graph.streams import steady_streams
from pipeline.graph.workers import end_at_once_with_parent
from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import TEMPLATES
from pipeline.plain.template_language import compiled
from pipeline.project.loading.load import load_project

_FIRST = ("report",)  # what a page shows is made before the packet and the kit
_PATIENCE = 10.0  # seconds after which a build that was asked to stop is killed
_LEFT_OUT = ("pipeline.__main__", "pipeline.watching")
_THREADS = "OPENBLAS_NUM_THREADS"  # of numpy's library, which starts its threads as it is loaded
_STOPPED = 130  # the exit status of what was stopped by hand, as shells have it


class Nursery:
    """See above.

    Args:
        requests, answers: descriptors of pipes.
    """

    def __init__(self, requests: int, answers: int) -> None:
        self._requests, self._answers = requests, answers
        self._tool = look_at_tool()  # of before anything else is loaded
        self._text = b""
        self._child = 0
        self._kill_at = 0.0
        self._left: BinaryIO | None = None
        self._loading: Iterator[None] | None = None
        self._woken, woken = os.pipe()
        os.set_blocking(woken, False)
        signal.signal(signal.SIGCHLD, lambda number, frame: None)
        signal.set_wakeup_fd(woken, warn_on_full_buffer=False)

    def serve(self) -> None:
        """Answer requests until none are left."""
        while True:
            busy = self._loading is not None
            ready = select.select([self._requests, self._woken], [], [], 0 if busy else 1.0 if self._kill_at else None)[0]
            if self._woken in ready:
                os.read(self._woken, 512)
            self._see_to_child()
            if self._requests in ready and not self._read():
                return self._end()
            if busy and not ready:
                self._load_more()

    def _read(self) -> bool:
        """Take requests; False when they have ended."""
        some = os.read(self._requests, 1 << 16)
        *lines, self._text = (self._text + some).split(b"\n")
        for line in lines:
            kind, *given = json.loads(line)
            if kind == "stop":
                self._stop()
            else:
                self._build(Path(given[0]), given[1])
        return bool(some)

    def _build(self, folder: Path, words: list[str]) -> None:
        while self._loading is not None:
            self._load_more()
        if look_at_tool() != self._tool:
            self._say("stale")
            return
        first = self._left is None
        self._left = self._left or tempfile.TemporaryFile()  # noqa: SIM115 (kept until the process ends)
        self._left.seek(0)
        self._left.truncate()
        # A stop that is asked for before the child can take it waits.
        signal.pthread_sigmask(signal.SIG_BLOCK, stopping.SIGNALS)
        child = os.fork()
        if child == 0:
            os.close(self._requests)
            os.close(self._woken)
            _run(words, self._say, self._left)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, stopping.SIGNALS)
        self._child, self._kill_at = child, 0.0
        if first:  # meanwhile, so that the first build begins at once
            self._loading = load_tool(folder)

    def _load_more(self) -> None:
        if self._loading is not None and next(self._loading, self) is self:
            self._loading = None
            gc.collect()
            gc.freeze()  # a child's collections need not look through, and so copy, all that is there

    def _stop(self) -> None:
        if self._child:
            os.kill(self._child, signal.SIGTERM)
            self._kill_at = self._kill_at or time.monotonic() + _PATIENCE

    def _see_to_child(self) -> None:
        if self._child and self._kill_at and time.monotonic() > self._kill_at:
            os.kill(self._child, signal.SIGKILL)
        found, status = os.waitpid(self._child, os.WNOHANG) if self._child else (0, 0)
        if found:
            self._child, self._kill_at = 0, 0.0
            self._learn()
            self._say("ended", str(os.waitstatus_to_exitcode(status)))

    def _learn(self) -> None:
        """Take over what a build loaded and what it knows of files: the next one need not find that out again."""
        assert self._left is not None, "a build was started"
        self._left.seek(0)
        try:
            modules, known = marshal.loads(self._left.read())
        except (EOFError, ValueError, TypeError):  # it was killed
            return
        learn_digests(known)
        for name in modules:
            with contextlib.suppress(Exception):  # a library's own, which it imports under a condition
                importlib.import_module(name)

    def _end(self) -> None:
        self._stop()
        while self._child:
            time.sleep(0.02)
            self._see_to_child()

    def _say(self, kind: str, text: str = "") -> None:
        with contextlib.suppress(BrokenPipeError):
            rest = (json.dumps([kind, text]) + "\n").encode()
            while rest:
                rest = rest[os.write(self._answers, rest) :]


def load_tool(folder: Path) -> Iterator[None]:
    """Import all of the tool, and find out what the code of each step of a project is; yields now and then."""
    given = os.environ.get(_THREADS)
    os.environ[_THREADS] = "1"
    for found in pkgutil.walk_packages(pipeline.__path__, "pipeline."):
        if not found.name.startswith(_LEFT_OUT):
            with contextlib.suppress(ImportError):  # a build that needs it reports what is missing
                importlib.import_module(found.name)
            yield
    os.environ.pop(_THREADS)
    if given is not None:
        os.environ[_THREADS] = given
    for file in sorted(TEMPLATES.rglob("*.j2")):
        compiled(file.read_text(encoding="utf-8"), file.suffixes[:1] == [".html"], file)
        yield
    try:
        steps = plan_project(load_project(folder)).steps
    except (ProjectError, OSError):  # the build says what is wrong with it
        return
    for step in steps:
        if step.call:
            code_digests(*step.calls)
            library_versions(*step.calls)
            yield


class _Heard:
    """A stream whose texts are heard by somebody else too."""

    def __init__(self, stream: TextIO, report) -> None:
        self._stream, self._report = stream, report

    def write(self, text: str) -> int:
        self._report("error", text)
        return self._stream.write(text)

    def __getattr__(self, name: str):
        return getattr(self._stream, name)


def _run(words: list[str], say, left: BinaryIO) -> None:
    """Become the process of one build; never returns."""
    status = 1
    try:
        signal.set_wakeup_fd(-1)
        for number in (signal.SIGCHLD, signal.SIGTERM):
            signal.signal(number, signal.SIG_DFL)
        end_at_once_with_parent()
        stopping.install()
        loaded = set(sys.modules)
        sys.stderr = _Heard(sys.stderr, say)
        sys.argv = ["romwright", *words]
        progress.listen = say
        status = _do(words)
        left.write(marshal.dumps((sorted(set(sys.modules) - loaded - {"__main__"}), known_digests())))
        left.flush()
    except KeyboardInterrupt:
        status = _STOPPED
        stopping.end_workers()
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 1
    except BaseException:
        sys.stderr.write(traceback.format_exc())
    finally:
        with contextlib.suppress(BaseException):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status & 0xFF)


def _do(words: list[str]) -> int:
    watch = Watch(words)
    answer = watch.answer()
    if answer is None:
        return run_words(words, watch, _FIRST)
    print(answer)
    return 0


def main(requests: int, answers: int) -> None:
    """Serve, with descriptors of this process."""
    for number in (requests, answers):
        os.set_inheritable(number, False)
    for number in stopping.SIGNALS:  # they are the parent's: it stops the build, and what it asks for ends with it
        signal.signal(number, signal.SIG_IGN)
    with contextlib.suppress(AttributeError):
        signal.signal(signal.SIGIO, signal.SIG_DFL)
    steady_streams()
    Nursery(requests, answers).serve()
