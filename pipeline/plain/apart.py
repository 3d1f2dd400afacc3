"""Running something an author wrote in a process of its own, with bounds in time, memory and size that the system keeps."""

from __future__ import annotations

import os
import resource
import select
import signal
import time
import warnings
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

PROCESSOR_SECONDS = 10
_WALL_SECONDS = 120  # for a machine that is busy otherwise
MEMORY = 512 << 20  # bytes, beyond what this process has already
MOST_BYTES = 64 << 20  # that may come back
_LOOK = 0.5  # seconds between looks at the clock


class TooMuch(Exception):
    """A bound was met; its text says which."""


def run_apart(function: Callable[[], bytes]) -> bytes:
    """Return what a function returns that is run in a fork of this process: what it changes is not seen here.

    Args:
        function: must not fail; what it raises is reported as if it had needed too much.

    Raises:
        TooMuch: it takes more than 10 seconds of processor time, 512 MiB of memory (if the system says how much this
            process has, as Linux does), or returns more than 64 MiB.
    """
    reading, writing = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # a worker has a thread, which the fork does without
        child = os.fork()
    if child == 0:
        os.close(reading)
        _work(function, writing)
    os.close(writing)
    try:
        data = _read(reading)
    except BaseException:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        raise
    finally:
        os.close(reading)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if status in (-signal.SIGXCPU, -signal.SIGKILL):
        raise TooMuch(f"takes more than {PROCESSOR_SECONDS} seconds")
    if status != 0:
        raise TooMuch(f"needs more than {MEMORY >> 20} MiB of memory" if status == _NO_MEMORY else f"ended the process (status {status})")
    return data


_NO_MEMORY = 3


def _work(function: Callable[[], bytes], writing: int) -> None:
    """Do the work of the fork, and end it without a word or a flush of what the parent has still to write."""
    status = 1
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        _bound()
        data = memoryview(function())
        while data:
            data = data[os.write(writing, data[:65536]) :]
        status = 0
    except MemoryError:
        status = _NO_MEMORY
    finally:
        os._exit(status)


def _bound() -> None:
    _limit(resource.RLIMIT_CORE, 0)
    _limit(resource.RLIMIT_CPU, _used_seconds() + PROCESSOR_SECONDS)
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


def _read(reading: int) -> bytes:
    parts, size, end = [], 0, time.monotonic() + _WALL_SECONDS
    while True:
        if select.select([reading], [], [], _LOOK)[0]:
            part = os.read(reading, 1 << 20)
            if not part:
                return b"".join(parts)
            parts.append(part)
            size += len(part)
        if size > MOST_BYTES:
            raise TooMuch(f"gives more than {MOST_BYTES >> 20} MiB")
        if time.monotonic() > end:
            raise TooMuch(f"takes more than {_WALL_SECONDS} seconds")
