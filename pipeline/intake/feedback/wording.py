"""Words that go with low marks: the log-likelihood ratio of a word and a mark (Dunning, 1993, "Accurate Methods for the Statistics of
Surprise and Coincidence", Computational Linguistics 19, 61-74), over answers, not over words, so that nobody counts for many.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from dataclasses import dataclass

SURPRISING = 6.63  # the ratio that one word in a hundred reaches by chance (chi squared, one degree of freedom, 0.99)
_LEAST = 3  # answers with low marks that have the word
_WORD = re.compile(r"[^\W\d_](?:[^\W_]|['’](?=[^\W_]))+")


@dataclass(frozen=True)
class Telling:
    """A word, in how many answers with low marks and with others it is, and its log-likelihood ratio."""

    word: str
    low: int
    other: int
    ratio: float


def telling_words(low: list[str], other: list[str], most: int) -> list[Telling]:
    """Return the words that are in more of the low answers than chance would have it, the most surprising first.

    Args:
        low, other: what people with low marks wrote, and those with others; an empty text counts as an answer without words.
    """
    with_low, with_other = (Counter(word for text in texts for word in _words(text)) for texts in (low, other))
    found = []
    for word, count in with_low.items():
        if count >= _LEAST and count * len(other) > with_other[word] * len(low):
            ratio = log_likelihood(count, with_other[word], len(low) - count, len(other) - with_other[word])
            if ratio >= SURPRISING:
                found.append(Telling(word, count, with_other[word], ratio))
    return sorted(found, key=lambda one: (-one.ratio, one.word))[:most]


def log_likelihood(both: int, word: int, mark: int, neither: int) -> float:
    """Return 2 ln of the likelihood ratio of a table of two by two, to a millionth; 0 where word and mark are independent."""
    total, rows, columns = both + word + mark + neither, (both + word, mark + neither), (both + mark, word + neither)
    cells = ((both, rows[0], columns[0]), (word, rows[0], columns[1]), (mark, rows[1], columns[0]), (neither, rows[1], columns[1]))
    return round(2 * sum(seen * math.log(seen * total / (row * column)) for seen, row, column in cells if seen), 6)


def _words(text: str) -> set[str]:
    return set(_WORD.findall(unicodedata.normalize("NFKC", text).casefold()))
