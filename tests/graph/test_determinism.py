"""Same in, same out: other folder, time zone, language, hash seed, number of workers, time."""

from __future__ import annotations

import shutil

import pytest

from tests.conftest import LONG
from tests.graph.builds import build, make_project, outputs

PLACE = {"TZ": "Pacific/Auckland", "LC_ALL": "C", "LANG": "C"}
ORDER = {"PYTHONHASHSEED": "4711"}
WORKERS = {"words": ("-n", "2")}
DATE = {"SOURCE_DATE_EPOCH": "86400"}
CASES = {"all of them": PLACE | DATE | ORDER | WORKERS}
if LONG:
    CASES = {"time zone and language": PLACE, "hash seed": ORDER, "two workers": WORKERS, "start date": DATE}


@pytest.fixture(scope="module")
def reference(tmp_path_factory):
    """A built project and its outputs."""
    project = make_project(tmp_path_factory.mktemp("reference") / "project")
    build(project, PYTHONHASHSEED="0", TZ="UTC")
    return project, outputs(project)


@pytest.mark.parametrize("name", CASES)
def test_build_elsewhere_gives_the_same_bytes(name, reference, tmp_path):
    """A clean build in another folder and another environment leaves the same files with the same bytes."""
    project, expected = reference
    copy = tmp_path / "an other folder"
    shutil.copytree(project, copy, ignore=shutil.ignore_patterns("build"))
    case = dict(CASES[name])
    build(copy, *case.pop("words", ()), real=True, **case)

    assert outputs(copy) == expected


def test_no_output_names_the_folder_it_was_made_in(reference):
    """No file that a build leaves holds the path of the project or of a home folder."""
    project, _ = reference
    for path in (project / "build").rglob("*"):
        if path.is_file() and ".state" not in path.parts:
            assert str(project).encode() not in path.read_bytes(), path
