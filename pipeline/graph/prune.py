"""Removing from the build folder what an earlier build made and no step makes any more; nothing else there is touched."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

from pipeline.files import TEMPORARY, write_json
from pipeline.graph.step import Plan

_LEFTOVER = re.compile(rf".+\.[0-9]+{re.escape(TEMPORARY)}")


def prune(plan: Plan) -> list[str]:
    """Delete files an earlier build recorded as its own that no step of the plan writes; return what was deleted.

    Half-written files of builds that were killed go too, and folders left empty. The plan's own files are recorded.
    """
    record = plan.state / "outputs.json"
    keep = _outputs(plan)
    gone = []
    for name in sorted(set(_recorded(record)) - keep, reverse=True):
        path = plan.build / name
        if path.is_relative_to(plan.build) and ".." not in path.parts and (path.is_file() or path.is_symlink()):
            gone += _remove_listed(path, keep, plan.build)
            path.unlink()
            gone.append(name)
            _remove_empty(path.parent, plan.build)
    for path in plan.build.rglob(f"*{TEMPORARY}"):
        if _LEFTOVER.fullmatch(path.name) and not path.is_dir():
            path.unlink()
    write_json(record, sorted(keep))
    return gone


def _remove_listed(manifest: Path, keep: set[str], build: Path) -> list[str]:
    """Delete what a manifest about to go lists in folders beside it, as far as it is still that; return the names."""
    try:
        listed = json.loads(manifest.read_bytes())["files"].items()
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return []  # no manifest
    gone = []
    for name, digest in listed:
        path = manifest.parent / name
        inside = path.relative_to(build).as_posix() if ".." not in path.parts else ""
        if inside and inside not in keep and path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == digest:
            path.unlink()
            gone.append(inside)
            _remove_empty(path.parent, build)
    return gone


def _outputs(plan: Plan) -> set[str]:
    paths = {path for step in plan.steps for path in step.writes}
    for step in plan.steps:
        paths |= _listed(step.manifest)
    return {path.relative_to(plan.build).as_posix() for path in paths if path.is_relative_to(plan.build)}


def _recorded(record: Path) -> list[str]:
    try:
        names = json.loads(record.read_bytes())
        return [name for name in names if isinstance(name, str)]
    except (OSError, ValueError, TypeError):
        return []


def _listed(manifest: Path | None) -> set[Path]:
    if manifest is None or not manifest.is_file():
        return set()
    try:
        return {manifest.parent / name for name in json.loads(manifest.read_bytes())["files"]}
    except (ValueError, KeyError, TypeError):
        return set()


def _remove_empty(folder: Path, top: Path) -> None:
    while folder != top and folder.is_relative_to(top) and not any(folder.iterdir()):
        folder.rmdir()
        folder = folder.parent
