"""Testers' words: slang spelled out, symptoms found, empty words known. The words themselves are data, in ``lexicon.toml``."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path

_WORD = re.compile(r"[^\W_]+")
_LETTERS = {"german": set("äöüß"), "spanish": set("ñ¿¡áéíó")}
_APOSTROPHES = str.maketrans("", "", "'’‘`´")


@dataclass(frozen=True)
class Lexicon:
    """The words.

    Attributes:
        symptoms: symptom -> pattern that finds it in a folded text.
        slang: short form -> what it means. empty: folded words that say nothing. common: language -> those of them that are of it.
    """

    symptoms: dict[str, re.Pattern[str]]
    slang: dict[str, str]
    empty: frozenset[str]
    common: dict[str, frozenset[str]]


@cache
def lexicon() -> Lexicon:
    """Return the words, read once."""
    data = tomllib.loads((Path(__file__).with_name("lexicon.toml")).read_text(encoding="utf-8"))
    return Lexicon(
        {symptom: _pattern(said) for symptom, said in data["symptoms"].items()},
        data["slang"],
        frozenset(word for text in data["empty"].values() for word in folded(text).split()),
        {language: frozenset(folded(text).split()) for language, text in data["empty"].items()},
    )


def _pattern(said: list[str]) -> re.Pattern[str]:
    longest = sorted({folded(one, "*") for one in said}, key=lambda one: (-len(one), one))
    return re.compile(r"\b(?:" + "|".join(one.replace("*", r"\w*") for one in longest) + r")\b")


def folded(text: str, kept: str = "") -> str:
    """Return the words of a text, one space between them: compatibility forms and case folded, accents and apostrophes left out.

    Args:
        kept: signs that stay where they are.
    """
    plain = unicodedata.normalize("NFKD", text.casefold().translate(_APOSTROPHES))
    plain = "".join(char for char in plain if not unicodedata.combining(char))
    return " ".join(re.findall(rf"(?:[^\W_]|[{re.escape(kept)}])+", plain) if kept else _WORD.findall(plain))


def spelled_out(text: str) -> str:
    """Return a text with short forms spelled out, otherwise as it was written."""
    slang = lexicon().slang

    def meant(match: re.Match[str]) -> str:
        return slang.get(match[0].casefold().translate(_APOSTROPHES), match[0])

    return re.sub(r"[^\W_]+(?:['’][^\W_]+)?", meant, text)


def symptoms_in(text: str) -> frozenset[str]:
    """Return the symptoms that a text names."""
    plain = folded(text)
    return frozenset(symptom for symptom, pattern in lexicon().symptoms.items() if pattern.search(plain))


def language_of(text: str) -> str:
    """Return the language most of whose common words a text has, and whose letters; English where none has more."""
    words = folded(text).split()
    found = {language: sum(word in common for word in words) for language, common in lexicon().common.items()}
    for language, letters in _LETTERS.items():
        found[language] += 2 * bool(letters & set(text.casefold()))
    return max(found, key=lambda language: (found[language], language == "english"))


@cache
def is_empty(word: str) -> bool:
    """Say whether a folded word says nothing about a bug."""
    return word in lexicon().empty


@cache
def is_symptom(word: str) -> bool:
    """Say whether a folded word alone names a symptom."""
    return bool(symptoms_in(word))
