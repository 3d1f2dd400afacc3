"""How likely two texts are of one bug: what they mean, what they are about, and what was seen, weighed as labelled sets taught.

Seven measures of a pair, each 0 to 1, are weighed and added to log-odds (logistic regression; the weights are in ``model.toml``, fitted by
``python -m tests.bench.grouping``). Where sentence vectors are missing, the first two are too, and other weights are used.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct, convert

from pipeline.intake.alike.lexicon import folded, is_empty, is_symptom, spelled_out, symptoms_in
from pipeline.intake.alike.named import Names
from pipeline.intake.alike.spelling import spelling_vectors

if TYPE_CHECKING:
    import numpy as np

MEASURES = ("meaning", "wording", "seen", "clash", "about", "rarest", "all_words")
_NEAR = 0.4  # words less alike than this count as different
_KIN = 0.8  # how alike a button and what it does are
_SAYS_LITTLE = 0.25  # of the weight of a word, for one that says nothing about a bug
_MOST_WORDS = 3000  # different words up to which all are compared at once
_RAREST = 6  # words of a text that bring it together with others, where not all are compared
_NOTHING = 1e-6  # instead of 0, to divide by


class Weights(Struct, forbid_unknown_fields=True):
    """What each measure counts for, and the log-odds from which on a group is firm."""

    weights: dict[str, float]
    bias: float
    firm: float


@cache
def trained(vectors: bool) -> Weights:
    """Return the weights for comparing with sentence vectors, or without."""
    data = tomllib.loads(Path(__file__).with_name("model.toml").read_text(encoding="utf-8"))
    return convert(data["with_vectors" if vectors else "without_vectors"], Weights)


@cache
def _typical() -> list[str]:
    """Return reports of no game in particular: what a few reports are compared against, to know which words are rare."""
    return Path(__file__).with_name("typical.txt").read_text(encoding="utf-8").splitlines()


class Likeness:
    """Texts that can be compared with each other.

    Attributes:
        count: how many. firm: log-odds from which on a group is firm.
    """

    def __init__(
        self,
        texts: Sequence[str],
        names: dict[str, list[str]] | None = None,
        buttons: dict[str, str] | None = None,
        encode: Callable[[list[str]], np.ndarray] | None = None,
    ) -> None:
        """Take everything of a text that can be found out once.

        Args:
            names: name -> what else it is called. buttons: button -> what it does, as the project says.
            encode: texts -> their vectors; see ``sentences.encoder``.
        """
        import numpy as np

        self.count = len(texts)
        called = Names(names or {})
        plain = [called.named(spelled_out(text)) for text in [*texts, *_typical()]]
        self._model = trained(encode is not None)
        self.firm = self._model.firm
        self._meant: list[np.ndarray] = []
        if encode is not None:
            both = encode([*plain, *texts, *_typical()])
            self._meant = [_apart(both[: len(plain)], 0)[: self.count], _apart(both[len(plain) :], 1)[: self.count]]
        symptoms = [symptoms_in(text) for text in plain[: self.count]]
        order = sorted(set().union(*symptoms))
        self._symptoms = np.array([[one in found for one in order] for found in symptoms], np.float32).reshape(self.count, len(order))
        self._set_words([list(dict.fromkeys(folded(text).split())) or [""] for text in plain], buttons or {}, encode)

    def _set_words(self, words: list[list[str]], buttons: dict[str, str], encode) -> None:
        import numpy as np

        counts = Counter(word for every in words for word in every)
        self._words = sorted(counts)
        rank = {word: at for at, word in enumerate(self._words)}
        rarity = np.log((1 + len(words)) / np.array([counts[word] for word in self._words], np.float64)).astype(np.float32)
        empty = np.array([is_empty(word) for word in self._words])
        symptom = np.array([is_symptom(word) for word in self._words])
        self._any = np.where(empty, _SAYS_LITTLE, 1).astype(np.float32) * rarity
        self._subject = np.where(empty | symptom, 0, rarity).astype(np.float32)
        self._most = float(np.log(1 + len(words)))
        self._flat = np.array([rank[word] for every in words[: self.count] for word in every], np.int64)
        self._starts = np.cumsum([0, *(len(every) for every in words[: self.count])])
        self._spelled = spelling_vectors(self._words)
        self._understood = _apart(encode(self._words), 0) if encode is not None else None
        self._kin = {(rank[one], rank[other]) for one, other in _kin(buttons) if one in rank and other in rank}
        self._every = self._alike_words(np.arange(len(self._words))) if len(self._words) <= _MOST_WORDS else None
        self._totals = []
        if self.count:
            self._totals = [np.add.reduceat(weight[self._flat], self._starts[:-1]) for weight in (self._subject, self._any)]

    def _alike_words(self, ranks: np.ndarray) -> np.ndarray:
        """Return how alike some words are to all, 0 to 1: float32 [ranks, words]."""
        import numpy as np

        alike = self._spelled[ranks] @ self._spelled.T
        if self._understood is not None:
            alike = np.maximum(alike, self._understood[ranks] @ self._understood.T)
        at = {int(rank): row for row, rank in enumerate(ranks)}
        for one, other in self._kin:
            for a, b in ((one, other), (other, one)):
                if a in at:
                    alike[at[a], b] = max(alike[at[a], b], _KIN)
        return np.where(alike > _NEAR, np.minimum(alike, 1), 0)

    def odds(self, one: int, others: np.ndarray) -> np.ndarray:
        """Return the log-odds that a text and each of some others are of one bug: float32 [others].

        Args:
            others: ranks of texts, ascending, at least one.
        """
        import numpy as np

        measures = self.measures(one, others)
        names = MEASURES[-measures.shape[1] :]
        return measures @ np.array([self._model.weights[name] for name in names], np.float32) + np.float32(self._model.bias)

    def measures(self, one: int, others: np.ndarray) -> np.ndarray:
        """Return the measures of a text beside each of some others: float32 [others, measures in use]; see ``odds``."""
        import numpy as np

        columns = [vectors[others] @ vectors[one] for vectors in self._meant]
        shared = self._symptoms[others] @ self._symptoms[one]
        named = self._symptoms[others].sum(1)
        either = named + self._symptoms[one].sum() - shared
        columns.append(shared / np.maximum(either, 1))
        columns.append(((shared == 0) & (named > 0) & (self._symptoms[one].sum() > 0)).astype(np.float32))
        columns += self._word_measures(one, others)
        return np.stack(columns, axis=1).astype(np.float32)

    def _word_measures(self, one: int, others: np.ndarray) -> list[np.ndarray]:
        """Return for each other text: the share of what both are about that agrees, the rarest word that does, the share of all words."""
        import numpy as np

        own, (theirs, starts) = self._words_at(one), self._words_of(others)
        alike = (self._every[own] if self._every is not None else self._alike_words(own))[:, theirs]
        shares = []
        for weight, totals in zip((self._subject, self._any), self._totals, strict=True):
            live = alike * (weight[own][:, None] > 0) * (weight[theirs] > 0)
            mine = np.maximum.reduceat(live, starts, axis=1).T @ weight[own] / max(float(totals[one]), _NOTHING)
            yours = np.add.reduceat(live.max(0) * weight[theirs], starts) / np.maximum(totals[others], _NOTHING)
            shares.append((mine + yours) / 2)
        least = np.minimum(self._subject[own][:, None], self._subject[theirs])
        rarest = np.maximum.reduceat((alike * least).max(0), starts) / self._most
        return [shares[0], rarest, shares[1]]

    def _words_at(self, one: int) -> np.ndarray:
        return self._flat[self._starts[one] : self._starts[one + 1]]

    def _words_of(self, others: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the words of some texts, one after another, and where each text's begin."""
        import numpy as np

        first, last = int(others[0]), int(others[-1])
        if last - first + 1 == len(others):  # neighbours: no copy of each
            return self._flat[self._starts[first] : self._starts[last + 1]], self._starts[first : last + 1] - self._starts[first]
        every = [self._words_at(int(one)) for one in others]
        return np.concatenate(every), np.cumsum([0, *(len(words) for words in every[:-1])])

    def partners(self, most: int) -> Iterator[np.ndarray]:
        """Yield for each text at most so many earlier ones that share its rarest words, the latest first; for collections too large to
        compare every pair.
        """
        import numpy as np

        buckets: dict[int, list[int]] = {}
        for one in range(self.count):
            own = self._words_at(one)
            rarest = own[np.argsort(-self._subject[own], kind="stable")][:_RAREST]
            found: set[int] = set()
            for word in rarest[self._subject[rarest] > 0].tolist():
                before = buckets.setdefault(word, [])
                found.update(before[-most:])
                before.append(one)
            yield np.array(sorted(found)[-most:], np.int64)

    def words(self, one: int, other: int, most: int) -> list[str]:
        """Return words of a text that another has too, or has one like it (``lift ~ elevator``); what counts most first."""
        import numpy as np

        own, theirs = self._words_at(one), self._words_at(other)
        alike = self._alike_words(own)[:, theirs]
        best = alike.argmax(1)
        weight = self._any[own] * alike.max(1)
        order = [at for at in np.argsort(-weight, kind="stable") if alike[at, best[at]] > 0 and not is_empty(self._words[own[at]])]
        pairs = [(self._words[own[at]], self._words[theirs[best[at]]]) for at in order[:most]]
        return [mine if mine == yours else f"{mine} ~ {yours}" for mine, yours in pairs]


def _apart(vectors: np.ndarray, directions: int) -> np.ndarray:
    """Return vectors less their mean and what they vary in most, each of length 1: what all reports share tells none apart."""
    import numpy as np

    rest = vectors - vectors.mean(0)
    if directions:
        _, axes = np.linalg.eigh(rest.T @ rest)
        axes = axes[:, -directions:]
        rest = rest - (rest @ axes) @ axes.T
    return (rest / np.maximum(np.linalg.norm(rest, axis=1, keepdims=True), _NOTHING)).astype(np.float32)


def _kin(buttons: dict[str, str]) -> list[tuple[str, str]]:
    """Return pairs of folded words: a button, and each word of what it does that says something."""
    pairs = []
    for button, does in buttons.items():
        for name in folded(button).split():
            pairs += [(name, word) for word in folded(does).split() if not is_empty(word) and not is_empty(name) and word != name]
    return pairs
