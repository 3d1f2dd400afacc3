"""Running one step in whichever process it lands in; an author's mistake comes back as a failed task, not a traceback.

What the step read is recorded here, not earlier: the files are marked, then hashed, then read by the step, then marked
again. So what is recorded is what the step saw, however long ago the build decided that it must run.
"""

from __future__ import annotations

import errno
import importlib
from pathlib import Path
from typing import Any

from doit.exceptions import TaskFailed

from pipeline.graph.freshness.digest import read_digest
from pipeline.graph.freshness.marks import mark_of, settled_marks
from pipeline.graph.steps.handed import In, Out, paths_of, plain_arguments, views_of
from pipeline.graph.stopping import refuse_to_go_on
from pipeline.plain.errors import ProjectError

# Errors of the system that an author can do something about.
_AUTHORS = (errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOENT)


def perform(call: str, arguments: dict[str, Any], sources: tuple[Path, ...] | None = None):
    """Return ``{"said": one line, "read": {path: SHA-256}}``, or a TaskFailed with every problem found.

    Args:
        call: ``module:function``.
        arguments: its keyword arguments, those with paths marked (``steps.handed``): what it reads must stay as it is while it runs,
            and what it writes must be there afterwards.
        sources: what of that is read and others than the build may change meanwhile; left out: all.
    """
    refuse_to_go_on()
    module, _, function = call.partition(":")
    reads = paths_of(arguments, In)
    before = settled_marks(reads, reads if sources is None else sources)
    views = views_of(arguments)
    read = {str(path): read_digest(path, views) for path in reads}
    try:
        said = getattr(importlib.import_module(module), function)(**plain_arguments(arguments))
    except ProjectError as error:
        refuse_to_go_on()
        return TaskFailed(str(error), report=True)
    except Exception as error:
        refuse_to_go_on()
        if not isinstance(error, OSError) or error.errno not in _AUTHORS:
            raise
        return TaskFailed(f"{error.filename or 'a file'}: {error.strerror}\n    correct that and build again")
    refuse_to_go_on()  # what it made can be wrong then
    changed = [path.name for path in reads if before[path] != mark_of(path)]
    if changed:
        return TaskFailed(f"{', '.join(changed)} changed while it was being read\n    build again")
    missing = [path.name for path in paths_of(arguments, Out) if not path.exists()]
    if missing:
        raise AssertionError(f"{call} did not write {', '.join(missing)}")
    return {"said": said, "read": read}
