"""Commands that a project declares run only with the author's yes: asked for before any step runs, and remembered.

``.state/commands.json`` is ``{step: digest}``: for every command with the author's yes the SHA-256 of its step's name and its words
as declared. What the files that it names hold is not part of that: they change with every edit of the game's program.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import termios
from contextlib import suppress
from pathlib import Path

from doit.exceptions import InvalidDodoFile, InvalidTask, TaskFailed

from pipeline.graph.freshness.state_folder import read_record
from pipeline.graph.perform import perform
from pipeline.graph.places import with_lines
from pipeline.graph.steps.step import Plan, Step
from pipeline.plain.errors import Problem, ProjectError
from pipeline.plain.files import write_json

YES = "commands=yes"
_FILE = "commands.json"

# Digests of the commands that may run in this process, and in workers that it forks.
_allowed: set[str] = set()


def check_word(word: str) -> None:
    """Check the value of ``commands=``.

    Raises:
        InvalidDodoFile: it is neither ``yes``, ``no`` nor empty.
    """
    if word not in ("yes", "no", ""):
        raise InvalidDodoFile(f"commands={word} is not known\n    write {YES} or commands=no, or leave it out to be asked")


def settle_commands(steps: list[Step], plan: Plan, word: str, may_run, say) -> None:
    """Get the author's yes for the commands of steps that may run, all at once.

    Args:
        steps: the steps that the build needs.
        word: ``yes`` or ``no`` of the command line: an answer for this run, which is not remembered; empty for none.
        may_run: says of a step whether it may have to run. Asked only about commands that are not allowed yet.
        say: takes a line for the author.

    Raises:
        InvalidTask: the author said no, or cannot be asked.
    """
    steps = [step for step in steps if step.command]
    if not steps:
        return
    known = _remembered(plan.state)
    _allowed.update(_digest(step) for step in steps if known.get(step.name) == _digest(step))
    asked = [step for step in steps if _digest(step) not in _allowed and may_run(step)]
    if not asked:
        return
    if word == "yes":
        for step in asked:
            say(f"Runs, since {YES} allows it: {_shown(step)}")
    elif word == "no" or not _at_terminal():
        raise InvalidTask(_refusal(asked, plan.folder))
    elif _asked(asked, known, plan.folder):
        _remember(plan, known | {step.name: _digest(step) for step in asked})
    else:
        raise InvalidTask("you did not say yes to the command, so nothing was built")
    _allowed.update(_digest(step) for step in asked)


def perform_allowed(digest: str, *given):
    """Perform a step that runs a command, or return a TaskFailed where the author has not said yes; see ``perform``."""
    if digest not in _allowed:
        return TaskFailed("its command was not asked for when the build began\n    build again", report=True)
    return perform(*given)


def action_of(step: Step, sources: tuple[Path, ...]) -> tuple:
    """Return the doit action of a step; ``sources`` as in ``perform``."""
    given = [step.call, step.arguments, sources]
    return (perform_allowed, [_digest(step), *given]) if step.command else (perform, given)


def _digest(step: Step) -> str:
    return hashlib.sha256(json.dumps([step.name, *step.command]).encode()).hexdigest()


def _remembered(state: Path) -> dict[str, str]:
    return read_record(state / _FILE, dict[str, str]) or {}


def _remember(plan: Plan, kept: dict[str, str]) -> None:
    names = {step.name for step in plan.steps if step.command}
    try:
        write_json(plan.state / _FILE, {name: kept[name] for name in sorted(names & kept.keys())})
    except ProjectError as error:
        raise InvalidTask(str(error)) from None


def _at_terminal() -> bool:
    """Return whether somebody can be asked: a terminal to read from and to write to, with this process in its foreground."""
    try:
        return sys.stdin.isatty() and sys.stderr.isatty() and os.tcgetpgrp(sys.stdin.fileno()) == os.getpgrp()
    except (OSError, ValueError, AttributeError):  # closed, or not there at all
        return False


def _asked(steps: list[Step], known: dict[str, str], folder: Path) -> bool:
    them, noun = ("it", "a command") if len(steps) == 1 else ("them", f"{len(steps)} commands")
    lines = ["", f"This project runs {noun} on your computer:", ""]
    for step in steps:
        changed = "  (changed since your last yes)" if step.name in known else ""
        lines.append(f"  {_shown(step)}{changed}")
        lines += [f"      runs or reads the project's own {name!r}" for name in _own_files(step, folder)]
    lines += ["", "A command can do whatever you can: read, change and delete your files, and use the network."]
    lines += ["Say yes only if you trust the project; you are asked again when the words above change.", f"Run {them}? [y/N] "]
    sys.stdout.flush()
    sys.stderr.write("\n".join(lines))
    sys.stderr.flush()
    with suppress(termios.error):
        termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)  # what was typed before the question does not answer it
    answer = sys.stdin.buffer.readline()
    if not answer.endswith(b"\n"):
        sys.stderr.write("\n")
    return answer.strip().lower() in (b"y", b"yes")


def _own_files(step: Step, folder: Path) -> list[str]:
    """Return the project's files that the command names, as far as the build knows them as its sources."""
    sources = {path.relative_to(folder).as_posix() for path in step.reads if path.is_relative_to(folder)}
    return list(dict.fromkeys(name for word in step.command if (name := Path(word).as_posix()) in sources))


def _shown(step: Step) -> str:
    """Return a command as its line in the project file, with control characters made visible."""
    return f"[{step.name.replace(':', '.')}] command = [{', '.join(map(repr, step.command))}]"


def _refusal(steps: list[Step], folder: Path) -> str:
    remedy = f"read it; then add {YES} to allow it for one run, or build at a terminal, which asks and remembers"
    problems = []
    for step in steps:
        wrong = f"runs only with your yes: {', '.join(map(repr, step.command))}"
        problems.append(Problem("project.toml", f"[{step.name.replace(':', '.')}] command", wrong, remedy))
    return with_lines(str(ProjectError(problems)), folder)
