"""How long builds of the demo take beside what they cannot avoid. Run: ``python -m tests.bench.build_times``.

Each line is a ratio of two times taken in this run on this machine, of processors and then by the clock; the times themselves mean
little elsewhere.
"""

from __future__ import annotations

import json
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from PIL import Image

from pipeline.assets.sources.prepared import read_frames
from pipeline.graph.freshness.unchanged import RECORD

ROOT = Path(__file__).parent.parent.parent
_REPEATS = 5


class Times(NamedTuple):
    """Seconds: of processors, and by the clock."""

    processors: float
    clock: float


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        project = Path(scratch) / "project"
        shutil.copytree(ROOT / "demo_project", project, ignore=shutil.ignore_patterns("build", "make"))
        full = _timed(lambda: _doit(project), before=lambda: shutil.rmtree(project / "build", ignore_errors=True), repeats=3)
        parallel = _timed(lambda: _doit(project, "-n", "2"), before=lambda: shutil.rmtree(project / "build", ignore_errors=True), repeats=3)
        _doit(project)
        nothing = _timed(lambda: _doit(project))
        checked = _timed(lambda: _doit(project), before=(project / "build/.state" / RECORD).unlink)
        changed = _timed(lambda: _doit(project), before=lambda: _touch_pixel(project), repeats=3)
        bare = _bare_graph(Path(scratch) / "bare", project)
        unavoidable = _timed(lambda: _library_calls(project), repeats=3)
        _say("build with nothing to do / bare doit graph of the same steps and files", nothing, bare)
        _say("the same without the answer of the build before", checked, bare)
        _say("one changed frame / full build", changed, full)
        _say("two workers / one", parallel, full)
        _say("full build / bare library calls (decode, resize, write PNG and image)", full, unavoidable)
        _padding(project)


def _doit(project: Path, *words: str) -> None:
    command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, f"project={project}"]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)


def _timed(action: Callable[[], None], before: Callable[[], None] = lambda: None, repeats: int = _REPEATS) -> Times:
    """Return the median times of an action that starts processes."""
    taken = []
    for _ in range(repeats):
        before()
        start, used = time.perf_counter(), _processors()
        action()
        taken.append((_processors() - used, time.perf_counter() - start))
    return Times(*(statistics.median(one) for one in zip(*taken, strict=True)))


def _processors() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _touch_pixel(project: Path) -> None:
    path = project / "art/couriers/pell/walk_03.png"
    with Image.open(path) as picture:
        changed = picture.convert("RGBA")
    x = int(time.time() * 1000) % 40
    changed.putpixel((40 + x, 80), (200, 40, 40, 255))
    changed.save(path)


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
