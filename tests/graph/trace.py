"""Noting which files Python code opens, lists, looks for, writes and removes, by the interpreter's own audit events."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from unittest import mock

from PIL import ImageFont

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


@dataclass
class Seen:
    """What was done with files.

    Attributes:
        read: opened for reading.
        listed: folders whose content was listed.
        looked: looked at without being opened: whether it is there, how large it is.
        written: opened for writing, or put in place by a rename.
        removed: deleted, or taken away by a rename.
    """

    read: set[Path] = field(default_factory=set)
    listed: set[Path] = field(default_factory=set)
    looked: set[Path] = field(default_factory=set)
    written: set[Path] = field(default_factory=set)
    removed: set[Path] = field(default_factory=set)


_now: Seen | None = None
_installed = False


def _note(event: str, arguments: tuple) -> None:
    if _now is None:
        return
    if event == "open":
        path, _, flags = arguments
        _add(_now.written if (flags or 0) & _WRITING else _now.read, path)
    elif event in ("os.listdir", "os.scandir"):
        _add(_now.listed, arguments[0] or ".")
    elif event == "os.rename":
        _add(_now.removed, arguments[0])
        _add(_now.written, arguments[1])
    elif event in ("os.remove", "os.rmdir"):
        _add(_now.removed, arguments[0])


def _add(paths: set[Path], path: object) -> None:
    if not isinstance(path, int):  # a file opened before by name
        paths.add(Path(os.path.abspath(os.fsdecode(path))))


@contextmanager
def traced() -> Iterator[Seen]:
    """Note what the block does, in this process."""
    global _now, _installed
    if not _installed:
        sys.addaudithook(_note)  # for ever, so it is put in once and notes only inside a block
        _installed = True
    _now, stat, truetype = Seen(), os.stat, ImageFont.truetype

    def look(path, *given, **named):
        if _now is not None:
            _add(_now.looked, path)
        return stat(path, *given, **named)

    def font(file, *given, **named):
        if _now is not None and isinstance(file, (str, Path)):
            _add(_now.read, file)  # FreeType opens it, where no audit event shows it
        return truetype(file, *given, **named)

    try:
        with mock.patch.object(os, "stat", look), mock.patch.object(ImageFont, "truetype", font):
            yield _now
    finally:
        _now = None


def inside(paths: Iterable[Path], folders: Iterable[Path]) -> set[Path]:
    """Return the paths that are in one of some folders."""
    return {path for path in paths if any(path.is_relative_to(folder) for folder in folders)}


@contextmanager
def ran_code(below: Path) -> Iterator[set[str]]:
    """Note the files below a folder whose functions run, by the interpreter's own tracing; importing them counts for nothing."""
    root, seen = os.path.join(below, ""), set()

    def note(frame: FrameType, event: str, _: object) -> None:
        code = frame.f_code
        if event == "call" and code.co_name != "<module>" and code.co_filename.startswith(root):
            seen.add(code.co_filename.removeprefix(root))

    before = sys.gettrace()
    sys.settrace(note)
    try:
        yield seen
    finally:
        sys.settrace(before)
