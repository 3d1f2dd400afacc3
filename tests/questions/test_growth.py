"""The log of builds: what it keeps, what it says grew, and the chart."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree

import pytest

from pipeline.graph.growth_log import note_build, read_log
from pipeline.joints.budget import Budget
from pipeline.joints.map import MappedImage
from pipeline.plain.rendering import find_template
from pipeline.questions.growth import show_growth
from pipeline.report.growth_chart import _panel
from tests.graph.builds import build, make_project, outputs, run
from tests.makers import as_budget, as_map, budget_json, map_json


def numbers(code: str, used: int, race: int) -> tuple[MappedImage, Budget]:
    """Return what the log looks at of a map and a budget."""
    return as_map(map_json(build_code=code, used=used, bytes=4096)).image, as_budget(budget_json({"race": {"bytes": race}}, memory=2048))


def test_log_tells_what_grew_and_keeps_each_build_once(tmp_path):
    """1,024 bytes more are reported, fewer are not, and the same build again adds nothing."""
    log = tmp_path / "growth.json"
    assert note_build(log, *numbers("AAA", 3000, 512), "0.1.0") == []
    assert note_build(log, *numbers("BBB", 3100, 1536), "0.1.0") == ["race grew by 1 KiB at worst since build AAA"]
    assert note_build(log, *numbers("BBB", 3100, 1536), "0.1.0") == []
    assert note_build(log, *numbers("CCC", 3000, 1000), "0.2.0") == []
    assert [one["build_code"] for one in read_log(log)] == ["AAA", "BBB", "CCC"]
    log.write_text("{damaged")
    assert note_build(log, *numbers("DDD", 1, 1), "0.2.0") == []
    assert len(read_log(log)) == 1


def test_chart_has_every_build_and_says_what_is_over(tmp_path):
    """Two panels of three dots each; the scene of 3,000 bytes in 2,048 is said to be over."""
    log = tmp_path / "growth.json"
    assert show_growth(log, find_template(tmp_path, "growth.svg.j2"), tmp_path / "growth.svg") == "Nothing is known yet: build first."
    for code, race in (("AAA", 500), ("BBB", 1000), ("CCC", 3000)):
        note_build(log, *numbers(code, 2000, race), "0.1.0")
    said = show_growth(log, find_template(tmp_path, "growth.svg.j2"), tmp_path / "growth.svg")
    assert "3 builds" in said
    svg = ElementTree.parse(tmp_path / "growth.svg").getroot()
    name = "{http://www.w3.org/2000/svg}"
    assert len(svg.findall(f".//{name}circle")) == 6
    assert [text.text for text in svg.findall(f".//{name}text") if "over" in text.text] == ["Memory, race at worst: 2.9 KiB of 2 KiB, over"]


def test_scene_that_a_build_did_not_have_is_not_shown_as_nothing(tmp_path):
    """A dash represents it in the table, as a gap does in the chart."""
    log = tmp_path / "growth.json"
    note_build(log, *numbers("AAA", 2000, 500), "0.1.0")
    assert "1 build;" in show_growth(log, find_template(tmp_path, "growth.svg.j2"), tmp_path / "growth.svg")
    image, _ = numbers("BBB", 2000, 500)
    budget = as_budget(budget_json({"race": {"bytes": 500}, "end": {"bytes": 70}}, memory=2048))
    note_build(log, image, budget, "0.1.0")
    lines = show_growth(log, find_template(tmp_path, "growth.svg.j2"), tmp_path / "growth.svg").splitlines()
    assert [line.split()[-2:] for line in lines[1:3]] == [["500", "-"], ["500", "70"]]


def test_build_that_makes_a_scene_larger_says_so_and_the_log_is_no_output(tmp_path):
    """The log differs from that of a clean build; everything else is the same."""
    project = make_project(tmp_path / "small")
    build(project)
    text = (project / "project.toml").read_text(encoding="utf-8")
    (project / "project.toml").write_text(text.replace("scale = 0.77", "scale = 2.0"), encoding="utf-8")
    done = run(project)
    assert "Memory  play grew by " in done.stdout
    assert len(json.loads((project / "build/.state/growth.json").read_bytes())) == 2
    assert not any("growth" in name for name in outputs(project))


def test_points_are_where_their_values_are():
    """A panel is 150 pixels high and ends 8 % above the largest value, a limit among them; by hand."""
    panel = _panel("Image", [50, 108, None], [100, 100, 216], 1)
    top = panel["top"]
    highest = 216 * 1.08
    down = {value: pytest.approx(top + 150 * (1 - value / highest), abs=0.051) for value in (50, 100, 108, 216)}
    assert panel["limit"] == [(96, down[100]), (486, down[100]), (876, down[216])]
    assert panel["dots"] == [(96, down[50]), (486, down[108])]
    assert (panel["bottom"] - top, panel["over"], panel["title"]) == (150, False, "Image: 108 bytes of 216 bytes")
