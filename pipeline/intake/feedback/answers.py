"""Feedback, question by question: how the answers are dealt out, how that changes from build to build, and what was written."""

from __future__ import annotations

from bisect import bisect
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pipeline.intake.feedback.numbers import read_numbers, show_number, show_rounded
from pipeline.intake.feedback.spread import LEAST, NOISE, Counts, change, mean, median, quantile, root, variance
from pipeline.intake.feedback.wording import telling_words
from pipeline.project.intake import FeedbackForm, same_heading

_MOST_CHOICES, _LONGEST_CHOICE = 12, 48  # a question with more or longer answers was answered in free text
_NUMBERS = Fraction(2, 3)  # of the answers that are numbers, from which on a question asks for them
_TEXTS = 400  # of one question shown at most; the kept reports have all
_BESIDE = 12  # answers beside numbers shown at most
_BARS = 10  # into which more numbers than choices are dealt
_WORDS = 8  # that go with low marks, shown for each question
_LIGHT, _DARK = (206, 220, 232), (23, 50, 77)  # colours of the first and the last answer, sRGB
_PALE = 128  # mean of a colour's parts from which on dark text is read on it


@dataclass(frozen=True, slots=True)
class Given:
    """One answer: the report's id, the code of its build, and the text."""

    id: str
    build: str
    text: str


def show_questions(
    reports: list[dict[str, Any]], matched: Sequence[str], builds: Sequence[tuple[str, str]], form: FeedbackForm
) -> list[dict[str, Any]]:
    """Return for each question of the form what a page shows.

    ``key``, ``heading``, ``count`` (answers), and either ``texts`` (``Given``, the first) and ``more`` (how many) for free text, or
    ``choices`` (``answer``, ``count``, ``percent``, ``share`` in per cent of the longest bar, ``colour``), ``beside`` (``Given``, the first
    answers that are not numbers among numbers) and ``more_beside``, ``numbers`` (``mean``, ``spread``, ``median``, ``half`` as texts; None
    for answers that are not numbers) and ``builds``: ``code``, ``version``, ``count``, ``numbers``, ``parts`` (``answer``, ``count``,
    ``percent``, ``colour``, ``dark``), ``since`` (the version before) and ``changes``. A change is ``what`` (an answer, or nothing for the
    mean), ``before``, ``now``, ``difference``, ``low``, ``high`` as texts, and ``likely``; None where there are too few answers. A question
    with numbers has ``words`` too, and ``low``, the marks they go with.

    Args:
        reports: answers to the form. matched: of each the code of its build, or nothing. builds: code and version, the oldest first.
    """
    shown = []
    for key in form.questions:
        given = [Given(one["id"], build, one[key]) for one, build in zip(reports, matched, strict=True) if one.get(key)]
        shown.append(_question(form, key, given, builds))
    free = [one["key"] for one in shown if one["numbers"] is None and one["key"] not in form.answers]
    for question in shown:
        question["words"], question["low"] = _words(question, reports, free)
        question.pop("read", None)
    return shown


def _question(form: FeedbackForm, key: str, given: list[Given], builds: Sequence[tuple[str, str]]) -> dict[str, Any]:
    headings, ordered = form.questions[key], form.answers.get(key, [])
    question = {"key": key, "heading": headings if isinstance(headings, str) else headings[0], "count": len(given)}
    read = read_numbers(Counter(one.text for one in given) + Counter(ordered))
    asked = all(one in read for one in ordered) if ordered else 3 * sum(one.text in read for one in given) >= 2 * len(given) > 0
    if asked:
        return question | _numbers(given, read, [read[one] for one in ordered], builds)
    if ordered or _is_choice(given):
        return question | _choices(given, _order([one.text for one in given], ordered), builds)
    return question | {"texts": given[:_TEXTS], "more": max(len(given) - _TEXTS, 0), "numbers": None}


def _is_choice(given: list[Given]) -> bool:
    """Say whether answers were chosen from a few: texts that are short, few, and mostly given more than once."""
    distinct = {same_heading(one.text) for one in given}
    few = 0 < len(distinct) <= _MOST_CHOICES and len(given) >= 2 * len(distinct)
    return few and max(map(len, distinct)) <= _LONGEST_CHOICE


def _order(answers: list[str], ordered: list[str]) -> list[str]:
    """Return the answers in their order, each once; case does not count."""
    written: dict[str, Counter[str]] = {}
    for one in answers:
        written.setdefault(same_heading(one), Counter())[one] += 1
    # Of the ways to write an answer the most frequent is shown.
    seen = {min(ways, key=lambda one: (-ways[one], one)): ways.total() for ways in written.values()}
    plain = {same_heading(one) for one in ordered}
    return ordered + sorted((one for one in seen if same_heading(one) not in plain), key=lambda one: (-seen[one], one))


def _choices(given: list[Given], order: list[str], builds: Sequence[tuple[str, str]]) -> dict[str, Any]:
    rank = {same_heading(one): at for at, one in enumerate(order)}
    pairs = Counter((one.build, one.text) for one in given)
    found = _dealt([(build, rank[same_heading(text)], often) for (build, text), often in pairs.items()], order, builds)
    before: Counter[int] | None = None
    for row, own in found["of_builds"]:
        row["numbers"], row["changes"] = None, None if before is None else _changed_shares(before, own, order)
        before = own if row["code"] else before
    return {"choices": found["choices"], "builds": [row for row, _ in found["of_builds"]], "beside": [], "more_beside": 0, "numbers": None}


def _numbers(given: list[Given], read: dict[str, Fraction], ordered: list[Fraction], builds: Sequence[tuple[str, str]]) -> dict[str, Any]:
    pairs = Counter((one.build, one.text) for one in given if one.text in read)
    beside = [one for one in given if one.text not in read]
    of_builds: dict[str, Counter[Fraction]] = {}
    for (build, text), often in pairs.items():
        of_builds.setdefault(build, Counter())[read[text]] += often
    every = sum(of_builds.values(), Counter())
    edges, order = _steps(set(every), ordered)
    ranks = [(build, bisect(edges, mark) - 1, often) for build, marks in of_builds.items() for mark, often in marks.items()]
    found = _dealt(ranks, order, builds)
    before: Counter[Fraction] | None = None
    for row, _ in found["of_builds"]:
        own = of_builds[row["code"]]
        row["numbers"], row["changes"] = _summed(own), None if before is None else _changed_mean(before, own)
        before = own if row["code"] else before
    return {
        "choices": found["choices"],
        "builds": [row for row, _ in found["of_builds"]],
        "beside": beside[:_BESIDE],
        "more_beside": max(len(beside) - _BESIDE, 0),
        "numbers": _summed(every),
        "read": {one.id: read[one.text] for one in given if one.text in read},
    }


def _steps(marks: set[Fraction], ordered: list[Fraction]) -> tuple[list[Fraction], list[str]]:
    """Return where each bar begins, ascending, and its words; a scale is shown without gaps, so that two questions look alike."""
    every = sorted({*marks, *ordered})
    if not every:
        return [], []
    if all(one.denominator == 1 for one in every) and every[-1] - every[0] < _MOST_CHOICES:
        every = [Fraction(one) for one in range(int(every[0]), int(every[-1]) + 1)]
    if len(every) <= _MOST_CHOICES:
        return every, [show_number(one) for one in every]
    width = _width(every[-1] - every[0])
    first = every[0] // width
    edges = [width * at for at in range(first, every[-1] // width + 1)]
    return edges, [f"{show_number(edge)} to under {show_number(edge + width)}" for edge in edges]


def _width(span: Fraction) -> Fraction:
    """Return the width of at most about ten bars: 1, 2 or 5, times a power of ten."""
    width = Fraction(1, 100)
    while True:
        for step in (1, 2, 5):
            if span / (width * step) < _BARS:
                return width * step
        width *= 10


def _dealt(ranks: list[tuple[str, int, int]], order: list[str], builds: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """Return the bars of all answers, and a row for each build with its counts.

    Args:
        ranks: builds, places in the order, and how many answers there are of each.
    """
    colours = [_colour(at, len(order)) for at in range(len(order))]
    by_build: dict[str, Counter[int]] = {}
    for build, at, often in ranks:
        by_build.setdefault(build, Counter())[at] += often
    every = sum(by_build.values(), Counter())
    most = max(every.values(), default=1)
    choices = [
        {"answer": one, "count": every[at], "percent": _percent(every[at], every.total()), "share": 100 * every[at] // most}
        | {"colour": colours[at][0]}
        for at, one in enumerate(order)
    ]
    rows, since = [], ""
    for code, version in [*builds, ("", "")]:
        own = by_build.get(code)
        if own:
            parts = [_part(order[at], own, at, colours) for at in sorted(own)]
            rows.append(({"code": code, "version": version, "count": own.total(), "parts": parts, "since": since if code else ""}, own))
            since = version
    return {"choices": choices, "of_builds": rows}


def _part(answer: str, own: Counter[int], at: int, colours: list[tuple[str, bool]]) -> dict[str, Any]:
    colour, dark = colours[at]
    return {"answer": answer, "count": own[at], "percent": _percent(own[at], own.total()), "colour": colour, "dark": dark}


def _percent(count: int, total: int) -> int:
    return (200 * count + total) // (2 * total) if total else 0


def _summed(counts: Counts) -> dict[str, str] | None:
    """Return mean, spread, median and the middle half of numbers, as texts."""
    if not counts:
        return None
    half = quantile(counts, Fraction(1, 4)), quantile(counts, Fraction(3, 4))
    return {
        "mean": show_rounded(mean(counts)),
        "spread": show_rounded(root(variance(counts))) if sum(counts.values()) > 1 else "",
        "median": show_number(median(counts)),
        "half": " to ".join(dict.fromkeys(map(show_number, half))),
    }


def _changed_mean(before: Counts, own: Counts) -> list[dict[str, Any]] | None:
    found = change(before, own) if before and own else None
    return None if found is None else [_change("", found, show_rounded(mean(before)), show_rounded(mean(own)), 1)]


def _changed_shares(before: Counter[int], own: Counter[int], order: list[str]) -> list[dict[str, Any]] | None:
    """Return how the share of each answer changed, in per cent; the chance of noise is dealt to all answers (Bonferroni)."""
    if min(before.total(), own.total()) < LEAST:
        return None
    found = []
    for at in sorted({*before, *own}):
        shares = [Counter({Fraction(1): one[at], Fraction(0): one.total() - one[at]}) for one in (before, own)]
        changed = change(+shares[0], +shares[1], NOISE / len({*before, *own}))
        if changed is not None:
            was, now = (f"{_percent(one[at], one.total())} %" for one in (before, own))
            found.append(_change(order[at], changed, was, now, 100))
    return found


def _change(what: str, found: Any, before: str, now: str, times: int) -> dict[str, Any]:
    digits = 2 if times == 1 else 0
    texts = {name: show_rounded(getattr(found, name) * times, digits, sign=True) for name in ("difference", "low", "high")}
    return {"what": what, "before": before, "now": now, "likely": found.likely, **texts}


def _words(question: dict[str, Any], reports: list[dict[str, Any]], free: list[str]) -> tuple[list[dict[str, Any]], str]:
    """Return the words that people wrote who gave low marks, and which marks those are: below the middle of the scale that was used."""
    read: dict[str, Fraction] = question.get("read", {})
    if not read or not free:
        return [], ""
    middle = (min(read.values()) + max(read.values())) / 2
    marks = sorted({mark for mark in read.values() if mark < middle})
    if not marks:
        return [], ""
    low: list[str] = []
    other: list[str] = []
    for one in reports:
        if one["id"] in read:
            (low if read[one["id"]] < middle else other).append(" ".join(one.get(key, "") for key in free))
    found = telling_words(low, other, _WORDS)
    sizes = {"of_low": len(low), "of_other": len(other)}
    words = [{"word": one.word, "low": one.low, "other": one.other, "ratio": f"{one.ratio:.1f}"} | sizes for one in found]
    return words, " to ".join(dict.fromkeys((show_number(marks[0]), show_number(marks[-1]))))


def _colour(rank: int, count: int) -> tuple[str, bool]:
    """Return one step of the way from the light colour to the dark one, and whether it is dark."""
    last = max(count - 1, 1)
    parts = [(light * (last - rank) + dark * rank) // last for light, dark in zip(_LIGHT, _DARK, strict=True)]
    return "#" + "".join(f"{part:02x}" for part in parts), sum(parts) < 3 * _PALE
