"""Calling functions in children forked from a process that has imported the tool, so that a build in a test costs no imports.

The server is a process of its own, so that forking never meets threads of a test run. What it runs is the tool as it is; where a
start of the tool is itself what a test looks at, the test starts a process instead. ``python -m tests.warm PREPARE [WORD]`` calls
a function by name, then reads requests as lines of JSON and answers likewise.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import hashlib
import importlib
import io
import json
import os
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).parent.parent
SHARED = "ROMWRIGHT_TESTS_SHARED"  # names the variable of the environment with the folder that all workers of a run share
LONGEST = 120  # seconds a call may take, where it is not said
KILLED = -99  # its status when it took longer
_SHORT = 64  # letters of a text that is remembered
_LEFT_OUT = ("__main__", "pages")
_LIBRARIES = (
    "doit.__main__", "doit.doit_cmd", "doit.cmd_dumpdb", "doit.cmd_strace", "reportlab.rl_settings", "reportlab.platypus",
    "PIL.PngImagePlugin", "PIL.GifImagePlugin", "lz4.frame", "soxr", "soundfile",
)  # fmt: skip


class Done(NamedTuple):
    """How a call ended: its exit status, negative for a signal, and what it said."""

    status: int
    out: str
    err: str


class Warm:
    """A server of calls, started by the first one.

    Args:
        prepare: function to call before the first request, ``module:name``.
        word: what it is given; nothing when empty.
        environment: of the server; None for that of this process.
    """

    def __init__(self, prepare: str = "tests.warm:load_quick", word: str = "", environment: dict[str, str] | None = None) -> None:
        self._command = [sys.executable, "-m", "tests.warm", prepare, *([word] if word else [])]
        self._environment = environment
        self._server: subprocess.Popen | None = None

    def call(self, name: str, arguments: list[Any], environment: dict[str, str], memory: int = 0, seconds: int = LONGEST) -> Done:
        """Call a function, ``module:name``, in a forked child with that environment; what it returns is the exit status.

        Args:
            memory: most bytes of address space the child may have; 0 for no bound.
            seconds: after which it is killed, with status ``KILLED``.
        """
        if self._server is None:
            self._server = subprocess.Popen(
                self._command, cwd=ROOT, env=self._environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
            )
        self._server.stdin.write(json.dumps([name, arguments, environment, memory, seconds]) + "\n")
        self._server.stdin.flush()
        return Done(*json.loads(self._server.stdout.readline()))

    def close(self) -> None:
        """End the server."""
        if self._server is not None:
            self._server.stdin.close()
            self._server.wait(10)
            self._server.stdout.close()
            self._server = None


def remember_numbers() -> None:
    """Let reportlab remember how it writes numbers and short texts, which took a fifth of a packet's time, before it is imported."""
    from reportlab.lib import rl_accel

    plain = rl_accel.fp_str
    if hasattr(plain, "__wrapped__"):
        return
    kept = functools.lru_cache(maxsize=1 << 16)(plain)

    @functools.wraps(plain)
    def fp_str(*numbers: Any) -> str:
        return plain(*numbers) if type(numbers[0]) is list else kept(*numbers)

    rl_accel.fp_str = fp_str
    rl_accel.escapePDF = functools.lru_cache(maxsize=1 << 14)(rl_accel.escapePDF)

    from reportlab.pdfbase import pdfdoc

    encoded = functools.lru_cache(maxsize=1 << 14)(pdfdoc.pdfdocEnc)
    pdfdoc.pdfdocEnc = lambda text: encoded(text) if type(text) is str and len(text) < _SHORT else encoded.__wrapped__(text)


def load_tool() -> None:
    """Import all of the tool and what it imports only where it is used; find out once what each step's code is."""
    remember_numbers()
    for path in sorted((ROOT / "pipeline").rglob("*.py")):
        if path.stem not in _LEFT_OUT:
            importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"))
    for name in _LIBRARIES:
        importlib.import_module(name)

    from doit import plugin

    from pipeline.cache.code import code_digests, library_versions
    from pipeline.graph.plan import plan_project
    from pipeline.packet.typeset import letters, style
    from pipeline.project.loading.load import load_project

    plugin.entry_points = functools.cache(plugin.entry_points)  # looks through every library there is
    for category in ("COMMAND", "LOADER", "BACKEND", "REPORTER"):
        plugin.entry_points(group=f"doit.{category}")
    style.use_fonts()
    letters.unknown_letter("a")
    _read_templates()
    for step in plan_project(load_project(ROOT / "demo_project")).steps:
        if step.call:
            code_digests(*step.calls)
            library_versions(*step.calls)


def _read_templates() -> None:
    """Compile the shipped templates and texts once; a template of the same text is then the same code in every child."""
    import jinja2

    from pipeline.packet.typeset.letters import texts_of
    from pipeline.plain.shipped import TEMPLATES
    from pipeline.plain.template_language import environment, text_of_messages
    from pipeline.project.wording import find_wording, read_wording

    compile_text, known = jinja2.Environment.compile, {}

    @functools.wraps(compile_text)
    def compiled(self: jinja2.Environment, source: Any, *words: Any, **named: Any) -> Any:
        if words or named or type(source) is not str:
            return compile_text(self, source, *words, **named)
        key = (self, source)
        if key not in known:
            known[key] = compile_text(self, source)
        return known[key]

    jinja2.Environment.compile = compiled
    for file in TEMPLATES.rglob("*.j2"):
        text = file.read_text(encoding="utf-8")
        for markup in (False, True):
            environment(markup).from_string(text)
    for file in TEMPLATES.glob("packet.*.toml"):
        for _, text in texts_of(read_wording(find_wording(ROOT, file.name.split(".")[1])).document.data):
            text_of_messages(text)


def load_quick(pages: bool = False) -> None:
    """Load the tool, leave televisions out, which were half of a small build, and build once, so that all that is kept is kept.

    Every notice's codes are taken to read on any television, and what a photo of one would show is the notice itself. The margins
    in a notice's facts and that proof are therefore others than those of a build in a process of its own.
    ``tests/assets/test_television.py``, ``tests/proofs/test_television.py`` and ``tests/console/test_boot.py`` check the model,
    and builds with ``real`` use it. Packets, which were half of the rest, are set once instead of until the page numbers that they
    name are right, so they name page 1; ``tests/packet`` checks those numbers. A packet of one content is set once in a run of tests: that
    it depends on nothing else is what ``tests/graph/test_determinism.py`` and ``tests/packet/test_packet.py`` check, without this.

    Args:
        pages: packets name the right pages all the same, for a test that compares them with those of a build in a process of its own.
    """
    load_tool()
    import numpy as np
    from PIL import Image

    from pipeline.assets.notices.television import Television
    from pipeline.graph.plan import plan_project
    from pipeline.packet import document
    from pipeline.project.loading.load import load_project
    from pipeline.proofs.kinds import screen
    from tests.graph.builds import make_project
    from tests.makers import run_steps

    if not pages:
        document._guess_pages, document._PASSES = lambda _: None, 1
        if SHARED in os.environ:
            document._settled = _set_once(document._settled, Path(os.environ[SHARED]))
    Television._reads = lambda *_: True
    screen.sent = lambda rgb, *_: rgb
    screen.photographed = lambda shown, _, size, **__: np.asarray(Image.fromarray(shown).resize(size, Image.Resampling.NEAREST))
    sqlite3.connect = _hasty(sqlite3.connect)
    with tempfile.TemporaryDirectory() as folder:
        project = load_project(make_project(Path(folder) / "project"))
        run_steps(project, *(step.name for step in plan_project(project).steps if step.call and not step.always))


def _set_once(settled: Callable, folder: Path) -> Callable:
    """Return a function that sets a packet, or finds what was set of the same content: half of a small build's time."""

    @functools.wraps(settled)
    def found(draft: Any, date: Any) -> bytes:
        boot = draft.boot and draft.boot.read_bytes()
        words = draft.wording.messages.document.data
        content = repr((draft.content, draft.wording.values, words, boot, draft.paper, draft.look.large, date))
        place = folder / f"{hashlib.sha256(content.encode()).hexdigest()}.packet"
        if place.exists():
            pages, _, pdf = place.read_bytes().partition(b"\n")
            draft.seen["pages"] = int(pages)
            return pdf
        pdf = settled(draft, date)
        if " at 0x" not in content:  # what something is cannot be seen in that
            making = place.with_suffix(f".{os.getpid()}")
            making.write_bytes(b"%d\n" % draft.seen["pages"] + pdf)
            making.rename(place)
        return pdf

    return found


def _hasty(connect: Callable) -> Callable:
    """Return a function that opens databases that do not wait for the disk; no test takes its power away."""

    @functools.wraps(connect)
    def connected(*words: Any, **named: Any) -> sqlite3.Connection:
        connection = connect(*words, **named)
        with contextlib.suppress(sqlite3.Error):  # of a damaged one; what is done with it next will find it
            connection.execute("pragma synchronous = off")
        return connection

    return connected


def doit(*words: str) -> int:
    """Do what ``python -m doit`` does with some words."""
    from doit.__main__ import main

    sys.argv = ["doit", *words]
    main()
    return 0


def serve(requests: io.TextIOBase, answers: io.TextIOBase) -> None:
    """Answer requests until none are left."""
    gc.collect()
    gc.freeze()  # a child's collections need not look through, and so copy, all that is there
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        for line in requests:
            if '"intake"' in line or '"erase"' in line:
                _load_sentences()
            for file in (out, err):
                file.seek(0)
                file.truncate()
            status = _forked(json.loads(line), out.fileno(), err.fileno())
            said = []
            for file in (out, err):
                file.seek(0)
                said.append(file.read().decode("utf-8", "replace"))
            answers.write(json.dumps([status, *said]) + "\n")
            answers.flush()


@functools.cache
def _load_sentences() -> None:
    """Load what compares reports, and what they are all compared with, once for all that ask for it; few do."""
    from pipeline.intake.alike.likeness import Likeness
    from pipeline.intake.alike.sentences import encoder

    Likeness(["It hangs."], encode=encoder())
    gc.freeze()


def _forked(request: list[Any], out: int, err: int) -> int:
    child = os.fork()
    if child == 0:
        _child(request, out, err)
    ends = time.monotonic() + request[4]
    while True:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() > ends:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return KILLED
        time.sleep(0.002)


def _child(request: list[Any], out: int, err: int) -> None:
    """Become a process that does what was asked for; never returns."""
    import traceback

    name, arguments, environment, memory, _ = request
    status = 1
    try:
        os.setpgrp()
        if memory:
            resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        else:
            gc.disable()  # it lives for a moment
        os.chdir(ROOT)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(out, 1)
        os.dup2(err, 2)
        sys.stdin = sys.__stdin__ = os.fdopen(0, "r", encoding="utf-8", closefd=False)
        sys.stdout = sys.__stdout__ = os.fdopen(1, "w", encoding="utf-8", closefd=False)
        sys.stderr = sys.__stderr__ = os.fdopen(2, "w", encoding="utf-8", errors="backslashreplace", buffering=1, closefd=False)
        os.environ.clear()
        os.environ.update(environment)
        time.tzset()
        module, _, function = name.partition(":")
        status = getattr(importlib.import_module(module), function)(*arguments) or 0
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


def _main() -> None:
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")  # nothing that is printed gets between the answers
    os.dup2(2, 1)
    module, _, function = sys.argv[1].partition(":")
    getattr(importlib.import_module(module), function)(*sys.argv[2:])
    serve(sys.stdin, answers)


if __name__ == "__main__":
    _main()
