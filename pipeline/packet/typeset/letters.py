"""Which characters the packet can set, and the refusal of those it cannot: a missing one would print as an empty box."""

from __future__ import annotations

import functools
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from pipeline.joints.places import Sources
from pipeline.packet.content.content import clean
from pipeline.plain.checked import Document, read_document
from pipeline.plain.errors import Problem, ProjectError
from pipeline.project.words import WORDS

_UNSEEN = {("game", "target")}  # never printed
_RIGHT_TO_LEFT = ("R", "AL", "AN")
_SHOWN = 40  # characters of a text quoted in a refusal
_REMEDY = "use other characters: the packet's font has Latin, Greek and Cyrillic letters, arrows and common signs"
_REMEDY_DIRECTION = "write it in letters that run from left to right"


def check_letters(written: Sources, spec: dict[str, Any], console: str) -> None:
    """Refuse every text of a project that the packet's fonts cannot set.

    Args:
        written: the project file and the file of known issues, read again only to name the lines.
        spec: the project's records by table.
        console: name of the target.

    Raises:
        ProjectError: names each such text and the character.
    """
    texts = [*texts_of(spec), (("game", "target"), console)]
    found = [(path, text, letter) for path, text in texts if (letter := unknown_letter(text))]
    if found:
        documents = [_document(written.folder, name) for name in written.names]
        for path, text, letter in found:
            say_letter(documents[path[0] == "issue" and written.paths[1].is_file()], path, text, letter)
        raise ProjectError(problem for document in documents for problem in document.problems)


def check_words(words: list[dict[str, Any]]) -> None:
    """Refuse the author's words about versions that the packet's fonts cannot set.

    Args:
        words: paragraphs, each ``text`` and ``line``; see ``project.words``.

    Raises:
        ProjectError: names each such paragraph and the character.
    """
    found = [(one, letter) for one in words if (letter := unknown_letter(one["text"]))]
    if found:
        raise ProjectError(Problem(WORDS, f"line {one['line']}", *letter_fault(one["text"], letter)) for one, letter in found)


def texts_of(value: Any, path: tuple = ()) -> Iterator[tuple[tuple, str]]:
    """Yield (path, text) for every printed text in records, lists and tables."""
    if isinstance(value, str):
        if path not in _UNSEEN:
            yield path, value
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            yield from texts_of(getattr(value, name), (*path, name))
    elif isinstance(value, dict):
        for key, part in value.items():
            if path == ("links", "more") or _is_placed(path):
                yield (*path, key), key
            yield from texts_of(part, (*path, key))
    elif isinstance(value, list):
        for rank, part in enumerate(value):
            yield from texts_of(part, (*path, rank))


def _is_placed(path: tuple) -> bool:
    return len(path) == 3 and path[0] == "pad" and path[2] == "buttons"


@functools.lru_cache(maxsize=4096)  # the fixed words are the same in every packet of a build
def unknown_letter(text: str) -> str | None:
    """Return the first character of a text that cannot be set, or None."""
    known = _known_letters()
    for letter in clean(text):
        if letter != "\n" and (ord(letter) not in known or unicodedata.bidirectional(letter) in _RIGHT_TO_LEFT):
            return letter
    return None


def say_letter(document: Document, path: tuple, text: str, letter: str) -> None:
    """Note in a document that a text holds a character that cannot be set."""
    document.say(path, *letter_fault(text, letter))


def letter_fault(text: str, letter: str) -> tuple[str, str]:
    """Return what is wrong with a text that holds a character that cannot be set, and the remedy."""
    named = f"U+{ord(letter):04X} {unicodedata.name(letter, 'without a name')}"
    plain = clean(text)
    if len(plain) > _SHOWN:
        start = max(0, plain.index(letter) - _SHOWN // 2)
        plain = plain[start : start + _SHOWN]
    if unicodedata.bidirectional(letter) in _RIGHT_TO_LEFT:
        return f"{letter!r} ({named}) in {plain!r} runs from right to left, which the packet cannot set", _REMEDY_DIRECTION
    return f"{letter!r} ({named}) in {plain!r} is not in the packet's font", _REMEDY


@functools.cache
def _known_letters() -> frozenset[int]:
    from pipeline.packet.typeset.style import SANS, STRONG, shown_by

    return shown_by(SANS) & shown_by(STRONG)


def _document(folder: Path, name: str) -> Document:
    try:
        return read_document(folder / name, name)
    except ProjectError:
        return Document(name, {})
