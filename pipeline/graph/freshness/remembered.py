"""What a build found out of files and of the tool's code, kept so that the next one need not: digests, and whose they are.

``.state/remembered`` begins with its format and the SHA-256 of the rest; what is damaged is not believed, and is as good as nothing. A
file's digest holds while its mark is the same, and only digests are kept that could be relied on (see ``marks``); what the code of
functions is holds while a look at tool and libraries gives the same sum.
"""

from __future__ import annotations

import hashlib
import sys
import time
import zlib
from contextlib import suppress
from pathlib import Path

import msgspec

from pipeline.cache.code import known_code, learn_code
from pipeline.graph.freshness.digest import asked_digests, learn_digests
from pipeline.graph.freshness.marks import Mark
from pipeline.graph.freshness.unchanged import REMEMBERED, Look, look_at_tool
from pipeline.plain.bounded import open_regular
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import write_bytes

_FORMAT = b"remembered1"
_MOST = 32 << 20  # bytes


class _Remembered(msgspec.Struct, array_like=True):
    """The content of the file.

    Attributes:
        tool: what tool, libraries and Python were like.
        names: of all files of the tool, and of libraries, that others name by their numbers.
        digests: of each file of the tool, hex; empty for one that cannot be read.
        code: calls, and the numbers of the files that they reach.
        versions: calls, and library -> version.
        files: mark and digest of each file.
    """

    tool: str
    names: list[str]
    digests: list[str | None]
    code: list[tuple[list[str], list[int]]]
    versions: list[tuple[list[str], dict[str, str]]]
    files: list[tuple[Mark, bytes]]


_DECODER = msgspec.msgpack.Decoder(_Remembered)


def recall(state: Path, tool: Look | None) -> None:
    """Take over what the last build found out, as far as it still holds.

    Args:
        state: the folder of the build's records.
        tool: what tool and libraries are like; None where that is not known.
    """
    known = _read(state / REMEMBERED)
    if known is None:
        return
    learn_digests({mark[-2:]: (mark, digest.hex()) for mark, digest in known.files})
    if tool is not None and known.tool == _sum(tool):
        digests = {tuple(calls): {known.names[one]: known.digests[one] for one in numbers} for calls, numbers in known.code}
        learn_code(digests, {tuple(calls): versions for calls, versions in known.versions})


def remember(state: Path, tool: Look | None) -> None:
    """Keep what was found out of the files that this build asked for, and of code if tool and libraries stayed as they were.

    Args:
        tool: what they were like before any of it was read.
    """
    now = time.time_ns()
    files = [(mark, bytes.fromhex(digest)) for mark, digest in asked_digests().values() if mark[0] < now]
    known = _Remembered("", [], [], [], [], files)
    if tool is not None and not tool.unsettled and look_at_tool() == tool:
        digests, versions = known_code()
        every = {name: digest for found in digests.values() for name, digest in found.items()}
        rank = {name: number for number, name in enumerate(every)}
        known.tool, known.names, known.digests = _sum(tool), list(every), list(every.values())
        known.code = [(list(calls), [rank[name] for name in found]) for calls, found in digests.items()]
        known.versions = [(list(calls), found) for calls, found in versions.items()]
    body = msgspec.msgpack.encode(known)
    with suppress(ProjectError):  # without room on the disk the next build finds out again
        write_bytes(state / REMEMBERED, _FORMAT + hashlib.sha256(body).digest() + body)


def _sum(tool: Look) -> str:
    return hashlib.sha256(repr([tool.sum, sys.version, zlib.ZLIB_RUNTIME_VERSION]).encode()).hexdigest()


def _read(file: Path) -> _Remembered | None:
    try:
        with open_regular(file) as opened:
            data = opened.read(_MOST)
    except OSError:
        return None
    start = len(_FORMAT) + hashlib.sha256().digest_size
    if data[:start] != _FORMAT + hashlib.sha256(data[start:]).digest():
        return None
    try:
        return _DECODER.decode(data[start:])
    except msgspec.MsgspecError:
        return None
