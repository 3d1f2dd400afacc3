"""``doit flashes``: animations from the image and captured play, what does not pass, and what cannot be read."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from pipeline.graph.plan import plan_project
from pipeline.plain.errors import BadAnswer, ProjectError
from pipeline.project.loading.load import load_project
from pipeline.questions.captures import Capture
from pipeline.questions.flashes import show_captured
from tests.makers import make_project, run_steps


def captured(folder: Path, shades: list[int], size: tuple[int, int] = (96, 72), name: str = "shot {}.png") -> Path:
    """Write one picture for each shade, numbered without leading noughts."""
    folder.mkdir()
    for rank, shade in enumerate(shades):
        Image.new("RGB", size, (shade, shade, shade)).save(folder / name.format(rank))
    return folder


def answer(path: Path, rate: str = "", out: Path | None = None) -> str:
    return show_captured(path, rate, 60, out or path.parent / "flashes.png")


FAST = ([0] * 7 + [255] * 7) * 6  # at 60 in a second 4.3 flashes, at 30 half of that


def test_a_folder_is_shown_at_the_screen_s_pace_or_the_one_given(tmp_path):
    """More than three flashes in a second fail (WCAG 2.2); at half the pace they pass. The worst moment is drawn, and goes with it."""
    folder, out = captured(tmp_path / "play", FAST), tmp_path / "flashes.png"
    with pytest.raises(BadAnswer) as caught:
        answer(folder, out=out)
    said = str(caught.value)
    assert "fail  general: 4.5 flashes in one second over 4.0 times the allowed area; at " in said
    assert "1.4 seconds of play: does not pass." in said
    with Image.open(out) as drawn:
        assert drawn.size == (96, 72)
    said = answer(folder, rate="30", out=out)
    assert said.startswith("2.8 seconds of play: passes.\n")
    assert not out.exists()


def test_pictures_are_in_the_order_of_their_numbers(tmp_path):
    """10 comes after 9: in the order of letters, one long dark and one long bright part would be mixed."""
    capture = Capture(captured(tmp_path / "play", list(range(0, 240, 20))), 60)
    assert [int(picture[0, 0, 0]) for picture, _ in capture.pictures()] == list(range(0, 240, 20))


def test_an_animation_has_its_own_pace(tmp_path):
    """A GIF's delays are in hundredths of a second (GIF89a, section 23): 120 ms each are 4.2 flashes a second, 200 ms are 2.5."""
    shades = [Image.new("RGB", (96, 72), (shade,) * 3) for shade in (0, 255) * 8]
    for ms, passes in ((120, False), (200, True)):
        path = tmp_path / f"{ms}.gif"
        shades[0].save(path, save_all=True, append_images=shades[1:], duration=ms)
        if passes:
            assert f"{16 * ms / 1000:.1f} seconds of {path.name}: passes" in answer(path)
        else:
            with pytest.raises(BadAnswer, match=r"4.5 flashes|4 flashes"):
                answer(path)


def test_wide_captures_are_looked_at_in_fewer_pixels(tmp_path, monkeypatch):
    """A capture at three times the size comes to the same."""
    monkeypatch.setattr("pipeline.questions.captures.WIDEST", 96)
    small = captured(tmp_path / "small", FAST)
    large = captured(tmp_path / "large", FAST, (288, 216))
    said = []
    for path in (small, large):
        with pytest.raises(BadAnswer) as caught:
            answer(path)
        said.append(str(caught.value).replace(path.name, "play").partition(";")[0])
    assert said[0] == said[1]


def test_what_cannot_be_read_is_refused(tmp_path):
    """File, what is wrong, what to do. Common practice, no source."""
    (tmp_path / "empty").mkdir()
    mixed = captured(tmp_path / "mixed", [0, 255])
    Image.new("RGB", (95, 72)).save(mixed / "shot 2.png")
    broken = captured(tmp_path / "broken", [0])
    (broken / "shot 1.png").write_bytes(b"\x89PNG\r\n\x1a\nno")
    one = tmp_path / "one.png"
    Image.new("RGB", (9, 9)).save(one)
    for path, rate, said in (
        (tmp_path / "gone", "", "gone does not exist\n    name a folder of pictures"),
        (tmp_path / "empty", "", "holds no pictures"),
        (mixed, "", "shot 2.png: has 95 x 72 pixels, the first picture 96 x 72"),
        (broken, "", "shot 1.png"),
        (one, "", "one.png: holds one frame, no animation"),
        (mixed, "fast", "'fast' is not a number of pictures in a second"),
        (mixed, "0", "1 to 240"),
        (mixed, "nan", "1 to 240"),
    ):
        with pytest.raises(ProjectError) as caught:
            answer(path, rate)
        assert said in str(caught.value)


def test_animations_are_read_from_the_image(tmp_path):
    """A figure of the whole screen that blinks between dark and bright fails; slower it passes. Rates as in the meter's tests."""
    for ms, passes in ((50, False), (500, True)):
        folder = tmp_path / str(ms)
        make_project(folder, ("ms = 80", f"ms = {ms}"))
        for rank, shade in enumerate((10, 250)):
            Image.new("RGBA", (200, 180), (shade, shade, shade, 255)).save(folder / f"art/ada/walk_{rank}.png")
        project = load_project(folder)
        run_steps(project, "findings")
        (step,) = (step for step in plan_project(project).steps if step.name == "flashes")
        if passes:
            assert step.run().startswith("1 animation, 1 background and 1 scene: all pass.")
        else:
            with pytest.raises(BadAnswer, match=r"^ada/walk\n  fail  general: 10 flashes in one second") as caught:
                step.run()
            assert "1 animation, 1 background and 1 scene: 1 does not pass." in str(caught.value)
            with Image.open(folder / "build/flashes.png") as worst:
                assert getattr(worst, "n_frames", 1) == 1  # a still picture: nothing that flashes is shown to find it
