"""The characters a font must have: those listed in the project file and those of the game's text files, with their places."""

from __future__ import annotations

import codecs
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.joints.places import Sources
from pipeline.plain.bounded import read_source
from pipeline.plain.bounds import TEXT_BYTES
from pipeline.plain.errors import Problem, ProjectError
from pipeline.target.calls import Call

_SHOWN = 3  # places shown for one character


@dataclass
class Uses:
    """Where one character is asked for: the first places as (file, place in it), and how many there are in all."""

    first: list[tuple[str, str]] = field(default_factory=list)
    count: int = 0

    def add(self, file: str, place: str) -> None:
        """Note one more place."""
        self.count += 1
        if len(self.first) < _SHOWN:
            self.first.append((file, place))


def plain_lines(text: str) -> list[str]:
    """Return the lines of a text; line feed, carriage return and both together end a line, nothing else does."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def asked_characters(folder: Path, key: str, characters: str, texts: Iterable[str], problems: list[Problem]) -> dict[str, Uses]:
    """Return every character asked for and its places, by rising code point; line ends are not characters.

    Args:
        folder: the project folder.
        key: table and key they are listed under, ``[font.small] characters``.
        characters: as listed in the project file.
        texts: UTF-8 files, relative to the folder; a byte order mark at the start does not count.
        problems: a file that cannot be read is noted here.
    """
    found: dict[str, Uses] = {}
    listed = "".join(plain_lines(characters))
    for rank, character in enumerate(listed):
        found.setdefault(character, Uses()).add("project.toml", f"{key}, character {rank + 1}")
    for name in texts:
        for number, line in enumerate(_read(folder, name, problems), 1):
            for column, character in enumerate(line, 1):
                uses = found.get(character) or found.setdefault(character, Uses())
                uses.count += 1
                if uses.count <= _SHOWN:  # a place is only written if it may be shown
                    uses.first.append((name, f"line {number}, column {column}"))
    return dict(sorted(found.items()))


def also_said(asked: dict[str, Uses], said: Sources, read: Call, problems: list[Problem]) -> dict[str, Uses]:
    """Return the characters asked for and those of files of texts, by rising code point; a file that cannot be read is noted."""
    for name in said.names:
        try:
            texts = read(said.folder, name)
        except ProjectError as error:
            problems += error.problems
            continue
        for text, _, place in texts.values():
            for character in dict.fromkeys(text.replace("\n", "")):
                asked.setdefault(character, Uses()).add(name, place)
    return dict(sorted(asked.items()))


def _read(folder: Path, name: str, problems: list[Problem]) -> list[str]:
    try:
        data = read_source(folder, name, TEXT_BYTES)
        return plain_lines(data.removeprefix(codecs.BOM_UTF8).decode())
    except ProjectError as error:
        problems.extend(error.problems)
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        problems.append(Problem(name, f"line {line}", "not UTF-8 text", "save the file as UTF-8"))
    return []


def control_problems(asked: dict[str, Uses]) -> list[Problem]:
    """Return a problem for every control character (tabs among them), which no font draws."""
    controls = [character for character in asked if is_control(character)]
    remedy = "write spaces for a tab; take other control characters out"
    return [_problem(asked[one], f"{shown_character(one)} is a control character, which has no glyph", remedy) for one in controls]


def is_control(character: str) -> bool:
    """Return whether a character is one of the C0 and C1 controls (ISO/IEC 6429) or DEL."""
    return character < " " or "\x7f" <= character <= "\x9f"


def missing_problem(character: str, uses: Uses, wrong: str, remedy: str) -> Problem:
    """Return the problem of one character, placed at its first use, with the next ones and their number.

    Args:
        wrong: what is wrong with it, after the character itself: ``has no glyph in fonts/a.ttf``.
    """
    return _problem(uses, f"{shown_character(character)} {wrong}", remedy)


def _problem(uses: Uses, wrong: str, remedy: str) -> Problem:
    (file, place), *others = uses.first
    if uses.count > 1:
        places = [there if where == file else f"{where}, {there}" for where, there in others]
        rest = uses.count - len(uses.first)
        wrong += f"; used {uses.count} times, also at " + "; ".join(places) + (f" and {rest} more" if rest else "")
    return Problem(file, place, wrong, remedy)


def shown_character(character: str) -> str:
    """Return a character for a message: itself where it can be seen, and its code point."""
    code = f"U+{ord(character):04X}"
    return f"{character!r} ({code})" if character.isprintable() and not character.isspace() else code
