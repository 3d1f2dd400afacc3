"""What fewer transfers cost: cells, bytes and runs a frame of every sprite in pieces of a build, both ways.

Run: ``python -m tests.bench.transfers demo_project/build`` after a build.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from pipeline.assets.sprites.runs import one_run_each, runs_of
from pipeline.joints.facts import SpriteFacts, StoredPieces, read_facts


def pieces_of(blob: bytes, order: str) -> list[np.ndarray]:
    """Return the pieces of each frame: x, y, cell, flips."""
    frames, pieces = (int.from_bytes(blob[at : at + 4], order) for at in (40, 44))
    found = []
    for rank in range(int.from_bytes(blob[2:4], order)):
        at = frames + 8 * rank
        first, count = int.from_bytes(blob[at : at + 4], order), int.from_bytes(blob[at + 4 : at + 6], order)
        words = np.frombuffer(blob, dtype="<u2" if order == "little" else ">u2", count=4 * count, offset=pieces + 8 * first)
        found.append(words.reshape(-1, 4))
    return found


def main(build: Path) -> None:
    """Print a line for each sprite."""
    for file in sorted((build / "blobs").glob("*.json")):
        if ".packed" in file.name:
            continue
        facts = read_facts(file)
        if not isinstance(facts, SpriteFacts) or not isinstance(facts.stored, StoredPieces):
            continue
        blob = file.with_suffix(".bin").read_bytes()
        order = "little" if int.from_bytes(blob[2:4], "little") == facts.frames else "big"
        frames = [one.astype(np.int32) for one in pieces_of(blob, order)]
        cells, _ = one_run_each(frames)
        own = facts.stored.own_cells
        shared, shown = runs_of(frames) / len(frames), sum(len(one) > 0 for one in frames) / len(frames)
        print(
            f"{facts.name}: {len(frames)} frames, {own} cells with {shared:.1f} runs a frame; "
            f"{len(cells)} cells ({len(cells) / own:.2f} times the bytes) with {shown:.1f}"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
