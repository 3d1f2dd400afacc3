"""Writes down which functions of the tool a process calls, and for which test; Python imports this at the start of a process."""

from __future__ import annotations

import atexit
import json
import os
import sys
import threading
from types import CodeType, FrameType

FOLDER, TEST = "ROMWRIGHT_CALLS", "ROMWRIGHT_CALLS_TEST"  # where it is written down; the test and its part, set by ``plugin``
_ROOT = os.path.join(os.path.realpath(os.environ.get("ROMWRIGHT_CALLS_ROOT", ".")), "")
_BELOW = os.path.join(_ROOT, "pipeline", "")
_met: dict[int, CodeType] = {}  # by identity, as a code's hash is that of all it holds; kept, so that no identity is used again
_called: set[tuple[str, int]] = set()


def _meet(frame: FrameType, event: str, argument: object) -> None:
    code = frame.f_code
    if id(code) not in _met:
        _met[id(code)] = code
        if code.co_filename.startswith(_BELOW):
            _called.add((code.co_filename[len(_ROOT) :], code.co_firstlineno))


def forget() -> None:
    """Start again with nothing called."""
    _met.clear()
    _called.clear()
    sys.settrace(_meet)  # Python takes it away where it fails, as it does when a test recurses too deep, and for good


def write_down(server: bool = False) -> None:
    """Append what was called to this process's file, and start again."""
    if _called:
        line = json.dumps([os.environ.get(TEST, ""), server, sorted(_called)])
        with open(os.path.join(os.environ[FOLDER], f"{os.getpid()}.jsonl"), "a", encoding="utf-8") as file:
            file.write(line + "\n")
    forget()


def _watch() -> None:
    leave = os._exit

    def written_down(status: int) -> None:
        write_down()
        leave(status)

    os._exit = written_down
    os.register_at_fork(before=lambda: write_down("tests.warm" in sys.orig_argv), after_in_child=forget)
    atexit.register(write_down)
    threading.settrace(_meet)
    forget()


if FOLDER in os.environ:
    _watch()
