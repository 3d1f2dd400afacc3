"""Both generated readers over mutated images, with the sanitizers. Run: ``python -m tests.bench.mutated --cases 100000 --seed 1``.

Cases are shared out over the shipped targets; where a target has banks, the reader for eight bits walks the same images. Images hold
every kind of asset, and sprites in prepared pieces. A read outside an image or asset ends the run with the sanitizer's report.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import numpy as np

from tests.bench.reader_size import PREPARED
from tests.makers import TARGETS
from tests.rom.reader_walk import compile_native, compile_small, every_kind, walk_native
from tests.rom.test_console_reader import corrupt_cases, cut

AT_ONCE = 5000


def main(cases: int, seed: int) -> None:
    """Walk and print how many images were noticed."""
    with tempfile.TemporaryDirectory() as scratch:
        for target in TARGETS:
            folder = Path(scratch) / target
            made = every_kind(folder / "project", target, packing=PREPARED)
            programs = {"reader.c": compile_native(made, folder)}
            if made.project.target.cartridge.banks:
                programs["reader8.c"] = compile_small(made, folder)
            for name, program in programs.items():
                noticed = done = 0
                while done < cases // len(TARGETS):
                    faults = walk_native(program, cut(made), folder, corrupt_cases(made, AT_ONCE, seed + done))
                    noticed, done = noticed + int(np.count_nonzero(faults)), done + len(faults)
                print(f"{target} {name}: {done:,} images, {noticed:,} noticed, none read outside", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    main(**vars(parser.parse_args()))
