"""Frames are seen in a file's structure before a decoder makes room for them."""

from __future__ import annotations

import resource
import struct

import pytest

from pipeline.assets.sources.pictures import open_animation, open_picture
from pipeline.plain.errors import ProjectError


def _gif(width: int, height: int) -> bytes:
    """Return a GIF of 1 x 3 whose only frame is larger and is cleared after it was shown (GIF89a, sections 18, 20 and 23)."""
    screen = b"GIF89a" + struct.pack("<HHBBB", 1, 3, 0xF0, 0, 0) + bytes(6)
    control = b"\x21\xf9\x04" + bytes([2 << 2]) + bytes(4)
    return screen + control + b"\x2c" + struct.pack("<HHHHB", 0, 0, width, height, 0) + b"\x02\x01\x44\x00\x3b"


@pytest.mark.parametrize("read", [open_picture, lambda folder, name: list(open_animation(folder, name))])
def test_frame_larger_than_its_canvas_is_refused_before_room_is_made(read, tmp_path):
    """A file of 50 bytes asks for 60,000 x 60,000 pixels, 3.6 GB; it is refused with both numbers within 1 GiB more than there is."""
    (tmp_path / "a.gif").write_bytes(_gif(60_000, 60_000))
    before = resource.getrlimit(resource.RLIMIT_AS)
    with open("/proc/self/statm", encoding="ascii") as file:
        size = int(file.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (size + (1 << 30), before[1]))
    try:
        with pytest.raises(ProjectError) as caught:
            read(tmp_path, "a.gif")
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)
    assert "frame 0 has 60,000 x 60,000 pixels, 3,600,000,000 in all; at most 16,777,216 are taken" in str(caught.value)


def test_small_frame_is_no_fault(tmp_path):
    """The same file with a frame of its canvas is read, or is damaged in its pixels alone."""
    (tmp_path / "a.gif").write_bytes(_gif(1, 3))
    with pytest.raises(ProjectError, match="one frame, no animation"):
        list(open_animation(tmp_path, "a.gif"))
