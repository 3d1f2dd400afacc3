"""One build of a project at a time."""

from __future__ import annotations

import fcntl
import os
import stat
from pathlib import Path

from pipeline.plain.errors import refuse

LOCK = "lock"  # its name in the state folder

_held: dict[Path, int] = {}


def take_lock(path: Path) -> bool:
    """Take a project's lock until this process ends, however it ends; False when another build has it.

    Args:
        path: of the lock, in a state folder that was claimed; a link there is not followed.

    Raises:
        ProjectError: the system does not open it.
    """
    if path in _held:
        return True
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, 0o644)
    except OSError as error:
        raise refuse("build/.state/lock", "", f"cannot be opened: {error.strerror}", "remove it and build again") from None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return False
    _held[path] = handle
    # A worker that outlives a killed parent must not keep the next build out.
    os.register_at_fork(after_in_child=lambda: _drop(path))
    return True


def _drop(path: Path) -> None:
    handle = _held.pop(path, None)
    if handle is not None:
        os.close(handle)


def is_taken(path: Path) -> bool:
    """Return whether another build has a project's lock, without taking it or making the file.

    Args:
        path: of the lock; a link there is not followed.
    """
    if path in _held:
        return False
    try:
        if not stat.S_ISREG(os.lstat(path).st_mode):
            return False
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(handle)
    return False
