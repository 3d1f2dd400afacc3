"""Plugin of pytest that runs a list of tests in the order of their files in it, the list being in a file named by ``ROMWRIGHT_CHOSEN``."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Keep the chosen tests; a file's tests stay together, as they share what they build."""
    listed = Path(os.environ["ROMWRIGHT_CHOSEN"]).read_text(encoding="utf-8").split("\0")
    files = list(dict.fromkeys(name.partition("::")[0] for name in listed))
    ranks, chosen = {name: rank for rank, name in enumerate(files)}, set(listed)
    kept = [item for item in items if item.nodeid in chosen or item.nodeid.partition("::")[0] in chosen]
    items[:] = sorted(kept, key=lambda item: ranks[item.nodeid.partition("::")[0]])
