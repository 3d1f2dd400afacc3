"""Runs all tests and writes into a file which of them call which functions: ``python -m tests.bench.callers FILE``."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections import defaultdict
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).parents[3]


def record(tests: list[str]) -> dict:
    """Run tests and return what they call.

    Returns:
        ``seconds`` of each test by its id; ``calls`` by ``file:line`` of a function's first line (decorators too): the ids of tests that
        call it, files of tests whose fixtures call it, and ``*`` where the server that builds are forked from does.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = os.pathsep.join((str(Path(__file__).parent / "start"), str(ROOT)))
        environment = {**os.environ, "ROMWRIGHT_CALLS": folder, "ROMWRIGHT_CALLS_ROOT": str(ROOT), "PYTHONPATH": path}
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "tests.bench.callers.plugin", *tests]
        subprocess.run(command, cwd=ROOT, env=environment, check=False)
        calls = defaultdict(set)
        for file in Path(folder).glob("*.jsonl"):
            for line in file.read_text(encoding="utf-8").splitlines():
                with suppress(ValueError):  # cut off: a test let the disk be full, or killed the process
                    said, server, functions = json.loads(line)
                    part, _, test = said.partition("\t")
                    caller = "*" if server else test if part == "call" else test.partition("::")[0]
                    for name, first in functions:
                        calls[f"{name}:{first}"].add(caller)
        lines = [line for file in Path(folder).glob("*.seconds") for line in file.read_text(encoding="utf-8").splitlines()]
        seconds = dict(map(json.loads, lines))
    return {"seconds": seconds, "calls": {name: sorted(filter(None, tests)) for name, tests in sorted(calls.items())}}


def main() -> None:
    """Record and say how much was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("tests", nargs="*")
    options = parser.parse_args()
    found = record(options.tests)
    options.file.write_text(json.dumps(found), encoding="utf-8")
    print(f"{len(found['calls'])} functions are called by {len(found['seconds'])} tests")


if __name__ == "__main__":
    main()
