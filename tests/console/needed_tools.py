"""What to do when a tool that some tests need is not there: skip and say so, or fail where it is required."""

from __future__ import annotations

import importlib.util
import os

import pytest


def missing(what: str) -> None:
    """Skip with a reason, or fail when ROMWRIGHT_REQUIRE_TOOLS=1."""
    if os.environ.get("ROMWRIGHT_REQUIRE_TOOLS") == "1":
        pytest.fail(f"{what}, and ROMWRIGHT_REQUIRE_TOOLS=1", pytrace=False)
    pytest.skip(what, allow_module_level=True)


def need_library(name: str) -> None:
    """Skip the calling module, or fail it, when a library is not installed."""
    if importlib.util.find_spec(name) is None:
        missing(f"the library {name} is not installed")
