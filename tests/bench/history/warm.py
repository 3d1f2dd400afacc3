"""Running the command line of the tool: in a process of its own, or forked from one that has imported everything already."""

from __future__ import annotations

import contextlib
import functools
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from pipeline.graph import front
from tests.warm import LONGEST, ROOT, Done, Warm, load_quick

_MOST_MEMORY = 6 << 30
_YES = ["commands=yes"] if "commands" in front.VARIABLES else []  # a program's command is run


class Runner:
    """Runs commands.

    Attributes:
        seconds: spent so far in commands of each sort.
        mistake: name of the mistake of ``mistakes`` made in the tool; empty for none.
    """

    def __init__(self, mistake: str = "") -> None:
        self.seconds = {"warm": 0.0, "real": 0.0, "check": 0.0}
        self.count = dict.fromkeys(self.seconds, 0)
        self.mistake = mistake
        self._warm = Warm(f"{__name__}:prepare", mistake)

    def __enter__(self) -> Runner:
        return self

    def __exit__(self, *_) -> None:
        self._warm.close()

    def run(self, project: Path, words: list[str], environment: dict[str, str], real: bool = False) -> Done:
        """Run the tool on a project; ``real`` as a process of its own, from ``dodo.py`` as an author does in a clone."""
        words = [word.replace("{project}", str(project)) for word in words] + _YES
        if not real or self.mistake:  # a mistake is made in the warm process alone
            return self._ask("warm", "command", [*words, f"project={project}"], environment)
        start = time.perf_counter()
        command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, f"project={project}"]
        done = subprocess.run(
            command, cwd=ROOT, env=_environment(environment), capture_output=True, text=True, errors="replace", timeout=LONGEST
        )
        self._note("real", start)
        return Done(done.returncode, done.stdout, done.stderr)

    def is_valid(self, project: Path, environment: dict[str, str]) -> bool:
        """Return whether the project can be loaded: what a build would refuse at once is found without one."""
        return self._ask("check", "check", [str(project)], environment).status == 0

    def _ask(self, sort: str, name: str, arguments: list[str], environment: dict[str, str]) -> Done:
        start = time.perf_counter()
        done = self._warm.call(f"{__name__}:{name}", arguments, _environment(environment), _MOST_MEMORY)
        self._note(sort, start)
        return done

    def _note(self, sort: str, start: float) -> None:
        self.seconds[sort] += time.perf_counter() - start
        self.count[sort] += 1


def _environment(changes: dict[str, str]) -> dict[str, str]:
    plain = {name: value for name, value in os.environ.items() if name not in ("SOURCE_DATE_EPOCH", "TZ", "LC_ALL", "PYTHONHASHSEED")}
    return plain | changes


def prepare(mistake: str = "") -> None:
    """Load the tool into the process that is forked, take short cuts in it, and make a mistake if one is named."""
    load_quick(pages=True)
    _hasten()
    if mistake:
        from .mistakes import make_mistake

        make_mistake(mistake)


def command(*words: str) -> int:
    """Run the tool's command."""
    from pipeline.__main__ import main

    sys.argv = ["romwright", *words]
    return main() or 0


def check(folder: str) -> int:
    """Return 0 when a project can be loaded and planned."""
    from pipeline.graph.plan import plan_project
    from pipeline.plain.errors import ProjectError
    from pipeline.project.loading.load import load_project

    try:
        plan_project(load_project(Path(folder)))
    except ProjectError:
        return 1
    return 0


def _hasten() -> None:
    """Compile templates once for all builds to come, which was much of their time."""
    import tomllib

    import jinja2
    import msgspec
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    from pipeline.plain.rendering import render_text
    from pipeline.plain.shipped import TEMPLATES

    for name in ("compile", "parse"):
        setattr(jinja2.Environment, name, _remembered(getattr(jinja2.Environment, name)))
    texts = [path.read_text(encoding="utf-8") for path in TEMPLATES.rglob("*.j2")]
    for path in TEMPLATES.glob("packet.*.toml"):
        texts += _texts(tomllib.loads(path.read_text(encoding="utf-8")))
    for text in texts:
        for markup in (False, True):
            with contextlib.suppress(Exception):
                render_text(text, "", {}, markup)
        with contextlib.suppress(Exception):
            ImmutableSandboxedEnvironment().parse(text)
    msgspec.structs.fields = functools.cache(msgspec.structs.fields)


def _remembered(function):
    known: dict[tuple, Any] = {}

    def remembering(environment, source, *others, **named):
        settings = (environment.autoescape, environment.trim_blocks, environment.lstrip_blocks, environment.keep_trailing_newline)
        key = (type(environment), environment.undefined, settings, *sorted(environment.filters), source, others, *sorted(named.items()))
        if key not in known:
            known[key] = function(environment, source, *others, **named)
        return known[key]

    return remembering


def _texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [text for part in parts for text in _texts(part)]
