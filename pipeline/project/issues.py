"""Known issues: in ``issues.toml`` beside the project file, or in the project file itself; what must agree in them."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec

import pipeline.project.file as pf
from pipeline.plain.bounds import ISSUES
from pipeline.plain.checked import Document, build, read_document
from pipeline.plain.errors import ProjectError
from pipeline.plain.versions import precedence
from pipeline.project.model import LoadedProject

ISSUES_FILE = "issues.toml"
_DIGITS = 6  # of a frame's number, fewer
_TITLE = 60  # characters of what that replace a title


def take_issues(document: Document, folder: Path, spec: pf.Project) -> tuple[Document, pf.Project]:
    """Return the document that holds the issues, and the project with them.

    Problems of ``issues.toml`` are noted among those of the project file, each under its own name.
    """
    path = folder / ISSUES_FILE
    if not os.path.lexists(path):
        return document, spec
    try:
        own = read_document(path, ISSUES_FILE, folder)
    except ProjectError as error:
        document.problems.extend(error.problems)
        return document, spec
    if document.data.get("issue"):
        remedy = f"keep known issues in one of the two: move these to {ISSUES_FILE}, or remove that file"
        document.say(("issue", 0), f"{ISSUES_FILE} holds known issues too", remedy)
    own.problems = document.problems
    made = build(own, (), own.data, pf.IssueFile)
    return own, msgspec.structs.replace(spec, issue=made.issue if made else [])


def check_issues(document: Document, issues: list[pf.Issue], known: list[str]) -> None:
    """Note ids used twice, and versions that cannot be.

    Args:
        document: the file with the issues.
        known: versions in the ledger and, last, the project's own; empty where either has problems of its own.
    """
    seen: set[str] = set()
    if len(issues) > ISSUES:
        document.say(("issue",), f"{len(issues):,} known issues, at most {ISSUES:,} are read", "remove those long fixed")
    for rank, issue in enumerate(issues):
        if issue.id in seen:
            document.say(("issue", rank, "id"), f"the id {issue.id!r} is used twice", "ids stay the same for ever; take a new one")
        seen.add(issue.id)
        _check_fix(document, ("issue", rank), issue, known)


def _check_fix(document: Document, path: tuple, issue: pf.Issue, known: list[str]) -> None:
    if issue.status == "fixed" and issue.fixed_in is None:
        remedy = f'add fixed_in = "{known[-1] if known else "0.4.0"}"'
        document.say((*path, "fixed_in"), f"{issue.id} is fixed, but fixed_in is missing", remedy)
    elif issue.fixed_in is not None and issue.status != "fixed":
        remedy = 'set status = "fixed", or remove fixed_in'
        document.say((*path, "fixed_in"), f"{issue.id} has fixed_in, but its status is {issue.status}", remedy)
    elif known and issue.fixed_in is not None and issue.fixed_in not in known:
        wrong = f"{issue.fixed_in} is neither in the ledger nor this version, {known[-1]}"
        document.say((*path, "fixed_in"), wrong, "name the version in which testers get the fix; an issue long fixed may be removed")
    if issue.since and issue.fixed_in and precedence(issue.since) > precedence(issue.fixed_in):
        wrong = f"{issue.since} comes after fixed_in, {issue.fixed_in}"
        document.say((*path, "since"), wrong, "since is the version in which it was first seen; correct one of the two")


def frame_shown(issue: pf.Issue, project: LoadedProject) -> tuple[str, int | None]:
    """Return the asset whose frame is shown beside an issue, and the number of the frame; None if no frame has this name or number."""
    return find_frame(issue.frame, project)


def find_frame(text: str, project: LoadedProject) -> tuple[str, int | None]:
    """Return the asset of SPRITE/FRAME or BACKGROUND, and the number of the frame; None if no frame has this name or number."""
    name, _, frame = text.partition("/")
    asset = project.assets.get(name)
    if asset is None or asset.kind not in ("sprite", "background") or bool(frame) != (asset.kind == "sprite"):
        return name, None
    if not frame:
        return name, 0
    named = [rank for rank, file in enumerate(project.frame_names(asset)) if Path(file).stem == frame]
    return name, named[0] if named else int(frame) if frame.isascii() and frame.isdigit() and len(frame) < _DIGITS else None


def issue_title(issue: pf.Issue) -> str:
    """Return an issue's title, or the first words of what happens."""
    text = issue.title or " ".join(issue.what.split())
    if len(text) <= _TITLE:
        return text
    return text[: _TITLE - 1].rsplit(" ", 1)[0].rstrip(" ,;.:") + "…"


def open_issues(issues: list[pf.Issue]) -> list[pf.Issue]:
    """Return the issues that testers may still meet."""
    return [issue for issue in issues if issue.status == "open"]


def to_retest(issues: list[pf.Issue], version: str) -> list[pf.Issue]:
    """Return the issues fixed in a version, which testers are asked to look at again."""
    return [issue for issue in issues if issue.status == "fixed" and issue.fixed_in == version]
