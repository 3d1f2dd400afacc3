"""A video as captured play: through FFmpeg where it is installed, and in clear words where it is not."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from pipeline.plain.errors import BadAnswer, ProjectError
from pipeline.questions.flashes import show_captured
from pipeline.questions.video import Video
from tests.conftest import need_tool


def write_video(path: Path, codes: list[int], rate: str = "60", size: tuple[int, int] = (96, 72)) -> Path:
    """Write grey pictures, one for each code, without loss (FFV1)."""
    width, height = size
    data = b"".join(np.full((height, width, 3), code, np.uint8).tobytes() for code in codes)
    command = [need_tool("ffmpeg"), "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}", "-r", rate]
    subprocess.run([*command, "-i", "pipe:0", "-c:v", "ffv1", "-pix_fmt", "bgr0", str(path)], input=data, check=True)
    return path


def answer(path: Path) -> str:
    return show_captured(path, "", 60, path.parent / "flashes.png")


@pytest.mark.parametrize(("rate", "passes"), [("60", False), ("25", True)])
def test_a_video_has_its_own_rate(tmp_path, rate, passes):
    """Seven pictures dark and seven bright: at 60 in a second 4.3 flashes, at 25 fewer than two (WCAG 2.2 allows three)."""
    path = write_video(tmp_path / "play.mkv", ([0] * 7 + [255] * 7) * 5, rate)
    video = Video(path, 640, 36_000)
    assert video.ticks == float(rate)
    assert [int(picture[0, 0, 0]) for picture in video.pictures()] == ([0] * 7 + [255] * 7) * 5
    if passes:
        assert answer(path).startswith("2.8 seconds of play.mkv: passes.")
    else:
        with pytest.raises(BadAnswer, match=r"^play.mkv\n  fail  general: 4.5 flashes"):
            answer(path)


def test_a_wide_video_is_made_smaller_and_that_is_said(tmp_path):
    """1280 x 720 becomes 640 x 360; the rate of 30000/1001 is that of NTSC video."""
    path = write_video(tmp_path / "wide.mkv", [20, 30, 40], "30000/1001", (1280, 720))
    assert {picture.shape for picture in Video(path, 640, 10).pictures()} == {(360, 640, 3)}
    assert "of wide.mkv, made smaller from 1280 x 720 to 640 x 360 pixels: passes." in answer(path)


def test_what_ffmpeg_cannot_read_is_refused(tmp_path):
    """In its words, without the folder's name; and a video that is too long."""
    need_tool("ffmpeg")
    odd = tmp_path / "odd.mp4"
    odd.write_bytes(b"no video at all" * 100)
    with pytest.raises(ProjectError, match=r"^odd.mp4: holds no video that FFmpeg reads") as caught:
        answer(odd)
    assert str(tmp_path) not in str(caught.value)
    cut = write_video(tmp_path / "play.mkv", list(range(0, 250, 5)))
    with pytest.raises(ProjectError, match=r"play.mkv: has more than 20 pictures\n    check it in parts"):
        list(Video(cut, 640, 20).pictures())


def test_without_ffmpeg_it_says_what_to_do(tmp_path, monkeypatch):
    """No traceback: which program is missing, and what can be read without it."""
    path = tmp_path / "play.mp4"
    path.write_bytes(b"x")
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(ProjectError, match="is not a GIF or PNG, and ffmpeg is not installed\n    install FFmpeg"):
        answer(path)
