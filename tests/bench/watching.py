"""How long a save takes to be on the page of ``watch``, as ratios in one run to a full build, to ``doit`` of the same change, to a check.

``python -m tests.bench.watching [PROJECT FRAME]`` copies a project (else it makes the small one of the tests), builds it, then changes one
frame again and again: with ``watch``, from the save until a page has got the new report; with ``doit``, until it ends.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image

from tests.graph.builds import make_project
from tests.watched import ROOT, Watched

_ROUNDS = 5


def change(picture: Path, rank: int) -> None:
    """Move a frame's pixels by one, to and fro, so that its colours stay."""
    image = Image.open(picture)
    image.load()
    moved = image.copy()
    moved.paste(image, (1 if rank % 2 else -1, 0))
    moved.save(picture)


def seconds_of_doit(project: Path) -> float:
    """Return how long an ordinary build takes."""
    began = time.perf_counter()
    subprocess.run([sys.executable, "-m", "doit", f"project={project}"], cwd=ROOT, check=True, capture_output=True)
    return time.perf_counter() - began


def seconds_of_check(project: Path) -> float:
    """Return how long a build with nothing to do takes where every step is checked."""
    (project / "build/.state/unchanged.json").unlink(missing_ok=True)
    return seconds_of_doit(project)


def seconds_to_page(project: Path, frame: Path) -> list[float]:
    """Return how long each of some saves takes until a page has the report with it."""
    watched = Watched(project)
    report = watched.until(build="good")["report"]
    found = []
    for rank in range(_ROUNDS + 1):
        began = time.perf_counter()
        change(frame, rank)
        watched.until_another(report)
        watched.get()
        found.append(time.perf_counter() - began)
        report = watched.until(build="good")["report"]
    watched.end()
    return found[1:]  # the first teaches it what a build of this project loads


def main(words: list[str]) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        project = Path(folder) / "project"
        if words:
            shutil.copytree(words[0], project, ignore=shutil.ignore_patterns("build"))
        else:
            make_project(project)
        frame = project / (words[1] if words else "art/one/f0.png")
        whole = seconds_of_doit(project)
        checks = statistics.median(seconds_of_check(project) for _ in range(_ROUNDS))
        ordinary = []
        for rank in range(_ROUNDS):
            change(frame, rank)
            ordinary.append(seconds_of_doit(project))
        page = statistics.median(seconds_to_page(project, frame))
        doit = statistics.median(ordinary)
        print(f"from a save to the page: {page:.2f} s, median of {_ROUNDS}")
        print(f"  / full build           {page / whole:.2f}  ({whole:.2f} s)")
        print(f"  / doit, same change    {page / doit:.2f}  ({doit:.2f} s)")
        print(f"  / check of every step  {page / checks:.2f}  ({checks:.2f} s)")


if __name__ == "__main__":
    main(sys.argv[1:])
