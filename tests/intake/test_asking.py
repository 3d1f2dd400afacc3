"""Which reports the author is asked about, and what the page shows of it."""

from __future__ import annotations

import re
import tomllib

from pipeline.intake.alike.asking import ask
from pipeline.intake.alike.linkage import Pairs
from pipeline.intake.decisions import Decisions
from pipeline.intake.groups import Compared, group_reports, to_decide
from tests.intake.makers import bugs_csv, project, read
from tests.intake.test_alike import LADDER
from tests.intake.test_triage import BELL, HOSTILE, page


def pairs_of(odds: dict[tuple[int, int], float], count: int) -> Pairs:
    pairs = Pairs(count)
    for (one, other), value in odds.items():
        pairs.put(one, other, value)
    return pairs


def test_what_joins_most_is_asked_first():
    """By hand: group 0 has three reports and two likely others; 3 and 4 are of one chance with each other, and one report each."""
    pairs = pairs_of({(0, 1): 3.0, (0, 2): 1.0, (1, 3): -1.0, (4, 5): 0.0, (4, 2): -3.5}, 6)
    groups = [[0, 1], [2], [3], [4], [5]]
    found = ask(pairs, groups, [3, 1, 1, 1, 1], set(), 9, 8)
    # 4 and 2 are too unlikely. 2, 3 and 5 are in questions; but 3, with a chance of 15 per cent there, is the first of the last as well.
    assert [(one.about, one.others) for one in found] == [(0, [2, 3]), (4, [5]), (3, [1])]
    assert [(one.about, one.others) for one in ask(pairs, groups, [3, 1, 1, 1, 1], set(), 1, 1)] == [(0, [2])]
    apart = {frozenset((0, 1)), frozenset((0, 2))}
    assert [(one.about, one.others) for one in ask(pairs, groups, [3, 1, 1, 1, 1], apart, 9, 8)] == [(4, [5])]
    assert ask(pairs, [[0, 1, 2, 3, 4, 5]], [6], set(), 9, 8) == []
    assert ask(Pairs(0), [], [], set(), 9, 8) == []


def test_what_was_answered_is_not_asked_again():
    ids = [f"R-{rank:04}" for rank in range(len(LADDER))]
    compared, decisions = Compared(LADDER), Decisions()
    for _ in range(6):
        questions = to_decide(ids, group_reports(ids, compared, decisions), compared, decisions, 5, 8)
        for first, *others in questions:
            for other in others:
                answered = [ids[first], ids[other]]
                assert answered not in decisions.same
                assert answered not in decisions.not_same
                (decisions.same if first // 2 == other // 2 else decisions.not_same).append(answered)
    assert questions == []
    assert [group.members for group in group_reports(ids, compared, decisions)] == [[0, 1], [2, 3]]


def test_equal_texts_are_asked_about_once():
    """Five reports of one text are one group; what is shown of them is the first."""
    ids = [f"R-{rank:04}" for rank in range(7)]
    compared = Compared([LADDER[0]] * 5 + [LADDER[1]] * 2)
    groups = group_reports(ids, compared, Decisions())
    for question in to_decide(ids, groups, compared, Decisions(), 5, 8):
        assert set(question) <= {0, 5}


def test_page_asks_and_its_lines_are_toml(tmp_path):
    """The line to paste, with all of a question in it, is read by tomllib; hostile text is escaped."""
    folder = project(tmp_path)
    again = "the bell at the quay rings two times"
    read(folder, bugs_csv(BELL, BELL | {"what": again, "tester": "C"}, BELL | {"what": "quay bell " + HOSTILE, "tester": "D"}))
    text = page(folder)
    part = text[text.index('id="decide"') : text.index('id="bugs"')]
    assert "<script>" not in part
    assert "onerror=alert(2)&gt;" in part or "&lt;img" in part
    lines = re.findall(r'<pre class="same">(.+?)</pre>', part)
    assert lines
    for line in lines:
        assert tomllib.loads(f"same = [{line.replace('&#34;', chr(34)).replace('&quot;', chr(34))}]")["same"][0][0].startswith("R-")
