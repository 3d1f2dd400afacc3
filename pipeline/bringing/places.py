"""Where the art of each asset goes in the project, and how the project file names it there; nothing is written here."""

from __future__ import annotations

import fnmatch
import hashlib
import os
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from pipeline.bringing.names import natural
from pipeline.bringing.records import Anim, Found, Looked
from pipeline.bringing.sheets import source_keys
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import SOUND_BYTES
from pipeline.plain.errors import refuse
from pipeline.plain.files import TEMPORARY, sha256_of

_FOLDERS = {"sprite": "art", "background": "art", "sound": "sound", "font": "fonts", "palette": "palettes"}
_LEFTOVER = re.compile(rf".+\.[0-9]+{re.escape(TEMPORARY)}")
_LONGEST_NAME = 120  # bytes of a file's name that are kept as they are


@dataclass(frozen=True)
class Written:
    """A file that the project gets: ``to``, from the project folder with slashes, is a copy of ``file``, from the folder of art."""

    to: str
    file: str


@dataclass(frozen=True)
class Placed:
    """An asset and its art in the project.

    Attributes:
        keys: of its source in the project file, such as ``frames``.
        animations: name -> the value of ``frames``.
        writes: files it needs that are written; empty where art is read where it is.
    """

    found: Found
    keys: dict[str, Any]
    animations: dict[str, str | list[int]]
    writes: tuple[Written, ...]


class Placing:
    """Finds places for assets in a project.

    Args:
        source: the folder of art. project: the project folder.
        looked: the files of ``source``.
        link: name art where it is, as far as patterns can; ``source`` is in the project then.
    """

    def __init__(self, source: Path, project: Path, looked: dict[str, Looked], link: bool) -> None:
        self._source, self._project, self._looked = source, project, looked
        self._inside = os.path.relpath(os.path.realpath(source), os.path.realpath(project)).replace(os.sep, "/") if link else None
        self._folders: set[str] = set()  # given to assets here, in small letters: some systems do not distinguish capitals

    def place(self, found: Found) -> Placed:
        """Return where an asset's art goes."""
        linked = self._linked(found) if self._inside is not None else None
        return linked or self._copied(found)

    def _linked(self, found: Found) -> Placed | None:
        names = [str(PurePosixPath(self._inside or "", name)) for name in found.files]
        if _has_folder(found):
            pattern = next((one for one in _patterns(names) if _matches(self._project, one) == names), None)
            return Placed(found, {"frames": pattern}, _steps(found.animations, names), ()) if pattern else None
        return Placed(found, _named(found, names[0]), _steps(found.animations, names), ())

    def _copied(self, found: Found) -> Placed:
        writes = self._free(found)
        names = [one.to for one in writes]
        if _has_folder(found):
            parts = PurePosixPath(names[0]).parts  # all are as deep
            endings = {PurePosixPath(name).suffix for name in names}
            pattern = "/".join([*parts[:2], *["*"] * (len(parts) - 3), f"*{endings.pop()}" if len(endings) == 1 else "*"])
            return Placed(found, {"frames": pattern}, _steps(found.animations, names), tuple(writes))
        return Placed(found, _named(found, names[0]), _steps(found.animations, names), tuple(writes))

    def _free(self, found: Found) -> list[Written]:
        """Return the files to write, in a folder or under a name that is free, or that holds just these files from an earlier try."""
        rank = 1
        while True:
            name = found.name if rank == 1 else f"{found.name}_{rank}"
            writes = self._writes(found, name)
            key = (str(PurePosixPath(writes[0].to).parent) if _has_folder(found) else writes[0].to).lower()
            if key not in self._folders and self._is_free(found, writes):
                self._folders.add(key)
                return writes
            rank += 1

    def _is_free(self, found: Found, writes: list[Written]) -> bool:
        for one in writes:
            place = self._project / one.to
            if os.path.lexists(place) and not (place.is_file() and not place.is_symlink() and sha256_of(place) == self.digest(one)):
                return False
        if not _has_folder(found):
            return True
        top = self._project / PurePosixPath(*PurePosixPath(writes[0].to).parts[:2])
        ours = {self._project / one.to for one in writes}
        there = (Path(here) / name for here, _, names in os.walk(top) for name in names if not _LEFTOVER.fullmatch(name))
        return not os.path.lexists(top) or (top.is_dir() and not top.is_symlink() and set(there) <= ours)

    def _writes(self, found: Found, name: str) -> list[Written]:
        top = _FOLDERS[found.kind]
        if not _has_folder(found):
            ending = PurePosixPath(found.files[0]).suffix.lower()
            return [Written(f"{top}/{name}{ending}", found.files[0])]
        return [Written(f"{top}/{name}/{inner}", file) for inner, file in zip(_inner_names(found.files), found.files, strict=True)]

    def digest(self, one: Written) -> str:
        """Return the SHA-256 of what a file will hold, in hexadecimal."""
        return self._looked[one.file].digest

    def content(self, one: Written) -> bytes:
        """Return what a file will hold.

        Raises:
            ProjectError: the file changed since it was looked at.
        """
        data = read_whole(self._source / one.file, one.file, SOUND_BYTES, self._source)
        if hashlib.sha256(data).hexdigest() != self._looked[one.file].digest:
            raise refuse(one.file, "", "changed while it was brought in", "start again")
        return data


def _has_folder(found: Found) -> bool:
    return found.kind == "sprite" and found.source == "frames"


def _inner_names(files: tuple[str, ...]) -> list[str]:
    """Return names below the sprite's folder: those that the files have below the folder they share, or numbers."""
    paths = [PurePosixPath(file) for file in files]
    parents = {str(path.parent) for path in paths}
    shared = os.path.commonpath(parents) if len(parents) > 1 else str(paths[0].parent)
    inner = [str(path.relative_to(shared)) if shared not in (".", "") else str(path) for path in paths]
    plain = all(_is_plain(one) for one in inner) and max(Counter(one.lower() for one in inner).values()) == 1
    flat = len({len(PurePosixPath(one).parts) for one in inner}) == 1 and len({PurePosixPath(one).suffix for one in inner}) == 1
    if plain and flat and sorted(inner, key=natural) == inner:
        return inner
    width = max(2, len(str(len(files))))
    return [f"{rank:0{width}}{PurePosixPath(file).suffix.lower()}" for rank, file in enumerate(files, 1)]


def _is_plain(name: str) -> bool:
    parts = PurePosixPath(name).parts
    return name.isprintable() and "\\" not in name and all(len(part.encode()) <= _LONGEST_NAME for part in parts)


def _patterns(names: list[str]) -> Iterable[str]:
    """Yield patterns that may match just some files of one folder, or of folders beside one another, the shortest first."""
    parents = {PurePosixPath(name).parent for name in names}
    ending = PurePosixPath(names[0]).suffix
    stems = [PurePosixPath(name).stem for name in names]
    begins = os.path.commonprefix(stems)
    for parent in sorted(parents) if len(parents) == 1 else sorted({one.parent for one in parents}):
        inner = _escaped(f"{parent}/") if str(parent) != "." else ""
        inner += "*/" if len(parents) > 1 else ""
        yield f"{inner}*{ending}"
        yield f"{inner}{_escaped(begins)}*{ending}"
        yield f"{inner}{_escaped(begins)}[0-9]*{ending}"
    if len(names) == 1:
        yield _escaped(names[0])


def _escaped(text: str) -> str:
    return "".join(f"[{char}]" if char in "*?[" else char for char in text)


def _matches(project: Path, pattern: str) -> list[str]:
    """Return what the project's loader would find."""
    return sorted((path.relative_to(project).as_posix() for path in project.glob(pattern) if path.is_file()), key=natural)


def _named(found: Found, name: str) -> dict[str, Any]:
    return source_keys(found, name) if found.kind == "sprite" else {"file": name}


def _steps(animations: tuple[Anim, ...], names: list[str]) -> dict[str, str | list[int]]:
    """Return animations as patterns over the names of the files, where one says just these frames in this order; else as numbers."""
    stems = [PurePosixPath(name).stem for name in names]
    made: dict[str, str | list[int]] = {}
    for one in animations:
        begins = os.path.commonprefix([stems[rank] for rank in one.frames if rank < len(stems)])
        patterns = (f"{begins}*", begins)
        fitting = (text for text in patterns if begins and not set(begins) & set("*?[") and _ranks(text, stems) == list(one.frames))
        made[one.name] = next(fitting, list(one.frames))
    return made


def _ranks(pattern: str, stems: list[str]) -> list[int]:
    return [rank for rank, stem in enumerate(stems) if fnmatch.fnmatchcase(stem, pattern)]
