"""A small project with both forms, and taking exports in without doit."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

from pipeline.intake.forgetting.erase import erase
from pipeline.intake.take_in import take_in
from pipeline.joints.places import ReportPages, Sources
from pipeline.plain.rendering import find_template
from pipeline.plain.shipped import TEMPLATES
from pipeline.project.file import Issue
from pipeline.project.intake import BugColumns, BugForm, FeedbackColumns, FeedbackForm, Intake
from tests.makers import map_json

HEADINGS = {
    "time": "Timestamp", "build": "Build code", "what": "What happened", "severity": "How bad", "often": "How often",
    "where": "Where", "tester": "Your name", "contact": "E-mail", "picture": "Picture",
}  # fmt: skip
BUGS = BugForm(columns=BugColumns(**HEADINGS))
FEEDBACK = FeedbackForm(
    columns=FeedbackColumns(time="Timestamp", build="Build code", tester="Your name"),
    questions={"fun": "How much fun?", "pace": "How was the pace?", "wish": "What do you wish for?"},
    answers={"pace": ["Too slow", "Just right", "Too fast"]},
)
FORMS = Intake(bugs=BUGS, feedback=FEEDBACK)
ISSUES = [Issue(id="TF-007", severity="minor", where="Quay", what="The bell rings twice.")]
GAME = {"title": "Tin Ferry", "code": "TINF", "version": "0.3.0", "phase": "beta"}
CODES = ("7ZZ9K2", "0A1B0D", "110011")


def project(folder: Path) -> Path:
    """Write the ledger of a project: two releases, and the current build."""
    write_ledger(folder, [release(f"0.{rank}.0", code) for rank, code in enumerate(CODES[:2], start=1)])
    (folder / "build").mkdir()
    (folder / "build/map.json").write_text(json.dumps(map_json(build_code=CODES[2])))
    return folder


def release(version: str, code: str, still: tuple[str, ...] = (), fixed: tuple[str, ...] = ()) -> dict:
    """Return an entry of a ledger, with the issues still open in it and those fixed."""
    return {
        "version": version, "phase": "alpha", "date": "2026-01-01", "build_code": code,
        "image": {"bytes": 4, "used": 2, "crc32": "0", "sha256": "0"}, "budget": {}, "kit": {"file": "x.zip", "sha256": "0"}, "assets": {},
        "issues": {"open": list(still), "fixed": list(fixed)},
    }  # fmt: skip


def write_ledger(folder: Path, releases: list[dict]) -> None:
    """Write the ledger of a project."""
    (folder / "ledger.json").write_text(json.dumps({"releases": releases}))


def bugs_csv(*rows: dict[str, str]) -> bytes:
    """Return an export of bugs: field -> text of each row; fields left out are empty."""
    return table([list(HEADINGS.values()), *([row.get(key, "") for key in HEADINGS] for row in rows)])


def table(rows: list[list[str]]) -> bytes:
    """Return rows as CSV."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows(rows)
    return text.getvalue().encode()


def read(folder: Path, data: bytes | None, intake: Intake = FORMS, name: str = "export.csv", issues: list[Issue] = ISSUES) -> str:
    """Take an export in; None looks again at what is kept."""
    path = folder / name
    if data is not None:
        path.write_bytes(data)
    return take_in(*kept_files(folder), intake, issues, GAME, {}, path if data is not None else None, "")


def kept_files(folder: Path) -> tuple[Sources, Path, ReportPages]:
    """Return what the author keeps, the map, and the pages that are written."""
    build = folder / "build"
    pages = ReportPages(build / "triage.html", build / "triage.csv", find_template(folder, "triage.html.j2"), TEMPLATES / "triage.js")
    return Sources(folder, ("reports", "ledger.json")), build / "map.json", pages


def drop(folder: Path, who: str, intake: Intake = FORMS) -> str:
    """Forget a person."""
    kept, *others = kept_files(folder)
    return erase(kept, folder / "build", *others, intake, ISSUES, GAME, {}, who)


def kept(folder: Path, form: str = "bugs") -> list[dict]:
    """Return the kept reports."""
    return json.loads((folder / f"reports/{form}.json").read_bytes())["reports"]
