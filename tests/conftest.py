"""What several test files share: finding an outside program that a check needs."""

from __future__ import annotations

import os
import shutil

import pytest


def need_tool(name: str) -> str:
    """Return the path of an outside program; without it the test is skipped, or fails when ROMWRIGHT_REQUIRE_TOOLS=1."""
    path = shutil.which(name)
    if path:
        return path
    reason = f"the program {name} is not installed"
    if os.environ.get("ROMWRIGHT_REQUIRE_TOOLS") == "1":
        pytest.fail(reason)
    pytest.skip(reason)
