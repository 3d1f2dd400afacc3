"""What the plan of memory for load lists depends on: what says how large things are and where they may be, and nothing else. No source."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.graph.freshness.settings import flatten
from pipeline.graph.plan import plan_project
from pipeline.project.loading.load import load_project
from tests.makers import make_project

SCENE = """
[lists.load]
scenes = ["race"]
[scene.race]
always = ["figures"]
[scene.race.streamed]
ada = { buffers = 2 }
[[scene.race.choose]]
count = 1
of = ["ada", "level"]
[scene.shop]
always = ["quay"]
"""


def _plan(folder: Path, old: str = "", new: str = "") -> tuple:
    """Return what the step depends on: its settings, and the files it reads."""
    make_project(folder, more=SCENE.replace(old, new) if old else SCENE)
    (step,) = (one for one in plan_project(load_project(folder)).steps if one.name == "addresses")
    reads = sorted(str(path.relative_to(folder)) for path in step.reads if path.is_relative_to(folder))
    return flatten(step.arguments, folder), reads


@pytest.fixture(scope="module")
def usual(tmp_path_factory) -> tuple:
    """Of the scene as it is."""
    return _plan(tmp_path_factory.mktemp("usual") / "ferry")


OTHER = [
    ("ada = { buffers = 2 }", "ada = { buffers = 2, within = 4 }"),
    ("[scene.shop]", '[scene.shop]\nwindow = { quay = { speed = [1, 0] } }'),
    ("count = 1\n", 'count = 1\nrepeat = true\n'),
]


@pytest.mark.parametrize(("old", "new"), OTHER)
def test_what_a_plan_does_not_look_at_changes_nothing(usual, tmp_path, old, new):
    """How long a fetch takes, scenes without a list, a default that is written out."""
    assert _plan(tmp_path / "ferry", old, new) == usual


@pytest.mark.parametrize(("old", "new"), [("buffers = 2", "buffers = 3"), ("ada = { buffers = 2 }", 'ada = { role = "hero" }')])
def test_what_decides_the_size_of_buffers_counts(usual, tmp_path, old, new):
    """How many buffers there are, and whose they are."""
    assert _plan(tmp_path / "ferry", old, new) != usual


def test_frames_are_read_where_they_are_streamed(usual, tmp_path):
    """What was measured of a streamed sprite is read, and of no other."""
    assert "build/work/ada.fetched.json" in usual[1]
    assert not any("fetched" in one for one in _plan(tmp_path / "ferry", "ada = { buffers = 2 }", "")[1])
