"""Running builds of small projects in tests, and looking at what they did."""

from __future__ import annotations

import atexit
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

from PIL import Image, ImageDraw

from pipeline.graph.freshness.state_folder import adopt
from tests.warm import KILLED, LONGEST, Warm

ROOT = Path(__file__).parent.parent.parent
_PROJECT = """
format = 1
[game]
title = "Small Game"
code = "SMALL"
version = "0.1.0"
phase = "alpha"
target = "basalt32"
date = 2026-01-02
[links]
feedback = "https://example.org/f/{build}"
bugs = "https://example.org/b/{build}"
[defaults.sprite]
palette = "figures"
scale = 0.77
[sprite.one]
frames = "art/one/*.png"
[sprite.one.animations]
go = { frames = "f*", ms = 80 }
[sprite.two]
frames = "art/two/*.png"
[palette.figures]
colours = 16
transparent = true
[background.hill]
file = "art/hill.png"
palette = "hill_colours"
[palette.hill_colours]
colours = 32
first = 16
[data.level]
file = "level.bin"
[program.main]
file = "main.bin"
[screen.boot]
[scene.play]
always = ["one", "two", "figures", "hill", "hill_colours", "main"]
"""
_TINY = '[data.level]\nfile = "level.bin"\n[program.main]\nfile = "main.bin"\n[scene.play]\nalways = ["level"]\n'
_warm: dict[str, Warm] = {}  # by the seed of its hashes


def make_project(folder: Path) -> Path:
    """Write a small complete project: two sprites of four frames, a background, data, a program, a boot notice."""
    for name, colour in (("one", (200, 60, 40, 255)), ("two", (40, 90, 200, 255))):
        for rank in range(4):
            draw_frame(folder / f"art/{name}/f{rank}.png", colour, rank)
    picture = Image.new("RGB", (64, 48), (120, 180, 220))
    ImageDraw.Draw(picture).ellipse((8, 20, 60, 70), fill=(60, 140, 70))
    picture.save(folder / "art/hill.png")
    (folder / "level.bin").write_bytes(bytes(range(100)))
    (folder / "main.bin").write_bytes(b"\x60\xfe" * 8)
    (folder / "project.toml").write_text(_PROJECT, encoding="utf-8")
    return folder


def for_target(project: Path, target: str) -> Path:
    """Change a project of ``make_project`` so that it fits another shipped target's colours, memory and sounds."""
    path = project / "project.toml"
    text = path.read_text().replace('"basalt32"', f'"{target}"')
    if target == "lattice16":
        text = text.replace("colours = 32", "colours = 16")
    if target == "pebble8":
        text = text.replace("colours = 32\nfirst = 16", "colours = 4\nfirst = 4").replace("colours = 16", "colours = 4")
    path.write_text(text)
    return project


def draw_frame(path: Path, colour: tuple[int, int, int, int], rank: int) -> None:
    """Draw one 24 x 32 frame of a figure at a place that depends on its rank."""
    path.parent.mkdir(parents=True, exist_ok=True)
    picture = Image.new("RGBA", (24, 32))
    ImageDraw.Draw(picture).rectangle((4 + rank, 4, 14 + rank, 30), fill=colour)
    picture.save(path)


def run(project: Path, *words: str, real: bool = False, **environment: str) -> subprocess.CompletedProcess:
    """Run ``doit`` on a project as an author would, from the repository; a hang ends after two minutes.

    Args:
        real: in a process of its own, as it always is with changes of its environment; else in a fork of one that has read the tool.
    """
    words = ("-f", str(ROOT / "dodo.py"), *words, f"project={project}")
    if not real and not environment:
        return _run_warm(words, "1")
    command = [sys.executable, "-m", "doit", *words]
    return subprocess.run(
        command, cwd=ROOT, env={**os.environ, **environment}, capture_output=True, text=True, timeout=120
    )


def warm(seed: str = "1") -> Warm:
    """Return the process that builds are forked from, with that seed of hashes; one for all tests of this process."""
    if seed not in _warm:
        _warm[seed] = Warm(environment={**os.environ, "PYTHONHASHSEED": seed})
        atexit.register(_warm[seed].close)
    return _warm[seed]


def _run_warm(words: tuple[str, ...], seed: str) -> subprocess.CompletedProcess:
    done = warm(seed).call("tests.warm:doit", list(words), dict(os.environ))
    if done.status == KILLED:
        raise subprocess.TimeoutExpired(["doit", *words], LONGEST, done.out, done.err)
    return subprocess.CompletedProcess(["doit", *words], done.status, done.out, done.err)


def build(project: Path, *words: str, real: bool = False, **environment: str) -> list[str]:
    """Build as ``run`` does and return the names of the steps that ran.

    Raises:
        AssertionError: the build failed.
    """
    state = project / "build/.state/reasons.json"
    state.unlink(missing_ok=True)
    done = run(project, *words, real=real, **environment)
    assert done.returncode == 0, done.stdout + done.stderr
    return list(json.loads(state.read_text())) if state.exists() else []


def copy_built(project: Path, copy: Path) -> Path:
    """Copy a project with its build and let the copy trust it, as the original does; return the copy.

    doit's records name files by their whole paths, and doit runs a step whose list of files is another: the copy's are put there.
    """
    shutil.copytree(project, copy)
    with closing(sqlite3.connect(copy / "build/.state/steps.sqlite3")) as records, records:
        records.execute("update doit set task_data = replace(task_data, ?, ?)", (f'"{project}/', f'"{copy}/'))
    adopt(copy / "build/.state")
    return copy


def reasons(project: Path) -> dict[str, list[str]]:
    """Return step -> reasons of the last build that ran a step."""
    return json.loads((project / "build/.state/reasons.json").read_text())


def outputs(project: Path) -> dict[str, str]:
    """Return file -> SHA-256 of everything a build leaves, but for its own records."""
    root = project / "build"
    return {
        path.relative_to(root).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(root.rglob("*"))
        if path.is_file() and not path.relative_to(root).parts[0].startswith(".state")
    }


def clean_outputs(project: Path, scratch: Path) -> dict[str, str]:
    """Return what a clean build of a copy of the project leaves; the copy is in another folder, its sets in another order."""
    copy = scratch / "somewhere else" / "copy"
    shutil.rmtree(copy.parent, ignore_errors=True)
    shutil.copytree(project, copy, ignore=shutil.ignore_patterns("build"))
    done = _run_warm(("-f", str(ROOT / "dodo.py"), "commands=yes", f"project={copy}"), "2")
    assert done.returncode == 0, done.stdout + done.stderr
    return outputs(copy)


def make_tiny(folder: Path) -> Path:
    """Write a project of a program and one file of data, for builds whose content does not matter."""
    folder.mkdir(parents=True)
    head = _PROJECT.partition("[defaults.sprite]")[0]
    (folder / "project.toml").write_text(head + _TINY, encoding="utf-8")
    (folder / "level.bin").write_bytes(bytes(range(100)))
    (folder / "main.bin").write_bytes(b"\x60\xfe" * 8)
    return folder
