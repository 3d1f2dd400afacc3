"""Write what a web form would export: invented reports of invented testers, for the walk in pipeline/guide/walk.md.

    python demo_project/make/reports.py FOLDER [BUILD [BUILD]]

writes ``bugs.csv`` (UTF-8, commas, CRLF) and ``feedback.txt`` (UTF-16, tabs, as a spreadsheet saves it) into a folder: 240 bug
reports and 60 answers about the first build. With a second build, the forms were filled in further: 14 reports and 8 answers
more, behind the first ones. Builds left out are the first two of the ledger. The same builds give the same bytes.
"""

from __future__ import annotations

import csv
import datetime
import io
import json
import random
import re
import sys
from dataclasses import dataclass
from pathlib import Path

from reports_said import ALONE, ASKED, BAD, CLOSERS, FIRST_WORDS, KNOWN, LAST_WORDS, NEW, OFTEN, OPENERS, STILL, WISHES, Bug

BUG_HEADINGS = (
    "Timestamp", "Build code", "What happened?", "How bad is it?", "How often?", "Where in the game?", "Link to a picture", "Your name",
    "E-mail",
)  # fmt: skip
FEEDBACK_HEADINGS = ("Timestamp", "Build code", "How much fun was it?", "How was the pace?", "Your favourite", "What do you wish for?",
                     "Your name", "E-mail")  # fmt: skip
TESTERS = [f"{first}{last}" for last in LAST_WORDS for first in FIRST_WORDS]
_START = datetime.datetime(2026, 11, 21, 17, 5)
_LATER = datetime.datetime(2026, 12, 6, 16, 40)
# What is reported of a second build, besides one who still loses the plume: bug and how many.
_SECOND = {"both-buttons": 3, "left-edge": 2, "HR-006": 3, "HR-009": 2}
_NOISE_OF_SECOND = ("The red plume suits her!", "Nice, the sky is smooth now", "thanks for the fast fix")


@dataclass(frozen=True)
class Report:
    """One row of the export for bugs, and the name of the bug it is of; empty: of none."""

    cells: tuple[str, ...]
    bug: str


def bug_reports(build: str, second: str = "") -> list[Report]:
    """Return the reports about a build, in the order they were sent, and behind them those about a second one."""
    chance = random.Random(240)
    planned: list[Bug | str] = [bug for bug in (*NEW, *KNOWN) for _ in range(bug.reports)]
    planned += ALONE
    chance.shuffle(planned)
    reports = _sent(chance, planned, build, _START)
    if second:
        chance = random.Random(14)
        every = {bug.name: bug for bug in (*NEW, *KNOWN)}
        planned = [every[name] for name, count in _SECOND.items() for _ in range(count)]
        planned += [STILL, *_NOISE_OF_SECOND]
        chance.shuffle(planned)
        reports += _sent(chance, planned, second, _LATER)
    return reports


def _sent(chance: random.Random, planned: list[Bug | str], build: str, time: datetime.datetime) -> list[Report]:
    reports = []
    for one in planned:
        time += datetime.timedelta(minutes=chance.randrange(2, 74))
        tester = chance.choice(TESTERS)
        code = typed(chance, build)
        if isinstance(one, str):
            what, bad, often, where, bug = one, chance.choice(("", BAD[3])), "", "", ""
        else:
            what, bug = _said(chance, one), one.name
            bad, often = _answer(chance, BAD, one.bad), _answer(chance, OFTEN, one.often)
            where = chance.choice((one.where[0], *one.where, ""))
        picture = f"https://example.org/pictures/{chance.randrange(10000):04}.png" if bug and chance.random() < 0.15 else ""
        name = tester if chance.random() < 0.9 else ""
        address = f"{tester}@example.org" if name and chance.random() < 0.7 else ""
        reports.append(Report((f"{time:%Y-%m-%d %H:%M}", code, what, bad, often, where, picture, name, address), bug))
    return reports


def _answer(chance: random.Random, words: tuple[str, ...], usual: int) -> str:
    near = (usual, usual, usual, usual, usual, max(usual - 1, 0), min(usual + 1, len(words) - 1))
    return "" if chance.random() < 0.06 else words[chance.choice(near)]


def _said(chance: random.Random, bug: Bug) -> str:
    core = re.sub(r"\{([^}]*)\}", lambda match: chance.choice(match[1].split("|")), chance.choice(bug.said))
    text = chance.choice(OPENERS) + _misspelt(chance, core) + chance.choice(CLOSERS)
    return text.lower() if chance.random() < 0.15 else text


def _misspelt(chance: random.Random, text: str) -> str:
    words = text.split(" ")
    for rank, word in enumerate(words):
        if len(word) > 5 and word.isalpha() and chance.random() < 0.04:
            at = chance.randrange(1, len(word) - 2)
            words[rank] = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    return " ".join(words)


def typed(chance: random.Random, build: str) -> str:
    """Return a build code as somebody types it: mostly right, now and then wrong, of another build, or not at all."""
    ways = (
        (60, build), (12, build.lower()), (6, f"{build[:3]} {build[3:]}"), (3, f"{build[:3]}-{build[3:]}"),
        (4, build.replace("0", "O").replace("1", "l").lower()), (3, f"build {build}"), (2, f" {build} "), (5, ""), (2, "7QX4TM"),
        (2, build[:5] + ("2" if build[5] != "2" else "3")), (1, "the new one"),
    )  # fmt: skip
    return chance.choices([text for _, text in ways], [weight for weight, _ in ways])[0]


def feedback(build: str, second: str = "") -> list[tuple[str, ...]]:
    """Return the answers to the feedback form about a build, and behind them those about a second one."""
    chance = random.Random(60)
    rows = [_answers(chance, build, _START, rank, (1, 2, 3, 3, 3, 4, 4, 4, 5)) for rank in range(60)]
    if second:
        chance = random.Random(8)
        rows += [_answers(chance, second, _LATER, rank, (3, 4, 4, 5)) for rank in range(8)]
    return rows


def _answers(chance: random.Random, build: str, start: datetime.datetime, rank: int, fun: tuple[int, ...]) -> tuple[str, ...]:
    time = start + datetime.timedelta(hours=3 * rank, minutes=chance.randrange(50))
    pace = chance.choice(("Too slow", "Just right", "Just right", "Just right", "Too fast", ""))
    favourite = chance.choice(("Tove", "Tove", "Bram", "Pell", "Isk", "Orrin", "Wick"))
    tester = chance.choice(TESTERS)
    wish = chance.choice(ASKED).format(*chance.sample(WISHES, 2))
    answers = (str(chance.choice(fun)), pace, favourite, wish)
    return (f"{time:%Y-%m-%d %H:%M}", typed(chance, build), *answers, tester, f"{tester}@example.org")


def main(folder: str, *builds: str) -> None:
    """Write both files."""
    build, second = (*(builds or released()), "", "")[:2]
    if not build:
        sys.exit("No build is in ledger.json yet: run doit release, or name a build code.")
    bugs, answers = bug_reports(build, second), feedback(build, second)
    Path(folder).mkdir(parents=True, exist_ok=True)
    _write(Path(folder, "bugs.csv"), [BUG_HEADINGS, *(one.cells for one in bugs)], "utf-8", ",")
    _write(Path(folder, "feedback.txt"), [FEEDBACK_HEADINGS, *answers], "utf-16", "\t")
    print(f"{folder}: bugs.csv with {len(bugs)} reports, feedback.txt with {len(answers)} answers")


def released() -> list[str]:
    """Return the build codes of the project this script stands in, oldest first."""
    ledger = Path(__file__).resolve().parent.parent / "ledger.json"
    return [one["build_code"] for one in json.loads(ledger.read_bytes())["releases"]] if ledger.exists() else []


def _write(path: Path, rows: list[tuple[str, ...]], encoding: str, separator: str) -> None:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator, quoting=csv.QUOTE_ALL if separator == "," else csv.QUOTE_MINIMAL).writerows(rows)
    # A byte order mark is named, so that the bytes do not depend on the machine.
    data = b"\xff\xfe" + text.getvalue().encode("utf-16-le") if encoding == "utf-16" else text.getvalue().encode(encoding)
    path.write_bytes(data)


if __name__ == "__main__":
    if not 2 <= len(sys.argv) <= 4:
        sys.exit(__doc__)
    main(*sys.argv[1:])
