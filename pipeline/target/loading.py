"""Finding and reading a target file: a shipped one by name, or the project's own by path."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pipeline.plain.checked import build, read_document
from pipeline.plain.errors import nearest_name, refuse
from pipeline.target.checks import check_target
from pipeline.target.records import Target

SHIPPED = Path(__file__).parent.parent / "targets"


def shipped_targets() -> dict[str, Path]:
    """Return name -> file of the targets that come with the tool."""
    return {path.stem: path for path in sorted(SHIPPED.glob("*.toml"))}


def find_target(name: str, project_folder: Path, shown: str, place: Callable[[], str]) -> Path:
    """Return the file of a target named in a project: a shipped name, or a path inside the project.

    Args:
        place: returns where in the file ``shown`` it is named, for a refusal.

    Raises:
        ProjectError: neither.
    """
    shipped = shipped_targets()
    if name in shipped:
        return shipped[name]
    path = _own_target(name, project_folder.resolve())
    if path is not None:
        return path
    if name.endswith(".toml"):
        raise refuse(shown, place(), f"there is no target file {name!r}", "check the path; it starts at the project folder and stays in it")
    near = nearest_name(name, shipped)
    remedy = f"did you mean {near}? " if near else ""
    remedy += f"shipped targets: {', '.join(shipped)}; or write the path of a .toml file inside the project"
    raise refuse(shown, place(), f"unknown target {name!r}", remedy)


def load_target(path: Path, shown: str | None = None) -> Target:
    """Read and check a target file; see ``read_target``."""
    return read_target(path, shown)[0]


def read_target(path: Path, shown: str | None = None) -> tuple[Target, str]:
    """Read and check a target file; return it and the SHA-256 of the bytes that were read.

    Raises:
        ProjectError: carries every problem of the file.
    """
    document = read_document(path, shown or path.name)
    target = build(document, (), document.data, Target)
    if target is not None:
        check_target(document, target)
    return document.finished(target), document.sha256


def _own_target(name: str, folder: Path) -> Path | None:
    """Return the file a project names as its target, if it is one inside the project."""
    try:
        path = (folder / name).resolve()
        return path if name.endswith(".toml") and path.is_relative_to(folder) and path.is_file() else None
    except (OSError, ValueError, RuntimeError):  # too long a name, a NUL, a link to itself
        return None
