"""Builds of many frames beside builds of a quarter as many. Run: ``python -m tests.bench.many [--sprites N] [--frames N]``.

Sprites are drawn by rule, ten to a palette; then data assets and known issues take their place. What is printed is what a build of all and
one of a quarter of them take, and their ratio, where 4 is linear: processor time, time by the clock, and the peak of memory.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
from PIL import Image

from pipeline.graph.freshness.unchanged import RECORD

ROOT = Path(__file__).parents[2]
_SIDE = 32  # pixels of a frame
_PROJECT = """format = 1
[game]
title = "Many"
code = "MANY"
version = "0.1.0"
phase = "alpha"
target = "basalt32"
[links]
feedback = "https://example.org/f/{build}"
bugs = "https://example.org/b/{build}"
[program.main]
file = "main.bin"
[screen.boot]
"""


class Spent(NamedTuple):
    """What a command took: seconds of processors and by the clock, and the peak of memory in MiB."""

    processors: float
    clock: float
    memory: int


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Builds of many frames beside builds of a quarter as many.")
    parser.add_argument("--sprites", type=int, default=200)
    parser.add_argument("--frames", type=int, default=50, help="of each sprite")
    parser.add_argument("--data", type=int, default=2000, help="data assets, with half as many known issues")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        sprites = [_costs(Path(scratch) / "sprites", count, asked.frames) for count in (max(1, asked.sprites // 4), asked.sprites)]
        _show(f"{asked.sprites} sprites of {asked.frames} frames", *sprites)
        words = [_words_costs(Path(scratch) / "words", count) for count in (asked.data // 4, asked.data)]
        _show(f"{asked.data} data assets and {asked.data // 2} known issues", *words)


def _show(what: str, quarter: dict[str, Spent], whole: dict[str, Spent]) -> None:
    print(f"{what} / a quarter of them: processor time, by the clock, peak of memory")
    for name, many in whole.items():
        few = quarter[name]
        parts = (f"{more:.2f} / {less:.2f} = {more / less:.2f}" for more, less in zip(many, few, strict=True))
        print(f"{name}: {'; '.join(parts)}")


def _costs(folder: Path, sprites: int, frames: int) -> dict[str, Spent]:
    """Make a project and return what its builds take."""
    _make(folder, sprites, frames)
    found = {"full": _spend(folder)}
    _spend(folder)
    found["nothing to do"] = _spend(folder)
    (folder / "build/.state" / RECORD).unlink(missing_ok=True)
    found["nothing to do, checked in full"] = _spend(folder)
    _draw(folder / f"art/s{sprites // 2}/f{frames // 2:03}.png", sprites, 3)
    found["one frame"] = _spend(folder)
    shutil.rmtree(folder)
    return found


def _words_costs(folder: Path, count: int) -> dict[str, Spent]:
    """Make a project of data assets and known issues, and return what its builds and its pages take."""
    folder.mkdir()
    tables = [_PROJECT, *(f'[data.d{rank}]\nfile = "d{rank}.bin"\n' for rank in range(count))]
    for rank in range(count):
        (folder / f"d{rank}.bin").write_bytes(rank.to_bytes(4, "big") * 4)
    issue = '[[issue]]\nid = "M-{0}"\nseverity = "minor"\nwhere = "Quay {1}"\nwhat = "The bell at buoy {0} rings twice."\n'
    (folder / "issues.toml").write_text("".join(issue.format(rank, rank % 40) for rank in range(count // 2)), encoding="utf-8")
    (folder / "main.bin").write_bytes(bytes(64))
    (folder / "project.toml").write_text("".join(tables), encoding="utf-8")
    found = {"image": _spend(folder, "rom"), "packet": _spend(folder, "packet"), "report": _spend(folder, "report")}
    found["all else"] = _spend(folder)
    found["nothing to do"] = _spend(folder)
    shutil.rmtree(folder)
    return found


def _make(folder: Path, sprites: int, frames: int) -> None:
    tables = [_PROJECT]
    for sprite in range(sprites):
        for frame in range(frames):
            _draw(folder / f"art/s{sprite}/f{frame:03}.png", sprite, frame)
        tables.append(f'[sprite.s{sprite}]\nframes = "art/s{sprite}/*.png"\npalette = "p{sprite // 10}"\npixels = "index4"\n')
    tables += [f"[palette.p{palette}]\ncolours = 16\ntransparent = true\n" for palette in range(-(-sprites // 10))]
    (folder / "main.bin").write_bytes(bytes(64))
    (folder / "project.toml").write_text("".join(tables), encoding="utf-8")


def _draw(path: Path, sprite: int, frame: int) -> None:
    """Draw a figure of two blots that differs from every other frame's."""
    path.parent.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng((sprite, frame))
    rows, columns = np.mgrid[:_SIDE, :_SIDE]
    picture = np.zeros((_SIDE, _SIDE, 4), dtype=np.uint8)
    for _ in range(2):
        (y, x), radius = rng.integers(8, _SIDE - 8, 2), rng.integers(4, 8)
        shade = 90 + 4 * rows[..., None] + np.array([sprite % 40, 2 * (frame % 30), 20])
        inside = (rows - y) ** 2 + (columns - x) ** 2 < radius**2
        picture[inside] = np.concatenate([shade.clip(0, 255), np.full((_SIDE, _SIDE, 1), 255)], axis=-1)[inside]
    Image.fromarray(picture).save(path, compress_level=1)


def _spend(folder: Path, *words: str) -> Spent:
    """Build, and return what that took."""
    start = time.perf_counter()
    command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, f"project={folder}"]
    child = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    said = child.stdout.read() if child.stdout else ""
    _, status, used = os.wait4(child.pid, 0)
    if status:
        raise RuntimeError(said[-2000:])
    return Spent(used.ru_utime + used.ru_stime, time.perf_counter() - start, used.ru_maxrss // 1024)


if __name__ == "__main__":
    main()
