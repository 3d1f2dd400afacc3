"""Feedback, question by question: how the answers are dealt out, how that changes from build to build, and what was written."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction
from typing import Any

from pipeline.intake.builds import Builds
from pipeline.project.intake import FeedbackForm, same_heading

_NUMBER = re.compile(r"[+-]?[0-9]{1,3}")
_MOST_CHOICES, _LONGEST_CHOICE = 12, 48  # a question with more or longer answers was answered in free text
_LIGHT, _DARK = (206, 220, 232), (23, 50, 77)  # colours of the first and the last answer, sRGB


def show_questions(reports: list[dict[str, Any]], builds: Builds, form: FeedbackForm) -> list[dict[str, Any]]:
    """Return for each question of the form what a page shows.

    ``key``, ``heading``, ``count`` (answers), and either ``texts`` (``id``, ``build``, ``text``) for free text, or ``choices``
    (``answer``, ``count``, ``share`` in per cent of the longest bar, ``colour``), ``builds`` (``code``, ``version``, ``count``,
    ``mean``, ``parts``: ``answer``, ``count``, ``start`` and ``width`` in thousandths, ``colour``) and ``mean``, empty where the
    answers are not numbers.
    """
    lines = []
    for key, headings in form.questions.items():
        heading = headings if isinstance(headings, str) else headings[0]
        given = [(one["id"], builds.match(one.get("build", "")), one[key]) for one in reports if one.get(key)]
        ordered = form.answers.get(key, [])
        question = {"key": key, "heading": heading, "count": len(given), "mean": ""}
        answers = [text for _, _, text in given]
        if ordered or _is_choice(answers):
            lines.append(question | _choices(given, _order(answers, ordered), builds))
        else:
            lines.append(question | {"texts": [{"id": one, "build": build, "text": text} for one, build, text in given]})
    return lines


def _is_choice(answers: list[str]) -> bool:
    """Say whether answers were chosen from a few: numbers, or texts that are short, few, and mostly given more than once."""
    distinct = {same_heading(one) for one in answers}
    if not answers or len(distinct) > _MOST_CHOICES:
        return False
    if all(_NUMBER.fullmatch(one) for one in distinct):
        return True
    return len(answers) >= 2 * len(distinct) and max(map(len, distinct)) <= _LONGEST_CHOICE


def _order(answers: list[str], ordered: list[str]) -> list[str]:
    """Return the answers in their order, each once: case does not count, and neither does the way a number is written."""
    written: dict[str, Counter[str]] = {}
    for one in answers:
        written.setdefault(_plain(one), Counter())[one] += 1
    # Of the ways to write an answer the most frequent is shown.
    seen = {min(ways, key=lambda one: (-ways[one], one)): ways.total() for ways in written.values()}
    if ordered:
        plain = {_plain(one) for one in ordered}
        return ordered + sorted((one for one in seen if _plain(one) not in plain), key=lambda one: (-seen[one], one))
    if all(_NUMBER.fullmatch(one) for one in seen):
        numbers = sorted({int(one) for one in seen})
        # A scale is shown without gaps, so that two questions look alike.
        return [str(one) for one in (range(numbers[0], numbers[-1] + 1) if numbers[-1] - numbers[0] < _MOST_CHOICES else numbers)]
    return sorted(seen, key=lambda one: (-seen[one], one))


def _choices(given: list[tuple[str, str, str]], order: list[str], builds: Builds) -> dict[str, Any]:
    numbers = all(_NUMBER.fullmatch(one) for one in order)
    rank = {_plain(one): at for at, one in enumerate(order)}
    ranks = [(build, rank[_plain(text)]) for _, build, text in given]
    colours = [_colour(at, len(order)) for at in range(len(order))]
    counts = Counter(at for _, at in ranks)
    most = max(counts.values(), default=1)
    choices = [
        {"answer": one, "count": counts[at], "share": 100 * counts[at] // most, "colour": colours[at]} for at, one in enumerate(order)
    ]
    rows = []
    for code, version in [*((one.code, one.version) for one in builds.builds), ("", "")]:
        own = Counter(at for build, at in ranks if build == code)
        if own:
            parts = _parts(own, order, colours)
            rows.append({"code": code, "version": version, "count": own.total(), "mean": _mean(own, order, numbers), "parts": parts})
    return {"choices": choices, "builds": rows, "mean": _mean(counts, order, numbers)}


def _plain(text: str) -> str:
    return str(int(text)) if _NUMBER.fullmatch(text) else same_heading(text)


def _parts(counts: Counter[int], order: list[str], colours: list[str]) -> list[dict[str, Any]]:
    parts, start, total = [], 0, counts.total()
    for at in sorted(counts):
        end = start + counts[at]
        left, right = 1000 * start // total, 1000 * end // total
        parts.append({"answer": order[at], "count": counts[at], "start": left, "width": right - left, "colour": colours[at]})
        start = end
    return parts


def _mean(counts: Counter[int], order: list[str], numbers: bool) -> str:
    """Return the mean of numbers, rounded half up to a tenth, or nothing."""
    if not numbers or not counts:
        return ""
    tenths = (Fraction(sum(int(order[at]) * count for at, count in counts.items()), counts.total()) * 20 + 1) // 2
    return f"{'-' if tenths < 0 else ''}{abs(tenths) // 10}.{abs(tenths) % 10}"


def _colour(rank: int, count: int) -> str:
    """Return one step of the way from the light colour to the dark one."""
    last = max(count - 1, 1)
    return "#" + "".join(f"{(light * (last - rank) + dark * rank) // last:02x}" for light, dark in zip(_LIGHT, _DARK, strict=True))
