"""How likely two texts are of one bug: what they mean, what they are about, and what was seen, weighed as labelled sets taught.

Measures of a pair are weighed and added to log-odds (logistic regression; the weights are in ``model.toml``, fitted by
``python -m tests.bench.grouping``). Where an encoder is missing, so are its measures, and other weights are used.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct, convert

from pipeline.intake.alike.gloss import glossed
from pipeline.intake.alike.lexicon import folded, is_empty, is_symptom, language_of, spelled_out, symptoms_in
from pipeline.intake.alike.named import Names
from pipeline.intake.alike.sentences import Encoder
from pipeline.intake.alike.spelling import spelling_vectors

if TYPE_CHECKING:
    import numpy as np

WORDS = ("seen", "clash", "about", "all_words")
# What the encoder for all languages says of two texts in English, and as written; the same where both were written in English.
ANY = ("meaning", "wording", "meaning_english", "wording_english")
# What the English encoder says of two texts, and of the same without the project's names; the first where both were written in English.
ENGLISH = ("english", "nameless", "english_both", "both_english")
MEASURES = {"both": (*ENGLISH, *ANY, *WORDS), "any": (*ANY, *WORDS), "words": WORDS}  # with which encoders -> in what order
_NEAR = 0.4  # words less alike than this count as different
_KIN = 0.8  # how alike a button and what it does are
FLOOR = -4.0  # log-odds that every pair has at least: below, one unlike pair would weigh more than many alike
_FEW_ALIKE = -2.0  # mean log-odds of the likeliest others up to which a text is not like many
_MOST_CROWDED = 1.0  # above those that counts: a bug that many report must not be torn apart
_SAYS_LITTLE = 0.25  # of the weight of a word, for one that says nothing about a bug
_MOST_IN_ENGLISH = 1000  # texts up to which the English encoder is asked, which takes some ten milliseconds for each
_MOST_AT_ONCE = 3000  # different words, or texts, up to which all are compared with all at once
_CROWD = 10  # likeliest others of a text whose mean says how many it is like; in large heaps the fifteenth part of all
_RAREST = 6  # words of a text that bring it together with others, where not all are compared
_NOTHING = 1e-6  # instead of 0, to divide by


class Weights(Struct, forbid_unknown_fields=True):
    """What each measure counts for, and what follows from log-odds.

    Attributes:
        crowd: what it counts for that a text is like many others; see ``less_crowded``.
        firm: mean log-odds from which on two groups are one. known: the same where the author put one of them together.
    """

    weights: dict[str, float]
    bias: float
    crowd: float
    firm: float
    known: float


@cache
def trained(encoders: str) -> Weights:
    """Return the weights for comparing with both encoders, the one for any language, or words alone: a key of ``MEASURES``."""
    data = tomllib.loads(Path(__file__).with_name("model.toml").read_text(encoding="utf-8"))
    return convert(data[encoders], Weights)


@cache
def _typical() -> list[str]:
    """Return reports of no game in particular: what a few reports are compared against, to know which words are rare."""
    return Path(__file__).with_name("typical.txt").read_text(encoding="utf-8").splitlines()


def less_crowded(odds: np.ndarray, weight: float) -> np.ndarray:
    """Return the log-odds of all pairs, less for texts that are like many others: such likeness says little of any one.

    Args:
        odds: symmetric float32 [texts, texts]; the diagonal does not count.

    Source of the idea: Radovanović, Nanopoulos and Ivanović, "Hubs in Space" (2010); Conneau et al., "Word Translation Without Parallel
    Data" (2018), who subtract the mean of the nearest likewise.
    """
    import numpy as np

    nearest = max(_CROWD, len(odds) // 15)
    others = np.where(np.eye(len(odds), dtype=bool), np.float32(FLOOR), np.maximum(odds, np.float32(FLOOR)))
    others = np.pad(others, ((0, 0), (0, max(nearest - len(odds), 0))), constant_values=FLOOR)
    crowd = np.clip(-np.sort(-others, axis=1)[:, :nearest].mean(1) - np.float32(_FEW_ALIKE), 0, _MOST_CROWDED)
    return odds - np.float32(weight / 2) * (crowd[:, None] + crowd)


class Likeness:
    """Texts that can be compared with each other.

    Attributes:
        count: how many. encoders: a key of ``MEASURES``. model: weights and limits.
    """

    def __init__(
        self,
        texts: Sequence[str],
        names: dict[str, list[str]] | None = None,
        buttons: dict[str, str] | None = None,
        encode: Encoder | None = None,
    ) -> None:
        """Take everything of a text that can be found out once.

        Args:
            names: name -> what else it is called. buttons: button -> what it does, as the project says.
            encode: what puts texts into vectors; see ``sentences.encoder``.
        """
        import numpy as np

        self.count = len(texts)
        called, every = Names(names or {}), [*texts, *_typical()]
        put = [glossed(called.named(spelled_out(text)), text) for text in every]
        plain = [text for text, _ in put]
        self._written = [written for _, written in put]
        self._set_meant(every, plain, [called.without(text) for text in plain], encode)
        # What was put into English can lose a phrase that is known in German or Spanish, and a name can hide one.
        symptoms = [symptoms_in(f"{text} | {spelled_out(texts[rank])}") for rank, text in enumerate(plain[: self.count])]
        order = sorted(set().union(*symptoms))
        self._symptoms = np.array([[one in found for one in order] for found in symptoms], np.float32).reshape(self.count, len(order))
        self._set_words([list(dict.fromkeys(folded(text).split())) or [""] for text in plain], buttons or {}, encode)

    def _set_meant(self, every: list[str], plain: list[str], nameless: list[str], encode: Encoder | None) -> None:
        import numpy as np

        english = encode.english if encode is not None and 0 < self.count <= _MOST_IN_ENGLISH else None
        self.encoders = "both" if english is not None else "any" if encode is not None else "words"
        self.model = trained(self.encoders)
        self._meant: list[np.ndarray] = []
        self._english = np.array([language_of(text) == "english" for text in every[: self.count]], np.float32)
        if english is not None:
            # The mean of typical reports is known, since encoding them takes as long as encoding those of a game.
            typical = np.load(Path(__file__).with_name("typical_english.npy"))
            self._meant = [_apart(english(texts[: self.count]), 0, typical, len(_typical())) for texts in (plain, nameless)]
        if encode is not None:
            both = encode([*plain, *every])
            self._meant += [_apart(both[: len(plain)], 0)[: self.count], _apart(both[len(plain) :], 1)[: self.count]]
        self._products = [vectors @ vectors.T for vectors in self._meant if self.count <= _MOST_AT_ONCE]

    def _set_words(self, words: list[list[str]], buttons: dict[str, str], encode: Encoder | None) -> None:
        import numpy as np

        counts = Counter(word for every in words for word in every)
        self._words = sorted(counts)
        rank = {word: at for at, word in enumerate(self._words)}
        rarity = np.log((1 + len(words)) / np.array([counts[word] for word in self._words], np.float64)).astype(np.float32)
        empty = np.array([is_empty(word) for word in self._words])
        symptom = np.array([is_symptom(word) for word in self._words])
        self._any = np.where(empty, _SAYS_LITTLE, 1).astype(np.float32) * rarity
        self._subject = np.where(empty | symptom, 0, rarity).astype(np.float32)
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

        weights = np.array([self.model.weights[name] for name in MEASURES[self.encoders]], np.float32)
        return self.measures(one, others) @ weights + np.float32(self.model.bias)

    def measures(self, one: int, others: np.ndarray) -> np.ndarray:
        """Return the measures of a text beside each of some others: float32 [others, measures in use]; see ``odds``."""
        import numpy as np

        at = _neighbours(others)
        meant = [every[one, at] for every in self._products] or [vectors[at] @ vectors[one] for vectors in self._meant]
        both = self._english[at] * self._english[one]
        columns = [meant[0], meant[1], meant[0] * both, both] if self.encoders == "both" else []
        if meant:
            columns += [meant[-2], meant[-1], meant[-2] * both, meant[-1] * both]
        shared = self._symptoms[at] @ self._symptoms[one]
        named = self._symptoms[at].sum(1)
        either = named + self._symptoms[one].sum() - shared
        columns.append(shared / np.maximum(either, 1))
        columns.append(((shared == 0) & (named > 0) & (self._symptoms[one].sum() > 0)).astype(np.float32))
        columns += self._word_measures(one, others)
        return np.stack(columns, axis=1).astype(np.float32)

    def _word_measures(self, one: int, others: np.ndarray) -> list[np.ndarray]:
        """Return for each other text: the share of what both are about that agrees, and the share of all words."""
        import numpy as np

        own, subject = self._all.words(one), self._about.words(one)
        alike = self._every[own] if self._every is not None else self._alike_words(own)
        about = alike[np.isin(own, subject)]
        return [self._about.share(one, about, others), self._all.share(one, alike, others)]

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
        ranks = [(int(own[at]), int(theirs[best[at]])) for at in order[:most]]
        pairs = [(self._written_word(one, mine), self._written_word(other, yours)) for mine, yours in ranks]
        return [mine if mine == yours else f"{mine} ~ {yours}" for mine, yours in dict.fromkeys(pairs)]

    def _written_word(self, one: int, rank: int) -> str:
        """Return a word as the report has it: for what was put into English, the word it was put for."""
        word = self._words[rank]
        return folded(self._written[one].get(word, word))


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


def _apart(vectors: np.ndarray, directions: int, others: np.ndarray | float = 0.0, count: int = 0) -> np.ndarray:
    """Return vectors less their mean and what they vary in most, each of length 1: what all reports share distinguishes none.

    Args:
        others, count: mean and number of further vectors that count in the mean.
    """
    import numpy as np

    rest = vectors - (vectors.sum(0) + others * count) / (len(vectors) + count)
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
