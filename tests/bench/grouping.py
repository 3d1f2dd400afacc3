"""How well reports of one bug are found, on labelled sets of short reports. Run: ``python -m tests.bench.grouping``; with
``fit`` it prints weights, with ``fitted`` figures of the sets that were fitted alone, with ``both``, ``any`` or ``words`` those of some
encoders alone; with ``typical`` it keeps what the English encoder says of ``typical.txt``.

The sets are in ``report_sets``: invented games, reports written as testers write them (short, misspelt, some German and Spanish) by
several hands who saw neither each other's sets nor the code. A set whose name begins with ``fit`` was used to fit the weights of
``pipeline/intake/alike/model.toml`` (logistic regression on all pairs); the others only to measure. ``fit`` prints the
weights, and what leaving each of those sets out would have given for it.

Precision: the share of pairs put into one group that are of one bug. Recall: the share of pairs of one bug that were put into one
group. First, five: the share of reports with a partner whose likeliest other, or one of the likeliest five, is one. Lists: both shares
after 15 answers to "which of these, at most ten, are of one bug with this one?", asked as the page does, five at a time. Pairs: both
shares after 15 answers to "are these two of one bug?", each about two groups that are likely one.
"""

from __future__ import annotations

import math
import sys
import tomllib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
from msgspec.structs import replace
from scipy.optimize import minimize

from pipeline.intake.alike import likeness
from pipeline.intake.alike.gloss import glossed
from pipeline.intake.alike.lexicon import spelled_out
from pipeline.intake.alike.likeness import FLOOR, MEASURES, Likeness, Weights, less_crowded, trained
from pipeline.intake.alike.linkage import Pairs, groups_of
from pipeline.intake.alike.sentences import Encoder, encoder
from pipeline.intake.decisions import Decisions
from pipeline.intake.groups import Compared, group_reports, to_decide
from pipeline.intake.triage import ASKED, OTHERS

SETS = Path(__file__).with_name("report_sets")
ANSWERS = 15


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


def encoders(which: str) -> Encoder | None:
    """Return both encoders, the one for any language, or none for words alone: a key of ``MEASURES``."""
    both = encoder()
    if which == "both" and (both is None or both.english is None):
        raise SystemExit("a package is missing: see pipeline/intake/alike/sentences.py")
    return {"both": both, "any": both and Encoder(both), "words": None}[which]


def compare(one: LabelledSet, which: str = "both") -> Compared:
    """Compare the reports of a set."""
    return Compared(one.texts, [text for _, text in one.issues], one.names, one.buttons, encoders(which))


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


def after_lists(one: LabelledSet, compared: Compared, answers: int = ANSWERS) -> tuple[float, float, int]:
    """Return precision and recall after some answers to the page's questions by who knows the bugs, and how many reports were put to
    another in them.
    """
    ids = [f"R-{rank:04}" for rank in range(len(one.texts))]
    decisions = Decisions()
    while answers > 0:
        questions = to_decide(ids, group_reports(ids, compared, decisions), compared, decisions, min(ASKED, answers), OTHERS)
        for first, *others in questions:
            same = [other for other in others if one.labels[other] == one.labels[first]]
            if same:
                decisions.same.append([ids[first], *(ids[other] for other in same)])
            decisions.not_same.extend([ids[first], ids[other]] for other in others if other not in same)
        answers -= max(len(questions), 1)
    found = pairs_found(one.labels, [group.members for group in group_reports(ids, compared, decisions)])
    return *found, sum(len(some) - 1 for some in decisions.same)


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


def measure(one: LabelledSet, which: str = "both") -> str:
    """Return a line of figures of a set."""
    compared = compare(one, which)
    ids = [f"R-{rank:04}" for rank in range(len(one.texts))]
    precision, recall = pairs_found(one.labels, [group.members for group in group_reports(ids, compared, Decisions())])
    first, five = partners_found(one.labels, compared)
    lists, decided = after_lists(one, compared), after_answers(one, compared)
    found, total = known_found(one, compared)
    issues = f", known among three {found} of {total}" if total else ""
    return (
        f"{one.name:14} {len(one.texts)} reports, {len(set(one.labels))} bugs: precision {precision:.2f}, recall {recall:.2f}; "
        f"first {first:.2f}, five {five:.2f}; after {ANSWERS} lists {lists[0]:.2f}, {lists[1]:.2f} ({lists[2]} reports joined), "
        f"after {ANSWERS} pairs {decided[0]:.2f}, {decided[1]:.2f} ({decided[2]} joined){issues}"
    )


class Measured:
    """All pairs of a set with their measures: float32 [reports, reports, measures]."""

    def __init__(self, one: LabelledSet, which: str) -> None:
        compared = Likeness(one.texts, one.names, one.buttons, encoders(which))
        ranks = np.arange(compared.count)
        self.name, self.labels = one.name, np.array(one.labels)
        self.values = np.stack([compared.measures(int(rank), ranks) for rank in ranks])
        self.upper = np.triu_indices(compared.count, 1)

    def samples(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the measures of each pair, and whether it is of one bug."""
        return self.values[self.upper], self.labels[self.upper[0]] == self.labels[self.upper[1]]

    def odds(self, model: Weights) -> np.ndarray:
        """Return the log-odds of all pairs under some weights."""
        raw = self.values @ np.array(list(model.weights.values()), np.float32) + np.float32(model.bias)
        return less_crowded((raw + raw.T) / 2, model.crowd)

    def figures(self, model: Weights) -> tuple[float, float]:
        """Return precision and recall of the groups that some weights give."""
        odds = self.odds(model)
        pairs = Pairs(len(self.labels))
        for one, other in zip(*np.nonzero(np.triu(odds > FLOOR, 1)), strict=True):
            pairs.put(int(one), int(other), float(odds[one, other]))
        return pairs_found(self.labels.tolist(), groups_of(pairs, model.firm))


def fit(sets: list[Measured], names: Sequence[str], firm: float, known: float) -> Weights:
    """Return weights fitted on all pairs of some sets: first those of the measures, then what likeness to many others counts for."""
    samples = [one.samples() for one in sets]
    same = np.concatenate([y for _, y in samples])
    *weights, bias = _logistic(np.concatenate([x for x, _ in samples]), same)
    model = Weights(dict(zip(names, map(float, weights), strict=True)), float(bias), 0.0, firm, known)
    for _ in range(3):  # what is added changes who is alike, and so what is to be added
        plain = [one.odds(replace(model, crowd=0.0)) for one in sets]
        crowds = [odds - less_crowded(odds, 1.0) for odds in plain]
        columns = [np.stack([odds[one.upper], less[one.upper]], 1) for odds, less, one in zip(plain, crowds, sets, strict=True)]
        scale, crowd, added = _logistic(np.concatenate(columns), same)
        scaled = {name: weight * scale for name, weight in model.weights.items()}
        model = Weights(scaled, float(model.bias * scale + added), float(-crowd), firm, known)
    rounded = {name: round(weight, 2) for name, weight in model.weights.items()}
    return Weights(rounded, round(model.bias, 2), round(model.crowd, 2), firm, known)


def _logistic(measures: np.ndarray, same: np.ndarray) -> np.ndarray:
    """Return weights and bias of a logistic regression, the weights held small (L2, strength 1), as scipy's minimiser finds them."""
    sign = np.where(same, 1.0, -1.0)

    def loss(guess: np.ndarray) -> tuple[float, np.ndarray]:
        margin = sign * (measures @ guess[:-1] + guess[-1])
        slope = -sign / (1 + np.exp(margin))
        gradient = np.append(measures.T @ slope + guess[:-1], slope.sum())
        return float(np.logaddexp(0, -margin).sum() + guess[:-1] @ guess[:-1] / 2), gradient

    return minimize(loss, np.zeros(measures.shape[1] + 1), jac=True, method="L-BFGS-B").x


def _fit_and_print(which: str) -> None:
    sets = [Measured(one, which) for one in read_sets("fit")]
    names, limits = MEASURES[which], trained(which)
    rest = [(one, fit([other for other in sets if other is not one], names, limits.firm, limits.known)) for one in sets]
    for firm in np.arange(0, 3.1, 0.25):
        found = [one.figures(replace(model, firm=float(firm))) for one, model in rest]
        each = ", ".join(f"{precision:.2f} {recall:.2f}" for precision, recall in found)
        print(f"# each set left out, firm {firm:.2f}: {np.mean(found, axis=0).round(2)}; {each}", flush=True)
    model = fit(sets, names, limits.firm, limits.known)
    print(f"[{which}]\nbias = {model.bias}\ncrowd = {model.crowd}\nfirm = {model.firm}\nknown = {model.known}")
    print("weights = { " + ", ".join(f"{name} = {weight}" for name, weight in model.weights.items()) + " }\n")


def _write_typical() -> None:
    """Write the mean of typical reports as the English encoder has them; see ``alike/likeness.py``."""
    folder, both = Path(likeness.__file__).parent, encoders("both")
    assert both is not None
    assert both.english is not None
    texts = (folder / "typical.txt").read_text(encoding="utf-8").splitlines()
    vectors = both.english([glossed(spelled_out(text), text)[0] for text in texts])
    np.save(folder / "typical_english.npy", vectors.mean(0).astype("<f4"))


def main() -> None:
    """Print figures of every set, or fitted weights; or write the mean of typical reports."""
    if "typical" in sys.argv[1:]:
        _write_typical()
        return
    chosen = [word for word in sys.argv[1:] if word in MEASURES] or list(MEASURES)
    for which in chosen:
        if "fit" in sys.argv[1:]:
            _fit_and_print(which)
            continue
        print(which)
        for one in read_sets("fit" if "fitted" in sys.argv[1:] else ""):
            print(" ", measure(one, which), flush=True)


if __name__ == "__main__":
    main()
