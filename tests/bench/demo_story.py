"""What the demo needs at four settings of its couriers: the table in demo_project/README.md. Run: ``python -m tests.bench.demo_story``."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
_SETTINGS = (("sheet", "1.0"), ("sheet", "0.77"), ("pieces", "0.77"), ("pieces", "1.0"))


def main() -> None:
    """Build a copy of the demo at each setting and print a line of the table."""
    print("| arrangement | scale | bytes of a courier | worst race | free | assets in the image |\n|---|---|---|---|---|---|")
    for arrangement, scale in _SETTINGS:
        with tempfile.TemporaryDirectory() as scratch:
            project = Path(scratch) / "project"
            shutil.copytree(ROOT / "demo_project", project, ignore=shutil.ignore_patterns("build", "make"))
            _set(project / "project.toml", arrangement, scale)
            _print_line(project, arrangement, scale)


def _set(file: Path, arrangement: str, scale: str) -> None:
    text = file.read_text(encoding="utf-8")
    cartridge = ("cartridge = .*", "")
    changes = (('arrangement = "pieces"', f'arrangement = "{arrangement}"'), ("scale = 0.77 .*", f"scale = {scale}"), cartridge)
    for pattern, wanted in changes:
        text, found = re.subn(f"(?m)^{pattern}$", wanted, text)
        assert found == 1, f"{pattern} stands {found} times in the demo's project file"
    file.write_text(text, encoding="utf-8")


def _print_line(project: Path, arrangement: str, scale: str) -> None:
    command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), f"project={project}", "memory"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert (project / "build/budget.json").exists(), done.stdout + done.stderr
    race = json.loads((project / "build/budget.json").read_bytes())["scenes"]["race"]
    facts = [json.loads(path.read_bytes()) for path in (project / "build/blobs").glob("*.json")]
    couriers = sorted(one["bytes"] for one in facts if one["kind"] == "sprite")
    spread = f"{couriers[0]:,}" if couriers[0] == couriers[-1] else f"{couriers[0]:,} to {couriers[-1]:,}"
    stored = sum(one["bytes"] for one in facts)
    print(f"| {arrangement} | {scale} | {spread} | {race['bytes']:,} | {race['margin']:,} | {stored:,} |", flush=True)


if __name__ == "__main__":
    main()
