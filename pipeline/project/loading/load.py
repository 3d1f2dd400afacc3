"""What the author wrote: ``project.toml`` read, defaults applied, checked, and its files found."""

from __future__ import annotations

import copy
import os
import re
import sys
from pathlib import Path
from typing import Any

import pipeline.project.file as pf
from pipeline.plain.checked import Document, build, read_document
from pipeline.plain.errors import ProjectError
from pipeline.project.issues import check_issues, take_issues
from pipeline.project.ledger import LEDGER, Release, read_ledger
from pipeline.project.loading.across import check_project
from pipeline.project.loading.defaults import apply_defaults
from pipeline.project.loading.sources import check_issue_pictures, find_files
from pipeline.project.model import PROJECT_FILE, LoadedProject
from pipeline.target.loading import find_target, read_target
from pipeline.target.records import Target


def load_project(folder: Path, written: str = PROJECT_FILE) -> LoadedProject:
    """Read, check and complete the project in a folder.

    Args:
        written: name of the file that is read as its project file.

    Raises:
        ProjectError: carries every problem of the project file, or of the target file.
    """
    folder = folder.resolve()
    document = read_document(folder / written, PROJECT_FILE, folder)
    apply_defaults(document)
    spec = build(document, (), document.data, pf.Project) or _salvage(document)
    _check_epoch(document)
    issues, spec = take_issues(document, folder, spec) if spec else (document, None)
    releases = _releases(document, folder)
    assets = find_files(document, folder, spec) if spec else {}
    found = _load_target(document, folder, spec) if spec else None
    if spec is None or found is None:
        document.finish()
        raise AssertionError("a project that could not be read has at least one problem")
    project = LoadedProject(folder, spec, *found, assets, releases)
    check_project(document, project)
    check_issues(issues, spec.issue, _known_versions(document, project))
    check_issue_pictures(issues, project)
    document.finish()
    return project


# Replaces a part that has its own problems, just so that the checks of the others can run.
_PLACEHOLDERS = {
    "format": 1,
    "game": {"title": "?", "code": "XX", "version": "0.0.0", "phase": "alpha", "target": "basalt32"},
    "links": {"feedback": "https://example.org/f/{build}", "bugs": "https://example.org/b/{build}"},
    "control": {"action": "?", "buttons": {}},
    "issue": {"id": "?", "severity": "minor", "where": "?", "what": "?"},
}


def _salvage(document: Document) -> pf.Project | None:
    """Return the project without what has problems, so that the rest of the file is checked too.

    First only the wrong keys are left out; if that is not enough, the table that holds them.
    """
    data, paths = copy.deepcopy(document.data), document.paths
    for whole in (False, True):
        for path in paths:
            _leave_out(data, path, whole, document.broken)
        probe = Document(document.shown, data)
        probe.most = sys.maxsize  # what it finds is never reported, so it must not end the reading
        spec = build(probe, (), data, pf.Project)
        if spec is not None:
            return spec
        paths = probe.paths
    return None


def _leave_out(data: dict[str, Any], path: tuple, whole: bool, broken: set[str]) -> None:
    head, *rest = path
    part, name = data.get(head), rest[0] if rest else None
    if head in ("format", "game", "links"):
        known = part if isinstance(part, dict) else {}
        kept = {key: value for key, value in known.items() if key != name and not whole and head != "format"}
        data[head] = _PLACEHOLDERS[head] | kept if head != "format" else 1
    elif isinstance(part, list) and isinstance(name, int) and head in _PLACEHOLDERS:
        # In its place, so that the others keep theirs; an id of its own, so that it is not a duplicate.
        part[name] = _PLACEHOLDERS[head] | ({"id": f"?{name}"} if head == "issue" else {})
    elif isinstance(part, dict) and name is not None:
        broken.add(str(name))
        if not whole and len(rest) > 1 and isinstance(part.get(name), dict):
            part[name].pop(rest[1], None)
        else:
            part.pop(name, None)
    else:
        data.pop(head, None)


def _load_target(document: Document, folder: Path, spec: pf.Project) -> tuple[Target, str] | None:
    try:
        path = find_target(spec.game.target, folder, document.shown, lambda: document.place(("game", "target")))
        return read_target(path, spec.game.target if spec.game.target.endswith(".toml") else None)
    except ProjectError as error:
        document.problems.extend(error.problems)
        return None


def _known_versions(document: Document, project: LoadedProject) -> list[str]:
    """Return the versions an issue may be fixed in; none if their source has problems, which are reported already."""
    own = project.spec.game.version
    unsure = {("game",), ("game", "version")} & set(document.paths) or any(problem.file == LEDGER for problem in document.problems)
    return [*(release.version for release in project.releases), own] if not unsure else []


def _releases(document: Document, folder: Path) -> tuple[Release, ...]:
    try:
        return tuple(read_ledger(folder))
    except ProjectError as error:
        document.problems.extend(error.problems)
        return ()


def _check_epoch(document: Document) -> None:
    value = os.environ.get("SOURCE_DATE_EPOCH", "")
    if value and not re.fullmatch(r"[0-9]{1,11}", value):
        document.say((), f"the environment's SOURCE_DATE_EPOCH is {value!r}", "set it to whole seconds since 1970, or unset it")
