"""What a person sees of a build: one calm line for each finished step, then a summary."""

from __future__ import annotations

import json
import sys
import textwrap
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from doit.exceptions import InvalidTask, UnmetDependency

from pipeline.graph.freshness.lock import LOCK, take_lock
from pipeline.graph.freshness.remembered import remember
from pipeline.graph.freshness.unchanged import Watch
from pipeline.graph.growth_log import note_build
from pipeline.graph.places import with_lines
from pipeline.graph.prune import prune
from pipeline.graph.steps.site import GROWTH, REASONS
from pipeline.graph.steps.step import Plan
from pipeline.graph.streams import write_steadily
from pipeline.joints.budget import Budget, read_budget_file
from pipeline.joints.map import read_map
from pipeline.memory.budget import describe_scene
from pipeline.plain.errors import ProjectError, shown_lines
from pipeline.plain.files import write_json
from pipeline.plain.sizes import show_size

# Set by the front door before doit makes the reporter, which takes no arguments of ours.
plan: Plan | None = None
checks: dict = {}
watch: Watch | None = None
show_reasons = False


def _nobody(kind: str, text: str) -> None:
    """Listen to nothing."""


# Set by whoever follows a build as it goes on: called with "good" and the name of a step, "failed" and a text for a person, or
# "busy" and nothing where another build has the lock.
listen: Callable[[str, str], None] = _nobody
# Of one answer or refusal: more than the largest table, and nothing that fills a terminal for ever.
_LONGEST_LINE, _MOST_LINES = 2000, 10_000


class CalmReporter:
    """doit's reporter: see its interface in ``doit.reporter``."""

    desc = "one line for each finished step"

    def __init__(self, outstream, options) -> None:
        self.out = outstream
        self.total = self.finished = self.ran = 0
        self.good: set[str] = set()
        self.failed: list[str] = []
        self.started = self.only_questions = False
        self.questions: list[str] = []
        self.needed: set[str] = set()
        self.reasons: dict[str, list[str]] = {}

    def initialize(self, tasks, selected) -> None:
        """Take the lock, clear away what no step makes any more, and count."""
        if plan is not None:
            _begin(plan)
        self.started = True
        self.needed = needed_steps(tasks, selected)
        self.total = len([name for name in self.needed if tasks[name].actions])
        self.questions = [name for name in selected if name in checks and checks[name].step.always]
        self.only_questions = len(self.questions) == len(list(selected))

    def get_status(self, task) -> None:
        pass

    def execute_task(self, task) -> None:
        pass

    def skip_uptodate(self, task) -> None:
        self._count(task)

    def _count(self, task) -> None:
        if task.actions:
            self.finished += 1
            self.good.add(task.name)
            listen("good", task.name)

    def skip_ignore(self, task) -> None:
        pass

    def add_success(self, task) -> None:
        self._count(task)
        if not task.actions:
            return
        said = str(task.values.get("said", ""))
        if checks.get(task.name) is not None and checks[task.name].step.always:
            self._write(said)
            return
        self.ran += 1
        kind, _, name = task.name.partition(":")
        self._write(f"{self.finished:>4}/{self.total}  {kind:<10} {name:<14} {said}".rstrip())
        self._note_reasons(task.name)

    def _note_reasons(self, name: str) -> None:
        reasons = checks[name].reasons if name in checks else []
        self.reasons[name] = reasons
        if show_reasons:
            for reason in reasons[:5]:
                self._write(f"{'':>11}because {reason}")
            if len(reasons) > 5:
                self._write(f"{'':>11}and {len(reasons) - 5} more reasons")

    def add_failure(self, task, fail) -> None:
        if isinstance(fail, UnmetDependency):
            return  # the failure of what it needs has been reported
        self.failed.append(task.name)
        said = fail.get_msg() if plan is None else with_lines(fail.get_msg(), plan.folder)
        if task.name in self.questions:
            self._write(("\n" if self.ran else "") + said.rstrip())
            return
        indented = textwrap.indent(said.strip(), "  ", lambda line: not line.startswith(" "))
        self._fail(f"FAILED  {task.name.replace(':', ' ')}\n{indented}")

    def _fail(self, text: str) -> None:
        self._write(f"\n{text}")
        listen("failed", _shown(text))

    def cleanup_error(self, exception) -> None:
        self._write(exception.get_msg())

    def runtime_error(self, msg: str) -> None:
        self.failed.append(msg)
        self._fail(f"STOPPED  {msg}")

    def teardown_task(self, task) -> None:
        pass

    def complete_run(self) -> None:
        if plan is None or not self.started:
            return
        if self.reasons:
            reasons = plan.state / REASONS
            self._keep(lambda: write_json(reasons, self.reasons))
        if sys.exc_info()[0] is not None:
            return  # stopped from outside; whoever stopped it knows
        if self.failed:
            if not self.only_questions or self.failed != self.questions:
                self._show_failure(plan)
            return
        if self.only_questions:
            return
        nothing = f"Nothing to do: all {self.total} steps are up to date."
        if not self.ran and self.total:
            self._write(nothing)
        summary = self._summary(plan)
        if self.total == self.finished and not self.questions:
            self._keep(lambda: self._keep_answer(_shown("\n".join([nothing, *summary]))))
            remember(plan.state, watch.tool if watch else None)

    def _keep_answer(self, said: str) -> None:
        """Keep what a build with nothing to do says, if all is as the steps left it and the build knows."""
        needed = [checks[name] for name in self.needed if name in checks]
        if not watch or not all(map(watch.covers, {path for check in needed for path in check.step.reads})):
            return
        build = watch.look_again()
        if build and all(check.is_as_left() for check in needed):
            watch.keep(build, said)

    def _show_failure(self, plan: Plan) -> None:
        count = len(self.failed)
        self._write(f"\nThe build did not finish: {count} of {self.total} steps failed.")
        main = {"verify": "image", "packet": "packet", "kit": "kit", "report": "report"}
        left = [word for name, word in main.items() if name in self.needed - self.good]
        if left and (plan.build / "map.json").exists():
            self._write(f"Not made again, and as the last good build left it: {', '.join(left)}.")

    def _summary(self, plan: Plan) -> list[str]:
        """Write what was built, and return it without what only this build changed."""
        if "verify" not in self.needed:
            return []  # nothing is known about the image then: it may be of another build
        try:
            image = read_map(plan.build / "map.json").image
        except ProjectError:
            return []  # taken away since it was verified
        name = next((path for step in plan.steps if step.name == "verify" for path in step.writes if path.suffix == ".rom"), None)
        fill = f"{show_size(image.used)} used ({image.used / image.bytes:.0%})"
        lines = [f"\nImage   {name.name if name else ''}  {show_size(image.bytes)} cartridge, {fill}, build {image.build_code}"]
        budget = _read_budget(plan.build / "budget.json") if "memory" in self.needed else None
        growth = []
        if budget:
            lines += [f"Memory  {describe_scene(scene, numbers)}" for scene, numbers in budget.scenes.items()]
            growth = self._keep(lambda: note_build(plan.state / GROWTH, image, budget, plan.version)) or []
        kit = _read(plan.build / "kit" / "kit.json") if "kit" in self.needed else None
        kits = [f"Kit     {_near(plan.build / 'kit' / file)}" for file in _kits((kit or {"files": {}})["files"])]
        for line in [*lines, *(f"Memory  {line}" for line in growth), *kits]:
            self._write(line)
        return lines + kits

    def _keep(self, action: Callable[[], Any]) -> Any:
        """Do what the next build can do without: where it fails, that is said, and the build is as good."""
        try:
            return action()
        except ProjectError as error:
            self._write(f"Not kept: {error}")
            return None

    def say(self, text: str) -> None:
        """Write a line that belongs to no step."""
        self._write(text)

    def _write(self, text: str) -> None:
        write_steadily(self.out, _shown(text) + "\n")


def _shown(text: str) -> str:
    return shown_lines(text, _LONGEST_LINE, _MOST_LINES)


def _begin(plan: Plan) -> None:
    """Take the lock and prune; doit reports an InvalidTask without a traceback."""
    try:
        if not take_lock(plan.state / LOCK):
            listen("busy", "")
            raise InvalidTask("another build of this project is running; wait for it to end, or stop it")
        if plan.makes_builds:
            prune(plan)
    except ProjectError as error:
        raise InvalidTask(str(error)) from None
    except OSError as error:
        hint = "check permissions of the build folder, or remove it, and build again"
        raise InvalidTask(f"{error.filename} cannot be removed: {error.strerror}\n    {hint}") from None


def needed_steps(tasks, selected) -> set[str]:
    """Return the names of some tasks and of all that must be fresh for them."""
    found: set[str] = set()
    waiting = list(selected)
    while waiting:
        name = waiting.pop()
        if name not in found and name in tasks:
            found.add(name)
            waiting.extend([*tasks[name].task_dep, *tasks[name].setup_tasks])
    return found


def _read(path: Path):
    try:
        return json.loads(path.read_bytes())
    except (OSError, ValueError):
        return None


def _read_budget(path: Path) -> Budget | None:
    try:
        return read_budget_file(path)
    except ProjectError:
        return None  # taken away since it was written


def _near(path: Path) -> str:
    try:
        return path.relative_to(Path.cwd()).as_posix()
    except ValueError:
        return str(path)


def _kits(names: Iterable[str]) -> list[str]:
    """Return the kits to list: those of testers as one folder."""
    plain = [name for name in names if "/" not in name]
    folders = Counter(name.partition("/")[0] for name in names if "/" in name)
    return plain + [f"{folder}  {count} with a packet of their own" for folder, count in folders.items()]
