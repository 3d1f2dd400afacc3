"""Results of slow functions, mostly on one frame, kept between builds: found by a key of all that they depend on, thrown away without harm.

One file holds what was found out for one asset. It begins with its format and the SHA-256 of the rest; what is damaged, or of another
format, is not believed, and is as good as nothing. A key is a hash of the function's name and code, its libraries' versions, and what it
is given.
"""

from __future__ import annotations

import functools
import hashlib
import json
import os
from contextlib import suppress
from pathlib import Path

import msgspec

from pipeline.cache.code import code_digests, library_versions
from pipeline.plain.bounded import open_regular
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import remove_tree, write_bytes

_FORMAT = b"results1"
_KEY = 16  # bytes
_RUNS = 6  # for which a result is kept that none of them needs: an edit is often taken back, a question asked again
MOST_OF_ONE = 16 << 20  # bytes of results in a file
MOST = 256 << 20  # bytes of all files of a folder

_Kept = dict[bytes, tuple[int, bytes]]  # key -> runs since it was needed, and the result
_saved: set[Path] = set()  # files that this process has written
_DECODER = msgspec.msgpack.Decoder(_Kept)


class Results:
    """The results kept for one asset. As a context: what was found out inside is kept at its end, unless it ends with an error.

    Args:
        file: where they are kept; None: nothing is known, and nothing is kept.

    Attributes:
        keeps: there is a file.
        found, made: how many results were known, and how many had to be made.
    """

    def __init__(self, file: Path | None) -> None:
        self._file = file
        self._kept = _read(file) if file else {}
        self._asked: dict[bytes, bytes] = {}
        self._room = MOST_OF_ONE
        self.keeps = file is not None
        self.found = self.made = 0

    def __enter__(self) -> Results:
        return self

    def __exit__(self, kind, *_) -> None:
        if kind is None and self._file and self.made:
            self._save(self._file)

    def get(self, key: bytes) -> bytes | None:
        """Return a result; None where it is not known."""
        known = self._asked.get(key)
        if known is None and key in self._kept:
            known = self._kept[key][1]
            self._keep(key, known)
        self.found += known is not None
        return known

    def put(self, key: bytes, result: bytes) -> None:
        """Keep a result, if there is room."""
        self.made += 1
        self._keep(key, result)

    def _keep(self, key: bytes, result: bytes) -> None:
        if self._file and key not in self._asked and len(result) <= self._room:
            self._asked[key] = result
            self._room -= len(result)

    def _save(self, file: Path) -> None:
        kept: _Kept = {key: (0, result) for key, result in self._asked.items()}
        room, older = self._room, int(file not in _saved)  # a question may save a file for every trial, and is one run
        _saved.add(file)
        for key, (runs, result) in sorted(self._kept.items(), key=lambda one: one[1][0]):
            if key not in kept and runs < _RUNS and len(result) <= room:
                kept[key] = (runs + older, result)
                room -= len(result)
        body = msgspec.msgpack.encode(kept)
        with suppress(ProjectError):  # without room on the disk the build goes on, and finds out again
            write_bytes(file, _FORMAT + hashlib.sha256(body).digest() + body)


def key_of(call: str, *given: bytes) -> bytes:
    """Return the key of what a function makes of some data.

    Args:
        call: name of the function, ``module:function``; its code and the versions of its libraries are part of the key.
        given: everything else that the result depends on.
    """
    sums = hashlib.blake2b(_code_of(call), digest_size=_KEY)
    for one in given:
        sums.update(len(one).to_bytes(8, "little"))
        sums.update(one)
    return sums.digest()


@functools.cache
def _code_of(call: str) -> bytes:
    known = [call, code_digests(call), library_versions(call)]
    return hashlib.sha256(json.dumps(known).encode()).digest()


def _read(file: Path) -> _Kept:
    try:
        with open_regular(file) as opened:
            data = opened.read(2 * MOST_OF_ONE)
    except OSError:
        return {}
    start = len(_FORMAT) + hashlib.sha256().digest_size
    body = memoryview(data)[start:]
    if data[:start] != _FORMAT + hashlib.sha256(body).digest():
        return {}
    try:
        return _DECODER.decode(body)
    except msgspec.MsgspecError:
        return {}


def trim(folder: Path) -> None:
    """Remove the files that were written longest ago until the others have at most ``MOST`` bytes, and whatever is not a plain file."""
    try:
        with os.scandir(folder) as entries:
            known = [(one.is_file(follow_symlinks=False), one.stat(follow_symlinks=False), Path(one.path)) for one in entries]
    except OSError:  # nothing is kept yet, or another build is removing something
        return
    total = 0
    for plain, status, path in sorted(known, key=lambda one: one[1].st_mtime_ns, reverse=True):
        total += status.st_size if plain else 0
        if total > MOST or not plain:
            with suppress(OSError):  # what cannot be removed does not protect what is older
                remove_tree(path)
