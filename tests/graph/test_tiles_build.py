"""A whole build with backgrounds of tiles and layers, as an author runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.assets.test_tiled import draw
from tests.graph.builds import build, clean_outputs, for_target, make_project, outputs, run
from tests.graph.looks import looks_of
from tests.recorded import differing

TILES = """arrangement = "tiles"
pan = [2, 0]
"""
FAR = """
[background.far]
file = "art/far.png"
palette = "far_colours"
arrangement = "tiles"
tiles_at_most = 6
merge = true
[palette.far_colours]
lines = 2
first = 32
transparent = true
"""


@pytest.fixture(scope="module")
def project(tmp_path_factory) -> Path:
    """A project for a tile console: two layers of tiles, one merged and on lines; built once."""
    folder = for_target(make_project(tmp_path_factory.mktemp("tiles") / "project"), "lattice16")
    draw(folder / "art/far.png")
    path = folder / "project.toml"
    text = path.read_text().replace('palette = "hill_colours"\n', 'palette = "hill_colours"\n' + TILES)
    scene = 'always = ["one", "far", "far_colours", '
    text = text.replace('always = ["one", ', scene) + 'layers = [{ background = "far", factor = 0.5 }, { background = "hill" }]\n'
    path.write_text(text + FAR)
    build(folder)
    return folder


def test_build_looks_as_it_was_looked_at(project):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing("build with tiles", looks_of(project)) == set()


def test_kit_and_report_are_made(project):
    """The image is verified, the kit is made, and the page shows both forms of each background and of the layers."""
    verified = json.loads((project / "build/work/verified.json").read_bytes())
    assert verified["faults"] == []
    assert list((project / "build/kit").glob("*.zip"))
    page = (project / "build/report.html").read_text()
    assert page.count('<table class="forms">') == 3
    assert "merged into them" in page
    assert "far × 0.5, tiles (stored)" in page
    scene = json.loads((project / "build/backgrounds.json").read_bytes())["scenes"]["play"]
    assert [layer["background"] for layer in scene["layers"]] == ["far", "hill"]


def test_nothing_to_do_and_clean_builds_agree(project, tmp_path):
    """A second build runs nothing; changes of settings run what looks at them; all equals a clean build."""
    assert build(project) == []
    path, image = project / "project.toml", (project / "build/rom/small.rom").read_bytes()
    path.write_text(path.read_text().replace("pan = [2, 0]", "pan = [3, 1]"))
    ran = set(build(project))
    assert {"background:hill", "backgrounds", "report"} <= ran
    assert not ran & {"prepare:hill", "palette:hill_colours", "background:far", "palette:far_colours", "packet"}
    assert (project / "build/rom/small.rom").read_bytes() == image
    path.write_text(path.read_text().replace("factor = 0.5", "factor = 0.25"))
    assert set(build(project)) == {"backgrounds", "report"}
    path.write_text(path.read_text().replace("tiles_at_most = 6", "tiles_at_most = 5"))
    ran = set(build(project))
    assert {"background:far", "image", "verify", "proof:far"} <= ran
    assert not ran & {"prepare:far", "palette:far_colours", "background:hill"}
    assert outputs(project) == clean_outputs(project, tmp_path)


def test_budget_without_merging_stops_the_build_in_words(project):
    """Too many tiles end the build with the number, the background's table and a remedy."""
    path = project / "project.toml"
    kept = path.read_text()
    path.write_text(kept.replace("merge = true", "merge = false"))
    done = run(project)
    path.write_text(kept)
    assert done.returncode != 0
    assert "[background.far]" in done.stdout + done.stderr
    assert "distinct tiles" in done.stdout + done.stderr
    assert "set merge = true" in done.stdout + done.stderr
