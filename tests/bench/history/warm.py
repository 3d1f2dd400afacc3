"""Running the command line of the tool: in a process of its own, or forked from one that has imported everything already.

A forked build costs no second for imports. The server is a process of its own, so that forking never meets threads of a test run.
Run as ``python -m tests.bench.history.warm [MISTAKE]`` it reads requests as lines of JSON and answers likewise.
"""

from __future__ import annotations

import contextlib
import functools
import importlib
import json
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

from pipeline.graph import front

ROOT = Path(__file__).parent.parent.parent.parent
LONGEST = 120  # seconds a command may take
_MOST_MEMORY = 6 << 30
_YES = ["commands=yes"] if "commands" in front.VARIABLES else []  # a program's command is run


class Done(NamedTuple):
    """How a command ended."""

    status: int
    out: str
    err: str


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
        self._server: subprocess.Popen | None = None

    def __enter__(self) -> Runner:
        return self

    def __exit__(self, *_) -> None:
        if self._server is not None:
            self._server.stdin.close()
            self._server.wait(10)
            self._server = None

    def run(self, project: Path, words: list[str], environment: dict[str, str], real: bool = False) -> Done:
        """Run the tool on a project; ``real`` as a process of its own, from ``dodo.py`` as an author does in a clone."""
        words = [word.replace("{project}", str(project)) for word in words] + _YES
        if not real or self.mistake:  # a mistake is made in the warm process alone
            return self._ask("warm", {"words": [*words, f"project={project}"], "environment": environment})
        start = time.perf_counter()
        command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, f"project={project}"]
        done = subprocess.run(
            command, cwd=ROOT, env=_environment(environment), capture_output=True, text=True, errors="replace", timeout=LONGEST
        )
        self._note("real", start)
        return Done(done.returncode, done.stdout, done.stderr)

    def is_valid(self, project: Path, environment: dict[str, str]) -> bool:
        """Return whether the project can be loaded: what a build would refuse at once is found without one."""
        return self._ask("check", {"check": str(project), "environment": environment}).status == 0

    def _ask(self, sort: str, request: dict[str, Any]) -> Done:
        start = time.perf_counter()
        if self._server is None:
            command = [sys.executable, "-m", "tests.bench.history.warm", self.mistake]
            self._server = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self._server.stdin.write(json.dumps(request) + "\n")
        self._server.stdin.flush()
        answer = json.loads(self._server.stdout.readline())
        self._note(sort, start)
        return Done(**answer)

    def _note(self, sort: str, start: float) -> None:
        self.seconds[sort] += time.perf_counter() - start
        self.count[sort] += 1


def _environment(changes: dict[str, str]) -> dict[str, str]:
    plain = {name: value for name, value in os.environ.items() if name not in ("SOURCE_DATE_EPOCH", "TZ", "LC_ALL", "PYTHONHASHSEED")}
    return plain | changes


def serve(mistake: str) -> None:
    """Answer requests until there are no more."""
    import tempfile

    for path in sorted((ROOT / "pipeline").rglob("*.py")):
        if path.stem not in ("__main__", "pages"):
            importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"))
    importlib.import_module("pipeline.__main__")
    for name in ("reportlab.rl_settings", "reportlab.platypus", "PIL.PngImagePlugin", "PIL.GifImagePlugin", "lz4.frame", "soxr"):
        importlib.import_module(name)
    _hasten()
    if mistake:
        from .mistakes import make_mistake

        make_mistake(mistake)
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        for line in sys.stdin:
            request = json.loads(line)
            for file in (out, err):
                file.seek(0)
                file.truncate()
            status = _forked(request, out.fileno(), err.fileno())
            told = []
            for file in (out, err):
                file.seek(0)
                told.append(file.read().decode("utf-8", "replace"))
            sys.stdout.write(json.dumps({"status": status, "out": told[0], "err": told[1]}) + "\n")
            sys.stdout.flush()


def _hasten() -> None:
    """Take short cuts, alike for every build of this process, since they were most of its time.

    Codes are not read through the model of a television, so that facts of a boot notice hold other margins than those of a build
    in a process of its own. Templates are compiled, fonts and the tool's own code read once for all builds to come.
    """
    import tomllib

    import jinja2
    import msgspec
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    from pipeline.assets.television import Television
    from pipeline.graph.freshness.digest import code_digests, library_versions
    from pipeline.graph.plan import plan_project
    from pipeline.packet.typeset import letters as packet_letters
    from pipeline.packet.typeset import style as packet_style
    from pipeline.plain.rendering import render_text
    from pipeline.plain.shipped import TEMPLATES
    from pipeline.project.loading.load import load_project

    Television._reads = lambda *_: True
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
    packet_style.use_fonts()
    packet_letters.unknown_letter("a")
    for step in plan_project(load_project(ROOT / "demo_project")).steps:
        if step.call:
            code_digests(step.call)
            library_versions(step.call)


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


def _forked(request: dict[str, Any], out: int, err: int) -> int:
    child = os.fork()
    if child == 0:
        _child(request, out, err)
    ends = time.monotonic() + LONGEST
    while True:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() > ends:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return -99
        time.sleep(0.002)


def _child(request: dict[str, Any], out: int, err: int) -> None:
    """Become the tool's command; never returns."""
    import traceback

    status = 1
    try:
        os.setpgrp()
        resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))
        os.chdir(ROOT)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(out, 1)
        os.dup2(err, 2)
        for name, value in _environment(request["environment"]).items():
            os.environ[name] = value
        if "SOURCE_DATE_EPOCH" not in request["environment"]:
            os.environ.pop("SOURCE_DATE_EPOCH", None)
        time.tzset()
        if "check" in request:
            status = _checked(Path(request["check"]))
        else:
            from pipeline.__main__ import main

            sys.argv = ["romwright", *request["words"]]
            status = main() or 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    except BaseException:
        traceback.print_exc()
    finally:
        try:
            sys.stdout.flush()
            sys.stderr.flush()
        finally:
            os._exit(status & 0xFF)


def _checked(folder: Path) -> int:
    from pipeline.graph.plan import plan_project
    from pipeline.plain.errors import ProjectError
    from pipeline.project.loading.load import load_project

    try:
        plan_project(load_project(folder))
    except ProjectError:
        return 1
    return 0


if __name__ == "__main__":
    serve(sys.argv[1] if len(sys.argv) > 1 else "")
