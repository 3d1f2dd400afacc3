"""What several test files share: what to do when an outside program or library that a check needs is not there."""

from __future__ import annotations

import importlib.util
import os
import shutil

import pytest


def missing(reason: str) -> None:
    """Skip with a reason, or fail when ROMWRIGHT_REQUIRE_TOOLS=1."""
    if os.environ.get("ROMWRIGHT_REQUIRE_TOOLS") == "1":
        pytest.fail(f"{reason}, and ROMWRIGHT_REQUIRE_TOOLS=1", pytrace=False)
    pytest.skip(reason, allow_module_level=True)


def need_tool(name: str) -> str:
    """Return the path of an outside program; without it the test is skipped, or fails where tools are required."""
    path = shutil.which(name)
    if path is None:
        missing(f"the program {name} is not installed")
    return path


def need_library(name: str) -> None:
    """Skip the calling module, or fail it, when a library is not installed."""
    if importlib.util.find_spec(name) is None:
        missing(f"the library {name} is not installed")
