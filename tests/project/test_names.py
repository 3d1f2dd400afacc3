"""Names of files as they are: endings in capitals, what file managers leave behind, brackets in folders, another case. No source."""

from __future__ import annotations

import pytest

from pipeline.project.loading.load import load_project
from tests.makers import draw_frame, make_project, problems, project_text, write_text

FRAMES = 'frames = "art/ada/*.png"'


def files(folder, pattern: str) -> tuple[str, ...]:
    """Return what a sprite's pattern finds."""
    write_text(folder, project_text((FRAMES, f'frames = "{pattern}"')))
    return load_project(folder).assets["ada"].files


@pytest.mark.parametrize("name", ["walk_2.PNG", "walk_2.Png"])
def test_an_ending_matches_in_any_case(tmp_path, name):
    """Of a pattern in small letters, and of one in capitals."""
    folder = make_project(tmp_path)
    draw_frame(folder / "art/ada" / name, 0)
    for pattern in ("art/ada/*.png", "art/ada/walk_?.PNG"):
        assert files(folder, pattern) == ("art/ada/walk_0.png", "art/ada/walk_1.png", f"art/ada/{name}")


def test_what_is_hidden_or_the_systems_is_left_out(tmp_path):
    """Dotted names and those of file managers; named in the pattern they are taken. A folder does not count."""
    folder = make_project(tmp_path)
    for name in ("._walk_0.png", ".cache/walk_5.png", "__MACOSX/walk_6.png"):
        (folder / "art/ada" / name).parent.mkdir(exist_ok=True)
        draw_frame(folder / "art/ada" / name, 0)
    (folder / "art/ada/Thumbs.db").write_bytes(b"x")
    (folder / "art/ada/DESKTOP.INI").write_bytes(b"x")
    (folder / "art/ada/empty.png").mkdir()
    walks = ("art/ada/walk_0.png", "art/ada/walk_1.png")
    assert files(folder, "art/ada/**/*") == files(folder, "art/ada/*") == walks
    assert files(folder, "art/ada/.cache/*.png") == ("art/ada/.cache/walk_5.png",)


def test_brackets_of_a_folder_that_is_there_are_no_pattern(tmp_path):
    """A folder that is named with brackets; elsewhere brackets still are a pattern."""
    folder = make_project(tmp_path)
    for name in ("old [1]/walk_0.png", "old [1]/walk_ [2].png"):
        (folder / "art" / name).parent.mkdir(exist_ok=True)
        draw_frame(folder / "art" / name, 0)
    assert files(folder, "art/old [1]/walk_?.png") == ("art/old [1]/walk_0.png",)
    assert files(folder, "art/old [1]/walk_ [2].png") == ("art/old [1]/walk_ [2].png",)
    assert files(folder, "art/ada/walk_[1-3].png") == ("art/ada/walk_1.png",)


def test_a_file_in_another_case_is_named(tmp_path):
    """A missing file, and one in a folder, whose name differs in capitals alone."""
    folder = make_project(tmp_path, ('file = "sound/bell.wav"', 'file = "Sound/loud.wav"'))
    (folder / "sound/bell.wav").rename(folder / "sound/LOUD.WAV")
    [said] = problems(folder)
    assert "there is no file 'Sound/loud.wav', but 'sound/LOUD.WAV'\n" in said
    assert "small and capital letters differ" in said
