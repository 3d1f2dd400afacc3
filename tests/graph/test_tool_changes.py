"""The tool's own code and templates are dependencies: editing them rebuilds what they can have changed, and nothing else."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import some
from tests.graph.builds import ROOT, make_project, outputs


@pytest.fixture(scope="module")
def tool(tmp_path_factory) -> Path:
    """A copy of the tool that may be edited, and a project built with it."""
    folder = tmp_path_factory.mktemp("tool")
    for name in ("pipeline", "templates"):
        shutil.copytree(ROOT / name, folder / name)  # with what Python has compiled, which is of no use once a module has changed
    shutil.copy(ROOT / "dodo.py", folder)
    make_project(folder / "project")
    _build(folder)
    return folder


def _build(folder: Path) -> set[str]:
    record = folder / "project/build/.state/reasons.json"
    record.unlink(missing_ok=True)
    command = [sys.executable, "-m", "doit", "-f", str(folder / "dodo.py"), f"project={folder / 'project'}"]
    # The clone's own package must be found, not one that happens to be installed.
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    return set(json.loads(record.read_text())) if record.exists() else set()


# Advice measures with the code that converts.
CHANGES = {
    "pipeline/release/notes.py": {"notes"},
    "pipeline/rom/include.py": {"include"},
    "pipeline/assets/backgrounds/background.py": {"background:hill", "advice"},
    # A background's sample is scaled as the background is; a sprite's only opens its source.
    "pipeline/pixels/scaling/scale.py": {"advice", "prepare:one", "prepare:two", "prepare:hill", "sample:hill"},
    "templates/notes.txt.j2": {"notes"},
    "templates/packet.en.toml": {"packet", "author", "page", "letters", "notes"},
    "templates/packet.de.toml": set(),  # the project is in English
    "pipeline/graph/progress.py": set(),
}


@pytest.mark.parametrize("name", some(CHANGES, 2))
def test_edited_code_rebuilds_the_steps_that_can_reach_it(name, tool):
    """A comment added to a module runs the steps that import it; what they make is the same, so nothing follows."""
    before = outputs(tool / "project")
    path = tool / name
    mark = "\n{# a remark #}" if name.endswith(".j2") else "\n# a remark\n"
    path.write_text(path.read_text(encoding="utf-8") + mark, encoding="utf-8")

    assert _build(tool) == CHANGES[name]
    assert outputs(tool / "project") == before
