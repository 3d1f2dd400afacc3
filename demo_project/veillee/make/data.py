"""Writes the demo's table of lamps, big-endian for the console, and its map of fog: ``python demo_project/veillee/make/data.py``."""

from __future__ import annotations

import math
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "data"
LAMPS = {0: (40, 168, 296, 424), 1: (90, 230, 330, 470)}  # way: places along it, in pixels
COLUMNS, ROWS = 64, 24


def main(folder: Path = FOLDER) -> None:
    """Write where the lamps stand, and how thick the fog will be over each tile of the screen."""
    folder.mkdir(parents=True, exist_ok=True)
    lamps = [(way, x) for way, places in LAMPS.items() for x in places]
    (folder / "lampes.bin").write_bytes(b"".join(number.to_bytes(2, "big") for lamp in lamps for number in lamp))
    down, across = ([math.sin(math.pi * rank / count) for rank in range(count)] for count in (ROWS, COLUMNS))
    fog = [[max(0, round(3 * y * x)) for x in across] for y in down]
    (folder / "brume.csv").write_bytes("".join(",".join(map(str, row)) + "\n" for row in fog).encode())


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
