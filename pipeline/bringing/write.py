"""Changing a project: all files of art first, then its project file at once, or nothing."""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from pipeline.bringing.places import Placed, Placing
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import refuse_links, write_bytes
from pipeline.project.loading.load import load_project
from pipeline.project.model import PROJECT_FILE

_TRIED = ".project.toml.new"  # the project file to be, until it has been checked


def write_project(project: Path, placing: Placing, placed: Iterable[Placed], text: bytes, extra: dict[str, bytes]) -> int:
    """Write art and project file; return how many files of art the project has got.

    The project file is last: what a kill leaves is finished by the same command. After an error all is as it was.

    Args:
        text: the whole project file.
        extra: further files, by name from the project folder.

    Raises:
        ProjectError: a file cannot be written, changed meanwhile, or the project would have an error.
    """
    wanted = [write for one in placed for write in one.writes]
    refuse_links(project, {(project / name).parent for name in (*extra, *(write.to for write in wanted))} - {project})
    made: list[Path] = []
    try:
        for name, data in extra.items():
            _write(project, name, data, made)
        for write in wanted:
            _write(project, write.to, placing.content(write), made)
        write_bytes(project / _TRIED, text)
        load_project(project, _TRIED)
        os.replace(project / _TRIED, project / PROJECT_FILE)
    except BaseException as error:
        if isinstance(error, (ProjectError, OSError)):
            _undo(project, made)
        raise
    return len(wanted)


def _write(project: Path, name: str, data: bytes, made: list[Path]) -> None:
    path = project / name
    if path.is_file() and not path.is_symlink() and path.read_bytes() == data:
        return  # of a try that was cut short
    made.append(path)
    made += [folder for folder in path.parents if folder.is_relative_to(project) and not folder.exists()]
    write_bytes(path, data)


def _undo(project: Path, made: list[Path]) -> None:
    """Remove what was made, files and then the folders that are empty again."""
    with suppress(OSError):
        (project / _TRIED).unlink()
    for path in sorted(set(made), key=lambda one: len(one.parts), reverse=True):
        with suppress(OSError):
            path.rmdir() if path.is_dir() else path.unlink()
