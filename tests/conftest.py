"""What several test files share: how much they try, and what to do when an outside program or library of a check is not there.

With ``ROMWRIGHT_TESTS=long``, as in ``.ci/run``, random and exhaustive checks try more cases; each of them tries some without it. With
``longest``, spoilt images are tried by the hundred thousand, which takes too long for every change.
"""

from __future__ import annotations

import gc
import importlib.util
import os
import shutil
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from tests.warm import SHARED, remember_numbers

LONGEST = os.environ.get("ROMWRIGHT_TESTS") == "longest"
LONG = LONGEST or os.environ.get("ROMWRIGHT_TESTS") == "long"
_MEMORY, _ROOM = Path("/dev/shm"), 4 << 30  # where tests' files are kept if that many bytes are free: tens of thousands of small ones


def _fits_in_memory() -> bool:
    """Whether tests' files can be kept in memory; some of them are programs that are run."""
    if os.environ.keys() & {"TMPDIR", "PYTEST_DEBUG_TEMPROOT"} or not os.access(_MEMORY, os.W_OK):
        return False
    return not os.statvfs(_MEMORY).f_flag & os.ST_NOEXEC and shutil.disk_usage(_MEMORY).free > _ROOM


def _keep_compiled() -> None:
    """Let this process and those that tests start keep what Python compiles, or compiling the tool again is half of each of its starts.

    Not where somebody changes the tool's code between two runs, faster than the times of files show.
    """
    if os.environ.get("ROMWRIGHT_BYTECODE") != "no":
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        sys.dont_write_bytecode = False


_keep_compiled()
if _fits_in_memory():
    os.environ["PYTEST_DEBUG_TEMPROOT"] = str(_MEMORY)
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # workers use all cores already
_UNTIMED = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}  # on a busy machine all is slow
settings.register_profile("short", max_examples=20, **_UNTIMED)
settings.register_profile("long", max_examples=100, **_UNTIMED)
settings.load_profile("long" if LONG else "short")
remember_numbers()


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder that workers share, before they start; not where it is recorded which tests call what, as each then makes its own."""
    if not hasattr(config, "workerinput") and "ROMWRIGHT_CALLS" not in os.environ:
        os.environ[SHARED] = tempfile.mkdtemp(prefix="romwright-tests-", dir=os.environ.get("PYTEST_DEBUG_TEMPROOT"))


def pytest_unconfigure(config: pytest.Config) -> None:
    """Remove that folder."""
    if not hasattr(config, "workerinput") and SHARED in os.environ:
        shutil.rmtree(os.environ.pop(SHARED), ignore_errors=True)


# What forks itself, and so is quick only while a worker is small.
_FORKING = ("test_forms.py", "test_rendering.py", "test_fuzzing.py")
# Rooms of long tests, those of the longest first: a worker that begins them last would be alone at the end.
_LONG_ROOMS = ("graph", "packet", "console", "rom", "assets", "pixels", "reading", "proofs")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Let workers begin with what forks and with the rooms of long tests; within a room, and without workers, tests stay as they are."""
    if hasattr(config, "workerinput"):
        ranks = {name: rank for rank, name in enumerate(_LONG_ROOMS)}
        items.sort(key=lambda item: (item.path.name not in _FORKING, ranks.get(item.path.parent.name, len(ranks))))


def pytest_collection_finish() -> None:
    """Let collections of garbage pass over what all tests have imported, which was a tenth of their time."""
    gc.collect()
    gc.freeze()


def tries(few: int, many: int, most: int = 0) -> int:
    """Return how often a check tries: a few times, many with ``ROMWRIGHT_TESTS=long``, and where it says so most with ``longest``."""
    return most if most and LONGEST else many if LONG else few


def some(cases: Iterable[Any], few: int) -> list[Any]:
    """Return all cases of a check with ``ROMWRIGHT_TESTS=long``, else ``few`` of them, spread over all, the first included."""
    cases = list(cases)
    return cases if LONG or len(cases) <= few else [cases[rank * len(cases) // few] for rank in range(few)]


def only_long() -> None:
    """Skip a check that takes long, unless with ``ROMWRIGHT_TESTS=long``."""
    if not LONG:
        pytest.skip("it takes long; run it with ROMWRIGHT_TESTS=long, as CI does")


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
