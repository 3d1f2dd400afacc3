"""Files of texts: keys and what each says, from TOML or from lines of ``key = text``."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any, NamedTuple

from pipeline.plain.bounded import read_source
from pipeline.plain.bounds import TOML_BYTES
from pipeline.plain.checked import Document, build, read_document
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.written import Record, about

_KEY = re.compile(r"[a-z][a-z0-9_]{0,47}")
_KEY_REMEDY = "start with a small letter; then small letters, digits and underscores, 48 at most"


class Limited(Record):
    """A text with a limit of its own: ``start = { text = "Go!", width = 40 }``."""

    text: str
    width: Annotated[int | None, about("Widest line in pixels; left out: as the asset says.", ge=1, le=65535)] = None


class Said(NamedTuple):
    """A text: what it says, its own limit in pixels, and where it is in its file, for messages."""

    text: str
    width: int | None
    place: str


def read_texts(folder: Path, name: str) -> dict[str, Said]:
    """Return key -> text of a file, in the order of the file; lines end with a line feed.

    A ``.toml`` has ``key = "text"``, or a table with ``text`` and ``width``. In any other file each line is ``key = text``, without quotes;
    blanks around both do not count, ``\\n`` breaks the line, ``\\\\`` is one backslash, and lines that begin with ``#`` and empty ones
    are skipped.

    Raises:
        ProjectError: it cannot be read, is not UTF-8, has a key that is not valid or comes twice, or holds nothing.
    """
    found = _from_toml(folder, name) if name.lower().endswith(".toml") else _from_lines(folder, name)
    if not found:
        raise refuse(name, "", "holds no text", 'write a line such as start = "Press Start"')
    return found


def _from_toml(folder: Path, name: str) -> dict[str, Said]:
    document = read_document(folder / name, name, folder)
    found = {}
    for key, value in document.data.items():
        if not _KEY.fullmatch(key):
            document.say((key,), f"{key!r} is not a valid key", _KEY_REMEDY)
            continue
        said = _said(document, key, value)
        if said is not None:
            found[key] = said
    document.finish()
    return found


def _said(document: Document, key: str, value: Any) -> Said | None:
    place = document.place((key,))
    if isinstance(value, str):
        return Said(_lines(value), None, place)
    if not isinstance(value, dict):
        document.say((key,), f"{value!r} is not a text", 'write it in quotes, or as { text = "...", width = 80 }')
        return None
    limited = build(document, (key,), value, Limited)
    return Said(_lines(limited.text), limited.width, place) if limited else None


def _from_lines(folder: Path, name: str) -> dict[str, Said]:
    try:
        text = read_source(folder, name, TOML_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse(name, f"byte {error.start}", "is not UTF-8 text", "save it as text in UTF-8") from None
    found, problems = dict[str, Said](), list[Problem]()
    for number, line in enumerate(_lines(text).split("\n"), 1):
        place, stripped = f"line {number}", line.strip(" \t")  # and the key, where there is one
        if not stripped or stripped.startswith("#"):
            continue
        key, equals, said = stripped.partition("=")
        key = key.rstrip(" \t")
        if not equals or not _KEY.fullmatch(key):
            wrong = f"{key[:40]!r} is not a valid key" if equals else f"{stripped[:40]!r} has no equals sign"
            problems.append(Problem(name, place, wrong, f"write key = text; a key: {_KEY_REMEDY}"))
        elif key in found:
            wrong = f"{key} is there already, in {found[key].place.partition(',')[0]}"
            problems.append(Problem(name, place, wrong, "give one of them another key"))
        else:
            found[key] = Said(_unescaped(said.lstrip(" \t")), None, f"{place}, {key}")
        if len(problems) >= 20:
            break
    if problems:
        raise ProjectError(problems)
    return found


def _unescaped(text: str) -> str:
    return re.sub(r"\\([\\n])", lambda found: "\n" if found[1] == "n" else "\\", text)


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


