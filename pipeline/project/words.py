"""The author's own words about each version: ``changes.md`` beside the project file.

A line ``## 0.4.0`` begins what is said about that version. Under it are paragraphs with empty lines between them; a line that
begins with ``- `` or ``* `` begins one too. A line with a single ``#`` is the file's own title. All is plain text.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import WORDS_BYTES
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.versions import is_version

WORDS = "changes.md"


def read_words(folder: Path) -> dict[str, list[dict[str, Any]]]:
    """Return version -> paragraphs as ``{"text", "line"}``, in the order of the file; empty without a file.

    Raises:
        ProjectError: not a regular file, too large, not UTF-8, a heading without a valid version, a version twice, or text before one.
    """
    try:
        lines = read_whole(folder / WORDS, WORDS, WORDS_BYTES, folder).decode("utf-8-sig").splitlines()
    except FileNotFoundError:
        return {}
    except UnicodeDecodeError as error:
        raise refuse(WORDS, f"byte {error.start}", "not UTF-8 text", "save the file as UTF-8") from None
    said: dict[str, list[dict[str, Any]]] = {}
    problems: list[Problem] = []
    paragraphs: list[dict[str, Any]] | None = None
    fresh = True
    for number, line in enumerate(map(str.strip, lines), 1):
        if line.startswith("## ") or line.startswith("###"):
            paragraphs, fresh = _begin(said, line.lstrip("#").strip(), number, problems), True
        elif not line or line.startswith("# "):
            fresh = True
        elif paragraphs is None:
            problems.append(Problem(WORDS, f"line {number}", "text before the first version", "write a line such as ## 0.4.0 above it"))
            paragraphs = []
        else:
            fresh = _add(paragraphs, line, number, fresh)
    if problems:
        raise ProjectError(problems)
    return said


def _begin(said: dict, version: str, number: int, problems: list[Problem]) -> list[dict[str, Any]]:
    if not is_version(version):
        problems.append(Problem(WORDS, f"line {number}", f"{version!r} is not a valid version", "write only a version, such as ## 0.4.0"))
        return []
    if version in said:
        problems.append(Problem(WORDS, f"line {number}", f"{version} is here a second time", "write it all under one heading"))
    return said.setdefault(version, [])


def _add(paragraphs: list[dict[str, Any]], line: str, number: int, fresh: bool) -> bool:
    """Add a line to the last paragraph, or begin another; return that the next line goes on with it."""
    point = line.startswith(("- ", "* "))
    if fresh or point:
        paragraphs.append({"text": line[2:].strip() if point else line, "line": number})
    else:
        paragraphs[-1]["text"] += f" {line}"
    return False
