"""Names of files: their words and numbers, and what an asset can be called."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from typing import NamedTuple

from pipeline.bringing.vocabulary import ACTIONS, DIRECTIONS, GENERIC, MANNERS, ONE_OF_MANY, SPELT

LONGEST = 32  # characters of an identifier
_WORD = re.compile(r"[^\W\d_]+|\d+")
_PART = re.compile(r"[^\W_]+")  # numbers stay with their letters
_CAPITALS = re.compile(r"(?<=[a-z])(?=[A-Z])")


class Named(NamedTuple):
    """What the name of a file says.

    Attributes:
        words: in small letters, without the number.
        number: of the frame; None without one.
        skeleton: the name with the number's digits taken out: equal for the frames of one row.
    """

    words: tuple[str, ...]
    number: int | None
    skeleton: str


def natural(name: str) -> tuple:
    """Return a sort key that counts numbers in names: walk_2 before walk_10."""
    parts = re.split(r"([0-9]+)", name)
    return tuple((int(part), part) if rank % 2 else (0, part) for rank, part in enumerate(parts))


def words_of(text: str) -> tuple[str, ...]:
    """Return the words and numbers of a name in small letters; ``HeroRun 2`` has three."""
    return tuple(word.lower() for word in _WORD.findall(_CAPITALS.sub(" ", unicodedata.normalize("NFC", text))))


def read_name(stem: str) -> Named:
    """Return words and number of a file's name without its ending; the number is the last one that ends a word."""
    found = list(re.finditer(r"[0-9]+", stem))
    # A number in the middle counts only where nothing but marks follow it, as in "Walk (3)".
    last = found[-1] if found and not _WORD.search(stem, found[-1].end()) else None
    if last is None or len(last[0]) > 9:
        return Named(words_of(stem), None, stem)
    return Named(words_of(stem[: last.start()]), int(last[0]), f"{stem[: last.start()]}\0{stem[last.end() :]}")


def inner_number(stem: str) -> Named | None:
    """Return the same for a number that words follow, as in ``frame_03_delay`` or ``07_walk``; None without one.

    Of several numbers that of most digits counts, and the first of those.
    """
    found = [one for one in re.finditer(r"[0-9]+", stem) if len(one[0]) <= 9]
    if not found:
        return None
    one = max(found, key=lambda match: (len(match[0]), -match.start()))
    return Named(words_of(stem[: one.start()] + " " + stem[one.end() :]), int(one[0]), f"{stem[: one.start()]}\0{stem[one.end() :]}")


def _base_forms(word: str) -> set[str]:
    forms = {word, word.removesuffix("ing"), word.removesuffix("ed"), word.removesuffix("s"), word.removesuffix("d")}
    forms |= {word.removesuffix("ing") + "e", word.removesuffix("es")}
    # running, stopped: the last letter is doubled
    return forms | {form[:-1] for form in forms if len(form) > 3 and form[-1] == form[-2]}


def is_action(word: str) -> bool:
    """Return whether a word names a movement, a pose or a direction."""
    return word in DIRECTIONS or not ACTIONS.isdisjoint(_base_forms(word))


def is_movement(word: str) -> bool:
    """Return whether a word names a movement or a pose."""
    return not ACTIONS.isdisjoint(_base_forms(word))


def _says_how(word: str) -> bool:
    return is_action(word) or word in MANNERS


def split_action(words: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return subject and action: ``hero walk left`` is hero, and walk left. Numbers between stay where their neighbours are."""
    at = len(words)
    while at and (_says_how(words[at - 1]) or (at > 1 and words[at - 1].isdigit() and _says_how(words[at - 2]))):
        at -= 1
    if not any(is_movement(word) or (len(word) > 1 and word in DIRECTIONS) for word in words[at:]):
        at = len(words)  # "orc e" is more likely the fifth orc than an orc that looks east
    return words[:at], words[at:]


def is_generic(folder: str) -> bool:
    """Return whether a folder's name says only what kind of files it holds."""
    words = words_of(folder)
    return not words or all(word in GENERIC or word in ONE_OF_MANY or word.isdigit() for word in words)


def holds_many(folder: str) -> bool:
    """Return whether a folder's name says that each of its files is a thing of its own."""
    return any(word in ONE_OF_MANY for word in (*words_of(folder), folder.lower()))


def identifier(text: str, kind: str) -> str:
    """Return a name that a project file takes: small letters, digits and underscores, a letter first, at most 32.

    Letters of other scripts become their Latin ones, or the sound that Unicode names them by; a text of which nothing is left,
    or too little to know it by, becomes the name of its kind.
    """
    parts = _PART.findall(_CAPITALS.sub(" ", unicodedata.normalize("NFC", text)))
    latin = "_".join("".join(map(_latin, part.lower())) for part in parts)
    clean = re.sub(r"_+", "_", re.sub(r"[^a-z0-9_]", "", latin)).strip("_")
    clean = clean if not clean or clean[0].isalpha() else f"{kind}_{clean}"
    return clean[:LONGEST].rstrip("_") or kind


def _latin(letter: str) -> str:
    plain = "".join(one for one in unicodedata.normalize("NFKD", letter) if one.isascii() and one.isalnum()).lower()
    if plain:
        return plain
    name = unicodedata.name(letter, "")
    if letter in SPELT:
        return SPELT[letter]
    spelt = re.fullmatch(r"(?:HIRAGANA|KATAKANA) LETTER (?:SMALL )?([A-Z]+)|HANGUL SYLLABLE ([A-Z]+)", name)
    return (spelt[1] or spelt[2]).lower() if spelt else ""


def unique(wanted: str, taken: Collection[str]) -> str:
    """Return a name that is not taken: the wanted one, or that with the first free number from 2."""
    rank, name = 1, wanted
    while name in taken:
        rank += 1
        name = f"{wanted[: LONGEST - len(str(rank)) - 1].rstrip('_')}_{rank}"
    return name
