"""SHA-256 of files."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path

from pipeline.graph.freshness.marks import Mark, is_settled, mark_of
from pipeline.plain.bounded import open_regular

_known: dict[tuple[int, ...], tuple[Mark, str]] = {}  # of one file there is one digest, whatever names it has


def file_digest(path: Path) -> str | None:
    """Return the SHA-256 of a file in hex, or None when it cannot be read or is not a regular file.

    Read again only when its mark differs from the last look in this process; see ``marks``.
    """
    now, mark = time.time_ns(), mark_of(path)
    if mark is None:
        return None
    key = mark[-2:]
    if key in _known and _known[key][0] == mark:
        return _known[key][1]
    try:
        with open_regular(path) as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
    if is_settled(mark, now):
        _known[key] = (mark, digest)
    return digest
