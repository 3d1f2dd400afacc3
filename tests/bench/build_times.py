"""How long builds of the demo take beside what they cannot avoid. Run: ``python -m tests.bench.build_times [--fit]``.

Each line is a ratio of two times taken in this run on this machine, of processors and then by the clock; the times themselves mean
little elsewhere. Each is the least of several, for whatever else the machine does can only add to it.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from PIL import Image, ImageChops, ImageDraw

from pipeline.assets.sources.prepared import read_frames
from pipeline.graph.freshness.unchanged import RECORD

ROOT = Path(__file__).parent.parent.parent
_REPEATS = 5
# An installed tool keeps its modules compiled; a measurement that compiles them at each start would measure that.
_ENVIRONMENT = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
_EDITS = 14  # tried at most until the palette has stayed and changed often enough


class Times(NamedTuple):
    """Seconds: of processors, and by the clock."""

    processors: float
    clock: float


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="How long builds of the demo take beside what they cannot avoid.")
    parser.add_argument("--fit", action="store_true", help="also ask fit about six characters of 300 frames, which takes minutes")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        project = Path(scratch) / "project"
        shutil.copytree(ROOT / "demo_project", project, ignore=shutil.ignore_patterns("build", "make"))
        _add_small_sprite(project)
        full = _timed(lambda: _doit(project), before=lambda: shutil.rmtree(project / "build", ignore_errors=True), repeats=3)
        parallel = _timed(lambda: _doit(project, "-n", "2"), before=lambda: shutil.rmtree(project / "build", ignore_errors=True), repeats=3)
        _doit(project)
        nothing = _timed(lambda: _doit(project))
        checked = _timed(lambda: _doit(project), before=lambda: (project / "build/.state" / RECORD).unlink(missing_ok=True))
        small = _timed(lambda: _doit(project), before=lambda: _copy_patch(project / "art/mote/f03.png"), repeats=3)
        same, other = _frame_edits(project)
        bare = _bare_graph(Path(scratch) / "bare", project)
        unavoidable = _timed(lambda: _library_calls(project), repeats=3)
        _say("nothing to do / bare doit graph of the same files", nothing, bare)
        _say("nothing to do, without the answer of the build before / bare", checked, bare)
        _say("one frame, palette bytes unchanged / full build", same, full)
        _say("one frame of 64 x 64 / full", small, full)
        _say("one frame, palette changed / full", other, full)
        _say("full / decode, resize and write by the libraries", full, unavoidable)
        _say("full on two workers / one", parallel, full)
        print(f"peak memory of a full build: {_peak(project)} MiB")
        _padding(project)
        if asked.fit:
            _fit(Path(scratch) / "many")


def _doit(project: Path, *words: str) -> None:
    command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, f"project={project}"]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True, env=_ENVIRONMENT)


def _timed(action: Callable[[], None], before: Callable[[], None] = lambda: None, repeats: int = _REPEATS) -> Times:
    """Return the least times of an action that starts processes."""
    taken = []
    for _ in range(repeats):
        before()
        taken.append(_once(action))
    return _least(taken)


def _once(action: Callable[[], None]) -> Times:
    start, used = time.perf_counter(), _processors()
    action()
    return Times(_processors() - used, time.perf_counter() - start)


def _least(taken: list[Times]) -> Times:
    return Times(*map(min, zip(*taken, strict=True)))


def _processors() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _add_small_sprite(project: Path) -> None:
    """Add a sprite of eight frames of 64 x 64, in no scene."""
    (project / "art/mote").mkdir()
    for rank in range(8):
        picture = Image.new("RGBA", (64, 64))
        for row in range(12, 60 - rank):
            ImageDraw.Draw(picture).line((10 + rank, row, 50 - row % 7, row), fill=(3 * row, 120, 24 * (row % 8), 255))
        picture.save(project / f"art/mote/f{rank:02}.png")
    tables = '[sprite.mote]\nframes = "art/mote/*.png"\npalette = "mote_colours"\nanimations = {}\n'
    tables += "[palette.mote_colours]\ncolours = 16\ntransparent = true\n"
    with (project / "project.toml").open("a", encoding="utf-8") as file:
        file.write(tables)


def _copy_patch(path: Path) -> None:
    """Copy a small patch of a frame's figure to another place in it, so that it has no new colour."""
    with Image.open(path) as picture:
        changed = picture.convert("RGBA")
    opaque, rng = np.argwhere(np.asarray(changed)[..., 3] == 255), np.random.default_rng(time.time_ns())
    (top, left), (y, x) = rng.choice(opaque, 2).tolist()
    changed.paste(changed.crop((left, top, left + 6, top + 6)), (x, y))
    changed.save(path)


def _paint_patch(path: Path) -> None:
    """Paint a patch of a frame in a colour that is in no other."""
    with Image.open(path) as picture:
        changed = picture.convert("RGBA")
    red, green, blue = np.random.default_rng(time.time_ns()).integers(0, 256, 3).tolist()
    ImageDraw.Draw(changed).rectangle((40, 60, 64, 84), fill=(red, green, blue, 255))
    changed.save(path)


def _frame_edits(project: Path) -> tuple[Times, Times]:
    """Copy and paint patches of one courier in turn until three builds left the palette's bytes and three did not; return the least.

    Builds that make the same image again are not counted.
    """
    frame, image = project / "art/couriers/pell/walk_03.png", project / "build/map.json"
    palette = project / "build/blobs/couriers.bin"
    taken: dict[bool, list[Times]] = {True: [], False: []}
    for rank in range(_EDITS):
        before, entries = image.read_bytes(), palette.read_bytes()
        (_paint_patch if rank % 2 else _copy_patch)(frame)
        spent = _once(lambda: _doit(project))
        if image.read_bytes() != before:
            taken[palette.read_bytes() == entries].append(spent)
        if min(map(len, taken.values())) >= 3:
            break
    print(f"edits that left the palette: {len(taken[True])}, that changed it: {len(taken[False])}")
    return _least(taken[True]), _least(taken[False])


def _peak(project: Path) -> int:
    """Return the peak memory of a full build in MiB: of its largest process."""
    shutil.rmtree(project / "build", ignore_errors=True)
    code = (
        "import resource, subprocess, sys\n"
        "subprocess.run(sys.argv[1:], check=True, capture_output=True)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)\n"
    )
    command = [sys.executable, "-c", code, sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), f"project={project}"]
    return int(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)


def _fit(project: Path) -> None:
    """Ask ``fit`` about six characters of 300 frames each: those of the demo, shifted and mirrored."""
    shutil.copytree(ROOT / "demo_project", project, ignore=shutil.ignore_patterns("build", "make", "veillee", "diver"))
    for folder in sorted((project / "art/couriers").glob("*/")):
        frames = sorted(folder.glob("*.png"))
        for rank in range(300 - len(frames)):
            with Image.open(frames[rank % len(frames)]) as opened:
                picture = opened.convert("RGBA")
            picture = ImageChops.offset(picture, rank // len(frames), 0)
            picture = picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT) if rank % 2 else picture
            picture.save(folder / f"z_{rank:03}.png")
    # No cartridge holds it as it is, so the build is taken as far as that shows.
    full = _timed(lambda: _doit(project, "sprite", "background", "sound", "memory"), repeats=1)
    fit = _timed(lambda: _doit(project, "fit"), repeats=1)
    _say("fit on six characters of 300 frames, in pieces / full build", fit, full)


def _bare_graph(folder: Path, project: Path) -> Times:
    """Time doit alone with nothing to do, on as many tasks with the same files."""
    folder.mkdir()
    script = (
        "import json, sys\nsys.path.insert(0, {root!r})\nSTEPS = json.load(open('steps.json'))\n"
        "DOIT_CONFIG = {{'backend': 'sqlite3', 'dep_file': 'bare.sqlite3', 'verbosity': 0}}\n"
        "def task_all():\n    for name, reads, writes in STEPS:\n"
        "        yield {{'name': name, 'actions': [(lambda: None,)], 'file_dep': reads, 'targets': writes}}\n"
    )
    (folder / "dodo.py").write_text(script.format(root=str(ROOT)))
    sys.path.insert(0, str(ROOT))
    from pipeline.graph.plan import plan_project
    from pipeline.project.loading.load import load_project

    steps = plan_project(load_project(project)).steps
    listed = [(s.name.replace(":", "_"), [str(p) for p in s.reads], [str(p) for p in s.writes]) for s in steps if s.call and not s.always]
    (folder / "steps.json").write_text(json.dumps(listed))
    command = [sys.executable, "-m", "doit", "-f", str(folder / "dodo.py")]

    def build() -> None:
        subprocess.run(command, cwd=folder, check=True, capture_output=True)

    build()
    return _timed(build)


def _library_calls(project: Path) -> None:
    """What no build of the demo can do without: decode and resize every picture, write the image and the proofs' PNGs."""
    code = (
        "import sys, pathlib, numpy as np\nfrom PIL import Image\n"
        "root = pathlib.Path(sys.argv[1])\n"
        "for path in sorted(root.glob('art/**/*.png')):\n"
        "    picture = Image.open(path).convert('RGBA')\n"
        "    if 'couriers' in path.parts: picture = picture.resize((93, 124), Image.Resampling.LANCZOS)\n"
        "    np.asarray(picture)\n"
        "for path in sorted(root.glob('build/proofs/*.png')):\n"
        "    Image.open(path).convert('RGB').save(sys.argv[2])\n"
        "pathlib.Path(sys.argv[2]).write_bytes((root / 'build/rom/hrel.rom').read_bytes())\n"
    )
    with tempfile.NamedTemporaryFile(suffix=".png") as out:
        subprocess.run([sys.executable, "-c", code, str(project), out.name], check=True)


def _padding(project: Path) -> None:
    found = json.loads((project / "build/map.json").read_bytes())
    entries = found["entries"]
    stored = sum(entry["bytes"] for entry in entries)
    lost = found["image"]["used"] - stored - 256 - 32 * len(entries)
    print(f"bytes lost between assets / bytes of assets: {lost} / {stored} = {lost / stored:.5f}")
    sheet = sum(128 * 160 * 56 for entry in entries if entry["kind"] == "sprite")
    sprites = sum(entry["bytes"] for entry in entries if entry["kind"] == "sprite")
    print(f"bytes of all sprites / plain full-size sheets: {sprites} / {sheet} = {sprites / sheet:.3f}")
    opaque = 0
    for path in (project / "build/work").glob("*.rgba"):
        if read_frames(path.with_suffix(".frames.json")).count > 1:
            opaque += int(np.count_nonzero(np.fromfile(path, dtype=np.uint8).reshape(-1, 4)[:, 3]))
    print(f"bytes of all sprites / their opaque pixels: {sprites} / {opaque} = {sprites / opaque:.2f}")


def _say(what: str, upper: Times, lower: Times) -> None:
    ratios = (f"{above:.2f} s / {below:.2f} s = {above / below:.2f}" for above, below in zip(upper, lower, strict=True))
    print(f"{what}: {', by the clock '.join(ratios)}")


if __name__ == "__main__":
    main()
