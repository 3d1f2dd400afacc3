"""How well reports of one bug are found, on labelled sets of short reports. Run: ``python -m tests.bench.grouping``, or with ``fit``.

The sets are in ``report_sets``: invented games, reports written as testers write them (short, misspelt, some German and Spanish) by
several hands who saw neither each other's sets nor the code. A set whose name begins with ``fit`` was used to fit the weights of
``pipeline/intake/alike/model.toml`` (logistic regression on all pairs); the others only to measure. ``fit`` prints the
weights, and what leaving each of those sets out would have given for it.

Precision: the share of pairs put into one group that are of one bug. Recall: the share of pairs of one bug that were put into one
group. First, five: the share of reports with a partner whose likeliest other, or one of the likeliest five, is one. Answers: both shares
after 15 answers to "are these two of one bug?", each about two groups that are likely one.
"""

from __future__ import annotations

import math
import sys
import tomllib
from collections import Counter
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from pipeline.intake.alike.likeness import MEASURES, Likeness, Weights
from pipeline.intake.alike.linkage import FLOOR, Pairs, groups_of
from pipeline.intake.alike.sentences import encoder
from pipeline.intake.decisions import Decisions
from pipeline.intake.groups import Compared, group_reports

SETS = Path(__file__).with_name("report_sets")
ANSWERS = 15
_WANTED = 0.96  # precision aimed at on the sets that are fitted; a little above what is promised


@dataclass(frozen=True)
class LabelledSet:
    """Reports of a game, and the bug each is of.

    Attributes:
        labels, texts: one of each for a report. issues: (bug, text) of known issues.
    """

    name: str
    labels: list[str]
    texts: list[str]
    names: dict[str, list[str]]
    buttons: dict[str, str]
    issues: list[tuple[str, str]]


def read_sets(prefix: str = "") -> list[LabelledSet]:
    """Return the sets whose names begin with a prefix."""
    return [_read(path) for path in sorted(SETS.glob(f"{prefix}*.toml"))]


def _read(path: Path) -> LabelledSet:
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    rows = [line.split("\t") for line in data["reports"].splitlines() if line.strip()]
    issues = [(one.get("bug", ""), one["what"]) for one in data.get("issue", [])]
    labels, texts = [row[0] for row in rows], [row[1] for row in rows]
    return LabelledSet(path.stem, labels, texts, data.get("names", {}), data.get("buttons", {}), issues)


def compare(one: LabelledSet, vectors: bool = True) -> Compared:
    """Compare the reports of a set."""
    return Compared(one.texts, [text for _, text in one.issues], one.names, one.buttons, encoder() if vectors else None)


def pairs_found(labels: list[str], groups: list[list[int]]) -> tuple[float, float]:
    """Return precision and recall of pairs."""
    together = {pair for group in groups for pair in combinations(sorted(group), 2)}
    same = {pair for pair in combinations(range(len(labels)), 2) if labels[pair[0]] == labels[pair[1]]}
    right = len(together & same)
    return right / len(together) if together else 1.0, right / max(len(same), 1)


def partners_found(labels: list[str], compared: Compared) -> tuple[float, float]:
    """Return the shares of reports with a partner whose likeliest other is one, and of which one of five is."""
    counts = Counter(labels)
    some = [rank for rank in range(len(labels)) if counts[labels[rank]] > 1]
    hits = [[labels[other] == labels[rank] for other in compared.nearest(rank, 5)] for rank in some]
    return sum(any(hit[:1]) for hit in hits) / len(some), sum(any(hit) for hit in hits) / len(some)


def after_answers(one: LabelledSet, compared: Compared, answers: int = ANSWERS) -> tuple[float, float, int]:
    """Return precision and recall after some answers by who knows the bugs, and how many of them joined groups.

    Each answer is about two groups that are apart and not yet asked about: the likeliest by the mean of all their pairs and of the
    likeliest pair, large groups first.
    """
    ids = [f"R-{rank:04}" for rank in range(len(one.texts))]
    decisions, joined = Decisions(), 0
    for _ in range(answers):
        groups = [group.members for group in group_reports(ids, compared, decisions)]
        first, second = _question(groups, compared, {frozenset(pair) for pair in decisions.not_same}, ids)
        if one.labels[first] == one.labels[second]:
            decisions.same.append([ids[first], ids[second]])
            joined += 1
        else:
            decisions.not_same.append([ids[first], ids[second]])
    groups = [group.members for group in group_reports(ids, compared, decisions)]
    return *pairs_found(one.labels, groups), joined


def _question(groups: list[list[int]], compared: Compared, asked: set[frozenset[str]], ids: list[str]) -> tuple[int, int]:
    best = (-math.inf, 0, 0)
    for some, others in combinations(groups, 2):
        pairs = [(compared.odds(a, b), a, b) for a in some for b in others if frozenset((ids[a], ids[b])) not in asked]
        if len(pairs) == len(some) * len(others):
            odds, first, second = max(pairs)
            odds = (odds + sum(pair[0] for pair in pairs) / len(pairs)) / 2
            gain = math.sqrt(len(some) * len(others)) / (1 + math.exp(-odds))
            best = max(best, (gain, first, second))
    return best[1:]


def known_found(one: LabelledSet, compared: Compared) -> tuple[int, int]:
    """Return how many reports of a known issue have it among the likeliest three, and how many there are."""
    known = [bug for bug, _ in one.issues]
    found = total = 0
    for rank, label in enumerate(one.labels):
        if label in known:
            odds = compared.issue_odds[compared.text_of[rank]]
            likeliest = sorted(range(len(known)), key=lambda at: -odds[at])[:3]
            total += 1
            found += known.index(label) in likeliest
    return found, total


def measure(one: LabelledSet, vectors: bool = True) -> str:
    """Return a line of figures of a set."""
    compared = compare(one, vectors)
    ids = [f"R-{rank:04}" for rank in range(len(one.texts))]
    precision, recall = pairs_found(one.labels, [group.members for group in group_reports(ids, compared, Decisions())])
    first, five = partners_found(one.labels, compared)
    decided = after_answers(one, compared)
    found, total = known_found(one, compared)
    issues = f", known among three {found} of {total}" if total else ""
    return (
        f"{one.name:14} {len(one.texts)} reports, {len(set(one.labels))} bugs: precision {precision:.2f}, recall {recall:.2f}; "
        f"first {first:.2f}, five {five:.2f}; after {ANSWERS} answers {decided[0]:.2f}, {decided[1]:.2f} ({decided[2]} joined){issues}"
    )


class Measured:
    """All pairs of a set with their measures: float32 [reports, reports, measures]."""

    def __init__(self, one: LabelledSet, vectors: bool) -> None:
        likeness = Likeness(one.texts, one.names, one.buttons, encoder() if vectors else None)
        ranks = np.arange(likeness.count)
        self.name, self.labels = one.name, np.array(one.labels)
        self.values = np.stack([likeness.measures(int(rank), ranks) for rank in ranks])
        self.upper = np.triu_indices(likeness.count, 1)

    def samples(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the measures of each pair, and whether it is of one bug."""
        return self.values[self.upper], self.labels[self.upper[0]] == self.labels[self.upper[1]]

    def figures(self, weights: np.ndarray, bias: float, firm: float) -> tuple[float, float]:
        """Return precision and recall of the groups that these weights give."""
        odds = self.values @ weights + bias
        pairs = Pairs(len(self.labels))
        for one, other in zip(*np.nonzero(np.triu(odds > FLOOR, 1)), strict=True):
            pairs.put(int(one), int(other), float(odds[one, other]))
        return pairs_found(self.labels.tolist(), groups_of(pairs, firm))


def fit(sets: list[Measured]) -> Weights:
    """Return weights fitted on all pairs of some sets, and the lowest limit at which their groups are as precise as wanted on average."""
    samples = [one.samples() for one in sets]
    *weights, bias = _logistic(np.concatenate([x for x, _ in samples]), np.concatenate([y for _, y in samples]))
    weights = np.array(weights)
    limits = np.arange(-1.5, 3.05, 0.1)
    mean = [np.mean([one.figures(weights, bias, limit)[0] for one in sets]) for limit in limits]
    firm = next((limit for rank, limit in enumerate(limits) if min(mean[rank : rank + 3]) >= _WANTED), limits[-1])
    names = MEASURES[-len(weights) :]
    rounded = {name: round(float(weight), 2) for name, weight in zip(names, weights, strict=True)}
    return Weights(rounded, round(bias, 2), round(float(firm), 1))


def _logistic(measures: np.ndarray, same: np.ndarray) -> np.ndarray:
    """Return weights and bias of a logistic regression, the weights held small (L2, strength 1), as scipy's minimiser finds them."""
    sign = np.where(same, 1.0, -1.0)

    def loss(guess: np.ndarray) -> tuple[float, np.ndarray]:
        margin = sign * (measures @ guess[:-1] + guess[-1])
        slope = -sign / (1 + np.exp(margin))
        gradient = np.append(measures.T @ slope + guess[:-1], slope.sum())
        return float(np.logaddexp(0, -margin).sum() + guess[:-1] @ guess[:-1] / 2), gradient

    return minimize(loss, np.zeros(measures.shape[1] + 1), jac=True, method="L-BFGS-B").x


def _fit_and_print(vectors: bool) -> None:
    sets = [Measured(one, vectors) for one in read_sets("fit")]
    for one in sets:
        rest = fit([other for other in sets if other is not one])
        precision, recall = one.figures(np.array(list(rest.weights.values())), rest.bias, rest.firm)
        print(f"# {one.name} left out: precision {precision:.2f}, recall {recall:.2f} at {rest.firm}")
    model = fit(sets)
    print(f"[{'with' if vectors else 'without'}_vectors]\nbias = {model.bias}\nfirm = {model.firm}")
    print("weights = { " + ", ".join(f"{name} = {weight}" for name, weight in model.weights.items()) + " }\n")


def main() -> None:
    """Print figures of every set, or fitted weights."""
    for vectors in (True, False):
        if sys.argv[1:] == ["fit"]:
            _fit_and_print(vectors)
            continue
        print("with sentence vectors" if vectors else "words alone")
        for one in read_sets():
            print(" ", measure(one, vectors), flush=True)


if __name__ == "__main__":
    main()
