"""Rounds of invented exports: what is kept and shown after each stays as it was looked at; ``test_triage`` says what must be right.

No outside source: the order and the likeness of reports could be others. If a change is meant: see ``tests.recorded``.
"""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from pipeline.intake import take_in
from pipeline.project.file import Issue
from pipeline.project.intake import Intake
from tests.intake.invented_reports import Labelled, labelled_set, names_of
from tests.intake.makers import BUGS, CODES, FEEDBACK, FORMS, bugs_csv, drop, project, read, release, table, write_ledger
from tests.recorded import differing, hash_of

ISSUES = [
    Issue(id="TF-007", severity="minor", where="Slatequay", what="Tove floats in the air when she jumps."),
    Issue(id="TF-009", severity="major", where="Pause menu", what="The timer shows a zero after pressing Start twice."),
    Issue(id="TF-012", severity="critical", where="the ropeway", what="The crane freezes and nothing reacts."),
]
BUILDS = (*CODES, CODES[0].lower(), CODES[1][:-1] + "Z", "unknown", "", "O" + CODES[1][1:])
DECISIONS = """same = [["R-0001", "R-0005", "R-0009"], ["R-0002", "R-0030"]]
not_same = [["R-0003", "R-0004", "R-0011"]]
fixed = { TF-009 = "0.2.0", TF-007 = "0.3.0" }
issue = { R-0006 = "TF-007", R-0007 = "TF-009", R-0008 = "", R-0010 = "TF-007" }
"""


def row(chance: random.Random, report: Labelled) -> dict[str, str]:
    """Return a bug report with fields as testers fill them in: words of the form and others, or nothing."""
    return {
        "time": f"2026-02-{chance.randint(1, 28):02} 1{chance.randint(0, 9)}:00", "build": chance.choice(BUILDS),
        "what": chance.choice((report.what, report.what, report.what.upper(), "<b>&" + report.what)), "where": report.where,
        "severity": chance.choice(("minor", "major", "critical", "cosmetic", "It stops", "awful", "")),
        "often": chance.choice(("always", "sometimes", "once", "3 of 5", "now and then", "")),
        "tester": chance.choice(("Ada", "Ben ", "ben", "T3", "")), "contact": chance.choice(("a@example.org", "")),
        "picture": chance.choice(("https://example.org/p.png", "")),
    }  # fmt: skip


def answers(chance: random.Random, count: int) -> bytes:
    """Return an export of feedback: numbers, choices with a word that the form has not, and free text."""
    heads = ["Timestamp", "Build code", "Your name", "How much fun?", "How was the pace?", "What do you wish for?"]
    rows = [
        [
            f"2026-03-{1 + rank % 28:02}", chance.choice(BUILDS), chance.choice(("Ada", "Zed", "")), chance.choice("124"),
            chance.choice(("Too slow", "just right", "Too fast", "So so", "")), chance.choice(("More gulls", "Less\n=1", "", "more gulls")),
        ]
        for rank in range(count)
    ]  # fmt: skip
    return table([heads, *rows])


def seen(folder: Path, said: str) -> str:
    """Return what was said, kept and shown."""
    files = [path for place in ("reports", "build") for path in sorted((folder / place).iterdir()) if path.suffix != ".toml"]
    return hash_of(said.encode(), *(part for path in files for part in (path.name.encode(), path.read_bytes())))


@pytest.mark.parametrize("half", ["first", "second"])
def test_rounds_show_what_they_showed(tmp_path, half, monkeypatch):
    """Reports, then later ones among the same, decisions, a build since, a person who leaves; one form has words of its own.

    Words alone are compared: the last digits of sentence vectors are others on another processor.
    """
    monkeypatch.setattr(take_in, "encoder", lambda: None)
    chance, folder = random.Random(half), project(tmp_path)
    forms = FORMS
    if half == "second":
        words = {"severities": {"It stops": "critical", "awful": "major"}, "frequencies": ["always", "now and then", "once"]}
        forms = Intake(bugs=type(BUGS)(columns=BUGS.columns, names=names_of(half), **words), feedback=FEEDBACK)
    rows = [row(chance, one) for one in labelled_set(half, bugs=16, seed=7)]
    found = {"first export": seen(folder, read(folder, bugs_csv(*rows[: len(rows) // 2]), forms, issues=ISSUES))}
    found["feedback"] = seen(folder, read(folder, answers(chance, 30), forms, issues=ISSUES))
    known = [release(f"0.{rank}.0", code, ("TF-007",) if rank < 2 else (), ("TF-009",)) for rank, code in enumerate(CODES[:2], 1)]
    write_ledger(folder, known)
    (folder / "reports/decisions.toml").write_text(DECISIONS, encoding="utf-8")
    changed = [one | {"severity": "critical"} if rank % 5 == 0 else one for rank, one in enumerate(rows)]
    found["second export"] = seen(folder, read(folder, bugs_csv(*changed), forms, issues=ISSUES))
    found["a person less"] = seen(folder, drop(folder, "ben", forms))
    found["nothing new"] = seen(folder, read(folder, None, forms, issues=ISSUES))
    assert json.loads((folder / "reports/bugs.json").read_bytes())["reports"]
    assert differing(f"reports, {half}", found) == set()
