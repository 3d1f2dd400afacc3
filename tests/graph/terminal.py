"""Running ``doit`` at a terminal of its own, in a fork of the process that builds in tests are forked from or in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys

from tests.warm import ROOT, doit


def doit_at(terminal: str, *words: str) -> int:
    """Do what ``python -m doit`` does with some words, in a session whose terminal has this name; return its exit status."""
    child = os.fork()  # a process that leads a group, as one that was called does, cannot begin a session
    if child:
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        return status if status >= 0 else 128 - status
    _take(terminal)
    sys.stdin = sys.__stdin__ = os.fdopen(0, "r", encoding="utf-8", closefd=False)
    return doit(*words)


def start_at(terminal: str, *words: str) -> int:
    """Run ``python -m doit`` with some words in a session whose terminal has this name; return its exit status."""
    return subprocess.run([sys.executable, "-m", "tests.graph.terminal", terminal, *words], cwd=ROOT, timeout=60).returncode


def _take(terminal: str) -> None:
    os.setsid()
    opened = os.open(terminal, os.O_RDWR)  # the first terminal that the leader of a session opens becomes the session's (Linux)
    for number in range(3):
        os.dup2(opened, number)
    os.close(opened)


if __name__ == "__main__":
    _take(sys.argv[1])
    os.execv(sys.executable, [sys.executable, "-m", "doit", *sys.argv[2:]])
