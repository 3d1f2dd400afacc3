"""Files between tasks: written under a temporary name and renamed, so that no half file is ever seen, and never through a link."""

from __future__ import annotations

import hashlib
import json
import os
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, BinaryIO, TypeVar

import msgspec

from pipeline.plain.errors import Problem, ProjectError, refuse

TEMPORARY = ".part"
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)


class FileRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a JSON file between tasks holds. The module that declares a record is the only one that reads or writes its files.

    Attributes:
        version: format number of the file, which grows whenever the meaning of a field changes, or its name.
    """

    version: int


_R = TypeVar("_R", bound=FileRecord)


@contextmanager
def replacing(path: Path) -> Iterator[BinaryIO]:
    """Open a file for writing that takes the place of ``path`` only when the block ends without an error.

    A link at ``path``, or at the temporary name, is replaced and never followed.

    Raises:
        ProjectError: the system would not write it (a full disk, no permission); ``path`` is as it was.
    """
    temporary = path.with_name(f"{path.name}.{os.getpid()}{TEMPORARY}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(_create(temporary), "wb") as file:
            yield file
        os.replace(temporary, path)
    except OSError as error:
        _remove(temporary)
        # An error that names another file is not about this one: the block was reading something.
        if error.filename is not None and not str(temporary).startswith(str(error.filename)):
            raise
        raise _not_written(path, error) from None
    except BaseException:
        _remove(temporary)
        raise


def _create(path: Path) -> int:
    """Return a handle on a new file; a file there, left by a killed build, is removed first."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC | _NO_LINK
    try:
        return os.open(path, flags, 0o666)
    except FileExistsError:
        path.unlink()
        return os.open(path, flags, 0o666)


def _not_written(path: Path, error: OSError) -> ProjectError:
    wrong = f"cannot be written: {error.strerror or error}"
    return refuse(path.name, "", wrong, "free some room on the disk, or check permissions, and build again")


def _remove(temporary: Path) -> None:
    with suppress(OSError):  # it may never have been made
        temporary.unlink()


def write_bytes(path: Path, data: bytes) -> None:
    """Write a whole file at once; see ``replacing``."""
    with replacing(path) as file:
        file.write(data)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file in hex, read a part at a time."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def json_bytes(value: Any) -> bytes:
    """Return JSON: UTF-8, two spaces, keys in the order given, one final newline.

    Half of a surrogate pair, as in the name of a file that is not UTF-8, is written as JSON's own escape of it.
    """
    return (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode("utf-8", "backslashreplace")


def write_json(path: Path, value: Any) -> None:
    """Write a file of JSON; see ``json_bytes``."""
    write_bytes(path, json_bytes(value))


def read_json(path: Path) -> Any:
    """Read a JSON file that an earlier task wrote."""
    return json.loads(path.read_bytes())


def write_record(path: Path, record: msgspec.Struct) -> None:
    """Write a record as ``write_json`` does: keys in the order of its fields, the tag of a union first."""
    write_json(path, msgspec.to_builtins(record))


def read_record(path: Path, decoder: msgspec.json.Decoder[_R], version: int) -> _R:
    """Read a file that ``write_record`` wrote; see ``decode_record``.

    Raises:
        ProjectError: also where the system would not read it.
    """
    shown = f"{path.parent.name}/{path.name}"
    try:
        data = path.read_bytes()
    except OSError as error:
        raise refuse(shown, "", f"cannot be read: {error.strerror or error}", _BUILD_AGAIN) from None
    return decode_record(data, shown, decoder, version)


def decode_record(data: bytes, shown: str, decoder: msgspec.json.Decoder[_R], version: int) -> _R:
    """Return the record that the content of a file holds.

    Args:
        shown: name of the file, for messages.
        decoder: of the record, or of a union of records.
        version: the format number that this version of the tool writes.

    Raises:
        ProjectError: it is damaged, or has another format number.
    """
    try:
        record = decoder.decode(data)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        found = _version_of(data)
        if found not in (None, version):
            raise _other_format(shown, found, version) from None
        wrong, _, place = str(error).partition(" - at ")
        place = place.strip("`").removeprefix("$").removeprefix(".")
        raise refuse(shown, place, f"is damaged: {wrong.replace('`', '')}", _BUILD_AGAIN) from None
    if record.version != version:
        raise _other_format(shown, record.version, version)
    return record


_BUILD_AGAIN = "delete it and build again; only the tool writes this file"


def _other_format(shown: str, found: Any, version: int) -> ProjectError:
    return refuse(shown, "version", f"is {str(found)[:20]}, this version of the tool reads {version}", _BUILD_AGAIN)


def _version_of(data: bytes) -> Any:
    """Return the format number in the content of a file that does not decode, or None where it has none."""
    try:
        return json.loads(data)["version"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def refuse_links(top: Path, folders: Iterable[Path]) -> None:
    """Refuse folders below ``top`` that are links, or not folders, so that nothing is written or removed elsewhere.

    Args:
        top: a folder that is trusted; it may itself be reached through a link.
        folders: below it; the folders between are looked at too. Those that do not exist yet are fine.

    Raises:
        ProjectError: names each link and where it leads.
    """
    chains = {part for folder in folders for part in (folder, *folder.parents) if part != top and part.is_relative_to(top)}
    problems = []
    for path in sorted(chains):
        try:
            mode = os.lstat(path).st_mode
        except (FileNotFoundError, NotADirectoryError):
            continue  # what is in place of a folder above it is reported there
        shown = path.relative_to(top).as_posix()
        if stat.S_ISLNK(mode):
            wrong = f"is a link to {os.readlink(path)}; what is written and removed there would be outside this folder"
            problems.append(Problem(shown, "", wrong, "remove the link (what it leads to stays as it is) and start again"))
        elif not stat.S_ISDIR(mode):
            problems.append(Problem(shown, "", "is in place of a folder", "move it away and start again"))
    if problems:
        raise ProjectError(problems)


def remove_tree(path: Path) -> None:
    """Remove a file, a link (as a link) or a folder with all that is in it, however deep; nothing where there is nothing.

    Raises:
        OSError: the system would not remove it.
    """
    waiting = [path]
    while waiting:
        last = waiting[-1]
        try:
            if stat.S_ISDIR(os.lstat(last).st_mode):
                with os.scandir(last) as entries:
                    inside = [Path(entry.path) for entry in entries]
                if inside:
                    waiting += inside
                    continue
                last.rmdir()
            else:
                last.unlink()
        except FileNotFoundError:
            pass
        waiting.pop()
