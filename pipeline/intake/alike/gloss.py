"""German and Spanish reports word for word in English, for what compares English best; ``gloss.toml`` has the words."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path

from pipeline.intake.alike.lexicon import folded, language_of

_WORD = re.compile(r"[^\W_]+|[^\w\s]")
_ENDINGS = ("", "e", "en", "n", "o", "a", "er")
_SHORT, _LONG = 4, 7  # letters up to which a word has no ending taken off; above which it may be two words in one


@cache
def _meanings() -> dict[str, dict[str, str]]:
    data = tomllib.loads(Path(__file__).with_name("gloss.toml").read_text(encoding="utf-8"))
    return {language: dict(entry.split("=") for entry in text.split()) for language, text in data.items()}


def glossed(text: str, like: str = "") -> tuple[str, dict[str, str]]:
    """Return a text with words that are known put into English, and folded English word -> the word it was put for.

    Args:
        like: the text whose language it is, where names were put into ``text``.
    """
    language = language_of(like or text)
    if language not in _meanings():
        return text, {}
    words, written = [], {}
    for word in _WORD.findall(text):
        meant = _meaning(folded(word), language)
        words.append(meant.replace("_", " ") if meant else word)
        if meant:
            written |= dict.fromkeys(folded(words[-1]).split(), word)
    return " ".join(words), written


@cache
def _meaning(word: str, language: str) -> str:
    """Return what a folded word means, also with another ending, or as two words in one; empty where it is not known."""
    known = _meanings()[language]
    if word in known:
        return known[word]
    if len(word) > _SHORT:
        for stem in (word[:-1], word[:-2]):
            for ending in _ENDINGS:
                if stem + ending in known:
                    return known[stem + ending]
    if len(word) > _LONG and language == "german":
        for at in range(_SHORT, len(word) - 2):
            if word[:at] in known and word[at:] in known:
                return f"{known[word[:at]]}_{known[word[at:]]}"
    return ""
