"""How many random small mistakes in the tool the tests find: ``python -m tests.bench.mutants --count 200 --seed 1``.

Each mistake is one change of a comparison, an operator, a number, a condition or a statement, chosen at random over all of
``pipeline``. It is made in a copy of the repository, and the tests run there until one fails: with ``--calls``, which
``tests.bench.callers`` has written, those that call the function, the most particular first; else first those files of the module's
room that name it, then the others of the room, those anywhere that name it, and those in ``WHOLE``. A test that fails must pass without
the mistake, or it does not count. What survives is printed, to be looked at: some change nothing that can be seen.
A mistake could delete files, so the tests see every file system read-only but their copy and a memory of their own (Linux, ``unshare``).

The kinds of change are common practice of mutation testing, no source.
"""

from __future__ import annotations

import argparse
import ast
import collections
import itertools
import json
import math
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
_SEEN = ["tests/graph/test_looks.py"]  # notices much in little time
# Tests of whole builds, tried when those of the room found nothing.
WHOLE = (
    "tests/reading", "tests/rom", "tests/graph/test_incremental.py", "tests/packet/test_packet.py", "tests/release", "tests/report",
    "tests/proofs", "tests/memory", "tests/graph/test_release.py", "tests/graph/test_testers.py", "tests/test_bad_input.py",
)  # fmt: skip
_FIRST = 24  # tests of the first turn, when it is known which call the function
_RECORDS = 8  # tests that compare with a record of results and are tried next: they notice much, and say least about what is wrong
_OF_A_FILE = 60.0  # seconds that a whole file is taken to last
_LONGEST = 300  # seconds without a test that ends, after which the mistake has made them hang, and is found
# What can change nothing that anybody sees is not among the mistakes:
# - keywords of a class that only forbid its users something, as an assertion does;
# - how many pixels, samples, colours or bytes are handled together, which the modules give these names: results do not depend on it.
_FORBIDDING = ("frozen", "kw_only")
_HANDLED_TOGETHER = ("_AT_ONCE", "_BAND", "_BLOCK", "_CHUNK", "_PART", "_TOGETHER")
_SWAPS = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.In: "not in", ast.NotIn: "in",
    ast.Is: "is not", ast.IsNot: "is", ast.Add: "-", ast.Sub: "+", ast.Mult: "//", ast.FloorDiv: "*", ast.LShift: ">>",
    ast.RShift: "<<", ast.BitAnd: "|", ast.BitOr: "&", ast.Mod: "*", ast.And: "or", ast.Or: "and",
}  # fmt: skip
_WRITTEN = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=", ast.In: "in", ast.NotIn: "not in",
    ast.Is: "is", ast.IsNot: "is not", ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.FloorDiv: "//", ast.LShift: "<<",
    ast.RShift: ">>", ast.BitAnd: "&", ast.BitOr: "|", ast.Mod: "%", ast.And: "and", ast.Or: "or",
}  # fmt: skip
# Only the scratch folder can be written into, and files in memory that are nobody else's; $0 is that folder, the rest the command.
_READ_ONLY = """
mount --make-rprivate / && mount --bind "$0" "$0" && mount -t tmpfs tmpfs /dev/shm || exit 125
awk '{print $5}' /proc/self/mountinfo | while read -r place; do
    case "$place" in "$0"|/proc*|/dev*|/sys*) ;; *) mount -o remount,bind,ro "$place" || exit 125 ;; esac
done
if touch "$1/.writable" 2>/dev/null; then exit 125; fi
shift; exec "$@"
"""


class Mistake(NamedTuple):
    """A change of one place of a file: from offset to offset, in characters."""

    file: str
    start: int
    end: int
    text: str
    line: int
    shown: str


def mistakes_in(file: str, source: str) -> Iterator[Mistake]:
    """Yield every mistake that can be made in a module."""
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line.encode()))
    data = source.encode()

    def made(first: int, last: int, text: str, line: int) -> Mistake:
        old = data[first:last].decode()
        return Mistake(file, len(data[:first].decode()), len(data[:last].decode()), text, line, f"{old} -> {text}")

    def place(node: ast.AST) -> tuple[int, int]:
        return starts[node.lineno - 1] + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset

    tree = ast.parse(source)
    unseen = {id(part) for node in tree.body if _is_unseen(node) for part in ast.walk(node) if isinstance(part, ast.Constant)}
    for node in _running(tree):
        if id(node) in unseen:
            continue
        if isinstance(node, ast.Compare):
            pairs = list(zip([node.left, *node.comparators], node.ops, node.comparators, strict=False))
        elif isinstance(node, ast.BoolOp):
            pairs = [(left, node.op, right) for left, right in zip(node.values, node.values[1:], strict=False)]
        elif isinstance(node, ast.BinOp):
            pairs = [(node.left, node.op, node.right)]
        else:
            pairs = []
        for left, operator, right in pairs:
            old, (_, first), (last, _) = _WRITTEN.get(type(operator)), place(left), place(right)
            at = data.find(old.encode(), first, last) if old else -1
            if at >= 0:
                yield made(at, at + len(old), _SWAPS[type(operator)], node.lineno)
        if isinstance(node, ast.Constant) and type(node.value) is int:
            yield made(*place(node), str(node.value + 1), node.lineno)
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            yield made(*place(node), str(not node.value), node.lineno)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield made(place(node)[0], place(node.operand)[0], "", node.lineno)
        elif isinstance(node, ast.If | ast.IfExp | ast.While):
            yield made(*place(node.test), "False", node.lineno)
        elif isinstance(node, ast.Return) and node.value is not None and not isinstance(node.value, ast.Constant):
            yield made(*place(node.value), "None", node.lineno)
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call) or isinstance(node, ast.Raise):
            yield made(*place(node), "pass", node.lineno)


def _is_unseen(node: ast.stmt) -> bool:
    """Return whether a statement of a module gives a number on which no result depends."""
    return isinstance(node, ast.Assign) and all(isinstance(one, ast.Name) and one.id in _HANDLED_TOGETHER for one in node.targets)


def _running(tree: ast.AST) -> Iterator[ast.AST]:
    """Yield the parts of a module that run: no annotations, no texts with values in them, and nothing that is asserted."""
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        for node in value if isinstance(value, list) else [value]:
            if isinstance(node, ast.keyword) and node.arg in ("strict", *(_FORBIDDING if isinstance(tree, ast.ClassDef) else ())):
                continue  # ``strict`` of zip is an assertion too
            if isinstance(node, ast.AST) and not isinstance(node, ast.JoinedStr | ast.Assert):
                yield node
                yield from _running(node)


def tests_of(module: str, near_only: bool) -> list[list[str]]:
    """Return the files of tests to try for a module, in turns, those that are likely to find a mistake first.

    Args:
        near_only: leave out those of ``WHOLE``.
    """
    every = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in sorted((ROOT / "tests").rglob("test_*.py"))}
    room, dotted = Path(module).parent.relative_to("pipeline"), module.removesuffix(".py").replace("/", ".")
    near = next((f"tests/{part}/" for part in (room, *room.parents) if (ROOT / "tests" / part).is_dir() and part != Path(".")), None)
    inside = [name for name in every if near and name.startswith(near)]
    imported = f"from {dotted.rpartition('.')[0]} import {Path(module).stem}"
    naming = [name for name, text in every.items() if dotted in text or imported in text]
    alike = [name for name in inside if Path(name).stem.removeprefix("test_") in (Path(module).stem, room.name)]
    whole = [name for one in WHOLE for name in every if name == one or name.startswith(f"{one}/")]
    turns, seen = [], set()
    for turn in ([*alike, *(name for name in inside if name in naming)], _SEEN, inside, naming, [] if near_only else whole):
        turns.append([name for name in dict.fromkeys(turn) if name not in seen])
        seen.update(turn)
    return [turn for turn in turns if turn]


class Callers:
    """Which tests call which functions, as ``tests.bench.callers`` has found out."""

    def __init__(self, record: Path, most: float) -> None:
        self.most = most  # seconds that the tests of one mistake took when they were recorded, or a few more
        found = json.loads(record.read_text(encoding="utf-8"))
        self._calls, self._seconds = found["calls"], found["seconds"]
        self._breadth = collections.Counter(test for tests in self._calls.values() for test in tests)
        names = set(_comparing_with_records())
        self._records = sorted((one for one in self._seconds if one.partition("[")[0] in names), key=lambda one: (self._breadth[one], one))

    def turns(self, mistake: Mistake, source: str) -> list[list[str]]:
        """Return the tests to try in turns: those that call little else, and are short, first; whole files where a fixture calls it.

        Before the broad ones come some that compare with a record of results, whose fixture may be what calls the function.
        What runs when a module is imported has no tests of its own: those of all its functions are tried.
        """
        first = _function_at(source, mistake.line)
        tests = set(self._calls.get(f"{mistake.file}:{first}", ())) if first else set()
        if not first:
            tests.update(test for name, some in self._calls.items() if name.startswith(f"{mistake.file}:") for test in some)
        everywhere, tests = "*" in tests, sorted(tests - {"*"}, key=lambda test: (self._breadth[test], self._seconds.get(test, 60.0)))
        # Of what is called everywhere the tests of its own module and room come next, in which its checks are.
        near = {name: rank for rank, turn in enumerate(tests_of(mistake.file, True)) if turn != _SEEN for name in turn}
        records = [one for one in self._records if one in tests or one.partition("::")[0] in tests]
        records = sorted(records, key=lambda test: near.get(test.partition("::")[0], math.inf))[:_RECORDS]
        tests[_FIRST:] = sorted(tests[_FIRST:], key=lambda test: near.get(test.partition("::")[0], math.inf))
        taken = itertools.accumulate(self._seconds.get(test, _OF_A_FILE) for test in tests)
        tests = [test for test, seconds in zip(tests, taken, strict=True) if seconds <= self.most] or tests[:1]
        turns = [tests[:_FIRST], [one for one in records if one not in tests[:_FIRST]], tests[_FIRST:]]
        # What the server of builds calls at its start it may keep, and the builds that use it then do not call it again.
        if not tests or (everywhere and len(tests) < _FIRST):
            turns += tests_of(mistake.file, False)
        return [turn for turn in turns if turn]


def _comparing_with_records() -> Iterator[str]:
    """Yield the names of tests that use ``tests.recorded``, as pytest writes them, without parameters."""
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and any(isinstance(one, ast.Name) and one.id == "differing" for one in ast.walk(node)):
                yield f"{path.relative_to(ROOT).as_posix()}::{node.name}"


def _function_at(source: str, line: int) -> int:
    """Return the first line, with decorators, of the innermost function around a line; 0 when there is none."""
    kinds, found = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda), 0
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, kinds) and node.lineno <= line <= node.end_lineno and (not found or not isinstance(node, ast.Lambda)):
            found = max(found, min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", ()))]))
    return found


class Copies:
    """Copies of the repository, one for each worker, in which the tests run shut in."""

    def __init__(self, scratch: Path, near_only: bool, callers: Callers | None) -> None:
        self.scratch, self.near_only, self.callers = scratch, near_only, callers

    def judge(self, number: int, mistake: Mistake) -> tuple[bool, str]:
        """Return whether the tests find a mistake, and by what."""
        folder = self.scratch / f"copy{number}"
        if not folder.exists():
            listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout.decode().split("\0")
            for name in filter(None, listed):
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(ROOT / name, folder / name)
        file, source = folder / mistake.file, (ROOT / mistake.file).read_text(encoding="utf-8")
        try:
            for paths in self.callers.turns(mistake, source) if self.callers else tests_of(mistake.file, self.near_only):
                file.write_text(source[: mistake.start] + mistake.text + source[mistake.end :], encoding="utf-8")
                failed, test = self._failed(folder, paths)
                if failed and self._is_its_doing(folder, file, source, test):
                    return True, failed
            return False, ""
        finally:
            file.write_text(source, encoding="utf-8")

    def _is_its_doing(self, folder: Path, file: Path, source: str, test: str) -> bool:
        """Return whether a test fails alone with the mistake and passes without it; what breaks the whole run has no test."""
        if not test:
            return True
        again = self._failed(folder, [test])[0]
        if not again:
            print(f"         {test} failed in its turn and passes alone", flush=True)
            return False
        file.write_text(source, encoding="utf-8")
        without = self._failed(folder, [test])[0]
        if without:
            raise SystemExit(f"without any mistake: {without}")
        return True

    def _failed(self, folder: Path, paths: list[str]) -> tuple[str, str]:
        """Return what fails first and which test or file that is, or empty texts."""
        temporary = folder / ".tmp"
        shutil.rmtree(temporary, ignore_errors=True)
        temporary.mkdir()
        options = ["-x", "-q", "-n", "0", "--no-header", "-p", "no:cacheprovider", "--hypothesis-seed=1"]
        chosen = folder.with_suffix(".chosen")
        chosen.write_text("\0".join(paths), encoding="utf-8")
        options += ["-p", "tests.bench.callers.chosen"]
        pytest = [sys.executable, "-B", "-m", "pytest", *options, *dict.fromkeys(path.partition("::")[0] for path in paths)]
        shut_in = ["unshare", "--mount", "--map-root-user", "--mount-proc", "--kill-child", "--pid", "--fork"]
        command = [*shut_in, "sh", "-c", _READ_ONLY, str(folder), str(ROOT)]
        places = {"TMPDIR": str(temporary), "PYTEST_DEBUG_TEMPROOT": "/dev/shm", "HYPOTHESIS_STORAGE_DIRECTORY": str(temporary)}
        # A file of bytecode could be taken for that of a source of the same second and size.
        environment = {**os.environ, **places, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1", "ROMWRIGHT_CHOSEN": str(chosen)}
        environment["ROMWRIGHT_BYTECODE"] = "no"
        said = folder.with_suffix(".said")
        with said.open("wb") as file:
            running = subprocess.Popen([*command, *pytest], cwd=folder, env=environment, stdout=file, stderr=file, stdin=subprocess.DEVNULL)
        if not _ends(running, said):
            return f"no test ends in {_LONGEST} s", ""
        if running.returncode == 125:
            raise SystemExit("this system does not let a process shut itself in (unshare); nothing was run")
        if running.returncode in (0, 5):
            return "", ""
        text = said.read_text(encoding="utf-8", errors="replace")
        if running.returncode == 4:
            raise SystemExit(f"pytest did not understand its command: {text[-500:]}")
        lines = [line for line in text.splitlines() if line.startswith(("FAILED ", "ERROR "))]
        if not lines:
            return (text[-300:] or "ended")[:150], ""
        return lines[0][:150], lines[0].split(" ", 1)[1].split(" - ")[0]


def _ends(running: subprocess.Popen, said: Path) -> bool:
    """Wait for a process; return whether it ended by itself. It is killed when what it says does not grow any more."""
    size, since = 0, time.monotonic()
    while True:
        try:
            running.wait(1)
            return True
        except subprocess.TimeoutExpired:
            now = said.stat().st_size
            if now != size:
                size, since = now, time.monotonic()
            elif time.monotonic() - since > _LONGEST:
                running.kill()
                running.wait()
                return False


def main() -> None:
    """Choose mistakes, make them, and print which are found and how many."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", default="", help="only modules below this folder of pipeline")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--near", action="store_true", help="leave whole builds out; what is then not found is open, and not taken over")
    parser.add_argument("--calls", type=Path, help="the file written by tests.bench.callers")
    parser.add_argument("--most", type=float, default=math.inf, help="with --calls, seconds of tests tried; what they do not find is open")
    parser.add_argument("--after", type=Path, help="what an earlier run printed, whose results are taken over")
    options = parser.parse_args()
    every = [
        one
        for path in sorted((ROOT / "pipeline" / options.room).rglob("*.py"))
        for one in mistakes_in(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
    ]
    chosen = random.Random(options.seed).sample(every, min(options.count, len(every)))
    print(f"{len(chosen)} of {len(every)} mistakes, seed {options.seed}", flush=True)
    before = options.after.read_text(encoding="utf-8").splitlines() if options.after else []
    known = [line for line in before if line.startswith(("found ", "SURVIVES "))]
    judged = {one: line for one in chosen for line in known if line[9:].startswith(f"{_shown(one)} ")}
    left = [one for one in chosen if one not in judged]
    found, start = sum(line.startswith("found ") for line in judged.values()), time.monotonic()
    with tempfile.TemporaryDirectory(prefix="mutants-") as scratch, ThreadPoolExecutor(options.workers) as pool:
        copies = Copies(Path(scratch), options.near, options.calls and Callers(options.calls, options.most))
        workers = [pool.submit(_work, copies, number, left[number :: options.workers]) for number in range(options.workers)]
        for worker in workers:
            found += worker.result()
    print(f"{found} of {len(chosen)} found, {100 * found / len(chosen):.1f} %, {time.monotonic() - start:.0f} s")


def _shown(mistake: Mistake) -> str:
    return f"{mistake.file}:{mistake.line} {mistake.shown!r:.70}"


def _work(copies: Copies, number: int, mistakes: list[Mistake]) -> int:
    found = 0
    for mistake in mistakes:
        start = time.monotonic()
        known, how = copies.judge(number, mistake)
        found += known
        bounded = copies.near_only or (copies.callers and copies.callers.most < math.inf)
        word = "found   " if known else "open    " if bounded else "SURVIVES"
        print(f"{word} {_shown(mistake)} {how} ({time.monotonic() - start:.0f} s)", flush=True)
    return found


if __name__ == "__main__":
    main()
