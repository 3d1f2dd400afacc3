"""Feedback: numbers in answers, their spread, changes that are more than noise, words that go with low marks, and answers edited since.

References: ``scipy.stats.bootstrap`` (percentile method), NumPy and the standard library's ``statistics`` for means, spread and quantiles,
``scipy.stats.chi2_contingency`` with ``lambda_="log-likelihood"`` and a table worked by hand for the ratio of Dunning (1993).
"""

from __future__ import annotations

import math
import random
import re
import statistics
from collections import Counter
from fractions import Fraction

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.feedback import spread
from pipeline.intake.feedback.answers import show_questions
from pipeline.intake.feedback.numbers import read_numbers, show_number, show_rounded
from pipeline.intake.feedback.spread import change, mean, median, quantile, root, variance
from pipeline.intake.feedback.wording import log_likelihood, telling_words
from pipeline.project.intake import FeedbackColumns, FeedbackForm
from tests.conftest import some
from tests.intake.makers import project, read, table

BUILDS = [("7ZZ9K2", "0.1.0"), ("0A1B0D", "0.2.0")]
FORM = FeedbackForm(
    questions={"fun": "How much fun?", "pace": "How was the pace?", "wish": "What do you wish for?"},
    columns=FeedbackColumns(build="Build", tester="Name"),
    answers={"pace": ["Too slow", "Just right", "Too fast"]},
)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("4", 4), ("4.5", "9/2"), ("4,5", "9/2"), (" 04 ", 4), ("４", 4), ("-1", -1), ("4/5", 4), ("4 / 5", 4), ("4 of 5", 4),
        ("4 von 5", 4), ("4 out of 5", 4), ("4 stars", 4), ("4 Sterne", 4), ("4*", 4), ("★★★★☆", 4), ("4 - good", 4), ("4 (fun!)", 4),
        ("4!", 4), ("4: nice", 4),
        ("8/10", None), ("80 %", None), ("4-5", None), ("4 to 5", None), ("four", None), ("no idea", None), ("", None), ("1,000", None),
        ("6/5", None), ("played 4 hours", None), ("4 - 2 of them odd", None),
    ],
)  # fmt: skip
def test_numbers_as_people_write_them(text, number):
    """Among marks of 1 to 5; what may mean something else is not read."""
    found = read_numbers(Counter({"1": 3, "3": 9, "5": 4, text: 1}))
    assert found.get(text) == (None if number is None else Fraction(number))
    assert found["3"] == 3


def test_a_scale_is_taken_from_what_people_name():
    """Without plain numbers the end named most often counts; with them the end must fit."""
    assert read_numbers(Counter({"4/5": 3, "7/10": 1})) == {"4/5": 4}
    assert read_numbers(Counter({"7/10": 3, "9": 1})) == {"9": 9, "7/10": 7}
    assert read_numbers(Counter({"2": 5, "4/5": 1})) == {"2": 2}


@given(st.lists(st.integers(-20, 20), min_size=1, max_size=60))
def test_mean_median_and_spread(values):
    """Against the standard library; quantiles against NumPy's "inverted_cdf", definition 1 of Hyndman and Fan."""
    counts = Counter(map(Fraction, values))
    assert mean(counts) == statistics.mean(map(Fraction, values))
    assert median(counts) == statistics.median(map(Fraction, values))
    if len(values) > 1:
        assert variance(counts) == statistics.variance(map(Fraction, values))
        assert float(root(variance(counts))) == pytest.approx(statistics.stdev(values), abs=1e-5)
    for share in (Fraction(1, 4), Fraction(3, 4)):
        assert quantile(counts, share) == np.quantile(values, float(share), method="inverted_cdf")


def drawn(chance: np.random.Generator, size: int, shift: float = 0) -> list[int]:
    return [int(one) for one in np.clip(np.round(chance.normal(3 + shift, 1, size)), 1, 5)]


@pytest.mark.parametrize("sizes", some([(40, 60), (200, 150), (900, 1000)], 2))
@pytest.mark.parametrize("noise", [Fraction(1, 20), Fraction(1, 60)])
def test_intervals_are_those_of_scipy(sizes, noise):
    """Percentile intervals of 20,000 redraws agree to 8 % of their width, which is what 2,000 redraws leave open."""
    chance = np.random.default_rng(sizes[0])
    old, new = drawn(chance, sizes[0]), drawn(chance, sizes[1], 0.3)
    found = change(Counter(map(Fraction, old)), Counter(map(Fraction, new)), noise)
    reference = scipy.stats.bootstrap(
        (new, old), lambda a, b, axis: np.mean(a, axis) - np.mean(b, axis), n_resamples=20_000, confidence_level=1 - float(noise),
        method="percentile", vectorized=True, rng=chance,
    ).confidence_interval  # fmt: skip
    width = reference.high - reference.low
    assert float(found.difference) == pytest.approx(np.mean(new) - np.mean(old))
    assert float(found.low) == pytest.approx(reference.low, abs=0.08 * width)
    assert float(found.high) == pytest.approx(reference.high, abs=0.08 * width)


def test_many_answers_need_no_redraws(monkeypatch):
    """From 1,001 answers on the interval is that of the normal distribution, and the same as drawn to 3 % of its width."""
    chance = np.random.default_rng(7)
    old, new = (Counter(map(Fraction, drawn(chance, 1001, shift))) for shift in (0, 0.2))
    quick = change(old, new)
    monkeypatch.setattr(spread, "_DRAWN", 2000)
    slow = change(old, new)
    width = float(slow.high - slow.low)
    assert float(quick.low) == pytest.approx(float(slow.low), abs=0.03 * width)
    assert float(quick.high) == pytest.approx(float(slow.high), abs=0.03 * width)


@pytest.mark.parametrize("size", some([5, 8, 20], 1))
def test_noise_is_called_a_change_about_one_time_in_twenty(size):
    """400 pairs of builds between which nothing changed: at most 9 %, though the answers are few (5 % and three standard errors)."""
    chance = random.Random(size)
    called = 0
    for _ in range(400):
        old, new = (Counter(Fraction(chance.choice((1, 2, 3, 3, 4, 4, 5))) for _ in range(size)) for _ in range(2))
        called += change(old, new).likely
    assert 2 <= called <= 36


def test_the_same_answers_give_the_same_interval_and_few_give_none():
    """Drawn numbers come from a generator whose sequence stays (values as first recorded; NEP 19)."""
    old, new = Counter({Fraction(2): 6, Fraction(3): 4}), Counter({Fraction(3): 5, Fraction(4): 5})
    found = change(old, new)
    assert found == change(old, new)
    assert (show_rounded(found.difference), show_rounded(found.low), show_rounded(found.high)) == ("1.10", "0.67", "1.56")
    assert found.likely
    assert change(Counter({Fraction(2): 4}), new) is None
    assert not change(new, new).likely


def test_ratio_of_a_word_and_a_mark_worked_by_hand():
    """10 of 20 low answers have the word, 5 of 80 others; expected 3, 12, 17, 68.

    G² = 2 (10 ln 10/3 + 5 ln 5/12 + 10 ln 10/17 + 75 ln 75/68).
    """
    by_hand = 2 * (12.0397 - 4.3773 - 5.3063 + 7.3485)
    assert log_likelihood(10, 5, 10, 75) == pytest.approx(by_hand, abs=0.001)
    assert by_hand == pytest.approx(19.409, abs=0.001)
    assert log_likelihood(4, 16, 16, 64) == 0


@given(st.tuples(*[st.integers(1, 50)] * 4))
def test_ratio_is_that_of_scipy(cells):
    """The log-likelihood statistic of a contingency table, without a correction for continuity."""
    both, word, mark, neither = cells
    wanted = scipy.stats.chi2_contingency([[both, word], [mark, neither]], correction=False, lambda_="log-likelihood").statistic
    assert log_likelihood(*cells) == pytest.approx(wanted, abs=1e-5)
    assert log_likelihood(both, 0, mark, neither) >= 0


def test_words_that_go_with_low_marks():
    """A word counts once an answer, in any case; what others say as often, or two people only, says nothing."""
    low = ["Boring, BORING waiting", "so boring!", "boring. l'eau", "the gulls", "the rope"] + ["odd odd odd", "odd"]
    other = ["the gulls", "the rope", "nice"] * 8
    assert [(one.word, one.low, one.other) for one in telling_words(low, other, 8)] == [("boring", 3, 0)]
    assert telling_words(low, other, 0) == []
    assert telling_words([], other, 8) == []
    assert scipy.stats.chi2.sf(6.63, 1) == pytest.approx(0.01, abs=0.0003)


def questions(*answers: tuple[str, str, str, str]) -> dict[str, dict]:
    reports = [
        {"id": f"F-{rank:04}", "build": build, "fun": fun, "pace": pace, "wish": wish}
        for rank, (build, fun, pace, wish) in enumerate(answers, 1)
    ]
    return {one["key"]: one for one in show_questions(reports, [one["build"] for one in reports], BUILDS, FORM)}


def test_one_answer_that_is_no_number_does_not_take_the_mean_away():
    """It is shown beside it, and 4/5 is read; percentages are of those that are numbers."""
    shown = questions(*(("7ZZ9K2", fun, "", "") for fun in ("3", "4/5", "5", "03", "no idea", "8/10")))["fun"]
    assert shown["numbers"] == {"mean": "3.75", "spread": "0.96", "median": "3.5", "half": "3 to 4"}
    assert [one.text for one in shown["beside"]] == ["no idea", "8/10"]
    assert [(one["answer"], one["count"], one["percent"]) for one in shown["choices"]] == [("3", 2, 50), ("4", 1, 25), ("5", 1, 25)]
    # Where a third or more is not a number, it is not a question for numbers.
    assert questions(*(("7ZZ9K2", fun, "", "") for fun in ("3", "dull", "fine", "5")))["fun"]["numbers"] is None


def test_many_different_numbers_are_dealt_into_bars():
    """At most eleven, of a width of 1, 2 or 5 times a power of ten."""
    shown = questions(*(("7ZZ9K2", str(mark), "", "") for mark in range(0, 101, 3)))["fun"]
    assert [one["answer"] for one in shown["choices"]][:2] == ["0 to under 10", "10 to under 20"]
    assert sum(one["count"] for one in shown["choices"]) == 34
    assert len(shown["choices"]) <= 11


def test_changes_from_build_to_build():
    """A mean that moved beyond noise, one that did not, and shares of answers; too few answers say nothing."""
    old = [("7ZZ9K2", fun, pace, "") for fun, pace in zip("1222233", ["Too slow"] * 6 + ["Just right"], strict=True)]
    new = [("0A1B0D", fun, pace, "") for fun, pace in zip("3444455", ["too fast"] * 6 + ["Just right"], strict=True)]
    shown = questions(*old, *new)
    (moved,) = shown["fun"]["builds"][1]["changes"]
    assert (moved["difference"], moved["likely"]) == ("+2.00", True)
    shares = {one["what"]: (one["before"], one["now"], one["likely"]) for one in shown["pace"]["builds"][1]["changes"]}
    assert shares == {"Too slow": ("86 %", "0 %", True), "Just right": ("14 %", "14 %", False), "Too fast": ("0 %", "86 %", True)}
    assert shown["fun"]["builds"][0]["changes"] is None
    assert questions(*old, *new[:4])["fun"]["builds"][1]["changes"] is None
    assert not questions(*old, *[("0A1B0D", *one[1:]) for one in old])["fun"]["builds"][1]["changes"][0]["likely"]


def test_words_are_those_of_people_with_low_marks():
    """Below the middle of the marks that were given; what other questions ask counts as well."""
    low = [("7ZZ9K2", "1", "", f"boring pier {rank}") for rank in range(4)]
    shown = questions(*low, *(("7ZZ9K2", "5", "", f"pretty pier {rank}") for rank in range(12)))["fun"]
    assert shown["low"] == "1"
    assert [(one["word"], one["low"], one["of_low"], one["other"], one["of_other"]) for one in shown["words"]] == [("boring", 4, 4, 0, 12)]


HEADS = ["Timestamp", "Build code", "Your name", "How much fun?", "How was the pace?", "What do you wish for?"]


def test_page_shows_edited_answers_and_unknown_builds_of_feedback(tmp_path):
    """What was answered before, and two codes in one cell with both."""
    folder = project(tmp_path)
    first = ["2026-03-01 10:00", "7ZZ9K2", "Anna", "2", "Too slow", "<i>More gulls"]
    other = ["2026-03-01 11:00", "7ZZ9K2 / OAIBOD", "Kofi", "4/5", "Just right", ""]
    read(folder, table([HEADS, first, other]))
    said = read(folder, table([HEADS, [*first[:3], "4", "Too slow", ""], other]))
    assert "0 new, 1 edited since" in said
    assert "1 answer without a known build" in said
    page = (folder / "build/triage.html").read_text(encoding="utf-8")
    assert "<p><bdi>How much fun?</bdi>: <del><bdi>2</bdi></del> → <bdi>4</bdi></p>" in page
    assert "<del><bdi>&lt;i&gt;More gulls</bdi></del> → nothing" in page
    assert "7ZZ9K2 and 0A1B0D" in page
    assert "mean <b>4.00</b>" in page


def test_page_says_what_is_noise(tmp_path):
    """In words, for a mean and for shares; a build's parts have percentages, and the same input gives the same bytes."""
    folder = project(tmp_path)
    rows = [
        [str(at), "7ZZ9K2" if at < 8 else "OAIBOD", "", "1223322334455445"[at], "Too slow" if at < 8 else "Too fast", ""]
        for at in range(16)
    ]
    read(folder, table([HEADS, *rows]))
    page = (folder / "build/triage.html").read_bytes()
    text = page.decode()
    assert re.search(r"Since 0\.1\.0: \+2\.00, between \+1\.\d\d and \+2\.\d\d: <b class=\"likely\">more than noise</b>", text)
    assert "<bdi>Too slow</bdi> 100 % before, 0 % now" in text
    assert 'title="2: 4, 50 %">50 %</span>' in text
    read(folder, None)
    assert (folder / "build/triage.html").read_bytes() == page


@pytest.mark.parametrize(
    ("value", "text", "rounded"),
    [
        ("1/3", "0.33", "+0.33"),
        ("-1/8", "−0.13", "−0.13"),
        ("4", "4", "+4.00"),
        ("0", "0", "0.00"),
        ("-1/1000", "0", "0.00"),
        ("100", "100", "+100.00"),
    ],
)
def test_numbers_are_shown_rounded_half_away_from_zero(value, text, rounded):
    """Without zeros at the end, or with two digits and a sign; nothing is shown as minus zero."""
    assert show_number(Fraction(value)) == text
    assert show_rounded(Fraction(value), sign=True) == rounded
    assert math.isclose(float(text.replace("−", "-")), float(Fraction(value)), abs_tol=0.006)
