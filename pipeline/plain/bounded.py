"""Reading what an author wrote: regular files only, inside the project, and no larger than their kind may be."""

from __future__ import annotations

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path
from typing import BinaryIO

from pipeline.plain.errors import ProjectError, refuse

_KINDS = (
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_PART = 1 << 20  # bytes that are read at once of what was not expected
OUTSIDE = "leads outside the project folder"


def open_regular(path: Path) -> BufferedReader:
    """Open a regular file for reading; nothing waits for a pipe's other end or reads a device.

    Raises:
        OSError: it cannot be opened, or is not a regular file; ``strerror`` says which.
    """
    # What is opened is what is looked at, whatever the name leads to a moment later.
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC | os.O_NOCTTY)
    mode = os.fstat(handle).st_mode
    if stat.S_ISREG(mode):
        return open(handle, "rb")
    os.close(handle)
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    kind = next((word for test, word in _KINDS if test(mode)), "something else")
    raise OSError(errno.EINVAL, f"it is {kind}, not a regular file", str(path))


def read_whole(path: Path, shown: str, most: int, within: Path | None = None) -> bytes:
    """Return the bytes of a file.

    Args:
        shown: its name as the author knows it, for messages.
        most: bytes it may have; ``within``: the folder that it must lie in when links are followed, if any.

    Raises:
        FileNotFoundError: the file does not exist.
        ProjectError: it leads outside, is not a regular file, cannot be read, or is too large, which is seen before it is read.
    """
    if within is not None:
        check_inside(path, shown, within)
    try:
        with open_regular(path) as file:
            size = os.fstat(file.fileno()).st_size
            data = _read_up_to(file, size, most + 1) if size <= most else b""
    except FileNotFoundError:
        raise
    except OSError as error:
        raise unreadable(shown, error) from None
    if max(size, len(data)) > most:
        raise too_large(shown, max(size, len(data)), most)
    return data


def _read_up_to(file: BinaryIO, expected: int, most: int) -> bytes:
    """Return what a file holds, at most ``most`` bytes of it; it may have grown, or be one of the system's files that give no size.

    Room is taken for what is expected, not for the most: a buffer of that size would be made at once.
    """
    parts = [file.read(expected + 1)]
    left = most - len(parts[0])
    while parts[-1] and left > 0:
        parts.append(file.read(min(left, _PART)))
        left -= len(parts[-1])
    return parts[0] if len(parts) == 1 else b"".join(parts)


def read_source(folder: Path, name: str, most: int) -> bytes:
    """Return the bytes of a file of the project that must be there; see ``read_whole``.

    Raises:
        ProjectError: as ``read_whole``, or it is missing.
    """
    try:
        return read_whole(folder / name, name, most, folder)
    except FileNotFoundError as error:
        raise unreadable(name, error) from None


def check_inside(path: Path, shown: str, within: Path) -> None:
    """Refuse a file that, links followed, does not lie in a folder.

    Raises:
        ProjectError: it leads outside.
    """
    real, folder = os.path.realpath(path), os.path.realpath(within)
    if os.path.commonpath((real, folder)) != folder:
        raise refuse(shown, "", OUTSIDE, "copy the file into the project; a kit must not carry your disk")


def unreadable(shown: str, error: OSError) -> ProjectError:
    """Return the refusal of a file that the system would not read."""
    return refuse(shown, "", f"cannot be read: {error.strerror or error}", "check the file and its permissions")


def too_large(shown: str, seen: int, most: int) -> ProjectError:
    """Return the refusal of a file with more bytes than its kind may have."""
    return refuse(shown, "", *size_problem(seen, most))


def size_problem(seen: int, most: int) -> tuple[str, str]:
    """Return what is wrong with a file of this many bytes, and the remedy."""
    return f"has {seen:,} bytes, at most {most:,} are read", "make it smaller or split it; see pipeline/guide/bounds.md"
