"""A PNG with fewer rows than its header promises, or a broken chunk, is refused, whatever its kind; whole ones pass."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import png
import pytest
from PIL import Image

from pipeline.assets.sources.pictures import open_animation, open_picture
from pipeline.assets.sources.png_rows import _MARKS, check_chunks, check_rows
from pipeline.plain.errors import ProjectError


def _written(width: int, height: int, interlace: bool, **how) -> bytes:
    """Return a PNG made by pypng, an independent writer that can interlace."""
    writer = png.Writer(width, height, interlace=interlace, **how)
    planes = writer.planes
    out = io.BytesIO()
    writer.write_array(out, [rank % 2 for rank in range(width * height * planes)])
    return out.getvalue()


CASES = [
    {"greyscale": True, "bitdepth": 1},
    {"greyscale": True, "bitdepth": 4},
    {"greyscale": False, "bitdepth": 8},
    {"greyscale": False, "alpha": True, "bitdepth": 8},
    {"palette": [(0, 0, 0), (255, 255, 255)], "bitdepth": 2},
]


@pytest.mark.parametrize("interlace", [False, True])
@pytest.mark.parametrize("size", [(1, 1), (5, 3), (17, 9), (32, 32)])
@pytest.mark.parametrize("how", CASES)
def test_whole_picture_passes_and_one_missing_byte_does_not(how, size, interlace):
    """The bytes needed are exactly those an independent writer makes (PNG specification, 7.2 and 8.1)."""
    data = _written(*size, interlace, **how)
    check_rows(data, "a.png")
    rows, left, short = _shortened(data)
    with pytest.raises(ProjectError) as caught:
        check_rows(short, "a.png")
    assert str(caught.value) == _message(rows, left)


def _shortened(data: bytes, parts: int = 0) -> tuple[int, int, bytes]:
    """Return how many bytes of pixels a PNG has and is left with, and the PNG with one less, or without one of equal parts."""
    at = data.index(b"IDAT") - 4
    length = struct.unpack(">I", data[at : at + 4])[0]
    rows = zlib.decompress(data[at + 8 : at + 8 + length])
    left = len(rows) - (len(rows) // parts if parts else 1)
    return len(rows), left, data[:at] + _chunk(b"IDAT", zlib.compress(rows[:left])) + data[at + 12 + length :]


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def _message(rows: int, left: int) -> str:
    return (
        f"a.png: is damaged or cut short: {left} of {rows} bytes of pixels are there\n"
        "    save it again from the paint program"
    )


@pytest.mark.parametrize("interlace", [False, True])
@pytest.mark.parametrize("how", CASES)
def test_opened_picture_is_whole_or_refused(how, interlace, tmp_path):
    """Opening decodes what the independent writer wrote, and misses one missing byte, or row, in no kind of picture."""
    data = _written(17, 9, interlace, **how)
    (tmp_path / "a.png").write_bytes(data)
    width, height, rows, _ = png.Reader(bytes=data).asRGBA8()
    assert np.asarray(open_picture(tmp_path, "a.png")).tolist() == np.array(list(rows)).reshape(height, width, 4).tolist()
    for parts in (0, height):
        rows, left, short = _shortened(data, parts)
        (tmp_path / "a.png").write_bytes(short)
        with pytest.raises(ProjectError) as caught:
            open_picture(tmp_path, "a.png")
        assert str(caught.value) == _message(rows, left)


@pytest.mark.parametrize("mode", _MARKS)
@pytest.mark.parametrize("fill", ["nothing", "mark"])
def test_last_row_of_any_colour(mode, fill, tmp_path):
    """A picture whose last row is clear, or of the colour that represents a missing one, is opened; without the row it is not."""
    colour = _MARKS[mode] if fill == "mark" else 0 if mode in ("1", "L", "P") else (0,) * len(mode)
    picture = Image.new(mode, (8, 6), colour)
    if mode == "P":
        picture.putpalette(bytes(rank // 3 for rank in range(768)))
    picture.save(tmp_path / "a.png")
    assert open_picture(tmp_path, "a.png").tobytes() == picture.convert("RGBA").tobytes()
    data = (tmp_path / "a.png").read_bytes()
    for parts in (0, 6):
        rows, left, short = _shortened(data, parts)
        (tmp_path / "a.png").write_bytes(short)
        with pytest.raises(ProjectError) as caught:
            open_picture(tmp_path, "a.png")
        assert str(caught.value) == _message(rows, left)


def test_broken_chunks_are_refused():
    """Every changed byte of a chunk's type, data or sum is found, and so is every place at which the file ends too early."""
    data = _written(5, 3, False, greyscale=True, bitdepth=8)
    check_chunks(data, "a.png")
    check_chunks(data + b"more", "a.png")
    for place in range(8, len(data)):
        with pytest.raises(ProjectError, match=r"a\.png: is damaged or cut short: "):
            check_chunks(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :], "a.png")
        with pytest.raises(ProjectError, match=f"it ends too early, after {place} bytes"):
            check_chunks(data[:place], "a.png")


@pytest.mark.parametrize("depth", [1, 2, 4, 8])
def test_grey_that_is_named_as_transparent_is_that_of_the_pictures_depth(depth, tmp_path):
    """As pypng, an independent reader, shows it (PNG third edition, 11.3.1.1); Pillow alone compares 2 and 4 bits with 8."""
    grey = (1 << depth) - 1 - (depth > 1)
    out = io.BytesIO()
    png.Writer(4, 1, greyscale=True, bitdepth=depth, transparent=grey).write_array(out, [grey, 0, grey, 1 if depth > 1 else 0])
    (tmp_path / "a.png").write_bytes(out.getvalue())
    _, _, rows, _ = png.Reader(bytes=out.getvalue()).asRGBA8()
    wanted = np.array([list(row) for row in rows], dtype=np.uint8).reshape(1, 4, 4)
    seen = np.asarray(open_picture(tmp_path, "a.png"))
    assert wanted[0, :, 3].tolist() == [0, 255, 0, 255]
    assert np.array_equal(seen[..., 3], wanted[..., 3])
    assert np.array_equal(seen[wanted[..., 3] > 0], wanted[wanted[..., 3] > 0])


def test_interlaced_animation_is_read_frame_by_frame(tmp_path):
    """Two frames of Adam7 rows (PNG third edition, 8.1 and 11.3.6), put together from pictures of pypng."""
    pictures = [_interlaced(shade) for shade in (60, 200)]
    parts = [dict(_chunks_of(one)) for one in pictures]
    control = b"".join(number.to_bytes(4, "big") for number in (5, 3, 0, 0)) + bytes((0, 1, 0, 10, 0, 0))
    data = pictures[0][:8] + _chunk(b"IHDR", parts[0][b"IHDR"]) + _chunk(b"acTL", struct.pack(">II", 2, 0))
    data += _chunk(b"fcTL", struct.pack(">I", 0) + control) + _chunk(b"IDAT", parts[0][b"IDAT"])
    data += _chunk(b"fcTL", struct.pack(">I", 1) + control) + _chunk(b"fdAT", struct.pack(">I", 2) + parts[1][b"IDAT"])
    (tmp_path / "a.png").write_bytes(data + _chunk(b"IEND", b""))
    frames = [np.asarray(picture) for picture, _ in open_animation(tmp_path, "a.png")]
    assert [frame[0, 0].tolist() for frame in frames] == [[60, 61, 62, 255], [200, 201, 202, 255]]
    assert all((frame == frame[0, 0]).all() for frame in frames)


def _interlaced(shade: int) -> bytes:
    out = io.BytesIO()
    png.Writer(5, 3, greyscale=False, interlace=True).write_array(out, [shade, shade + 1, shade + 2] * 15)
    return out.getvalue()


def _chunks_of(data: bytes) -> list[tuple[bytes, bytes]]:
    return [(bytes(kind), bytes(content)) for kind, content in png.Reader(bytes=data).chunks()]
