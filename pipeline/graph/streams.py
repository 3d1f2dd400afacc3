"""Standard streams that end no build with a traceback: closed, full, cut off, without a letter."""

from __future__ import annotations

import atexit
import os
import sys
from contextlib import suppress
from typing import Any, TextIO

from doit.cmd_base import DoitCmdBase
from doit.exceptions import InvalidTask

from pipeline.plain.errors import shown_lines

_lost: list[TextIO] = []  # streams that could not be written


class OutputLost(InvalidTask):
    """What a person should read cannot be written; doit prints its text and ends with status 3."""


class _Steady:
    """A stream that writes each line at once, and drops what nobody reads any more."""

    def __init__(self, raw: TextIO) -> None:
        self._raw = raw

    def write(self, text: str) -> int:
        return write_steadily(self._raw, text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._raw, name)


class _Shown(_Steady):
    """The stream of refusals: what they quote is shown, and where they cannot be written nothing is lost but they."""

    def write(self, text: str) -> int:
        with suppress(OutputLost):
            super().write(shown_lines(text))
        return len(text)


def write_steadily(stream: TextIO | None, text: str) -> int:
    """Write text at once to a stream, which may be None where it is closed.

    Raises:
        OutputLost: it cannot be written, as on a full disk, and goes to standard error from now on. A pipe that nobody reads
            any more (``| head``) is not an error.
    """
    if stream is None:
        return len(text)
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        stream.write(text.encode(encoding, "replace").decode(encoding))  # a terminal without the letters must not end the build
        if "\n" in text:
            stream.flush()
    except BrokenPipeError:
        _send(stream, os.devnull)
    except OSError as error:
        lost = stream in _lost or stream is sys.__stderr__
        _send(stream, os.devnull if lost else 2)
        if lost:
            return len(text)
        _lost.append(stream)
        remedy = "finished steps are kept; free some room and build again"
        raise OutputLost(f"the output cannot be written: {error.strerror}\n    {remedy}") from None
    return len(text)


def _send(stream: TextIO, where: str | int) -> None:
    """Let a stream's number name another file from now on, and so what still waits in the stream."""
    with suppress(OSError, ValueError):
        other = os.open(where, os.O_WRONLY) if isinstance(where, str) else os.dup(where)
        os.dup2(other, stream.fileno())
        os.close(other)


def steady_streams() -> None:
    """Make the standard streams steady. To be called before doit is."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:  # closed: a file that is opened now must not take its number, or a program's output would end up in it
            os.open(os.devnull, os.O_RDWR)
    if isinstance(sys.stdout, _Steady):
        return
    # doit's commands have taken their stream when they were made: before this, where doit was started by itself.
    # It has no such attribute of its own, only each command has: so pyright must not look.
    DoitCmdBase.outstream = property(lambda command: sys.stdout, lambda command, stream: None)  # pyright: ignore[reportAttributeAccessIssue]
    atexit.register(_flush, sys.stdout)
    sys.stdout = _Steady(sys.stdout or open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 (kept until the process ends)
    sys.stderr = _Shown(sys.stderr or open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115


def _flush(raw: TextIO | None) -> None:
    """Write what doit's own commands have left in a stream, which Python would do with a traceback where it fails."""
    if raw is None or raw.closed:
        return
    try:
        raw.flush()
    except BrokenPipeError:
        _send(raw, os.devnull)
    except OSError as error:
        _send(raw, os.devnull)
        sys.stderr.write(f"ERROR: the output cannot be written: {error.strerror}\n")
        os._exit(3)
