"""Running something an author wrote in a process of its own, with bounds in time, memory and size that the system keeps."""

from __future__ import annotations

import os
import resource
import select
import signal
import sys
import time
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

MEMORY = 512 << 20  # bytes, beyond what this process has already
_LOOK = 0.5  # seconds between looks at the clock
_HEAD = 4  # bytes of a part's length


class Bounds(NamedTuple):
    """What a fork may take.

    Attributes:
        processor_seconds: of its own.
        wall_seconds: that are waited for it, since the machine may be busy otherwise.
        bytes: that may come back.
    """

    processor_seconds: int = 10
    wall_seconds: int = 120
    bytes: int = 64 << 20


RENDERING = Bounds()


class TooMuch(Exception):
    """A bound was met; its text says which."""


def run_apart(function: Callable[[], bytes]) -> bytes:
    """Return what a function returns that is run in a fork of this process; see ``parts_apart``."""
    return b"".join(parts_apart(lambda: (function(),), RENDERING))


def parts_apart(function: Callable[[], Iterable[bytes]], bounds: Bounds) -> Iterator[bytes]:
    """Yield the parts that a function yields which is run in a fork of this process: what it changes is not seen here.

    Args:
        function: must not fail; what it raises is reported as if it had needed too much. Its words on standard error are dropped.

    Raises:
        TooMuch: it takes more than the bounds allow or more than 512 MiB of memory (if the system says how much this process has, as
            Linux does), or ends by a signal.
    """
    reading, writing = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # a worker has a thread, which the fork does without
        child = os.fork()
    if child == 0:
        os.close(reading)
        _work(function, writing, bounds)
    os.close(writing)
    status = None
    try:
        yield from _parts(reading, bounds)
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    finally:
        if status is None:  # a bound was met, or nobody wants the rest
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
        os.close(reading)
    if status in (-signal.SIGXCPU, -signal.SIGKILL):
        raise TooMuch(f"takes more than {bounds.processor_seconds} seconds")
    if status != 0:
        raise TooMuch(f"needs more than {MEMORY >> 20} MiB of memory" if status == _NO_MEMORY else f"ended the process (status {status})")


_NO_MEMORY = 3


def _work(function: Callable[[], Iterable[bytes]], writing: int, bounds: Bounds) -> None:
    """Do the work of the fork, and end it without a word or a flush of what the parent has still to write."""
    status = 1
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        _silence()
        _bound(bounds)
        for part in function():
            for one in (len(part).to_bytes(_HEAD, "little"), part):
                _write(writing, one)
        status = 0
    except MemoryError:
        status = _NO_MEMORY
    finally:
        os._exit(status)


def _silence() -> None:
    """Send what this process would say to nowhere: libraries write warnings to standard error."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    sys.stderr = open(nowhere, "w", encoding="utf-8")  # noqa: SIM115  # the process ends with it


def _write(writing: int, data: bytes) -> None:
    left = memoryview(data)
    while left:
        left = left[os.write(writing, left[:65536]) :]


def _bound(bounds: Bounds) -> None:
    _limit(resource.RLIMIT_CORE, 0)
    _limit(resource.RLIMIT_CPU, _used_seconds() + bounds.processor_seconds)
    with suppress(OSError, ValueError):
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
        _limit(resource.RLIMIT_AS, pages * resource.getpagesize() + MEMORY)


def _used_seconds() -> int:
    """Return the processor time the system has counted for this process already: none for a fresh fork."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return int(used.ru_utime + used.ru_stime)


def _limit(what: int, most: int) -> None:
    hard = resource.getrlimit(what)[1]
    most = most if hard == resource.RLIM_INFINITY else min(most, hard)
    resource.setrlimit(what, (most, hard))


def _parts(reading: int, bounds: Bounds) -> Iterator[bytes]:
    """Yield the parts that come through a pipe until it is closed; one that was cut short is left out."""
    held, size, waited = bytearray(), 0, 0.0
    while True:
        start = time.monotonic()
        ready = select.select([reading], [], [], _LOOK)[0]
        waited += time.monotonic() - start
        if ready:
            got = os.read(reading, 1 << 20)
            if not got:
                return
            held += got
            size += len(got)
        if size > bounds.bytes:
            raise TooMuch(f"gives more than {bounds.bytes >> 20} MiB")
        if waited > bounds.wall_seconds:
            raise TooMuch(f"takes more than {bounds.wall_seconds} seconds")
        yield from _whole_parts(held)


def _whole_parts(held: bytearray) -> Iterator[bytes]:
    """Take the parts out of ``held`` that are there in full, and yield them."""
    while len(held) >= _HEAD and len(held) >= (end := _HEAD + int.from_bytes(held[:_HEAD], "little")):
        part = bytes(held[_HEAD:end])
        del held[:end]
        yield part
