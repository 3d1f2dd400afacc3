"""What is fetched too fast is refused with its own words: the table at fault, its line, the figures, and what to change."""

from __future__ import annotations

from pipeline.graph.places import with_lines
from pipeline.memory.budget import over_memory
from pipeline.memory.refused import too_fast
from pipeline.project.file import Choice, Scene, SceneWindow, Streamed
from pipeline.target.records import Transfer
from tests.memory.test_streaming import COURIERS, background, counted
from tests.memory.test_windows import pixel_format

FORMATS = {"formats": {"quay": pixel_format()}}


def test_a_window_that_is_too_fast_is_named_with_its_table_and_what_to_change(tmp_path):
    """8 columns of 32 rows in 64 transfers of 1: 320 of 300; a courier beside it brings 101 more."""
    choose = [Choice(count=1, of=list(COURIERS))]
    scene = Scene(always=["quay"], choose=choose, window={"quay": SceneWindow(speed=(8, 0))}, streamed={"pell": Streamed()})
    budget = counted(scene, COURIERS, background(), transfer=Transfer(blank=300, start=1), **FORMATS)
    (problem,) = too_fast(budget)
    assert str(problem) == (
        "project.toml, [scene.play.window]: its worst picture fetches 422 bytes of a blank with pell, the console carries 300: the window "
        "over quay brings 256 bytes in 64 transfers, which count as 320; a frame of pell brings 100 bytes in 2 transfers, which "
        "count as 102\n    give the window over quay a lower speed, store the background as tiles, or hold it whole"
    )
    assert over_memory(budget) is None
    (tmp_path / "project.toml").write_text("[scene.play]\nalways = []\n\n[scene.play.window]\nquay = { speed = [8, 0] }\n")
    assert with_lines(str(problem), tmp_path).startswith("project.toml, line 4, [scene.play.window]: its worst picture")


def test_a_frame_that_is_too_large_is_named_with_its_table():
    """Isk's frame is 120 bytes; the console carries 110, and nothing is said of transfers that cost nothing."""
    scene = Scene(always=["isk"], streamed={"isk": Streamed()})
    (problem,) = too_fast(counted(scene, COURIERS, transfer=Transfer(blank=110, start=0)))
    assert (problem.place, problem.wrong.partition(": ")[2]) == (
        "[scene.play.streamed]", "a frame of isk brings 120 bytes in 1 transfer",
    )  # fmt: skip
    assert "within" in problem.remedy


def test_a_margin_is_proposed_where_it_helps():
    """On a console that states both, what comes ahead is not judged in the blank."""
    scene = Scene(always=["quay"], window={"quay": SceneWindow(speed=(8, 0))})
    (problem,) = too_fast(counted(scene, {}, background(), transfer=Transfer(blank=100, picture=999, start=0), **FORMATS))
    assert "a margin of at least its speed" in problem.remedy
    scene = Scene(always=["quay"], window={"quay": SceneWindow(speed=(8, 0), margin=8)})
    assert too_fast(counted(scene, {}, background(), transfer=Transfer(blank=100, picture=999, start=0), **FORMATS)) == []


def test_a_scene_that_does_not_fit_either_is_reported_for_both():
    """Too little memory is said apart from what is fetched, which that message leaves out."""
    scene = Scene(always=["isk"], streamed={"isk": Streamed()})
    budget = counted(scene, COURIERS, transfer=Transfer(blank=110), memory=100)
    assert len(too_fast(budget)) == 1
    assert over_memory(budget) == "play needs 250 bytes at worst, 150 bytes OVER"
