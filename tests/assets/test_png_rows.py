"""A PNG with fewer rows than its header promises is refused, whatever its depth and interlacing; whole ones pass."""

from __future__ import annotations

import io
import struct
import zlib

import png
import pytest

from pipeline.assets.png_rows import check_rows
from pipeline.errors import ProjectError


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
    at = data.index(b"IDAT") - 4
    length = struct.unpack(">I", data[at : at + 4])[0]
    rows = zlib.decompress(data[at + 8 : at + 8 + length])
    short = zlib.compress(rows[:-1])
    chunk = struct.pack(">I", len(short)) + b"IDAT" + short + struct.pack(">I", zlib.crc32(b"IDAT" + short))
    with pytest.raises(ProjectError) as caught:
        check_rows(data[:at] + chunk + data[at + 12 + length :], "a.png")
    assert str(caught.value) == (
        f"a.png: is damaged or cut short: {len(rows) - 1} of {len(rows)} bytes of pixels are there\n"
        "    save it again from the paint program"
    )
