"""The small projects, each built once in a run; and this folder's helpers importable, however pytest was started."""

import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parents[1]):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

from small_project import Built, make_bare, make_full, make_noted, make_tiny  # noqa: E402

from tests.once import once  # noqa: E402


@pytest.fixture(scope="session")
def full(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Three couriers (two in pieces, one as a sheet), two harbours, the notice."""
    return once("full", lambda: make_full(tmp_path_factory.mktemp("full")))


@pytest.fixture(scope="session")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """One courier in pieces that does not move, and nothing else."""
    return once("bare", lambda: make_bare(tmp_path_factory.mktemp("bare")))


@pytest.fixture(scope="session")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """One courier as a sheet, a harbour smaller than the screen, the notice; 160 KiB."""
    return once("tiny", lambda: make_tiny(tmp_path_factory.mktemp("tiny"), "sheet"))


@pytest.fixture(scope="session")
def tiny_pieced(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The same with the courier in pieces."""
    return once("tiny_pieced", lambda: make_tiny(tmp_path_factory.mktemp("tiny_pieced"), "pieces"))


@pytest.fixture(scope="session")
def noted(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """One courier in pieces with notes on its frames, a harbour smaller than the screen, the notice."""
    return once("noted", lambda: make_noted(tmp_path_factory.mktemp("noted")))


@pytest.fixture(params=["tiny", "tiny_pieced"])
def either(request: pytest.FixtureRequest) -> Built:
    """Both of these, one after the other."""
    return request.getfixturevalue(request.param)
