"""Random histories of a project beside clean builds. Run: ``python -m tests.bench.histories --sequences N --moves M --seed S``.

A history is a sequence of moves over all tables of the project file and all sources, over the build folder and the commands: edits,
additions, renames, removals, other orders, reverts, damage, releases, parts of a build. Every few moves the build that went through
all of it is compared with a clean build of the same files elsewhere: every byte in ``build`` but ``.state``, exit status, refusals,
and answers to questions. What is found is shrunk and shown as a shell script. See ``tests.bench.history`` for its rooms.
"""

from __future__ import annotations

import argparse
import json
import shutil
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

from .history.machine import Figures, Found, all_switches, play, replay, shrink, target_of
from .history.mistakes import MISTAKES
from .history.opening import TARGETS, opening
from .history.shell import as_script
from .history.warm import Runner


def main() -> None:
    """Read the command line, run, and report."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.histories", description="Random histories beside clean builds.")
    parser.add_argument("--sequences", type=int, default=10)
    parser.add_argument("--moves", type=int, default=20, help="in each sequence")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--target", choices=TARGETS, action="append", help="only this one; left out: all take turns")
    parser.add_argument("--without", default="", help=f"leave out, with commas between: {', '.join(sorted(all_switches()))}")
    parser.add_argument("--replay", help="a file that was written for a finding, or SEED-NUMBER of one sequence")
    parser.add_argument("--shrink", type=float, default=240, help="seconds to spend on making a finding smaller")
    parser.add_argument("--findings", type=Path, help="folder for a file and a script of each finding")
    parser.add_argument("--loud", action="store_true", help="say when each sequence has ended")
    parser.add_argument("--most", type=int, default=10, help="findings after which to stop")
    parser.add_argument("--mistakes", nargs="*", metavar="WORD", help="make mistakes in the tool, those with a word in their name")
    asked = parser.parse_args()
    allowed = all_switches() - set(asked.without.split(","))
    if asked.mistakes is not None:
        tell_mistakes(asked.mistakes, asked.seed, asked.moves, asked.sequences, allowed)
        return
    with tempfile.TemporaryDirectory() as scratch:
        if asked.replay:
            again(asked.replay, Path(scratch), asked.moves, allowed, asked.shrink)
            return
        many(asked, Path(scratch), allowed)


def many(asked: argparse.Namespace, scratch: Path, allowed: frozenset[str]) -> None:
    """Run sequences and report what was found, then the figures."""
    figures, count, start = Figures(), 0, time.perf_counter()
    with Runner() as runner:
        for number in range(asked.sequences):
            seed, target = f"{asked.seed}-{number}", target_of(number, asked.target or ())
            found = one(seed, target, asked.moves, scratch, runner, allowed, figures)
            if asked.loud:
                print(f"{seed} {target}: {sum(figures.moves.values())} moves so far, {time.perf_counter() - start:.0f} s", flush=True)
            if found is not None:
                count += 1
                print(f"\n{seed} on {target} found something: {found}", flush=True)
                tell_found(found, seed, scratch, runner, asked.shrink, asked.findings)
            if count >= asked.most:
                break
        compared = f"{figures.compared} comparisons ({figures.failing} of builds that fail, {figures.cached} cached)"
        seconds = {name: round(spent) for name, spent in runner.seconds.items()}
        spent = f"{time.perf_counter() - start:.0f} s; commands {runner.count}, seconds {seconds}"
        moves = sum(figures.moves.values())
        print(f"{figures.sequences} sequences, {moves} moves, {compared}, {figures.asked} questions; seed {asked.seed}")
        print(f"{count} findings; {spent}")
        print("moves:", ", ".join(f"{name} {many}" for name, many in figures.moves.most_common()))


def one(seed: str, target: str, moves: int, scratch: Path, runner: Runner, allowed: frozenset[str], figures: Figures) -> Found | None:
    """Run one sequence in a fresh folder; return what it finds."""
    folder = scratch / seed
    try:
        play(seed, target, moves, folder, runner, allowed, figures)
    except Found as found:
        return found
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return None


def tell_found(found: Found, seed: str, scratch: Path, runner: Runner, seconds: float, folder: Path | None) -> None:
    """Shrink a finding and print it as commands; with a folder also keep it there."""
    log, last = shrink(found, scratch / "shrink", runner, seconds, print)
    script = as_script(found.start, log, scratch / f"script {seed}", found.allowed)
    kept = {"seed": seed, "target": found.start[0], "documents": found.start[1], "allowed": sorted(found.allowed), "log": log}
    print(f"shrunk from {len(found.log)} to {len(log)} operations: {last}")
    for operation in log:
        print("  ", str(operation)[:300])
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{seed}.json").write_text(json.dumps(kept))
        (folder / f"{seed}.sh").write_text(f"# {last}\n".replace("\n", "\n# ").rstrip("# ") + script)
        print(f"   kept as {folder / seed}.json and .sh", flush=True)
    else:
        print(script, flush=True)


def again(what: str, scratch: Path, moves: int, allowed: frozenset[str], seconds: float) -> None:
    """Show a finding again: from its file, or by the seed of its sequence."""
    with Runner() as runner:
        if Path(what).is_file():
            kept = json.loads(Path(what).read_text())
            start = (kept["target"], kept["documents"], opening(kept["target"])[1])
            print(replay(start, kept["log"], scratch / "again", runner, frozenset(kept["allowed"])) or "nothing is found any more")
            return
        number = int(what.rpartition("-")[2])
        found = one(what, target_of(number), moves, scratch, runner, allowed, Figures())
        print(found or "nothing is found")
        if found:
            tell_found(found, what, scratch, runner, seconds, None)


def tell_mistakes(words: list[str], seed: int, moves: int, sequences: int, allowed: frozenset[str]) -> None:
    """Make each mistake in the tool, or those with one of some words in their name, and print in which sequence it is found."""
    for name in (name for name in MISTAKES if not words or any(word in name for word in words)):
        print(f"{name}: {sequences_until_found(name, seed, moves, sequences, allowed)}", flush=True)


def sequences_until_found(mistake: str, seed: int, moves: int, most: int, allowed: Iterable[str]) -> str:
    """Return in words after how many sequences a mistake in the tool is noticed, and by what."""
    with tempfile.TemporaryDirectory() as scratch, Runner(mistake) as runner:
        for number in range(most):
            found = one(f"{seed}-{number}", target_of(number), moves, Path(scratch), runner, frozenset(allowed), Figures())
            if found is not None:
                return f"found in sequence {number + 1}, after {len(found.log)} operations: {found}"[:200]
    return f"not found in {most} sequences"


if __name__ == "__main__":
    main()
