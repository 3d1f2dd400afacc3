"""Removing from the build folder what no step makes any more, so that a rebuild leaves what a clean build would."""

from __future__ import annotations

import json
from pathlib import Path

from pipeline.graph.step import Plan


def prune(plan: Plan) -> list[str]:
    """Delete files under ``build`` that no step of the plan writes, and folders left empty; return what was deleted.

    The build's own records are kept. A link is removed, never followed.
    """
    keep = {path for step in plan.steps for path in step.writes}
    for step in plan.steps:
        keep |= _listed(step.manifest)
    gone = []
    for path in sorted(plan.build.rglob("*"), reverse=True):
        if path.is_relative_to(plan.state):
            continue
        if path.is_dir() and not path.is_symlink():
            if not any(path.iterdir()):
                path.rmdir()
        elif path not in keep:
            path.unlink()
            gone.append(path.relative_to(plan.build).as_posix())
    return gone


def _listed(manifest: Path | None) -> set[Path]:
    if manifest is None or not manifest.is_file():
        return set()
    try:
        return {manifest.parent / name for name in json.loads(manifest.read_bytes())["files"]}
    except (ValueError, KeyError, TypeError):
        return set()
