"""One build of a project at a time."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

_held: dict[Path, int] = {}


def take_lock(path: Path) -> bool:
    """Take a project's lock until this process ends, however it ends; False when another build has it."""
    if path in _held:
        return True
    path.parent.mkdir(parents=True, exist_ok=True)
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
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
