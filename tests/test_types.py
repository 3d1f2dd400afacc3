"""The types that the code declares agree with each other, as a type checker sees them (pyright's basic mode, as basedpyright runs it)."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from tests.conftest import need_library, only_long

need_library("basedpyright")

ROOT = Path(__file__).parent.parent
_SECONDS = 300  # it takes about 30 on one core


def test_types_agree():
    """The checker looks at every module and finds no error; what it checks is set in pyproject.toml."""
    only_long()
    asked = [sys.executable, "-m", "basedpyright", "--outputjson", "--level", "error", "--pythonpath", sys.executable]
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, timeout=_SECONDS)
    assert done.returncode in (0, 1), done.stdout + done.stderr  # 1: it found something; more: it could not check
    found = json.loads(done.stdout)
    assert found["summary"]["filesAnalyzed"] >= len(list((ROOT / "pipeline").rglob("*.py")))
    assert [_line(one) for one in found["generalDiagnostics"]] == []


def _line(one: dict) -> str:
    """Return place and text of what was found."""
    return f"{Path(one['file']).relative_to(ROOT)}:{one['range']['start']['line'] + 1}: {one['message']}"
