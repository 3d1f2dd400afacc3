"""Removing from the build folder what no step makes any more; see ``joints.build_names`` for what is the tool's there."""

from __future__ import annotations

from pipeline.graph.freshness.manifest import listed_files
from pipeline.graph.steps.step import Plan
from pipeline.joints.build_names import GOVERNED, clear, clear_work


def prune(plan: Plan) -> list[str]:
    """Delete the tool's files that no step of the plan writes; return what was deleted.

    Half-written files of builds that were killed go too. Where a manifest cannot be read, its step will write it again and
    clear its folders by the same rule, so that the last good kit is not lost before there is another.

    Raises:
        OSError: the system would not remove something.
    """
    paths = {path for step in plan.steps for path in (*step.writes, *step.keeps)}
    left: set[str] = set()
    for manifest in (step.manifest for step in plan.steps if step.manifest):
        listed = listed_files(manifest)
        paths.update(listed or ())
        if listed is None:
            left |= set(GOVERNED[manifest.relative_to(plan.build).as_posix()])
    keep = {path.relative_to(plan.build).as_posix() for path in paths if path.is_relative_to(plan.build)}
    return clear_work(plan.build, keep) + clear(plan.build, keep, except_for=left)
