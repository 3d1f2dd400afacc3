"""Banks that placement takes on random asset sets, against a lower bound. Run: ``python -m tests.bench.bank_packing``.

The bound is the larger of total bytes over bank size and L2 of Martello and Toth (1990); no packing can take fewer.
"""

from __future__ import annotations

import random
import time

import msgspec

from pipeline.rom.banks.bound import fewest_banks
from pipeline.rom.layout import Item, Placement
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import Target

_SETS = 20
_COUNTS = (20, 60, 200)
_BANK = 16384


def _sizes(kind: str, count: int, draw: random.Random) -> list[int]:
    """Return sizes in bytes of one set: how assets of a game are spread, and spreads the literature finds hard."""
    makers = {
        "any size up to a bank": lambda: draw.randint(1, _BANK),
        "up to half a bank": lambda: draw.randint(64, _BANK // 2),
        "a fifth to half a bank": lambda: draw.randint(_BANK // 5, _BANK // 2),
        "a third of a bank, about": lambda: draw.randint(_BANK // 4, _BANK * 42 // 100),
        "many small, few large": lambda: min(int(draw.lognormvariate(7.6, 1.1)) + 16, _BANK),
    }
    return [makers[kind]() for _ in range(count)]


KINDS = ("any size up to a bank", "up to half a bank", "a fifth to half a bank", "a third of a bank, about", "many small, few large")


def roomy(target: Target) -> Target:
    """Return the banked target with a cartridge that holds any set here."""
    return msgspec.structs.replace(target, cartridge=msgspec.structs.replace(target.cartridge, sizes=[_BANK * 1024]))


def measure(target: Target, kind: str, count: int, alignment: int, rank: int) -> tuple[int, int, float]:
    """Return banks taken, the bound, and seconds of one set."""
    draw = random.Random(f"{kind} {count} {alignment} {rank}")
    items = [Item(f"a{rank}", "data", size, alignment) for rank, size in enumerate(_sizes(kind, count, draw))]
    start = time.perf_counter()
    offsets = Placement(target, count).place(items)
    seconds = time.perf_counter() - start
    return len({offset // _BANK for offset in offsets.values()} | {0}), fewest_banks(target, _BANK, [item.bytes for item in items]), seconds


def main() -> None:
    """Measure and print."""
    target = roomy(load_target(shipped_targets()["pebble8"]))
    print(f"{'sizes':<26} {'assets':>6} {'align':>5} {'banks':>6} {'bound':>6} {'above':>6} {'met':>7} {'worst s':>8}")
    every = [0, 0]
    for kind in KINDS:
        for count in _COUNTS:
            for alignment in (1, 16):
                found = [measure(target, kind, count, alignment, rank) for rank in range(_SETS)]
                banks, bound = (sum(one[part] for one in found) for part in (0, 1))
                met, slowest = sum(one[0] == one[1] for one in found), max(one[2] for one in found)
                every = [every[0] + banks, every[1] + bound]
                above = f"{banks / bound - 1:.2%}"
                print(f"{kind:<26} {count:>6} {alignment:>5} {banks:>6} {bound:>6} {above:>6} {met:>4}/{_SETS} {slowest:>8.3f}")
    print(f"\nall: {every[0]} banks, bound {every[1]}, {every[0] / every[1] - 1:.2%} above")


if __name__ == "__main__":
    main()
