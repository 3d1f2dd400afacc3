"""Groups, their order, known issues, decisions; and the page and table against hostile texts."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from html.parser import HTMLParser

import pytest
from msgspec import structs

from pipeline.intake.decisions import Decisions
from pipeline.intake.groups import Compared, group_reports
from pipeline.intake.shown import links, toml_text, visible
from pipeline.plain.errors import ProjectError
from pipeline.project.intake import Intake
from tests.intake.makers import BUGS, CODES, FEEDBACK, ISSUES, bugs_csv, drop, project, read, release, table, write_ledger

BELL = {"build": "7ZZ9K2", "what": "Bell at the quay rings twice", "where": "Quay", "severity": "minor", "often": "always", "tester": "A"}
ROPE = {"build": "0A1B0D", "what": "Rope is drawn upside down", "where": "Mast", "severity": "critical", "often": "once", "tester": "B"}
HOSTILE = '</pre><script>alert(1)</script><img src=x onerror=alert(2)> "quoted" \u202egnp.exe\u2066 {{ 7 * 7 }}'


class Page(HTMLParser):
    """The tags and attributes of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict]] = []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.found.append((tag, dict(attributes)))


def page(folder) -> str:
    """Return the page's text."""
    return (folder / "build/triage.html").read_text(encoding="utf-8")


def rows(folder) -> list[dict[str, str]]:
    """Return the table as Python's csv reads it."""
    return list(csv.DictReader(io.StringIO((folder / "build/triage.csv").read_bytes().decode("utf-8-sig"), newline="")))


def grouped(folder) -> list[tuple[str, str]]:
    """Return report and group of every row of the table."""
    return [(one["report"], one["group"]) for one in rows(folder)]


def test_order_of_the_reports_does_not_split_equal_texts():
    """Equal texts are together, whatever is between them."""
    texts = ["It hangs at the pier", "Colours are odd in the fog", "it HANGS at the pier!"]
    found = group_reports(["R-0001", "R-0002", "R-0003"], Compared(texts), Decisions())
    assert [group.members for group in found] == [[0, 2], [1]]


def test_order_and_suggested_issue(tmp_path):
    """Critical comes before minor; the bell is likely TF-007, and says by which words; the rope gets a new entry behind it."""
    folder = project(tmp_path)
    read(folder, bugs_csv(BELL, ROPE, BELL | {"what": "bell rings two times, twice!", "tester": "C", "build": "110011"}))
    assert grouped(folder) == [("R-0002", "R-0002"), ("R-0001", "R-0001"), ("R-0003", "R-0001")]
    assert [one["known issue"] for one in rows(folder)] == ["", "", ""]  # none cites it
    assert [one["perhaps"] for one in rows(folder)] == ["", "TF-007", "TF-007"]  # the rope is too unlike it
    assert "bell" in rows(folder)[1]["words in common"].split()
    text = page(folder)
    assert "Perhaps known issue <b>TF-007</b>" in text
    entry = text.split("<pre>[[issue]]")[1].split("</pre>")[0].replace("&#34;", '"')
    assert tomllib.loads("[[issue]]" + entry)["issue"] == [
        {"id": "TF-008", "severity": "critical", "where": "Mast", "what": "Rope is drawn upside down", "since": "0.2.0"}
    ]
    assert "<pre>R-0002 = &#34;TF-008&#34;</pre>" in text


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"severity": "minor", "often": "once"}, {"severity": "cosmetic", "often": "always"}),
        ({"severity": "minor", "often": "always"}, {"severity": "minor", "often": "sometimes"}),
        ({"severity": "Blocker"}, {"severity": "unheard of"}),
    ],
)
def test_what_comes_first(tmp_path, first, second):
    """Severity decides, then how often; words that are not understood come last."""
    folder = project(tmp_path)
    read(folder, bugs_csv({**ROPE, "often": "", **second}, {**BELL, "often": "", **first}))
    assert [one["report"] for one in rows(folder)] == ["R-0002", "R-0001"]


def test_what_more_have_seen_comes_first_with_or_without_names(tmp_path):
    """Of two groups that are equally bad: each report without a name counts as another tester's."""
    folder = project(tmp_path)
    alike = {"severity": "minor", "often": "once", "tester": ""}
    read(folder, bugs_csv(ROPE | alike, BELL | alike, BELL | alike | {"build": "110011"}))
    assert grouped(folder) == [("R-0002", "R-0002"), ("R-0003", "R-0002"), ("R-0001", "R-0001")]


def test_decisions_are_kept_to(tmp_path):
    """Said to be the same, different, of an issue, of none, and fixed: as the author says; reports that are gone may be named."""
    folder = project(tmp_path)
    read(folder, bugs_csv(BELL, ROPE, BELL | {"tester": "C", "build": "110011"}, BELL | {"tester": "D"}))
    assert [group for _, group in grouped(folder)].count("R-0001") == 3
    decisions = folder / "reports/decisions.toml"
    decisions.write_text('same = [["R-0001", "R-0002"]]\nnot_same = [["R-0001", "R-0003"]]\nissue = { R-0001 = "TF-007", R-0099 = "" }\n')
    read(folder, None)
    assert dict(grouped(folder)) == {"R-0001": "R-0001", "R-0002": "R-0001", "R-0003": "R-0003", "R-0004": dict(grouped(folder))["R-0004"]}
    assert {one["report"]: one["decided"] for one in rows(folder)} == {"R-0001": "yes", "R-0002": "yes", "R-0003": "", "R-0004": ""}
    assert "Known issue <b>TF-007</b>, as you decided" in page(folder)
    decisions.write_text('fixed = { TF-007 = "0.3.0" }\nissue = { R-0003 = "TF-007", R-0001 = "" }\n')
    read(folder, None)
    decided = {one["report"]: (one["known issue"], one["fixed in"], one["seen again"]) for one in rows(folder)}
    assert decided["R-0003"] == ("TF-007", "0.3.0", "yes")
    assert decided["R-0001"] == ("", "", "")


def test_decisions_about_reports_that_are_not_there_are_reported(tmp_path):
    """Each with line, place and the nearest id, in the answer and on the page; what was given once is distinguished from what never was."""
    folder = project(tmp_path)
    read(folder, bugs_csv(BELL, ROPE, BELL | {"tester": "C", "build": "110011"}))
    drop(folder, "B")
    text = 'same = [\n  ["R-0001", "R-0099"],\n]\nnot_same = [["R-0003", "R-0002"]]\nissue = { R-12 = "TF-007", R-0003 = "TF-007" }\n'
    (folder / "reports/decisions.toml").write_text(text)
    said = read(folder, None)
    notes = [line for line in said.splitlines() if line.startswith("reports/decisions.toml")]
    assert notes == [
        "reports/decisions.toml, line 2, same[0][1]: there is no report R-0099; the nearest is R-0003",
        "reports/decisions.toml, line 4, not_same[0][1]: report R-0002 is no longer kept; the nearest is R-0001",
        "reports/decisions.toml, line 5, [issue] R-12: there is no report R-12; the nearest is R-0003",
    ]
    assert "correct the number; until then this decides nothing" in said
    assert page(folder).count("<li><code>reports/decisions.toml, line ") == 3
    (folder / "reports/decisions.toml").write_text("".join(f'issue.R-1{rank:03} = ""\n' for rank in range(40)))
    assert "and 30 more like these; see the page" in read(folder, None)
    assert page(folder).count("there is no report R-10") == 40


def test_what_is_fixed_and_not_seen_since_comes_last(tmp_path):
    """Decided to be of an issue fixed in 0.2.0, a critical report of 0.1.0 is apart after a minor one; seen again, it is first."""
    folder = project(tmp_path)
    write_ledger(folder, [release("0.1.0", CODES[0], ("TF-007",)), release("0.2.0", CODES[1], (), ("TF-007",))])
    issues = [structs.replace(ISSUES[0], status="fixed", fixed_in="0.2.0")]
    read(folder, bugs_csv(BELL | {"severity": "critical"}, ROPE | {"severity": "minor"}), issues=issues)
    assert [one["report"] for one in rows(folder)] == ["R-0001", "R-0002"]
    (folder / "reports/decisions.toml").write_text('issue = { R-0001 = "TF-007" }\n')
    read(folder, None, issues=issues)
    assert [(one["report"], one["fixed in"], one["seen again"]) for one in rows(folder)] == [("R-0002", "", ""), ("R-0001", "0.2.0", "")]
    apart = page(folder).index("Said to be fixed, and not seen since")
    assert page(folder).index('id="R-0002"') < apart < page(folder).index('id="R-0001"')
    said = read(folder, bugs_csv(BELL | {"severity": "critical", "build": CODES[1]}), issues=issues)
    assert "critical     2 reports, TF-007: R-0001, R-0003" in said
    assert "Said to be fixed, and seen again: TF-007 (in 0.2.0)" in said
    assert [(one["report"], one["fixed in"], one["seen again"]) for one in rows(folder)][0] == ("R-0001", "0.2.0", "yes")
    assert "Said to be fixed, and not" not in page(folder)
    assert "TF-007 was said to be fixed in 0.2.0; this is reported from a build since" in page(folder)


def test_long_report_heads_its_group_in_short(tmp_path):
    """A report of many words is shown whole below its beginning; a short one of its own once only."""
    folder = project(tmp_path)
    read(folder, bugs_csv(ROPE | {"what": "The rope\nand " + "so on " * 60 + "to its end"}, BELL))
    text = page(folder)
    assert "<h3><bdi>The rope and so on" in text
    assert text.split("</h3>")[0].count("so on") < 30
    assert text.count("to its end") == 2  # below, and in the entry to paste
    shown = text[text.index('id="bugs"') :]
    assert shown.count("Bell at the quay rings twice") == 3  # as title, in the entry to paste, and as likeliest of the other's bug
    assert text.count("word for word") == 1


def test_reports_of_one_known_issue_are_one_group(tmp_path):
    """However they are worded; of no issue, they are not."""
    folder = project(tmp_path)
    read(folder, bugs_csv(BELL, ROPE))
    for issue, groups_seen in (("TF-007", ["R-0001", "R-0001"]), ("", ["R-0001", "R-0002"])):
        (folder / "reports/decisions.toml").write_text(f'issue = {{ R-0002 = "{issue}", R-0001 = "{issue}" }}\n')
        read(folder, None)
        assert sorted(group for _, group in grouped(folder)) == groups_seen
    # A report takes its group along, but not into one with a report it was separated from.
    read(folder, bugs_csv(BELL | {"tester": "C"}, ROPE | {"tester": "D"}))
    text = 'issue = { R-0002 = "TF-007", R-0001 = "TF-007" }\n'
    for more, groups_seen in (("", 1), ('not_same = [["R-0003", "R-0004"]]\n', 2)):
        (folder / "reports/decisions.toml").write_text(more + text)
        read(folder, None)
        assert len({group for _, group in grouped(folder)}) == groups_seen
        assert {one["known issue"] for one in rows(folder)} == {"TF-007"}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('same = [["R-0001"]]', "line 1, same[0]: expected a list of two or more reports"),
        ('same = [["R-1", "R-0002"]]', "line 1, same[0][0]: expected text, the id of a report, such as R-0001"),
        ('samee = []', "did you mean same?"),
        ('same = [["R-0001", "R-0002"], ["R-0002", "R-0003"]]\nnot_same = [["R-0003", "R-0001"]]', "are said to be the same as well"),
        ('not_same = [["R-0003", "R-0001"]]\nissue = { R-0001 = "TF-007", R-0003 = "TF-007" }', "are said to be of one known issue"),
        ('issue = { R-0001 = "TF-08" }', "there is no known issue 'TF-08'\n    did you mean TF-007?"),
        ('same = [["R-0001", "R-0002"]]\nissue = { R-0001 = "TF-007", R-0002 = "" }', "R-0002 is of no issue, and R-0001"),
        ('fixed = { TF-007 = "9.9.9" }', "no build of version '9.9.9' is known"),
    ],
)
def test_decisions_that_cannot_be(tmp_path, text, message):
    """The author's file is checked like the project file."""
    folder = project(tmp_path)
    read(folder, bugs_csv(BELL))
    (folder / "reports/decisions.toml").write_text(text)
    with pytest.raises(ProjectError) as caught:
        read(folder, None)
    assert message in str(caught.value)


def test_hostile_texts_stay_texts(tmp_path):
    """Nothing a stranger wrote becomes markup, a formula or a picture; the page loads nothing and runs only its own script."""
    folder = project(tmp_path)
    fields = ("build", "what", "severity", "often", "where", "time")
    pictures = "javascript:alert(3), https://example.org/a.png data:text/html,x //example.org/b.png https://example.org/\"onclick=\"x"
    row = dict.fromkeys(fields, HOSTILE) | {"tester": HOSTILE, "picture": pictures}
    heads = ["Timestamp", "Build code", "Your name", "How much fun?", "How was the pace?", "What do you wish for?"]
    read(folder, table([heads, [HOSTILE] * 6]))
    read(folder, bugs_csv(row, {"what": "=HYPERLINK(1)", "where": "@x"}))
    text = page(folder)
    tags = Page(text).found
    assert [tag for tag, _ in tags].count("script") == 1
    assert not {"img", "iframe", "object", "embed", "link", "base", "form", "audio", "video"} & {tag for tag, _ in tags}
    assert not [name for _, attributes in tags for name in attributes if name.startswith("on") or name in ("src", "action")]
    hrefs = [attributes for tag, attributes in tags if tag == "a"]
    assert [one["href"] for one in hrefs] == ["https://example.org/a.png"]
    assert "noreferrer" in hrefs[0]["rel"]
    assert "default-src 'none'" in text
    assert not {"\u202e", "\u2066"} & set(text + (folder / "build/triage.csv").read_text(encoding="utf-8"))
    assert "[U+202E]gnp.exe" in text
    assert "{{ 7 * 7 }}" in text
    for one in rows(folder):
        assert not [part for part in one.values() if part.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_toml_text_reads_back():
    """Any text in the entry to paste is one TOML string on one line."""
    for text in (HOSTILE, 'a\\b "c"\n\td', "\x7f\x00\x1b", "🙂 é"):
        line = f"what = {toml_text(text)}"
        assert "\n" not in line
        assert tomllib.loads(line)["what"] == " ".join(text.split())
        assert visible(line) == line


def test_links():
    """Only whole http and https addresses are links."""
    found_links = links("https://example.org/a?b=1, http://example.org/c ftp://example.org/d http://")
    assert [one["link"] for one in found_links] == ["https://example.org/a?b=1", "http://example.org/c", "", ""]


def test_feedback_is_counted_by_question_and_build(tmp_path):
    """Numbers have a mean and no gaps; answers have the author's order; free texts are listed; builds as typed are matched."""
    folder = project(tmp_path)
    heads = ["Timestamp", "Build code", "Your name", "How much fun?", "How was the pace?", "What do you wish for?"]
    answers = [("7zz9k2", "1", "too slow", "A bell"), ("7ZZ-9K2", "2", "Just right", ""), ("oaibod", "5", "Just right", "A second bell")]
    read(folder, table([heads, *([str(rank), build, "", fun, pace, wish] for rank, (build, fun, pace, wish) in enumerate(answers))]))
    text = page(folder)
    fun, pace, wish = text.split('<section class="question">')[1:]
    assert [f"<bdi>{number}</bdi>" in fun for number in range(1, 6)] == [True] * 5
    assert "mean <b>2.67</b>" in fun  # 8 / 3
    assert "standard deviation <b>2.08</b>" in fun  # the square root of 13 / 3
    assert "mean <b>1.50</b> ± 0.71 · median <b>1.5</b>" in fun
    assert "mean <b>5.00</b> · median <b>5</b>" in fun
    assert pace.index("Too slow") < pace.index("Just right") < pace.index("Too fast")
    assert "<title>Too slow: 1</title>" in pace
    assert wish.count('class="said"') == 2


@pytest.mark.parametrize(("letters", "choice"), [(48, True), (49, False)])
def test_long_answers_are_texts_even_if_given_twice(tmp_path, letters, choice):
    folder = project(tmp_path)
    heads = ["Timestamp", "Build code", "Your name", "How much fun?", "How was the pace?", "What do you wish for?"]
    read(folder, table([heads, *([str(rank), "7ZZ9K2", "", "", "", "m" * letters] for rank in range(2))]))
    wish = page(folder).split('<section class="question">')[-1]
    assert (f"<title>{'m' * letters}: 2</title>" in wish) == choice
    assert ('class="said"' in wish) != choice


def test_an_answer_is_one_however_it_is_written(tmp_path):
    """Case and the zeros of a number do not count, what was typed most often is shown; the head counts who answered, not a question."""
    folder = project(tmp_path)
    heads = ["Timestamp", "Build code", "Your name", "How much fun?", "How was the pace?", "What do you wish for?"]
    answers = [("3", "Too slow", "More"), ("03", "too slow", "more"), ("4", "", "more"), ("", "TOO FAST", "MORE"), ("", "", "more")]
    intake = Intake(bugs=BUGS, feedback=structs.replace(FEEDBACK, answers={"fun": ["2", "3", "4"], "pace": ["Too slow", "Too fast"]}))
    read(folder, table([heads, *([str(rank), "7ZZ9K2", "", *texts] for rank, texts in enumerate(answers))]), intake)
    text = page(folder)
    fun, pace, wish = text.split('<section class="question">')[1:]
    assert re.findall("<title>(.*?)</title>", fun)[:3] == ["2: 0", "3: 2", "4: 1"]
    assert re.findall("<title>(.*?)</title>", pace)[:2] == ["Too slow: 2", "Too fast: 1"]
    assert re.findall("<title>(.*?)</title>", wish)[:1] == ["more: 5"]
    assert "5 answers to the feedback form" in text
