"""Running histories: drawing one by a seed, comparing with clean builds on the way, shrinking one that found something."""

from __future__ import annotations

import hashlib
import random
import re
import shutil
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from .moves import PROJECT, SWITCHES, changes_sources, draw
from .opening import TARGETS, Documents, Files, opening
from .warm import Done, Runner
from .world import Operation, World

# What no build makes but a question asked on the way, or one that shows history.
_OF_QUESTIONS = {"growth.svg", "triage.html", "triage.csv"}
_CHANGING = {"release", "intake", "erase"}  # commands that write sources
_AGAIN = ["again"]  # not a question to the tool: the same build once more runs nothing
_ASKS = (_AGAIN, _AGAIN, ["where"], ["budget"], ["changes"], ["preflight"], ["burn"], ["savings"], ["fit"], ["list", "--all"])
_PARTS = (["rom"], ["verify"], ["report"], ["packet"], ["include"], ["proofs"], ["memory"])


class Finding(Exception):
    """A difference between what a history left and a clean build, or something that must never be."""

    def __init__(self, kind: str, what: str) -> None:
        super().__init__(f"{kind}: {what}")
        self.kind, self.what = kind, what


class Clean(NamedTuple):
    """What a clean build of the same files does."""

    done: Done
    refusals: list[str]
    outputs: dict[str, str]


@dataclass
class Figures:
    """What was done in all."""

    sequences: int = 0
    moves: Counter = field(default_factory=Counter)
    compared: int = 0
    failing: int = 0
    cached: int = 0
    asked: int = 0


class Machine:
    """Carries out operations on a world and compares.

    Attributes:
        log: every operation carried out, in order.
    """

    def __init__(self, world: World, runner: Runner, figures: Figures | None = None) -> None:
        self.world, self.runner, self.figures = world, runner, figures or Figures()
        self.log: list[Operation] = []
        self.clean_builds: dict[tuple[str, str], Clean] = {}
        self.good = True

    def carry_out(self, operation: Operation) -> None:
        """Carry out one operation.

        Raises:
            Finding: it shows something that must not be.
        """
        self.log.append(operation)
        word, *values = operation
        if word == "run":
            self._run(*values)
        elif word == "compare":
            self._compare(*values)
        else:
            self.world.apply(operation)

    def _run(self, words: list[str], real: bool) -> Done:
        before = self.world.digest()
        done = self.runner.run(self.world.project, words, self.world.environment, real)
        _look_for_traces(words, done)
        self._look_around(words)
        if not _CHANGING & set(words) and self.world.digest() != before:
            raise Finding("sources", f"{' '.join(words)} changed sources")
        return done

    def _look_around(self, words: list[str]) -> None:
        build = self.world.project / "build"
        for name, data in self.world.foreign.items():
            if not (build / name).is_file() or (build / name).read_bytes() != data:
                raise Finding("foreign", f"build/{name}, a file of the author's, is not as it was after: doit {' '.join(words)}")
        for path, data in self.world.outside.items():
            if path.read_bytes() != data:
                raise Finding("outside", f"{path.name}, outside the project, is not as it was after: doit {' '.join(words)}")

    def _compare(self, words: list[str], asks: list[list[str]], real: bool) -> None:
        self.figures.compared += 1
        done = self._run(words, real)
        if done.status and self.world.blocked:
            self.world.unblock()  # a refusal to write where a folder is in the way is as good as a build
            done = self._run(words, real)
        self.world.unblock()
        clean = self._clean_build(words, keep=bool(asks))
        if done.status != clean.done.status:
            ends = f"doit {' '.join(words)} ended with {done.status}, clean with {clean.done.status}"
            raise Finding("status", f"{ends}\n{_both(done, clean.done)}")
        if done.status:
            self.figures.failing += 1
            mine = _refusals(done, self.world.project)
            if mine != clean.refusals:
                raise Finding("refusals", "\n".join(["here:", *mine, "clean:", *clean.refusals]))
        self._compare_outputs(clean, whole=not words and not done.status)
        self.good = done.status == 0
        for ask in asks if self.good else ():
            self._ask(ask)

    def _compare_outputs(self, clean: Clean, whole: bool) -> None:
        mine = outputs(self.world.project)
        missing = sorted(clean.outputs.keys() - mine.keys())
        other = sorted(name for name in clean.outputs.keys() & mine.keys() if clean.outputs[name] != mine[name])
        extra = sorted(mine.keys() - clean.outputs.keys() - self.world.foreign.keys() - _OF_QUESTIONS) if whole else []
        if missing or other or extra:
            parts = (("missing", missing), ("other bytes", other), ("left over", extra))
            kind = "outputs " + " ".join(word for word, names in parts if names)
            raise Finding(kind, "; ".join(f"{word}: {', '.join(names[:12])}" for word, names in parts if names))

    def _ask(self, words: list[str]) -> None:
        self.figures.asked += 1
        if words == _AGAIN:
            done = self._run([], False)
            if "Nothing to do" not in done.out:
                raise Finding("again", f"a build of unchanged files runs steps\n{done.out}{done.err}")
            return
        environment = self._neutral()
        here, there = (self.runner.run(folder, words, environment) for folder in (self.world.project, self._clean_folder()))
        _look_for_traces(words, here)
        answers = [_answer(done, folder) for done, folder in ((here, self.world.project), (there, self._clean_folder()))]
        if here.status != there.status or answers[0] != answers[1]:
            ended = f"doit {' '.join(words)}: {here.status} and clean {there.status}"
            raise Finding("answer", f"{ended}\nhere:\n{answers[0]}\nclean:\n{answers[1]}")

    def _clean_folder(self) -> Path:
        return self.world.scratch / "somewhere else" / "a copy"

    def _neutral(self) -> dict[str, str]:
        epoch = self.world.environment.get("SOURCE_DATE_EPOCH")
        return {} if epoch is None else {"SOURCE_DATE_EPOCH": epoch}

    def _clean_build(self, words: list[str], keep: bool) -> Clean:
        key = (self.world.digest(), " ".join(words))
        if key in self.clean_builds and not keep:
            self.figures.cached += 1
            return self.clean_builds[key]
        folder = self._clean_folder()
        shutil.rmtree(folder, ignore_errors=True)
        self.world.copy_to(folder)
        done = self.runner.run(folder, words, self._neutral())
        _look_for_traces(words, done)
        self.clean_builds[key] = Clean(done, _refusals(done, folder), outputs(folder))
        return self.clean_builds[key]


def outputs(project: Path) -> dict[str, str]:
    """Return file -> SHA-256 of everything in the build folder but the tool's own records; links are marked as such."""
    root, found = project / "build", {}
    for path in sorted(root.rglob("*")):
        name = path.relative_to(root).as_posix()
        if path.is_symlink():
            found[name] = "a link"
        elif path.is_file() and not name.startswith(".state"):  # a state that is another folder's is set aside beside it
            found[name] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def _look_for_traces(words: list[str], done: Done) -> None:
    if "Traceback" in done.out + done.err or done.status < 0:
        raise Finding("traceback", f"doit {' '.join(words)} ended with {done.status}\n{(done.out + done.err)[-3000:]}")


def _both(done: Done, clean: Done) -> str:
    return f"here:\n{done.out[-1500:]}{done.err[-800:]}\nclean:\n{clean.out[-1500:]}{clean.err[-800:]}"


def _plain(text: str, folder: Path) -> str:
    return text.replace(str(folder), "PROJECT")


def _answer(done: Done, folder: Path) -> str:
    """Return an answer without what is history in it: how much of a trial was known from an earlier one."""
    return "\n".join(line for line in _plain(done.out + done.err, folder).splitlines() if "onverted again" not in line)


def _refusals(done: Done, folder: Path) -> list[str]:
    """Return what a failed build refused, without what it made; sorted, since workers finish in any order."""
    if not done.status:
        return []
    found, lines = [], _plain(done.out, folder).splitlines()
    for at, line in enumerate(lines):
        if line.startswith(("FAILED", "STOPPED")):
            end = next((to for to in range(at + 1, len(lines)) if lines[to] and not lines[to].startswith(" ")), len(lines))
            # Progress of a step that ended before is written between two others; its line of progress is not part of the refusal.
            found.append("\n".join(line for line in lines[at:end] if not re.match(r" *[0-9]+/[0-9]+ ", line)).rstrip())
    # A clean build has no state that was damaged before and is set aside.
    kept = [line for line in _plain(done.err, folder).splitlines() if not line.startswith("build/.state")]
    return [*sorted(found), "\n".join(kept)]


def play(seed: str, target: str, moves: int, scratch: Path, runner: Runner, allowed: frozenset[str], figures: Figures) -> Machine:
    """Draw and carry out the history of a seed.

    Raises:
        Found: with the operations that led to it.
    """
    rng = random.Random(seed)
    documents, files = opening(target)
    lean = rng.random() < 0.8
    if lean:  # most of a build's time goes into packets and the boot notice
        del documents["project.toml"]["screen"], documents["reports/testers.toml"]
    if rng.random() < 0.25:
        documents["project.toml"]["issue"] = documents.pop("issues.toml")["issue"]
    machine = Machine(World(scratch, target, documents, files, allowed), runner, figures)
    machine.world.real = lean  # facts of a boot notice are others there: see warm
    start = (target, documents, files)
    figures.sequences += 1
    try:
        machine.carry_out(["compare", [], [], False])
        machine.carry_out(["keep", "0"])
        for number in range(1, moves + 1):
            _one_move(rng, machine, number, lean)
        machine.carry_out(["compare", [], [rng.choice(_ASKS)], machine.world.real and rng.random() < 0.2])
    except Finding as finding:
        raise Found(finding, start, machine.log, allowed) from None
    return machine


class Found(Exception):
    """A finding with what led to it."""

    def __init__(self, finding: Finding, start: tuple[str, Documents, Files], log: list[Operation], allowed: frozenset[str]) -> None:
        super().__init__(str(finding))
        self.finding, self.start, self.log, self.allowed = finding, start, log, allowed


def _one_move(rng: random.Random, machine: Machine, number: int, lean: bool) -> None:
    world = machine.world
    for _ in range(rng.choice((1, 1, 2, 3))):
        name, operations = draw(rng, world)
        if not operations or changes_sources(operations) and not _may_stay(rng, machine, operations):
            continue
        machine.figures.moves[name] += 1
        for operation in operations:
            machine.carry_out(operation)
    way = rng.random()
    if way < 0.4:
        # Not compared at once: what is stale now stays so until its step runs again, and a clean build costs the most.
        machine.carry_out(["run", ["report"] if lean else [], False])
    elif way < 0.7:
        words = rng.choice(_PARTS) if rng.random() < (0.7 if lean else 0.3) else []
        asks = [rng.choice(_ASKS)] if not words and rng.random() < 0.15 else []
        machine.carry_out(["compare", words, asks, world.real and rng.random() < 0.1])
        if not machine.good and rng.random() < 0.75:
            machine.carry_out(["back", rng.choice([name for name in world.kept if not name.startswith("bad")]), rng.choice(("old", "new"))])
            return
        if machine.good:
            machine.carry_out(["keep", str(number)])


def _may_stay(rng: random.Random, machine: Machine, operations: list[Operation]) -> bool:
    """Return whether operations leave a project that loads, or now and then one that is refused; the world is as before."""
    if operations[0][0] == "keep" or rng.random() < 0.1:
        return True
    world = machine.world
    how, before = world.how, "before"
    world.apply(["keep", before])
    world.apply(["how", "plain"])
    for operation in operations:
        if operation[0] != "run":
            world.apply(operation)
    good = machine.runner.is_valid(world.project, world.environment)
    world.apply(["back", before, "old"])
    world.how = how
    del world.kept[before]
    return good


def replay(
    start: tuple[str, Documents, Files], log: list[Operation], scratch: Path, runner: Runner, allowed: frozenset[str]
) -> Finding | None:
    """Carry out operations from the start; return what they find."""
    shutil.rmtree(scratch, ignore_errors=True)
    machine = Machine(World(scratch, start[0], start[1], start[2], allowed), runner)
    try:
        for operation in log:
            machine.carry_out(operation)
    except Finding as finding:
        return finding
    return None


def shrink(
    found: Found, scratch: Path, runner: Runner, seconds: float, say: Callable[[str], None] = lambda text: None
) -> tuple[list[Operation], Finding]:
    """Return as few operations as still find the same kind of thing, and what they find.

    Delta debugging over the operations (Zeller and Hildebrandt, "Simplifying and Isolating Failure-Inducing Input", IEEE Transactions
    on Software Engineering 28(2), 2002), then over the parts of the project at the start.
    """
    ends, last = time.monotonic() + seconds, found.finding

    def holds(log: list[Operation]) -> bool:
        nonlocal last
        if time.monotonic() > ends:
            return False
        seen = replay(found.start, log, scratch, runner, found.allowed)
        if seen is not None and seen.kind == found.finding.kind:
            last = seen
            return True
        return False

    log = list(found.log)
    if not holds(log):
        say("it does not show again; the whole history is shown")
        return log, found.finding
    log = fewer(log, holds)
    log = _smaller_start(found.start[1], log, holds)
    return fewer(log, holds), last


def fewer(log: list[Operation], holds: Callable[[list[Operation]], bool]) -> list[Operation]:
    """Return a part of a list that still holds and of which no single element can be left out."""
    size = max(1, len(log) // 2)
    while True:
        at, dropped = 0, False
        while at < len(log):
            shorter = log[:at] + log[at + size :]
            if shorter and holds(shorter):
                log, dropped = shorter, True
            else:
                at += size
        if size == 1 and not dropped:
            return log
        size = max(1, size // 2)


def _smaller_start(documents: Documents, log: list[Operation], holds: Callable[[list[Operation]], bool]) -> list[Operation]:
    """Put removals of tables, of assets and of single keys before everything, as long as it still shows."""
    spots = [[name, [key]] for name, data in documents.items() for key in data]
    spots += [["project.toml", [kind, name]] for kind, table in documents[PROJECT].items() if isinstance(table, dict) for name in table]
    spots += [[name, None] for name in documents if name != PROJECT]
    for name, path in spots:
        first = ["doc", name, None] if path is None else ["purge" if len(path) == 2 else "drop", name, path]
        if holds([first, *log]):
            log = [first, *log]
    return log


def all_switches() -> frozenset[str]:
    """Return the names of everything a history may leave out."""
    return frozenset(SWITCHES)


def target_of(number: int, asked: Iterable[str] = ()) -> str:
    """Return the target of a sequence: they take turns."""
    names = tuple(asked) or TARGETS
    return names[number % len(names)]
