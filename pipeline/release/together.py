"""Files that take their places all together or not at all."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from pipeline.plain.errors import refuse
from pipeline.plain.files import TEMPORARY


class Together:
    """Files written beside their places, which they take when the block ends; each under a temporary name until then.

    If anything fails, up to the last file, every place is as it was: a file that was replaced is back, one that was not there is not there,
    and so with folders. A kill between two files leaves some of them; the order of writing is the order of taking places.

    Raises:
        ProjectError: the system would not write a file, or put it in its place.
    """

    def __init__(self) -> None:
        self._written: list[tuple[Path, Path]] = []  # under a temporary name -> its place
        self._made: list[Path] = []  # folders that were not there
        self._before: list[tuple[Path, Path | None]] = []  # place -> what was there, under a temporary name; None for nothing

    def __enter__(self) -> Together:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        try:
            if kind is None:
                for temporary, path in self._written:
                    self._place(temporary, path)
        except BaseException:
            self._undo()
            raise
        if kind is None:
            self._forget()
        else:
            self._undo()

    @contextmanager
    def writing(self, path: Path) -> Iterator[BinaryIO]:
        """Open a file for writing that will take a place; what is there now is replaced, a link too."""
        temporary = path.with_name(f"{path.name}.{os.getpid()}{TEMPORARY}")
        with _named(path):
            self._make_folder(path.parent)
            temporary.unlink(missing_ok=True)  # left by a killed build
            self._written.append((temporary, path))
            with open(temporary, "xb") as file:
                yield file

    def write(self, path: Path, data: bytes) -> None:
        """Write a whole file; see ``writing``."""
        with self.writing(path) as file:
            file.write(data)

    def _make_folder(self, folder: Path) -> None:
        missing = [one for one in (folder, *folder.parents) if not one.exists()]
        for one in reversed(missing):
            one.mkdir()
            self._made.append(one)

    def _place(self, temporary: Path, path: Path) -> None:
        with _named(path):
            kept = path.with_name(f"{path.name}.before.{os.getpid()}{TEMPORARY}") if os.path.lexists(path) else None
            if kept is not None:
                kept.unlink(missing_ok=True)
                _second_name(path, kept)
            self._before.append((path, kept))
            os.replace(temporary, path)

    def _undo(self) -> None:
        for path, kept in reversed(self._before):
            with suppress(OSError):
                path.unlink() if kept is None else os.replace(kept, path)
            if kept is not None:  # two names of one file: renaming one to the other does nothing
                _remove(kept)
        for temporary, _ in self._written:
            _remove(temporary)
        for folder in reversed(self._made):
            with suppress(OSError):  # something else was put there meanwhile
                folder.rmdir()

    def _forget(self) -> None:
        for _, kept in self._before:
            if kept is not None:
                _remove(kept)


def _second_name(path: Path, kept: Path) -> None:
    """Let a file have a second name, so that its place is never empty; where the system has no such names, a copy does."""
    try:
        os.link(path, kept, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(path, kept, follow_symlinks=False)


def _remove(path: Path) -> None:
    with suppress(OSError):
        path.unlink()


@contextmanager
def _named(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        wrong = f"cannot be written: {error.strerror or error}"
        raise refuse(path.name, "", wrong, "free some room on the disk, or check permissions, and try again") from None
