"""Mistakes made in the tool on purpose, to see whether histories notice them; each patches the tool in the process it runs in.

``python -m tests.bench.histories --mistakes --sequences 15 --moves 14 --seed 8 --without database`` found, as far as it was run: a
template that is not declared in sequence 2, the wording in 2, a palette in 1. An earlier form found text files of a font in sequence 3
(seed 1) and missed the ledger in 6; the others have not been run to the end. That outputs are looked at is tested.
"""

from __future__ import annotations

import dataclasses
import datetime
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import msgspec

MISTAKES: dict[str, Callable[[], None]] = {}


def make_mistake(name: str) -> None:
    """Patch the tool in this process."""
    MISTAKES[name]()


def _mistake(function: Callable[[], None]) -> Callable[[], None]:
    MISTAKES[function.__name__.replace("_", " ")] = function
    return function


def _change_steps(change: Callable) -> None:
    """Let every step of a plan go through a function that returns the step to take its place."""
    from pipeline.graph import front

    right = front.plan_project

    def wrong(*words):
        plan = right(*words)
        plan.steps = [change(step) for step in plan.steps]
        return plan

    front.plan_project = wrong


def _fewer_reads(name: str, leave: Callable[[Path], bool]) -> None:
    def change(step):
        if step.name.startswith(name):
            step.__dict__["reads"] = tuple(path for path in step.reads if leave(path))
        return step

    _change_steps(change)


@_mistake
def a_template_is_not_declared():
    _fewer_reads("notes", lambda path: path.suffix != ".j2")


@_mistake
def the_wording_is_not_declared():
    _fewer_reads("packet", lambda path: path.suffix != ".toml")


@_mistake
def a_palette_is_not_declared():
    _fewer_reads("sprite", lambda path: "figures" not in path.name)


@_mistake
def text_files_of_a_font_are_not_declared():
    _fewer_reads("prepare:letters", lambda path: path.suffix != ".txt")


@_mistake
def the_ledger_is_not_declared():
    _fewer_reads("differences", lambda path: path.name != "ledger.json")


@_mistake
def outputs_are_not_looked_at():
    from pipeline.graph.freshness.compare import Freshness

    Freshness._output_reasons = lambda self, before: []


@_mistake
def only_missing_outputs_count():
    from pipeline.graph.freshness.compare import Freshness

    right = Freshness._output_reasons
    Freshness._output_reasons = lambda self, before: [reason for reason in right(self, before) if "missing" in reason]


@_mistake
def size_and_time_stand_for_content():
    from pipeline.graph.freshness import compare as freshness

    def wrong(path):
        return f"{path.stat().st_mtime_ns} {path.stat().st_size}" if path.is_file() else None

    freshness.file_digest = wrong


@_mistake
def the_set_of_files_read_counts_not_their_names():
    from pipeline.graph.freshness import compare as freshness

    right = freshness._compare

    def wrong(part, before, now):
        if part == "reads" and sorted(map(str, before.values())) == sorted(map(str, now.values())):
            return []
        return right(part, before, now)

    freshness._compare = wrong


@_mistake
def settings_are_compared_in_any_order_of_tables():
    from pipeline.graph.freshness import compare as freshness

    right = freshness.flatten

    def ordered(value):
        if isinstance(value, dict):
            return {key: ordered(value[key]) for key in sorted(value, key=str)}
        if isinstance(value, (list, tuple)) and type(value) in (list, tuple):
            return type(value)(map(ordered, value))
        if isinstance(value, msgspec.Struct):
            return {key: ordered(getattr(value, key)) for key in value.__struct_fields__}
        return value

    freshness.flatten = lambda value, *others: right(ordered(value), *others)


@_mistake
def issues_are_no_settings_of_the_report():
    def change(step):
        if step.name == "report":
            return dataclasses.replace(step, arguments=_Hidden(step.arguments, "issues"))
        return step

    _change_steps(change)


class _Hidden(dict):
    """Settings of which one is hidden from whoever looks at all of them, as ``flatten`` does."""

    def __init__(self, settings: dict, hidden: str) -> None:
        super().__init__(settings)
        self.hidden = hidden

    def items(self):
        return [(key, value) for key, value in super().items() if key != self.hidden]


@_mistake
def what_is_no_more_is_left_in_place():
    from pipeline.graph import progress

    progress.prune = lambda plan: []


@_mistake
def everything_unknown_is_cleared_away():
    from pipeline.graph import progress

    right = progress.prune

    def wrong(plan):
        gone, keep = right(plan), _written(plan)
        for path in plan.build.rglob("*"):
            name = path.relative_to(plan.build).as_posix()
            if path.is_file() and not name.startswith(".state") and name not in keep:
                path.unlink()
        return gone

    progress.prune = wrong


def _written(plan) -> set[str]:
    paths = {path for step in plan.steps for path in step.writes}
    for manifest in (step.manifest for step in plan.steps if step.manifest and step.manifest.is_file()):
        paths |= {manifest.parent / name for name in json.loads(manifest.read_bytes())["files"]}
    return {path.relative_to(plan.build).as_posix() for path in paths if path.is_relative_to(plan.build)}


@_mistake
def frames_go_by_their_times():
    from pipeline.project.loading import sources as project_sources

    right = project_sources._glob

    def wrong(document, folder, path, pattern):
        return tuple(sorted(right(document, folder, path, pattern), key=lambda name: (folder / name).stat().st_mtime_ns))

    project_sources._glob = wrong


@_mistake
def dates_are_local():
    from pipeline.graph.steps import image as plan_image
    from pipeline.graph.steps import ledger as plan_ledger
    from pipeline.graph.steps import release as plan_release

    def wrong(project):
        if project.spec.game.date:
            return project.spec.game.date
        epoch = os.environ.get("SOURCE_DATE_EPOCH")
        return datetime.datetime.fromtimestamp(int(epoch)).date() if epoch else None

    plan_image.build_date = plan_ledger.build_date = plan_release.build_date = wrong


@_mistake
def the_folder_stands_in_an_output():
    from pipeline.report import page

    right = page.render
    page.render = lambda folder, *words, **named: right(folder, *words, **named) + f"<!-- {folder} -->"


@_mistake
def the_number_of_builds_stands_in_an_output():
    from pipeline.release import notes

    right = notes.render

    def wrong(folder, *words, **named):
        log = folder / "build/.state/growth.json"
        return right(folder, *words, **named) + ("\nAgain.\n" if log.is_file() else "")

    notes.render = wrong


@_mistake
def a_frame_once_prepared_is_kept_by_its_name():
    from pipeline.assets.sources import prepare

    right = prepare.prepare_sprite

    def wrong(sources, out, name, **others):
        said = right(sources=sources, out=out, name=name, **others)
        kept = out.pixels.parents[1] / ".state" / f"{name}-{len(sources.names)}.kept"
        if kept.is_file() and kept.stat().st_size == out.pixels.stat().st_size:
            shutil.copy(kept, out.pixels)
        else:
            kept.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(out.pixels, kept)
        return said

    prepare.prepare_sprite = wrong
