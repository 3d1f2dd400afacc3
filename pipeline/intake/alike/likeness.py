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
_MOST_AT_ONCE = 3000  # different words, or texts, up to which all are compared with all at once
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
        self._products = [vectors @ vectors.T for vectors in self._meant if self.count <= _MOST_AT_ONCE]
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
        texts = [np.array([rank[word] for word in every], np.int64) for every in words[: self.count]]
        self._all = _Said(texts, self._any)
        self._about = _Said([every[self._subject[every] > 0] for every in texts], self._subject)
        self._spelled = spelling_vectors(self._words)
        self._understood = _apart(encode(self._words), 0) if encode is not None else None
        self._kin = {(rank[one], rank[other]) for one, other in _kin(buttons) if one in rank and other in rank}
        self._every = self._alike_words(np.arange(len(self._words))) if len(self._words) <= _MOST_AT_ONCE else None

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

        at = _neighbours(others)
        columns = [every[one, at] for every in self._products] or [vectors[at] @ vectors[one] for vectors in self._meant]
        shared = self._symptoms[at] @ self._symptoms[one]
        named = self._symptoms[at].sum(1)
        either = named + self._symptoms[one].sum() - shared
        columns.append(shared / np.maximum(either, 1))
        columns.append(((shared == 0) & (named > 0) & (self._symptoms[one].sum() > 0)).astype(np.float32))
        columns += self._word_measures(one, others)
        return np.stack(columns, axis=1).astype(np.float32)

    def _word_measures(self, one: int, others: np.ndarray) -> list[np.ndarray]:
        """Return for each other text: the share of what both are about that agrees, the rarest word that does, the share of all words."""
        import numpy as np

        own, subject = self._all.words(one), self._about.words(one)
        alike = self._every[own] if self._every is not None else self._alike_words(own)
        about = alike[np.isin(own, subject)]
        rarest = self._about.most(np.minimum(self._subject[subject][:, None], self._subject) * about, others) / self._most
        return [self._about.share(one, about, others), rarest.max(0), self._all.share(one, alike, others)]

    def partners(self, most: int) -> Iterator[np.ndarray]:
        """Yield for each text at most so many earlier ones that share its rarest words, the latest first; for collections too large to
        compare every pair.
        """
        import numpy as np

        buckets: dict[int, list[int]] = {}
        for one in range(self.count):
            own = self._about.words(one)
            found: set[int] = set()
            for word in own[np.argsort(-self._subject[own], kind="stable")][:_RAREST].tolist():
                before = buckets.setdefault(word, [])
                found.update(before[-most:])
                before.append(one)
            yield np.array(sorted(found)[-most:], np.int64)

    def words(self, one: int, other: int, most: int) -> list[str]:
        """Return words of a text that another has too, or has one like it (``lift ~ elevator``); what counts most first."""
        import numpy as np

        own, theirs = self._all.words(one), self._all.words(other)
        alike = self._alike_words(own)[:, theirs]
        best = alike.argmax(1)
        weight = self._any[own] * alike.max(1)
        order = [at for at in np.argsort(-weight, kind="stable") if alike[at, best[at]] > 0 and not is_empty(self._words[own[at]])]
        pairs = [(self._words[own[at]], self._words[theirs[best[at]]]) for at in order[:most]]
        return [mine if mine == yours else f"{mine} ~ {yours}" for mine, yours in pairs]


class _Said:
    """Words of texts one after another, and what they weigh.

    A text without any has one that is like nothing, since no part of an array may be empty where its parts are compared.
    """

    def __init__(self, texts: list[np.ndarray], weight: np.ndarray) -> None:
        """Take the ranks of each text's words, and the weight of each word."""
        import numpy as np

        self._texts, self._weight = texts, weight
        nothing = np.array([len(weight)], np.int64)
        self._padded = [words if len(words) else nothing for words in texts]
        self._flat = np.concatenate(self._padded) if texts else nothing
        self._starts = np.cumsum([0, *(len(words) for words in self._padded)])
        self._totals = np.array([weight[words].sum() for words in texts], np.float32)

    def words(self, one: int) -> np.ndarray:
        """Return the ranks of a text's words."""
        return self._texts[one]

    def most(self, values: np.ndarray, others: np.ndarray) -> np.ndarray:
        """Return the largest of some values over the words of each other text: float32 [rows, others]; 0 without a row.

        Args:
            values: float32 [rows, words].
        """
        import numpy as np

        flat, starts = self._of(others)
        padded = np.pad(values if len(values) else np.zeros((1, values.shape[1]), np.float32), ((0, 0), (0, 1)))
        return np.maximum.reduceat(padded[:, flat], starts, axis=1)

    def share(self, one: int, alike: np.ndarray, others: np.ndarray) -> np.ndarray:
        """Return how much of what a text and each other say agrees, both ways, 0 to 1: float32 [others].

        Args:
            alike: how alike each word of the text is to all words: float32 [words of the text, words].
        """
        import numpy as np

        own = self._texts[one]
        if not len(own):
            return np.zeros(len(others), np.float32)
        flat, starts = self._of(others)
        mine = self._weight[own] @ self.most(alike, others) / max(float(self._totals[one]), _NOTHING)
        best = np.append(alike.max(0) * self._weight, np.float32(0))
        yours = np.add.reduceat(best[flat], starts) / np.maximum(self._totals[others], _NOTHING)
        return (mine + yours) / 2

    def _of(self, others: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the words of some texts, one after another, and where each text's begin."""
        import numpy as np

        at = _neighbours(others)
        if isinstance(at, slice):
            first = self._starts[at.start]
            return self._flat[first : self._starts[at.stop]], self._starts[at] - first
        every = [self._padded[one] for one in others.tolist()]
        return np.concatenate(every), np.cumsum([0, *(len(words) for words in every[:-1])])


def _neighbours(ranks: np.ndarray) -> slice | np.ndarray:
    """Return ascending ranks as a slice where none is left out, since rows are copied otherwise."""
    first, last = int(ranks[0]), int(ranks[-1])
    return slice(first, last + 1) if last - first + 1 == len(ranks) else ranks


def _apart(vectors: np.ndarray, directions: int) -> np.ndarray:
    """Return vectors less their mean and what they vary in most, each of length 1: what all reports share distinguishes none."""
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
