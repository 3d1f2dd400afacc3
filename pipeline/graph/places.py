"""Lines for what a step refuses: it knows the table and key at fault, not their lines in the project file."""

from __future__ import annotations

import re
from pathlib import Path

from pipeline.plain.checked import read_document
from pipeline.plain.errors import ProjectError

_PLACE = re.compile(r"^(\s*project\.toml, )\[(?:\[([\w.]+)\]\] number (\d+)|([\w.]+)\])(?: (\w+))?", re.MULTILINE)


def with_lines(text: str, folder: Path) -> str:
    """Return refusals with ``line 12, `` before each ``[table] key`` or ``[[table]] number 2 key`` of the project file at a line's start.

    Args:
        text: text of one or more problems; see ``errors.Problem``.
        folder: the project folder. Where its file cannot be read (any more), the text stays as it is.
    """
    if not _PLACE.search(text):
        return text
    try:
        document = read_document(folder / "project.toml", "project.toml")
    except ProjectError:
        return text

    def placed(match: re.Match) -> str:
        file, listed, number, table, key = match.groups()
        path = (*listed.split("."), int(number) - 1) if listed else tuple(table.split("."))
        line, comma, _ = document.place((*path, *([key] if key else []))).partition(", ")
        return file + line + comma + match[0][len(file) :] if line.startswith("line ") else match[0]

    return _PLACE.sub(placed, text)
