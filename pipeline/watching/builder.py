"""Builds of a project, run one at a time by a process beside this one, the ``nursery``."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

# With the folders of modules of this process, so that a build finds what it would find if it were started alone.
_START = """
import json, sys
sys.path[:] = json.loads(sys.argv[1])
from pipeline.watching.nursery import main
main(int(sys.argv[2]), int(sys.argv[3]))
"""
_PATIENCE = 15.0  # seconds in which a nursery ends its build and itself


class Builder:
    """Starts and stops builds.

    Args:
        report: called in a thread with what a nursery answers, and with ("lost", its exit status) when it has ended.
    """

    def __init__(self, folder: Path, words: list[str], report: Callable[[str, str], None]) -> None:
        self._folder, self._words, self._report = folder, words, report
        self._process: subprocess.Popen | None = None
        self._requests = -1

    def build(self) -> None:
        """Start a build; another must not be running."""
        if self._process is None:
            self._begin()
        self._ask("build", str(self._folder), self._words)

    def stop(self) -> None:
        """Ask the running build, if any, to end, as Ctrl-C asks an ordinary one."""
        self._ask("stop")

    def close(self) -> None:
        """End the running build, if any, and wait for it."""
        process, self._process = self._process, None
        if process is None:
            return
        os.close(self._requests)
        try:
            process.wait(_PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

    def _begin(self) -> None:
        taken, self._requests = os.pipe()
        answers, given = os.pipe()
        command = [sys.executable, "-P", "-c", _START, json.dumps([os.path.abspath(path) for path in sys.path]), str(taken), str(given)]
        self._process = subprocess.Popen(command, stdin=subprocess.DEVNULL, pass_fds=(taken, given))
        os.close(taken)
        os.close(given)
        threading.Thread(target=self._listen, args=(answers, self._process), daemon=True).start()

    def _ask(self, *request) -> None:
        with suppress(BrokenPipeError):  # it has ended, which is reported
            os.write(self._requests, (json.dumps(request) + "\n").encode())

    def _listen(self, answers: int, process: subprocess.Popen) -> None:
        with os.fdopen(answers, encoding="utf-8") as lines:
            for line in lines:
                self._report(*json.loads(line))
        status = process.wait()
        if process is self._process:
            self._report("lost", str(status))
