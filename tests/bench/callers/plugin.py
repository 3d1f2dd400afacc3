"""The part of a recording that runs in pytest: it says in the environment which test runs and whether it is being set up."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sitecustomize  # that of ``start``


def _now(item: pytest.Item, part: str) -> None:
    sitecustomize.write_down()
    os.environ[sitecustomize.TEST] = f"{part}\t{item.nodeid}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item: pytest.Item) -> Iterator[None]:
    """What is set up counts for the file, whose tests share it."""
    _now(item, "setup")
    return (yield)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """Write down how long a test takes, too."""
    _now(item, "call")
    start = time.perf_counter()
    try:
        return (yield)
    finally:
        sitecustomize.write_down()
        line = json.dumps([item.nodeid, round(time.perf_counter() - start, 3)])
        with Path(os.environ[sitecustomize.FOLDER], f"{os.getpid()}.seconds").open("a", encoding="utf-8") as file:
            file.write(line + "\n")
