"""Run: ``python -m tests.bench.fuzzing --cases 50000 --seed 1 [--format NAME] [--keep FOLDER] [--replay FORMAT:SEED]``."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from tests.bench.fuzzing.formats import Format
from tests.bench.fuzzing.parts import rendered
from tests.bench.fuzzing.registry import FORMATS
from tests.bench.fuzzing.runner import Tally, document, run_cases, run_document, shrunk

_APART = 10**9  # between the seeds of two runs


def main() -> int:
    """Run cases, or one again; return 1 when something failed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=1000, help="of each format")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--format", action="append", choices=sorted(FORMATS), help="one format; may be given again")
    parser.add_argument("--keep", type=Path, help="folder in which a smaller document of each failure is put")
    parser.add_argument("--replay", help="FORMAT:SEED of one case")
    options = parser.parse_args()
    if options.replay:
        return _replay(options.replay, options.keep)
    bad = False
    for name in options.format or FORMATS:
        bad |= _run(FORMATS[name], options)
    return int(bad)


def _run(one: Format, options: argparse.Namespace) -> bool:
    tally, start = Tally(one.name), time.monotonic()
    for result in run_cases(one, range(options.seed * _APART, options.seed * _APART + options.cases)):
        tally.add(result)
    sys.stdout.write(f"{tally.report()}\n    bound {one.memory >> 20} MiB, {time.monotonic() - start:.0f} s on the clock\n")
    sys.stdout.flush()
    if options.keep:
        for kind, found in tally.failures.items():
            _keep(one, found[0].seed, kind, found[0].details, options.keep)
    return bool(tally.failures)


def _replay(words: str, keep: Path | None) -> int:
    name, _, seed = words.partition(":")
    one = FORMATS[name]
    top = document(one, int(seed))
    data = rendered(top)
    result = run_document(one, top)
    shown = data if len(data) <= 4000 else data[:4000] + b"..."
    sys.stdout.write(f"{len(data)} bytes: {shown!r}\n{result.outcome}; {'; '.join(result.kinds)}\n{result.details}\n")
    sys.stdout.write(f"{result.seconds:.2f} s, {result.peak >> 20} MiB\n")
    if keep:
        for kind in result.kinds:
            _keep(one, int(seed), kind, result.details, keep)
    return int(bool(result.kinds))


def _keep(one: Format, seed: int, kind: str, details: str, folder: Path) -> None:
    small = rendered(shrunk(one, document(one, seed), kind))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{one.name}-{seed}.bin").write_bytes(small)
    (folder / f"{one.name}-{seed}.txt").write_text(f"{kind}\n{small[:2000]!r}\n\n{details}\n", encoding="utf-8", errors="replace")
    sys.stdout.write(f"    {one.name}:{seed} as {len(small)} bytes: {kind}: {small[:300]!r}\n")


if __name__ == "__main__":
    sys.exit(main())
