"""A project on disk and the operations of a history: each is a list of plain values, so that a history can be kept and shown.

    doc NAME DATA            write a document (None: remove it)      set NAME PATH VALUE     drop NAME PATH
    order NAME PATH NUMBER   shuffle keys or elements                insert NAME PATH RANK VALUE
    rename NAME PATH KEY     with all that names it                  purge NAME PATH         with all that names it
    style NAME NUMBER        write it in another style
    how WAY                  of later writes: plain, replace (temporary name and rename), keep (time of the file it replaces)
    write PATH BYTES         remove PATH      move PATH PATH      touch PATH      flip PATH RANK (one byte)
    symlink PATH TARGET      hardlink PATH TARGET
    keep NAME                remember sources                        back NAME TIMES         to what was kept; old or new times
    harm PATH WAY            in build: remove, empty, cut, rubbish, append, sneak (one byte, same time), outside (link), folder,
                             older (another format number), other (what the next file there holds)
    foreign PATH BYTES       a file of the author's in build         clear PATH              remove a folder of build
    env NAME VALUE           for all later commands (None: unset)    away NAME               rename the project's folder
    run WORDS REAL           compare WORDS ASKS REAL                 (carried out by ``machine``)

An operation whose object is not there does nothing, so that any part of a history is a history.
"""

from __future__ import annotations

import base64
import copy
import hashlib
import os
import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from .opening import Documents, Files
from .toml_text import write_toml

Operation = list[Any]


class Source(NamedTuple):
    """A source on disk: bytes of a file, or where a link leads."""

    data: bytes
    link: str
    mtime: int


class World:
    """One project and its folder.

    Attributes:
        documents: TOML files by path, as data.
        real: commands may run in processes of their own.
        foreign: path in build -> bytes, files that must stay.
        outside: files outside the project that must stay as they are, with their bytes.
        blocked: folders that were put in place of outputs.
        environment: variables for commands.
        target, first, allowed: name of the shipped target, documents at the start, switches of ``moves`` that are on.
    """

    def __init__(self, scratch: Path, target: str, documents: Documents, files: Files, allowed: frozenset[str] = frozenset()) -> None:
        self.scratch, self.name = scratch, "game"
        self.target, self.first, self.allowed = target, copy.deepcopy(documents), allowed
        self.documents = copy.deepcopy(documents)
        self.styles: dict[str, int] = {}
        self.how = "plain"
        self.real = True
        self.kept: dict[str, tuple[Documents, dict[str, int], dict[str, Source]]] = {}
        self.foreign: Files = {}
        self.outside: dict[Path, bytes] = {}
        self.blocked: list[Path] = []
        self.environment: dict[str, str] = {}
        self.project.mkdir(parents=True)
        for name, data in files.items():
            self._write(name, data)
        for name in documents:
            self._save(name)

    @property
    def project(self) -> Path:
        """The project's folder."""
        return self.scratch / self.name

    def apply(self, operation: Operation) -> None:
        """Carry out an operation that runs nothing."""
        word, *values = operation
        getattr(self, f"_{word}_")(*values)

    def sources(self) -> dict[str, Source]:
        """Return all files of the project but those of its build."""
        found = {}
        for folder, folders, names in os.walk(self.project):
            if folder == str(self.project) and "build" in folders:
                folders.remove("build")
            for name in (*names, *(one for one in folders if os.path.islink(os.path.join(folder, one)))):
                path = Path(folder, name)
                link = os.readlink(path) if path.is_symlink() else ""
                data = b"" if link else path.read_bytes()
                found[path.relative_to(self.project).as_posix()] = Source(data, link, path.lstat().st_mtime_ns)
        return found

    def digest(self) -> str:
        """Return a hash of all that a build depends on."""
        whole = hashlib.sha256()
        for name, source in sorted(self.sources().items()):
            whole.update(repr((name, hashlib.sha256(source.data).hexdigest(), source.link)).encode())
        whole.update(self.environment.get("SOURCE_DATE_EPOCH", "-").encode())
        return whole.hexdigest()

    def copy_to(self, folder: Path) -> None:
        """Copy the sources; times are those of the copying."""
        for name, source in self.sources().items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if source.link:
                path.symlink_to(source.link)
            else:
                path.write_bytes(source.data)

    def at(self, name: str, path: list) -> Any:
        """Return what is at a place of a document; None where nothing does."""
        found: Any = self.documents.get(name)
        for key in path:
            try:
                found = found[key]
            except (KeyError, IndexError, TypeError):
                return None
        return found

    # Documents

    def _doc_(self, name: str, data: dict | None) -> None:
        if data is None:
            self.documents.pop(name, None)
            (self.project / name).unlink(missing_ok=True)
        else:
            self.documents[name] = copy.deepcopy(data)
            self._save(name)

    def _set_(self, name: str, path: list, value: Any) -> None:
        table = self.at(name, path[:-1])
        if isinstance(table, dict) or (isinstance(table, list) and isinstance(path[-1], int) and path[-1] < len(table)):
            table[path[-1]] = copy.deepcopy(value)
            self._save(name)

    def _drop_(self, name: str, path: list) -> None:
        table = self.at(name, path[:-1])
        if self.at(name, path) is not None:
            del table[path[-1]]
            self._save(name)

    def _order_(self, name: str, path: list, number: int) -> None:
        table = self.at(name, path)
        if isinstance(table, list):
            random.Random(number).shuffle(table)
        elif isinstance(table, dict):
            keys = list(table)
            random.Random(number).shuffle(keys)
            held = {key: table[key] for key in keys}
            table.clear()
            table.update(held)
        else:
            return
        self._save(name)

    def _insert_(self, name: str, path: list, rank: int, value: Any) -> None:
        table = self.at(name, path)
        if isinstance(table, list):
            table.insert(rank, copy.deepcopy(value))
            self._save(name)

    def _rename_(self, name: str, path: list, key: str) -> None:
        table = self.at(name, path[:-1])
        if isinstance(table, dict) and path[-1] in table and key not in table:
            self.documents[name] = _renamed(self.documents[name], path[-1], key)
            self._save(name)

    def _purge_(self, name: str, path: list) -> None:
        if self.at(name, path) is not None:
            del self.at(name, path[:-1])[path[-1]]
            _purge(self.documents[name], path[-1])
            self._save(name)

    def _style_(self, name: str, number: int) -> None:
        if name in self.documents:
            self.styles[name] = number
            self._save(name)

    def _save(self, name: str) -> None:
        self._write(name, write_toml(self.documents[name], self.styles.get(name, 0)).encode())

    # Files

    def _how_(self, way: str) -> None:
        self.how = way

    def _write_(self, name: str, data: str) -> None:
        self._write(name, base64.b64decode(data))

    def _write(self, name: str, data: bytes) -> None:
        path = self.project / name
        path.parent.mkdir(parents=True, exist_ok=True)
        before = path.stat() if path.is_file() else None
        if self.how == "replace":
            path.with_name("half written").write_bytes(data)
            os.replace(path.with_name("half written"), path)
        else:
            path.write_bytes(data)
        if self.how == "keep" and before:
            os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))

    def _remove_(self, name: str) -> None:
        (self.project / name).unlink(missing_ok=True)
        self.documents.pop(name, None)

    def _move_(self, name: str, other: str) -> None:
        if (self.project / name).is_file():
            (self.project / other).parent.mkdir(parents=True, exist_ok=True)
            os.replace(self.project / name, self.project / other)

    def _touch_(self, name: str) -> None:
        if (self.project / name).is_file():
            os.utime(self.project / name)

    def _flip_(self, name: str, rank: int) -> None:
        path = self.project / name
        if path.is_file() and path.stat().st_size:
            data = bytearray(path.read_bytes())
            data[rank % len(data)] ^= 1
            self._write(name, bytes(data))

    def _symlink_(self, name: str, target: str) -> None:
        path = self.project / name
        if path.exists() and (path.parent / target).is_file() and name not in self.documents:
            path.unlink()
            path.symlink_to(target)

    def _hardlink_(self, name: str, target: str) -> None:
        path = self.project / name
        if path.is_file() and (self.project / target).is_file() and name != target and name not in self.documents:
            path.unlink()
            os.link(self.project / target, path)

    def _keep_(self, name: str) -> None:
        self.kept[name] = (copy.deepcopy(self.documents), dict(self.styles), self.sources())

    def _back_(self, name: str, times: str) -> None:
        if name not in self.kept:
            return
        documents, styles, wanted = self.kept[name]
        self.documents, self.styles = copy.deepcopy(documents), dict(styles)
        now = self.sources()
        for one in now.keys() - wanted.keys():
            (self.project / one).unlink()
        for one, source in wanted.items():
            path, there = self.project / one, now.get(one)
            if there is None or (there.data, there.link) != (source.data, source.link):
                path.unlink(missing_ok=True)
                path.parent.mkdir(parents=True, exist_ok=True)
                if source.link:
                    path.symlink_to(source.link)
                else:
                    path.write_bytes(source.data)
            if times == "old" and not source.link:
                os.utime(path, ns=(source.mtime, source.mtime))

    # The build folder

    def _harm_(self, name: str, way: str) -> None:
        path = self.project / "build" / name
        if not path.is_file() or path.is_symlink() or name in self.foreign:
            return
        before, data = path.stat(), path.read_bytes()
        if way == "remove":
            path.unlink()
        elif way == "outside":
            other = self.scratch / f"outside {len(self.outside)}"
            other.write_bytes(data[::-1])
            self.outside[other] = data[::-1]
            path.unlink()
            path.symlink_to(other)
        elif way == "folder":
            path.unlink()
            path.mkdir()
            (path / "mine.txt").write_bytes(b"mine")
            self.blocked.append(path)
        elif way == "other":
            there = sorted(one for one in path.parent.iterdir() if one.is_file() and not one.is_symlink())
            path.write_bytes(there[(there.index(path) + 1) % len(there)].read_bytes())
        else:
            path.write_bytes(_harmed(data, way))
            if way == "sneak":
                os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))

    def _foreign_(self, name: str, data: str) -> None:
        path = self.project / "build" / name
        if path.parent.is_dir() and not path.exists():
            path.write_bytes(base64.b64decode(data))
            self.foreign[name] = base64.b64decode(data)

    def _clear_(self, name: str) -> None:
        path = self.project / "build" / name if name else self.project / "build"
        shutil.rmtree(path, ignore_errors=True)
        self.foreign = {one: data for one, data in self.foreign.items() if (self.project / "build" / one).exists()}
        self.blocked = [one for one in self.blocked if one.exists()]

    def unblock(self) -> None:
        """Remove the folders that were put in place of outputs."""
        for path in self.blocked:
            shutil.rmtree(path, ignore_errors=True)
        self.blocked = []

    # Around it

    def _env_(self, name: str, value: str | None) -> None:
        self.environment.pop(name, None)
        if value is not None:
            self.environment[name] = value

    def _away_(self, name: str) -> None:
        if not (self.scratch / name).exists():
            old = self.project
            os.rename(old, self.scratch / name)
            self.name = name
            self.blocked = [self.project / path.relative_to(old) for path in self.blocked]


def _harmed(data: bytes, way: str) -> bytes:
    if way == "empty":
        return b""
    if way == "cut":
        return data[: len(data) // 2]
    if way == "older":
        return data[:7] + b"0" + data[8:]
    if way == "append":
        return data + b"\n"
    if way == "sneak":
        return data[:-1] + bytes([data[-1] ^ 1]) if data else b"x"
    return b"rubbish" * 40


def _renamed(data: Any, old: str, new: str) -> Any:
    if isinstance(data, dict):
        return {new if key == old else key: _renamed(value, old, new) for key, value in data.items()}
    if isinstance(data, list):
        return [_renamed(value, old, new) for value in data]
    return new if data == old and isinstance(data, str) else data


def _purge(data: Any, name: str) -> None:
    """Remove a name from all lists, and keys that are the name."""
    for key, value in list(data.items() if isinstance(data, dict) else enumerate(data)):
        if isinstance(value, (dict, list)):
            _purge(value, name)
        elif isinstance(data, dict) and value == name:
            del data[key]
    if isinstance(data, dict):
        data.pop(name, None)
    else:
        data[:] = [value for value in data if value != name]


def tables(data: Any, path: tuple = ()) -> Iterator[tuple[tuple, Any]]:
    """Yield every table and list of a document with its place."""
    if isinstance(data, (dict, list)):
        yield path, data
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from tables(value, (*path, key))
