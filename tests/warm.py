"""Calling functions in children forked from a process that has imported the tool, so that a build in a test costs no imports.

The server is a process of its own, so that forking never meets threads of a test run. What it runs is the tool as it is; where a
start of the tool is itself what a test looks at, the test starts a process instead. ``python -m tests.warm PREPARE [WORD]`` calls
a function by name, then reads requests as lines of JSON and answers likewise.
"""

from __future__ import annotations

import importlib
import io
import json
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).parent.parent
LONGEST = 120  # seconds a call may take
KILLED = -99  # its status when it took longer
_LEFT_OUT = ("__main__", "pages")
_LIBRARIES = (
    "doit.__main__", "doit.doit_cmd", "doit.cmd_dumpdb", "doit.cmd_strace", "reportlab.rl_settings", "reportlab.platypus",
    "PIL.PngImagePlugin", "PIL.GifImagePlugin", "lz4.frame", "soxr", "soundfile",
)  # fmt: skip


class Done(NamedTuple):
    """How a call ended: its exit status, negative for a signal, and what it said."""

    status: int
    out: str
    err: str


class Warm:
    """A server of calls, started by the first one.

    Args:
        prepare: function to call before the first request, ``module:name``.
        word: what it is given; nothing when empty.
        environment: of the server; None for that of this process.
    """

    def __init__(self, prepare: str = "tests.warm:load_quick", word: str = "", environment: dict[str, str] | None = None) -> None:
        self._command = [sys.executable, "-m", "tests.warm", prepare, *([word] if word else [])]
        self._environment = environment
        self._server: subprocess.Popen | None = None

    def call(self, name: str, arguments: list[Any], environment: dict[str, str], memory: int = 0) -> Done:
        """Call a function, ``module:name``, in a forked child with that environment; what it returns is the exit status.

        Args:
            memory: most bytes of address space the child may have; 0 for no bound.
        """
        if self._server is None:
            self._server = subprocess.Popen(
                self._command, cwd=ROOT, env=self._environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
            )
        self._server.stdin.write(json.dumps([name, arguments, environment, memory]) + "\n")
        self._server.stdin.flush()
        return Done(*json.loads(self._server.stdout.readline()))

    def close(self) -> None:
        """End the server."""
        if self._server is not None:
            self._server.stdin.close()
            self._server.wait(10)
            self._server.stdout.close()
            self._server = None


def load_tool() -> None:
    """Import all of the tool and what it imports only where it is used; find out once what each step's code is."""
    for path in sorted((ROOT / "pipeline").rglob("*.py")):
        if path.stem not in _LEFT_OUT:
            importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"))
    for name in _LIBRARIES:
        importlib.import_module(name)

    from pipeline.graph.freshness.digest import code_digests, library_versions
    from pipeline.graph.plan import plan_project
    from pipeline.packet.typeset import letters, style
    from pipeline.project.loading.load import load_project

    style.use_fonts()
    letters.unknown_letter("a")
    for step in plan_project(load_project(ROOT / "demo_project")).steps:
        if step.call:
            code_digests(*step.calls)
            library_versions(*step.calls)


def load_quick() -> None:
    """Load the tool, and take every notice's codes to read on any television, which was half of a small build.

    Their margins in a notice's facts are therefore others than those of a build in a process of its own.
    ``tests/assets/test_television.py`` and ``tests/console/test_boot.py`` check the model, and builds with ``real`` use it.
    """
    load_tool()
    from pipeline.assets.television import Television

    Television._reads = lambda *_: True


def doit(*words: str) -> int:
    """Do what ``python -m doit`` does with some words."""
    from doit.__main__ import main

    sys.argv = ["doit", *words]
    main()
    return 0


def serve(requests: io.TextIOBase, answers: io.TextIOBase) -> None:
    """Answer requests until none are left."""
    import tempfile

    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        for line in requests:
            for file in (out, err):
                file.seek(0)
                file.truncate()
            status = _forked(json.loads(line), out.fileno(), err.fileno())
            said = []
            for file in (out, err):
                file.seek(0)
                said.append(file.read().decode("utf-8", "replace"))
            answers.write(json.dumps([status, *said]) + "\n")
            answers.flush()


def _forked(request: list[Any], out: int, err: int) -> int:
    child = os.fork()
    if child == 0:
        _child(request, out, err)
    ends = time.monotonic() + LONGEST
    while True:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() > ends:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return KILLED
        time.sleep(0.002)


def _child(request: list[Any], out: int, err: int) -> None:
    """Become a process that does what was asked for; never returns."""
    import traceback

    name, arguments, environment, memory = request
    status = 1
    try:
        os.setpgrp()
        if memory:
            resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        os.chdir(ROOT)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(out, 1)
        os.dup2(err, 2)
        sys.stdin = sys.__stdin__ = os.fdopen(0, "r", encoding="utf-8", closefd=False)
        sys.stdout = sys.__stdout__ = os.fdopen(1, "w", encoding="utf-8", closefd=False)
        sys.stderr = sys.__stderr__ = os.fdopen(2, "w", encoding="utf-8", errors="backslashreplace", buffering=1, closefd=False)
        os.environ.clear()
        os.environ.update(environment)
        time.tzset()
        module, _, function = name.partition(":")
        status = getattr(importlib.import_module(module), function)(*arguments) or 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    except BaseException:
        traceback.print_exc()
    finally:
        try:
            sys.stdout.flush()
            sys.stderr.flush()
        finally:
            os._exit(status & 0xFF)


def _main() -> None:
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")  # nothing that is printed gets between the answers
    os.dup2(2, 1)
    module, _, function = sys.argv[1].partition(":")
    getattr(importlib.import_module(module), function)(*sys.argv[2:])
    serve(sys.stdin, answers)


if __name__ == "__main__":
    _main()
