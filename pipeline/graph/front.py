"""What ``dodo.py`` and the installed command hand to doit: its settings and the tasks of one project."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from doit import get_var
from doit.exceptions import InvalidDodoFile
from doit.runner import Runner

from pipeline.cache.results import trim
from pipeline.graph import consent, database, progress, workers
from pipeline.graph.art_folder import art_words
from pipeline.graph.freshness.compare import Freshness
from pipeline.graph.freshness.remembered import recall
from pipeline.graph.freshness.state_folder import claim, remove_set_aside
from pipeline.graph.freshness.unchanged import Watch
from pipeline.graph.plan import plan_project
from pipeline.graph.steps.handed import Found, Kept
from pipeline.graph.steps.site import CACHE
from pipeline.graph.steps.step import Plan, Step
from pipeline.graph.words import VARIABLES, check_steps, check_words, plain_words
from pipeline.joints.build_names import own_folders
from pipeline.plain.errors import ProjectError, shown
from pipeline.plain.files import refuse_links
from pipeline.plain.sizes import counted
from pipeline.project.loading.load import load_project
from pipeline.project.model import PROJECT_FILE

DEFAULT_PROJECT = "demo_project"
NAME_A_PROJECT = "name a project folder with project=PATH, or make one with: start project=PATH"
_MAIN_TARGET = "basalt32"  # of a new project that names none
_UNSEEN = 10_000  # new objects until Python looks for those that only hold one another; a build makes few of these
# SQLite opens no file with a longer path, its journal included; MAX_PATHNAME in its os_unix.c.
_LONGEST_PATH = 512 - len("-journal")


class TrustingChecker:
    """doit's check of single files, which is left out: ``freshness`` compares content, doit only needs existence."""

    CheckerError = OSError

    @staticmethod
    def exists(path: str) -> bool:
        return Path(path).exists()

    @staticmethod
    def info(path: str):
        return Path(path).stat()

    @staticmethod
    def check_modified(path: str, stat, state) -> bool:
        return False

    @staticmethod
    def get_state(path: str, state):
        return "seen"


def project_folder() -> Path:
    """Return the folder asked for with ``project=``; else the current one when it is a project; else the demo.

    Raises:
        InvalidDodoFile: see ``words.check_words``.
    """
    check_words(sys.argv[1:])
    asked = get_var("project", None)
    if asked == "":
        raise InvalidDodoFile("project= names no folder\n    write: project=PATH, or leave it out in the project's own folder")
    return folder_of(asked)


def folder_of(asked: str | None) -> Path:
    """Return the folder that ``project=`` names, or the one that is meant where it is left out (None)."""
    if asked is not None:
        return Path(os.path.expanduser(asked))  # Path.expanduser fails if there is no such person
    return Path(".") if Path(PROJECT_FILE).is_file() else Path(DEFAULT_PROJECT)


def load_plan() -> Plan:
    """Return the plan of the project asked for.

    Raises:
        InvalidDodoFile: doit prints its text without a traceback and ends with status 3.
    """
    plain_words()
    try:
        return _load_plan(project_folder())
    except OSError as error:  # a name that is too long, a folder that may not be looked into
        hint = "name another project folder, or change its permissions"
        raise InvalidDodoFile(f"{shown(error.filename or 'the project')}: {error.strerror}\n    {hint}") from None


def _load_plan(folder: Path) -> Plan:
    try:
        length = len(os.fsencode(folder.resolve() / "build/.state/steps.sqlite3"))
    except RuntimeError:
        raise InvalidDodoFile(f"{shown(folder)} is a link that leads to itself\n    name another project folder") from None
    if length > _LONGEST_PATH:
        least = length - _LONGEST_PATH
        raise InvalidDodoFile(f"the path of {shown(folder.name)} is too long by {least} bytes\n    move the project to a shorter path")
    if "start" in sys.argv[1:]:
        return start_plan(folder)
    if not (folder / PROJECT_FILE).is_file():
        where = f"{shown(folder)} is a file, and not the folder of a project" if folder.is_file() else ""
        missing = shown(folder / PROJECT_FILE) if get_var("project", None) else f"{PROJECT_FILE} here"
        raise InvalidDodoFile(f"{where or f'there is no {missing}'}\n    {NAME_A_PROJECT}")
    try:
        plan = plan_project(load_project(folder), {name: get_var(name, "") or "" for name in VARIABLES})
    except ProjectError as error:
        count = len(error.problems)
        raise InvalidDodoFile(f"{counted(count, 'problem')} in the project\n\n{error}") from None
    known = _known(plan)
    plain_words(known | {"watch"})
    check_steps(sys.argv[1:], known)
    return plan


def _known(plan: Plan) -> frozenset[str]:
    """Return the names of a plan's steps and of their groups."""
    return frozenset(name for step in plan.steps for name in (step.name, step.name.partition(":")[0]))


def _recorded(plan: Plan) -> frozenset[str]:
    """Return the names of the steps whose records are kept: all but questions."""
    return frozenset(step.name for step in plan.steps if not step.always)


def start_plan(folder: Path) -> Plan:
    """Return the plan that makes a new project in a folder.

    Raises:
        InvalidDodoFile: no folder was named, or there is a project in it already.
    """
    if get_var("project", None) is None:
        raise InvalidDodoFile("start needs a folder\n    write: start project=PATH")
    if folder.exists() and not folder.is_dir():
        raise InvalidDodoFile(f"{shown(folder)} is a file\n    choose an empty folder: start project=PATH")
    if (folder / PROJECT_FILE).exists():
        name, art = shown(folder.as_posix()), get_var("from", "")
        hint = f"to add the art to it: bring from={shown(art)} project={name}" if art else "choose an empty folder: start project=PATH"
        raise InvalidDodoFile(f"{PROJECT_FILE} is already in {name}\n    {hint}")
    step = _start_from(folder) if get_var("from", None) is not None else _start(folder)
    return Plan(folder.resolve(), makes_builds=False, steps=[step], default=["start"])


def _start(folder: Path) -> Step:
    for word in ("target", "link"):
        if get_var(word, None) is not None:
            raise InvalidDodoFile(f"{word}= is about a folder of art, and none is named\n    write: start from=FOLDER {word}=...")
    arguments = {"folder": Kept(folder.resolve()), "shown": folder.as_posix()}
    return Step("start", "pipeline.questions.start:start_project", arguments, always=True, doc="write a new project that builds at once")


def _start_from(folder: Path) -> Step:
    asked = art_words({name: get_var(name, "") or "" for name in ("from", "link")})
    if asked.source is None:
        raise InvalidDodoFile("from= names no folder of art\n    write: start from=FOLDER project=PATH")
    arguments = {"folder": Kept(folder.resolve()), "written": folder.as_posix(), "target": get_var("target", "") or _MAIN_TARGET}
    arguments |= {"source": Found(asked.source), "source_written": asked.written, "link": asked.link}
    return Step("start", "pipeline.bringing.bring:start_from", arguments, always=True, doc="write a new project of the art in from=FOLDER")


def open_build(plan: Plan) -> None:
    """Make sure that the build folder and the state in it are this project's own, before anything there is read or written.

    Raises:
        InvalidDodoFile: a folder that the plan writes into is a link or a file, or the state cannot be made or written.
    """
    try:
        refuse_links(plan.folder, {path.parent for step in plan.steps for path in step.writes} | own_folders(plan.build))
        said = claim(plan.state)
    except ProjectError as error:
        raise InvalidDodoFile(str(error)) from None
    if said:
        sys.stderr.write(said + "\n")


def settings(plan: Plan, watch: Watch | None = None) -> dict:
    """Return DOIT_CONFIG for a plan, and prepare what doit takes in no other way.

    Args:
        watch: taken before the plan was made.

    Raises:
        InvalidDodoFile: see ``open_build``.
    """
    open_build(plan)
    # What is loaded by now stays: looking through it for what can be thrown away, again and again, would be a twentieth of a small build.
    gc.freeze()
    gc.set_threshold(_UNSEEN)
    recall(plan.state, watch.tool if watch else None)
    progress.plan, progress.watch = plan, watch
    progress.show_reasons = get_var("why", "") not in ("", "no")
    word = get_var("commands", "") or ""
    consent.check_word(word)
    workers.install(lambda runner, tasks: _settle_commands(plan, word, runner, tasks), lambda runner: _tidy(plan, runner))
    database.install(_recorded(plan))
    return {
        "dep_file": str(plan.state / "steps.sqlite3"),
        "backend": "sqlite3",
        "check_file_uptodate": TrustingChecker,
        "reporter": progress.CalmReporter,
        "default_tasks": plan.default,
        "verbosity": 0,
        # Steps that do not need what failed still run, so that all problems are reported at once.
        "continue": True,
    }


def _settle_commands(plan: Plan, word: str, runner: Runner, tasks: dict) -> None:
    """Get the author's yes for commands that a run may come to; see ``consent``."""

    def fresh(name: str) -> bool:
        return not tasks[name].actions or runner.dep_manager.get_status(tasks[name], tasks).status == "up-to-date"

    def may_run(step: Step) -> bool:
        return runner.always_execute or not all(map(fresh, progress.needed_steps(tasks, [step.name])))

    steps = [step for step in plan.steps if step.name in runner.reporter.needed]
    consent.settle_commands(steps, plan, word, may_run, runner.reporter.say)


def _tidy(plan: Plan, runner: Runner) -> None:
    """Do what is done after every build: bound what is kept of frames, and drop what is known of a person who was erased."""
    trim(plan.state / CACHE)
    _drop_erased(plan, runner)


def _drop_erased(plan: Plan, runner: Runner) -> None:
    """Drop what the state holds of a person who was erased: the list of testers is shorter now, and records name its entries."""
    if "erase" in runner.reporter.good:
        remove_set_aside(plan.state)
        with suppress(ProjectError):  # something else of the project is wrong by now; the next build drops the records
            database.StepDatabase.known = _recorded(plan_project(load_project(plan.folder)))


def tasks(plan: Plan) -> Iterator[dict]:
    """Yield the doit task of every step."""
    groups: set[str] = set()
    made = {path: step.name for step in plan.steps for path in step.writes}
    for step in plan.steps:
        group, _, name = step.name.partition(":")
        if name and group not in groups:
            groups.add(group)
            yield {"basename": group, "name": None, "doc": f"every {group} step"}
        yield _task(step, plan, made)


def _task(step: Step, plan: Plan, made: dict[Path, str]) -> dict:
    group, _, name = step.name.partition(":")
    makers = (made[path] for path in step.trusts if path in made)
    task = {"basename": group, "doc": step.doc, "task_dep": list(dict.fromkeys((*step.after, *makers)))}
    if name:
        task["name"] = name
    if not step.call:
        return task | {"actions": None}
    check = Freshness(step, plan.folder)
    progress.checks[step.name] = check
    sources = tuple(path for path in step.reads if path not in made)
    return task | {
        "actions": [consent.action_of(step, sources)],
        "file_dep": [str(path) for path in step.reads],
        "targets": [str(path) for path in step.writes],
        "uptodate": [check],
    }
