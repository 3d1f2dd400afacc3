"""Measures memory advice: the worst case beside naive enumeration, and ``fit`` on six characters of 300 frames.

Run with ``python -m tests.bench.memory_advice``; takes some minutes, most of them for converting.
"""

from __future__ import annotations

import itertools
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.memory.scenes import worst_cases
from tests.graph.builds import ROOT, build, run
from tests.memory.test_scenes import forty

_MEMORY = {"sheet": 8192, "pieces": 3072}  # KiB for 300 frames
_PROJECT = """
format = 1
[game]
title = "Six of Them"
code = "SIX"
version = "0.1.0"
phase = "alpha"
target = "big.toml"
[links]
feedback = "https://example.org/f/{build}"
bugs = "https://example.org/b/{build}"
[defaults.sprite]
palette = "figures"
arrangement = "ARRANGEMENT"
scale = 0.5
"""
_SCENE = """[palette.figures]
colours = 32
transparent = true
[program.main]
file = "main.bin"
[scene.duel]
always = ["figures"]
[[scene.duel.choose]]
count = 2
of = [NAMES]
"""


def naive(group, sizes, never) -> int:
    """Return the worst case by trying every choice, the straightforward way."""
    best = 0
    for count in range(1, group.count + 1):
        for chosen in itertools.combinations(group.members, count):
            if not any(names <= set(chosen) for names in never):
                best = max(best, sum(sizes[asset] for asset in frozenset().union(*(group.members[name] for name in chosen))))
    return best


def worst_case_line() -> str:
    """Return times of the search and of naive enumeration: four of forty characters, a hundred exclusions."""
    lines = []
    for sharing in (0, 12):
        group, sizes, never = forty(7, sharing)
        start = time.perf_counter()
        found = worst_cases(frozenset(), [group], sizes, never, most=4)[0].bytes
        quick = time.perf_counter() - start
        start = time.perf_counter()
        assert naive(group, sizes, never) == found
        slow = time.perf_counter() - start
        what = f"worst case, 40 choose 4, 100 exclusions, {sharing} shared assets"
        lines.append(f"{what}: {quick:.4f} s, naive {slow:.2f} s, ratio {slow / quick:.0f}")
    return "\n".join(lines)


def make_six(folder: Path, arrangement: str, frames: int) -> Path:
    """Write a project of six characters of so many frames of 130 x 170: figures that swing their limbs, shaded."""
    text = [_PROJECT.replace("ARRANGEMENT", arrangement)]
    y, x = np.mgrid[0:170, 0:130].astype(np.float64)
    for rank in range(6):
        name = f"c{rank}"
        (folder / "art" / name).mkdir(parents=True)
        for frame in range(frames):
            swing = np.sin(2 * np.pi * frame / 37 + rank)
            body = ((x - 65 - 4 * swing) / (20 + 3 * rank)) ** 2 + ((y - 85) / 60) ** 2 < 1
            arm = np.abs((x - 65) - swing * (y - 60) * 0.8) < 7
            leg = (np.abs((x - 65) + swing * (y - 110) * 0.6) < 9) & (y > 110)
            opaque = body | (arm & (y > 55) & (y < 120)) | leg
            shade = np.clip(120 + 80 * np.cos(x / 17 + rank) * np.sin(y / 23 + frame / 9), 0, 255)
            rgba = np.stack([shade, shade * 0.6 + 20 * rank, 255 - shade, np.where(opaque, 255, 0)], axis=-1).astype(np.uint8)
            Image.fromarray(rgba).save(folder / "art" / name / f"f{frame:03}.png", compress_level=1)
        text.append(f'[sprite.{name}]\nframes = "art/{name}/*.png"\n')
    text.append(_SCENE.replace("NAMES", ", ".join(f'"c{rank}"' for rank in range(6))))
    (folder / "project.toml").write_text("\n".join(text), encoding="utf-8")
    (folder / "main.bin").write_bytes(b"\x60\xfe" * 8)
    target = (ROOT / "pipeline/targets/basalt32.toml").read_text(encoding="utf-8")
    memory = _MEMORY[arrangement] * frames // 300  # so that full size does not fit
    target = target.replace('size = "2 MiB"', f'size = "{memory} KiB"', 1).replace('"6 MiB"]', '"6 MiB", "64 MiB"]')
    (folder / "big.toml").write_text(target, encoding="utf-8")
    return folder


def fit_line(arrangement: str, frames: int) -> str:
    """Return how often ``fit`` converted each sprite, and its second run beside a build with nothing to do."""
    with tempfile.TemporaryDirectory() as scratch:
        project = make_six(Path(scratch) / "six", arrangement, frames)
        build(project)
        start = time.perf_counter()
        output = run_long(project, "fit")
        first = time.perf_counter() - start
        converted = re.search(r"Converted again: (\d+) times", output)
        again = min(_timed(project, "fit") for _ in range(3))
        nothing = min(_timed(project) for _ in range(3))
    times = converted[1] if converted else "0"
    best = re.search(r"scale = ([0-9.]+)", output)[1]
    return (
        f"fit, {arrangement}, 6 x {frames} frames of 130 x 170: scale {best}, {times} conversions of each, {first:.0f} s; "
        f"again {again:.2f} s, nothing to do {nothing:.2f} s, ratio {again / nothing:.2f}"
    )


def run_long(project: Path, *words: str) -> str:
    """Run a question that may take minutes; return what it printed."""
    command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, f"project={project}"]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout


def _timed(project: Path, *words: str) -> float:
    start = time.perf_counter()
    done = run(project, *words)
    assert done.returncode == 0, done.stdout + done.stderr
    return time.perf_counter() - start


if __name__ == "__main__":
    print(worst_case_line(), flush=True)
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    for arranged in ("sheet", "pieces"):
        print(fit_line(arranged, count), flush=True)
