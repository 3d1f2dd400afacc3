"""Marks of files: what the system changes about a file with every change of its content, and when that can be relied on.

Programs can set a file's modification time back, but not the time of its last change of any kind. That one is taken from a
clock with coarse ticks, so a change within the tick of the one before leaves the same mark: a mark can be relied on only
when its tick was over as it was taken.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from pathlib import Path

Mark = tuple[int, int, int, int, int]  # change time, modification time (both in nanoseconds), size in bytes, inode, device

_SECOND = 1_000_000_000
_TICK = 20_000_000  # no kernel's clock for files ticks more slowly than a hundred times a second
_COARSE_TICK = 2 * _SECOND  # of file systems that keep whole seconds
_MOST_WAITS = 20


def mark_of(path: Path) -> Mark | None:
    """Return a file's mark, or None if there is no such file."""
    try:
        return mark_in(path.stat())
    except (OSError, ValueError):  # a name that no file can have is a ValueError
        return None


def mark_in(known: os.stat_result) -> Mark:
    """Return the mark in what the system says about a file."""
    return known.st_ctime_ns, known.st_mtime_ns, known.st_size, known.st_ino, known.st_dev


def is_settled(mark: Mark, now: int) -> bool:
    """Return whether every change after ``now`` leaves another mark.

    Args:
        now: ``time.time_ns()`` from before the mark was taken.
    """
    return unsettled_for(mark, now) <= 0


def settled_marks(paths: Iterable[Path], waited_for: Iterable[Path]) -> dict[Path, Mark | None]:
    """Return the marks of files, after waiting until those ``waited_for`` can be relied on.

    Only a file changed within the last tick, 20 milliseconds on most file systems, makes this wait. A file that is written
    again and again is not waited for without end.
    """
    waited_for = tuple(waited_for)
    for _ in range(_MOST_WAITS):
        now = time.time_ns()
        marks = {path: mark_of(path) for path in waited_for}
        left = max((unsettled_for(mark, now) for mark in marks.values() if mark), default=0)
        if left <= 0:
            break
        time.sleep(left / _SECOND)
    return {path: mark_of(path) for path in paths if path not in marks} | marks


def unsettled_for(mark: Mark, now: int) -> int:
    """Return for how many nanoseconds a change may still leave this mark.

    A change time in the future is another machine's, or of before the clock was set back; how long is then not known, and
    it is not waited for.
    """
    tick = _TICK if mark[0] % _SECOND else _COARSE_TICK
    left = mark[0] + tick - now
    return left if left <= tick else 0
