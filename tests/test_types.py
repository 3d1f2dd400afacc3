"""The types that the code declares agree with each other, as a type checker sees them (pyright's basic mode, as basedpyright runs it)."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from tests.conftest import need_library

need_library("basedpyright")

ROOT = Path(__file__).parent.parent
# Rooms of pipeline/ in which the checker still finds something; take one out when it is clean.
NOT_YET_CLEAN = ("assets", "codec", "pixels", "proofs", "sound")
_SECONDS = 300  # it takes about 30 on one core


def test_types_agree():
    """The checker looks at every module and finds no error outside the rooms named above; what it checks is set in pyproject.toml."""
    asked = [sys.executable, "-m", "basedpyright", "--outputjson", "--level", "error", "--pythonpath", sys.executable]
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, timeout=_SECONDS)
    assert done.returncode in (0, 1), done.stdout + done.stderr  # 1: it found something; more: it could not check
    found = json.loads(done.stdout)
    assert found["summary"]["filesAnalyzed"] >= len(list((ROOT / "pipeline").rglob("*.py")))
    assert [line for one in found["generalDiagnostics"] if (line := _line(one))] == []


def _line(one: dict) -> str:
    """Return place and text of what was found; nothing in a room that is not clean yet."""
    path = Path(one["file"]).relative_to(ROOT)
    room = path.parts[1] if path.parts[0] == "pipeline" else ""
    return "" if room in NOT_YET_CLEAN else f"{path}:{one['range']['start']['line'] + 1}: {one['message']}"
