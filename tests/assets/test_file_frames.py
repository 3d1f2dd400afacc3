"""Frames are seen in a file's structure before a decoder makes room for them."""

from __future__ import annotations

import contextlib
import io
import resource
import struct
from unittest import mock

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageFile

from pipeline.assets.sources.file_frames import check_frames
from pipeline.assets.sources.pictures import open_animation, open_picture
from pipeline.plain.errors import ProjectError


def _gif(*frames: tuple[int, int], screen: tuple[int, int] = (1, 3), place: tuple[int, int] = (0, 0)) -> bytes:
    """Return a GIF whose frames are cleared after they were shown (GIF89a, sections 18, 20 and 23), with hardly a pixel in them."""
    start = b"GIF89a" + struct.pack("<HHBBB", *screen, 0xF0, 0, 0) + bytes(6)
    control = b"\x21\xf9\x04" + bytes([2 << 2]) + bytes(4)
    drawn = [b"\x2c" + struct.pack("<HHHHB", *place, *size, 0) + b"\x02\x01\x44\x00" for size in frames]
    return start + b"".join(control + one for one in drawn) + b"\x3b"


@contextlib.contextmanager
def _a_gibibyte_more():
    """Let this process have at most 1 GiB more than it has."""
    before = resource.getrlimit(resource.RLIMIT_AS)
    with open("/proc/self/statm", encoding="ascii") as file:
        size = int(file.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (size + (1 << 30), before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


@pytest.mark.parametrize("read", [open_picture, lambda folder, name: list(open_animation(folder, name))])
def test_frame_larger_than_its_canvas_is_refused_before_room_is_made(read, tmp_path):
    """A file of 50 bytes asks for 60,000 x 60,000 pixels, 3.6 GB; it is refused with both numbers within 1 GiB more than there is."""
    (tmp_path / "a.gif").write_bytes(_gif((60_000, 60_000)))
    with _a_gibibyte_more(), pytest.raises(ProjectError) as caught:
        read(tmp_path, "a.gif")
    assert "needs 60,000 x 60,000 pixels for frame 0, 3,600,000,000 in all; at most 16,777,216 are taken" in str(caught.value)


def test_small_frame_is_no_fault(tmp_path):
    """The same file with a frame of its canvas is read, or is damaged in its pixels alone."""
    (tmp_path / "a.gif").write_bytes(_gif((1, 3)))
    with pytest.raises(ProjectError, match="one frame, no animation"):
        list(open_animation(tmp_path, "a.gif"))


def test_canvas_that_grows_by_a_high_frame_and_a_wide_one_is_refused(tmp_path):
    """Neither frame is too large, but the canvas is as wide as one and as high as the other: 2,092 x 65,283 from 80 bytes."""
    (tmp_path / "a.gif").write_bytes(_gif((8, 65_283), (2_092, 768)))
    wrong = "needs 2,092 x 65,283 pixels for frame 1, 136,572,036 in all; at most 16,777,216"
    with _a_gibibyte_more(), pytest.raises(ProjectError, match=wrong):
        list(open_animation(tmp_path, "a.gif"))


def test_all_frames_are_bounded_by_the_canvas_that_they_grow_to(tmp_path):
    """200 frames: small on the logical screen, over the bound of all frames on the canvas that a wide and a high one make."""
    (tmp_path / "a.gif").write_bytes(_gif(*[(1, 1)] * 198, (4_000, 1), (1, 4_000)))
    with pytest.raises(ProjectError, match="200 frames of 4,000 x 4,000 have 3,200,000,000 pixels in all; at most 536,870,912"):
        list(open_animation(tmp_path, "a.gif"))


SIDES = st.integers(1, 300)


@given(st.lists(st.tuples(SIDES, SIDES), min_size=1, max_size=5), st.tuples(SIDES, SIDES), st.tuples(SIDES, SIDES))
def test_canvas_is_the_one_that_pillow_makes_room_for(frames, screen, place):
    """Pillow, after it has drawn the last frame, has the canvas that was seen in the structure."""
    data = _gif(*frames, screen=screen, place=place)
    announced = check_frames(data, "a.gif", 10)
    with mock.patch.object(ImageFile, "LOAD_TRUNCATED_IMAGES", True), Image.open(io.BytesIO(data)) as picture:
        for rank in range(len(frames)):
            picture.seek(rank)
            picture.load()
        assert announced == (picture.n_frames, picture.size)
