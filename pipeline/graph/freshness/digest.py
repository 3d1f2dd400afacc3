"""SHA-256 of files, and of what a step reads of them."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Mapping
from pathlib import Path

from pipeline.graph.freshness.marks import Mark, is_settled, mark_of
from pipeline.joints.views import View
from pipeline.plain.bounded import open_regular

_MOST_KNOWN = 100_000  # files; one that is replaced at every build has another inode each time
_known: dict[tuple[int, ...], tuple[Mark, str]] = {}  # of one file there is one digest, whatever names it has
_asked: set[tuple[int, ...]] = set()  # keys of the files that were asked for in this process
_seen: dict[tuple[View, str], str | None] = {}  # several steps have the same view of a file


def file_digest(path: Path) -> str | None:
    """Return the SHA-256 of a file in hex, or None when it cannot be read or is not a regular file.

    Read again only when its mark differs from the last look in this process; see ``marks``.
    """
    now, mark = time.time_ns(), mark_of(path)
    if mark is None:
        return None
    key = mark[-2:]
    _asked.add(key)
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


def known_digests() -> dict[tuple[int, ...], tuple[Mark, str]]:
    """Return what this process knows of files, to be given to ``learn_digests`` in a process that goes on after it."""
    return dict(_known)


def asked_digests() -> dict[tuple[int, ...], tuple[Mark, str]]:
    """Return the same of files that were asked for in this process alone."""
    return {key: _known[key] for key in _asked if key in _known}


def learn_digests(known: dict[tuple[int, ...], tuple[Mark, str]]) -> None:
    """Take over what another process of the same build found out; a file whose mark differs by then is read again all the same."""
    if len(_known) > _MOST_KNOWN:
        _known.clear()
    _known.update(known)


def read_digest(path: Path, views: Mapping[Path, View]) -> str | None:
    """Return the SHA-256, in hex, of what is read of a file: of all of it, or of the fields of its view.

    Args:
        views: of all files that are not read whole, by path; see ``handed.views_of``.

    Returns:
        None when it cannot be read.
    """
    whole = file_digest(path)
    if path not in views or whole is None:
        return whole
    key = views[path], whole
    if key not in _seen:
        _seen[key] = views[path].digest()
    return _seen[key]
