"""Texts as sets of words that can be compared: folded, without words that say nothing, misspelt ones as what was meant."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Container, Iterable

_WORD = re.compile(r"[^\W_]+")
# English words that say nothing about a bug; common practice, no source. Other languages go by how rare a word is.
_EMPTY_WORDS = """
    a about after again all already also an and any are as at be been being but by can could did do does doing during each every for
    from game get gets getting got had happen happened happens has have he hello her hey hi his how i if in into is it its just
    known like looks maybe me my no not of off on or our out over please really report see seen she so some sometimes still sure
    than that the their them then there they this to too up very was we went were what when whenever where which while who will with
    without would you your
"""
_EMPTY = frozenset(_EMPTY_WORDS.split())
# Words testers use for one symptom; the first represents all. Common practice, no source.
SYMPTOMS = (
    "freeze froze frozen hang hung stuck stall unresponsive",
    "crash reboot reset restart",
    "silent mute quiet",
    "flicker flash blink",
    "garble corrupt glitch scramble garbage distort",
    "slow slowdown lag stutter jerk choppy",
    "vanish disappear invisible gone missing lost",
    "fall fell drop sink sank",
    "colour color palette tint hue",
)
# Words for one thing or deed, which say less.
_THINGS = (
    "sound audio noise",
    "music song soundtrack tune",
    "picture image screen display",
    "press push hit tap",
    "button key",
    "jump leap hop",
    "wall barrier border",
)
_SYMPTOM_ROOTS = frozenset(line.split()[0] for line in SYMPTOMS)
_MEANT = {word: line.split()[0] for line in (*SYMPTOMS, *_THINGS) for word in line.split()}
_ENDINGS = ("ings", "ing", "ies", "ied", "es", "ed", "ly", "s")
_LEAST_STEM = 3  # characters an ending must leave
_LEAST_MEANT = 5  # characters a word must have to be taken as misspelt
_TIMES_RARER = 4  # a misspelling is this many times rarer than what was meant


class Names:
    """What testers call things, and the names they have in the project."""

    def __init__(self, names: dict[str, list[str]]) -> None:
        """Take name -> what else it is called."""
        self._of = {_fold(said): _fold(name) for name, every in names.items() for said in every if _fold(said)}
        longest = sorted(self._of, key=lambda said: (-len(said), said))
        self._pattern = re.compile(r"(?<!\w)(?:" + "|".join(map(re.escape, longest)) + r")(?!\w)") if longest else None

    def named(self, text: str) -> str:
        """Return a text, folded, in which things have their names."""
        folded = _fold(text)
        return self._pattern.sub(lambda match: self._of[match[0]], folded) if self._pattern else folded


def words_of(text: str) -> list[str]:
    """Return the words of a text in order: compatibility forms and case folded, empty words left out, endings cut, symptoms one."""
    return [_root(word) for word in _plain_words(text)]


def spelt(text: str) -> dict[str, str]:
    """Return what ``words_of`` makes of each word of a text -> the word as it first occurs there, folded."""
    found: dict[str, str] = {}
    for word in _plain_words(text):
        found.setdefault(_root(word), word)
    return found


def _plain_words(text: str) -> list[str]:
    return [word for word in _WORD.findall(_fold(text)) if word not in _EMPTY]


def _fold(text: str) -> str:
    return unicodedata.normalize("NFKC", text).casefold().replace("'", "").replace("’", "")


def _root(word: str) -> str:
    """Return a word without an English ending, a doubled last letter and a final e, or the symptom that it names."""
    stem = _stem(word)
    single = stem[:-1] if len(stem) > _LEAST_STEM and stem[-1] == stem[-2] and stem[-1] not in "aeiou" else stem
    for form in (word, stem, stem + "e", single, single + "e"):
        if form in _MEANT:
            return _MEANT[form]
    return single[:-1] if len(single) > _LEAST_STEM and single[-1] == "e" else single


def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _LEAST_STEM:
            return word[: -len(ending)] + ("y" if ending in ("ies", "ied") else "")
    return word


def symptoms_in(words: frozenset[str]) -> frozenset[str]:
    """Return the symptoms among some words of ``words_of``."""
    return words & _SYMPTOM_ROOTS


def joined(words: list[str], known: Container[str]) -> list[str]:
    """Return words with two neighbours as one where others write them as one: ``ember dock`` as ``emberdock``."""
    out: list[str] = []
    for word in words:
        if out and out[-1] + word in known:
            out[-1] += word
        else:
            out.append(word)
    return out


def misspellings(counts: Counter[str]) -> dict[str, str]:
    """Return word -> the much more frequent word that was meant: one edit away, two from eight characters on.

    An edit is a letter put in, taken out, exchanged, or two neighbours swapped (optimal string alignment). Both begin with the
    same letter. The same words give the same answer in any order.

    Args:
        counts: word -> number of texts that have it.
    """
    from rapidfuzz.distance import OSA

    frequent: dict[tuple[str, int], list[str]] = {}
    for word in sorted(counts):
        if len(word) >= _LEAST_MEANT and counts[word] >= _TIMES_RARER and not word.isdigit():
            frequent.setdefault((word[0], len(word)), []).append(word)
    meant = {}
    for word, count in counts.items():
        if len(word) < _LEAST_MEANT or any(char.isdigit() for char in word):
            continue
        most = 2 if len(word) >= 8 else 1
        near = (other for step in range(-most, most + 1) for other in frequent.get((word[0], len(word) + step), ()))
        found = [
            (distance, -counts[other], other)
            for other in near
            if counts[other] >= _TIMES_RARER * count and (distance := OSA.distance(word, other, score_cutoff=most)) <= most
        ]
        if found:
            meant[word] = min(found)[2]
    return meant


def word_counts(texts: Iterable[Iterable[str]]) -> Counter[str]:
    """Return word -> number of texts that have it."""
    return Counter(word for words in texts for word in set(words))
