"""Running one step in whichever process it lands in; an author's mistake comes back as a failed task, not a traceback."""

from __future__ import annotations

import errno
import importlib
from pathlib import Path
from typing import Any

from doit.exceptions import TaskFailed

from pipeline.errors import ProjectError


def perform(call: str, arguments: dict[str, Any], reads: tuple[Path, ...], writes: tuple[Path, ...]):
    """Return ``{"said": one line}``, or a TaskFailed with every problem found.

    Args:
        call: ``module:function``.
        arguments: its keyword arguments.
        reads: files that must stay as they are while it runs.
        writes: files that must be there afterwards.
    """
    module, _, function = call.partition(":")
    before = _marks(reads)
    try:
        said = getattr(importlib.import_module(module), function)(**arguments)
    except ProjectError as error:
        return TaskFailed(str(error), report=True)
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOENT):
            raise
        return TaskFailed(f"{error.filename or 'a file'}: {error.strerror}\n    put it right and build again")
    changed = [path.name for path, mark in _marks(reads).items() if before[path] != mark]
    if changed:
        return TaskFailed(f"{', '.join(changed)} changed while it was being read\n    build again")
    missing = [path.name for path in writes if not path.exists()]
    if missing:
        raise AssertionError(f"{call} did not write {', '.join(missing)}")
    return {"said": said}


def _marks(paths: tuple[Path, ...]) -> dict[Path, tuple[int, int, int] | None]:
    marks = {}
    for path in paths:
        try:
            stat = path.stat()
            marks[path] = (stat.st_mtime_ns, stat.st_size, stat.st_ino)
        except OSError:
            marks[path] = None
    return marks
