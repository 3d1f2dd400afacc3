"""How long a sprite of 1,000 frames takes beside library calls it cannot avoid. Run: ``python -m tests.bench.conversion``.

Frames of 128 x 160 are made from scikit-image's silhouette of a horse (``skimage.data.horse``): shaded, turned, bent and
moved, with antialiased edges, from a fixed seed. Not to be avoided are, for every frame: Pillow decodes it, Pillow scales
it (premultiplied, box filter), and one pass sends every pixel to the nearest of the palette's colours. The pass is done by
several general libraries; ratios are to the quickest exact one, and to Pillow's own, which looks at 6 bits a channel.

Times are processor time in one process, the least of ``--repeats`` runs; peaks are of a process for each step and number
of frames. With all of 1,000 frames it takes about two minutes; ``--frames 250`` is near enough for most questions.
"""

from __future__ import annotations

import argparse
import importlib
import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image
from scipy.spatial import cKDTree
from skimage import data

from pipeline.graph.plan import plan_project
from pipeline.joints.facts import PaletteFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.project.loading.load import load_project

ROOT = Path(__file__).parent.parent.parent
SIZE = (128, 160)
SCALED = (99, 124)
SCALE = 0.77
COLOURS = 63
WAYS = {
    "sheet": "",
    "sheet, ordered": 'dither = "ordered"',
    "sheet, diffusion": 'dither = "diffusion"',
    "frames": 'arrangement = "frames"',
    "pieces": 'arrangement = "pieces"',
}
_STEPS = ("prepare", "palette", "sprite")
_PROJECT = """format = 1
[game]
title = "Horse Bench"
code = "BENCH"
version = "0.1.0"
phase = "alpha"
target = "basalt32"
[links]
feedback = "https://example.org/f/{{build}}"
bugs = "https://example.org/b/{{build}}"
[sprite.horse]
frames = "art/*.png"
palette = "figures"
scale = {scale}
{more}
[palette.figures]
colours = {colours}
transparent = true
[program.main]
file = "main.bin"
"""


def main() -> None:
    """Measure and print."""
    if sys.argv[1:2] == ["--steps"]:
        print(json.dumps(_steps(Path(sys.argv[2]), sys.argv[3:])))
        return
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--frames", type=int, default=1000, help="how many to draw and convert")
    asked.add_argument("--repeats", type=int, default=1, help="runs of which the least time is taken")
    asked.add_argument("--ways", nargs="*", choices=WAYS, default=list(WAYS), help="arrangements and dithering to measure")
    asked.add_argument("--peaks", action="store_true", help="only the peaks of memory")
    options = asked.parse_args()
    count, ways = options.frames, {name: WAYS[name] for name in options.ways}
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        print(f"{count} frames of {SIZE[0]} x {SIZE[1]} scaled by {SCALE}, {COLOURS} colours; {draw_frames(folder, count)}")
        if not options.peaks:
            _times(folder, count, ways, options.repeats)
        _peaks(folder, count, ways)


def _times(folder: Path, count: int, ways: dict[str, str], repeats: int) -> None:
    """Print the milliseconds of each step, and the ratio of all to the library calls."""
    project = _project(folder, "", count)
    _child(project, *_STEPS)
    facts = read_facts(facts_file(project / "build/blobs", "figures"), PaletteFacts)
    calls = _library(sorted((folder / "art").glob("*.png")), np.array(facts.colours[1:], dtype=np.uint8), repeats)
    print("library calls, ms a frame: " + ", ".join(f"{name} {1000 * spent / count:.2f}" for name, spent in calls.items()))
    both = calls["decode"] + calls["resize"]
    exact, own = both + min(calls["numpy"], calls["scipy"]), both + calls["Pillow"]
    print(f"{'ours, ms a frame':18}{'prepare':>9}{'palette':>9}{'sprite':>9}{'all':>9}{'/ exact':>9}{'/ Pillow':>9}")
    for name, more in ways.items():
        spent = _least([_child(_project(folder, more, count), *_STEPS) for _ in range(repeats)])
        total = sum(spent[step] for step in _STEPS)
        times = (*(spent[step] for step in _STEPS), total)
        line = "".join(f"{1000 * one / count:9.2f}" for one in times)
        print(f"{name:18}{line}{total / exact:9.2f}{total / own:9.2f}", flush=True)


def draw_frames(folder: Path, count: int) -> str:
    """Draw the frames into ``art``; return how full and colourful they are."""
    (folder / "art").mkdir()
    (folder / "main.bin").write_bytes(b"\x4e\x71")
    random = np.random.default_rng(7)
    figure = _figure(random)
    opaque, colours = 0, set()
    for rank in range(count):
        frame = _frame(figure, random, rank)
        pixels = np.asarray(frame)
        opaque += int(np.count_nonzero(pixels[..., 3] >= 128))
        if rank < 50:
            colours.update(map(bytes, pixels[pixels[..., 3] >= 128][:, :3]))
        frame.save(folder / f"art/{rank:04}.png")
    return f"{opaque / count / SIZE[0] / SIZE[1]:.0%} opaque, {len(colours):,} colours in the first 50"


def _figure(random: np.random.Generator) -> Image.Image:
    """Return the horse in six hides with soft light and a little grain: RGBA, four times a frame's width."""
    mask = np.asarray(Image.fromarray(~data.horse().astype(bool)).resize((432, 560)))
    mask = np.pad(mask, ((40, 40), (40, 40)))
    height, width = mask.shape
    y, x = np.mgrid[0:height, 0:width]
    hides = np.array([(150, 92, 60), (96, 62, 48), (208, 176, 128), (60, 58, 70), (176, 60, 52), (70, 110, 150)])
    patch = (np.sin(x / 37) + np.sin(y / 29 + x / 61) + np.sin((x + y) / 43)) * 1.2 + 3
    light = 0.62 + 0.5 * (1 - y / height) + 0.12 * np.sin(x / 19) * np.sin(y / 23)
    rgb = hides[np.clip(patch.astype(int), 0, 5)] * light[..., None] + random.normal(0, 1.5, (height, width, 1))
    return Image.fromarray(np.dstack([np.clip(rgb, 0, 255), mask * 255]).astype(np.uint8))


def _frame(figure: Image.Image, random: np.random.Generator, rank: int) -> Image.Image:
    """Return one frame: the figure turned, sheared, swung to and fro, and bent by a mesh, drawn at twice the size."""
    wide, high = 2 * SIZE[0], 2 * SIZE[1]
    turned = figure.convert("RGBa").rotate(14 * np.sin(rank / 9) + random.uniform(-2, 2), Image.Resampling.BILINEAR)
    step, mesh = 64, []
    bend = random.uniform(-9, 9, (high // step + 1, wide // step + 1, 2)) + 12 * np.sin(rank / 6)
    columns, rows = wide // step, high // step
    corners = [[(2 * x * step + bend[y, x, 0], 2 * y * step + bend[y, x, 1]) for x in range(columns + 1)] for y in range(rows + 1)]
    for y in range(rows):
        for x in range(columns):
            quad = (*corners[y][x], *corners[y + 1][x], *corners[y + 1][x + 1], *corners[y][x + 1])
            mesh.append(((x * step, y * step, (x + 1) * step, (y + 1) * step), quad))
    bent = turned.transform((wide, high), Image.Transform.MESH, mesh, Image.Resampling.BILINEAR)
    return bent.resize(SIZE, Image.Resampling.BOX).convert("RGBA")


def _project(folder: Path, more: str, count: int) -> Path:
    """Write a project of the first frames beside the drawn ones; return its folder."""
    made = folder / "projects" / f"{count}"
    shutil.rmtree(made, ignore_errors=True)
    (made / "art").mkdir(parents=True)
    for path in sorted((folder / "art").glob("*.png"))[:count]:
        (made / "art" / path.name).hardlink_to(path)
    shutil.copy(folder / "main.bin", made)
    (made / "project.toml").write_text(_PROJECT.format(scale=SCALE, colours=COLOURS + 1, more=more), encoding="utf-8")
    return made


def _steps(project: Path, wanted: list[str]) -> dict[str, float]:
    """Run steps of a project in this process; return the seconds of each kind, and the peak of memory in MiB."""
    spent = {}
    steps = {step.name: step for step in plan_project(load_project(project)).steps}
    for name in ("prepare:horse", "palette:figures", "sprite:horse"):
        kind = name.split(":")[0]
        if kind in wanted:
            module, _, function = steps[name].call.partition(":")
            call = getattr(importlib.import_module(module), function)
            start = time.process_time()
            call(**steps[name].arguments)
            spent[kind] = time.process_time() - start
    return spent | {"peak": _peak()}


def _peak() -> float:
    """Return the most memory this process has held, in MiB."""
    status = Path("/proc/self/status")
    if status.exists():  # Linux hands getrusage's figure down from parent to child
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 << 20 if sys.platform == "darwin" else 1024)


def _child(project: Path, *wanted: str) -> dict[str, float]:
    """Run steps of a project in a process of their own; see ``_steps``."""
    command = [sys.executable, "-m", "tests.bench.conversion", "--steps", str(project), *wanted]
    return json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)


def _least(runs: list[dict[str, float]]) -> dict[str, float]:
    return {key: min(run[key] for run in runs) for key in runs[0]}


def _library(paths: list[Path], entries: np.ndarray, repeats: int) -> dict[str, float]:
    """Return the seconds of each library call over all frames, the least of a few."""
    return _least([_library_once(paths, entries) for _ in range(repeats)])


def _library_once(paths: list[Path], entries: np.ndarray) -> dict[str, float]:
    palette = Image.new("P", (1, 1))
    palette.putpalette(entries.tobytes(), "RGB")
    tree = cKDTree(entries)
    spent = dict.fromkeys(("decode", "resize", *(_NEAREST)), 0.0)
    for path in paths:
        start = time.process_time()
        with Image.open(path) as opened:
            picture = opened.convert("RGBA")
        spent["decode"] += time.process_time() - start
        start = time.process_time()
        scaled = picture.convert("RGBa").resize(SCALED, Image.Resampling.BOX).convert("RGBA")
        spent["resize"] += time.process_time() - start
        pixels = np.asarray(scaled)
        rgb = pixels[pixels[..., 3] >= 128][:, :3]
        for name, find in _NEAREST.items():
            start = time.process_time()
            find(scaled, rgb, entries, tree, palette)
            spent[name] += time.process_time() - start
    return spent


def _by_matrix(scaled: Image.Image, rgb: np.ndarray, entries: np.ndarray, tree: cKDTree, palette: Image.Image) -> np.ndarray:
    """Squared distance of the frame's distinct colours to all entries as one matrix product, in exact float32."""
    keys = rgb[:, 0].astype(np.int32) << 16 | rgb[:, 1].astype(np.int32) << 8 | rgb[:, 2]
    found, inverse = np.unique(keys, return_inverse=True)
    colours = np.stack([found >> 16, found >> 8 & 255, found & 255], axis=-1).astype(np.float32)
    wide = entries.astype(np.float32)
    return ((wide * wide).sum(axis=1) - 2 * colours @ wide.T).argmin(axis=1)[inverse]


def _by_tree(scaled: Image.Image, rgb: np.ndarray, entries: np.ndarray, tree: cKDTree, palette: Image.Image) -> np.ndarray:
    return tree.query(rgb)[1]


def _by_pillow(scaled: Image.Image, rgb: np.ndarray, entries: np.ndarray, tree: cKDTree, palette: Image.Image) -> np.ndarray:
    return np.asarray(scaled.convert("RGB").quantize(palette=palette, dither=Image.Dither.NONE))


_NEAREST = {"numpy": _by_matrix, "scipy": _by_tree, "Pillow": _by_pillow}


def _peaks(folder: Path, count: int, ways: dict[str, str]) -> None:
    """Print the peak of memory of each step for a quarter, a half, and all of the frames."""
    parts = count // 4, count // 2, count
    idle = _child(_project(folder, "", count))["peak"]
    print(f"peak of memory, MiB; {idle:.0f} with a project read and nothing done")
    print(f"{'frames':26}" + "".join(f"{part:>9}" for part in parts))
    for name, more in ways.items():
        peaks = [_step_peaks(_project(folder, more, part)) for part in parts]
        for step in _STEPS:
            if step == "sprite" or name == next(iter(ways)):  # the others are nearly the same for all
                print(f"{step + ', ' + name:26}" + "".join(f"{peak[step]:9.1f}" for peak in peaks), flush=True)


def _step_peaks(project: Path) -> dict[str, float]:
    """Return the peak of each step in a process of its own, in MiB."""
    return {step: _child(project, step)["peak"] for step in _STEPS}


if __name__ == "__main__":
    main()
