"""How alike two reports are, in whole per cent, and why. A word counts by how rare it is; all sums are over whole numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.intake.words import Names, joined, misspellings, symptoms_in, word_counts, words_of

_ELSEWHERE, _OTHER_SYMPTOM = 40, 30  # per cent of the score that are left
_LEAST_WORDS = 3  # a text with fewer words counts as one with this many rare words


@dataclass(frozen=True)
class Words:
    """What is compared of a text: all its words, those that name the place, and the symptoms among them."""

    every: frozenset[str]
    place: frozenset[str]
    symptoms: frozenset[str]
    weight: int = 0  # of all its words together


class Vocabulary:
    """The words of a collection of reports and known issues, and what each counts for.

    Attributes:
        texts: what is compared of each text, in the order given.
    """

    def __init__(self, texts: Sequence[tuple[str, str]], names: dict[str, list[str]] | None = None) -> None:
        """Learn from ``(what, where)`` of every text; ``names`` is name -> what else it is called."""
        called = Names(names or {})
        plain = [(words_of(called.named(what)), words_of(called.named(where))) for what, where in texts]
        known = word_counts(what + where for what, where in plain)
        plain = [(joined(what, known), joined(where, known)) for what, where in plain]
        counts = word_counts(what + where for what, where in plain)
        meant = misspellings(counts)
        self.texts = []
        for what, where in plain:
            place = frozenset(meant.get(word, word) for word in where)
            every = place.union(meant.get(word, word) for word in what)
            self.texts.append(Words(every, place, symptoms_in(every)))
        self.counts = word_counts(words.every for words in self.texts)
        # 1 for a word that every text has, one more each time it is half as frequent.
        self._weights = {word: (len(texts) // count).bit_length() for word, count in self.counts.items()}
        self.texts = [replace(words, weight=self.weight(words.every)) for words in self.texts]
        self._least = _LEAST_WORDS * len(texts).bit_length() // 2

    def weight(self, words: frozenset[str]) -> int:
        """Return what some words count for together."""
        return sum(map(self._weights.__getitem__, words))

    def alike(self, one: Words, other: Words) -> int:
        """Return how alike two texts are, 0 to 100.

        It is the mean of two shares: of what both say in what they say together (Dice), and in what the shorter one says. It is
        cut where they name different places, or different symptoms.
        """
        shared = self.weight(one.every & other.every)
        if not shared:
            return 0
        first, second = one.weight, other.weight
        least = max(min(first, second), self._least)
        score = (200 * shared // (first + second) + 100 * shared // least) // 2
        if one.place and other.place and not one.place & other.every and not other.place & one.every:
            score = score * _ELSEWHERE // 100
        if one.symptoms and other.symptoms and not one.symptoms & other.symptoms:
            score = score * _OTHER_SYMPTOM // 100
        return score

    def shared(self, one: Words, other: Words) -> list[str]:
        """Return the words that both texts have, what counts most first."""
        return sorted(one.every & other.every, key=lambda word: (-self._weights[word], word))
