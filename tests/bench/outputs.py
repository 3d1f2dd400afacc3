"""Every output of nine projects as a list of hashes, to compare after a change that must not change any.

Run ``python -m tests.bench.outputs record FILE`` before the change and ``python -m tests.bench.outputs compare FILE`` after it.
The projects: the demos, what ``start`` writes, one with every kind of asset, one small, and one for each shipped target.
"""

from __future__ import annotations

import argparse
import json
import shutil
import tempfile
from pathlib import Path

from pipeline.questions.start import start_project
from tests.bench.history.opening import TARGETS, opening
from tests.bench.history.world import World
from tests.graph.builds import ROOT, build, make_project, outputs
from tests.graph.everything import make_everything

_OTHERS = ("veillee", "diver")  # demos in the first one's folder


def main() -> None:
    """Read the command line, build, then record or compare; exit with 1 if an output differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.outputs", description=__doc__.partition("\n")[0])
    parser.add_argument("what", choices=("record", "compare"))
    parser.add_argument("file", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        found = {project.name: _outputs(project) for project in make_projects(Path(scratch))}
    counted = f"{sum(map(len, found.values()))} outputs of {len(found)} projects"
    if asked.what == "record":
        asked.file.write_text(json.dumps(found, indent=1))
        print(f"{counted} recorded")
        return
    lines = differences(json.loads(asked.file.read_text()), found)
    print("\n".join(lines) or f"{counted} are the same")
    raise SystemExit(bool(lines))


def make_projects(scratch: Path) -> list[Path]:
    """Write the nine projects into a folder; return theirs, each with a name of its own."""
    for name, source in (("demo", ROOT / "demo_project"), *((name, ROOT / "demo_project" / name) for name in _OTHERS)):
        shutil.copytree(source, scratch / name, ignore=shutil.ignore_patterns("build", *_OTHERS, "__pycache__"))
    start_project(scratch / "started", "started")
    make_everything(scratch / "everything")
    make_project(scratch / "small")
    found = [scratch / name for name in ("demo", *_OTHERS, "started", "everything", "small")]
    for target in TARGETS:
        (scratch / "worlds" / target).mkdir(parents=True)
        world = World(scratch / "worlds" / target, target, *opening(target))
        found.append(world.project.rename(scratch / target))
    return found


def differences(before: dict[str, dict[str, str]], now: dict[str, dict[str, str]]) -> list[str]:
    """Return a line for each output that is gone, new or of other bytes."""
    lines = []
    for project in sorted(before | now):
        old, new = before.get(project, {}), now.get(project, {})
        for name in sorted(old | new):
            if old.get(name) != new.get(name):
                lines.append(f"{project}: {name} " + ("is new" if name not in old else "is gone" if name not in new else "differs"))
    return lines


def _outputs(project: Path) -> dict[str, str]:
    build(project, "commands=yes", real=True)  # with the model of a television, which other builds of tests leave out
    return outputs(project)


if __name__ == "__main__":
    main()
