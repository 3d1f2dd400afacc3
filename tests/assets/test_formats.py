"""Pictures of every format that is taken: as Pillow wrote them, as FFmpeg (PyAV) decodes them, and as netpbm does where it is installed."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageOps

from pipeline.assets.backgrounds.prepare import prepare_background
from pipeline.assets.sources.keyed import Ground, likely_key, near, rgb_of
from pipeline.assets.sources.pictures import open_picture
from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.assets.sources.structure import _scans, is_turned
from pipeline.joints.places import Sources, frame_files
from pipeline.plain.bounds import JPEG_SCANS
from pipeline.plain.errors import ProjectError
from pipeline.project.art import PICTURES
from pipeline.project.assets import Background, Sprite
from pipeline.target.records import SpriteLimits
from tests.conftest import need_tool


def drawn(mode: str) -> Image.Image:
    """Return a picture of nine blocks of colour, one of them clear, in a mode."""
    pixels = np.zeros((23, 21, 4), dtype=np.uint8)
    for rank in range(9):
        pixels[rank // 3 * 8 :, rank % 3 * 7 :] = (rank * 28, 250 - rank * 20, rank * rank * 3, 255 if rank != 4 else 0)
    pixels[pixels[..., 3] == 0] = 0
    picture = Image.fromarray(pixels)
    return picture.convert("RGB").quantize(9) if mode == "P" else picture if mode == "RGBA" else picture.convert("RGB").convert(mode)


EXACT = [
    *[(f"{mode}.tga", mode, {"rle": rle, "orientation": way}) for mode in ("RGB", "RGBA", "L", "P") for rle in (0, 1) for way in (1, -1)],
    *[(f"{mode}.pcx", mode, {}) for mode in ("RGB", "L", "P", "1")],
    *[(f"{mode}{ending}", mode, {}) for mode, ending in (("RGB", ".ppm"), ("L", ".pgm"), ("1", ".pbm"))],
    *[(f"{mode}.bmp", mode, {}) for mode in ("RGB", "L", "P", "1")],
    *[(f"{mode}.webp", mode, {"lossless": True}) for mode in ("RGB", "RGBA")],
    *[(f"{mode}.gif", mode, {}) for mode in ("L", "P")],
    *[(f"{mode}.png", mode, {}) for mode in ("RGB", "RGBA", "L", "P", "1")],
]


@pytest.mark.parametrize(("name", "mode", "options"), EXACT, ids=[f"{name} {options}" for name, _, options in EXACT])
def test_exact_formats_are_read_as_two_decoders_do(tmp_path, name, mode, options):
    """Pixel for pixel what was saved, and what FFmpeg and netpbm make of the file."""
    picture = drawn(mode)
    picture.save(tmp_path / name, PICTURES[Path(name).suffix], **options)
    read = open_picture(tmp_path, name)
    assert read.tobytes() == picture.convert("RGBA").tobytes()
    assert not read.info.get("lossy")
    with av.open(str(tmp_path / name)) as video:
        other = next(video.decode(video=0)).to_ndarray(format="rgba")
    seen = np.asarray(read)
    assert (other[seen[..., 3] > 0] == seen[seen[..., 3] > 0]).all()
    tool = {".tga": "tgatoppm", ".pcx": "pcxtoppm"}.get(Path(name).suffix)
    if tool and mode in ("RGB", "P"):
        need_tool(tool)
        made = subprocess.run([tool, str(tmp_path / name)], capture_output=True, check=True).stdout
        assert np.array_equal(np.asarray(Image.open(io.BytesIO(made)).convert("RGB")), seen[..., :3])


@pytest.mark.parametrize("name", ["a.jpg", "a.webp"])
@pytest.mark.parametrize("orientation", [None, *range(1, 9)])
def test_a_picture_that_asks_to_be_turned_is_named(tmp_path, name, orientation):
    """Whether Pillow's own helper would turn it decides; the pixels are as stored, and the build names the file once for each use."""
    options = {}
    if orientation:
        options["exif"] = Image.Exif()
        options["exif"][271], options["exif"][274] = "Somebody", orientation
    picture = drawn("RGB").resize((84, 92), Image.Resampling.BICUBIC)
    picture.save(tmp_path / name, PICTURES[Path(name).suffix], **options)
    with Image.open(tmp_path / name) as plain:
        turned = ImageOps.exif_transpose(plain).tobytes() != plain.tobytes()
        assert np.array_equal(np.asarray(open_picture(tmp_path, name))[..., :3], np.asarray(plain.convert("RGB")))
    assert turned == (orientation in range(2, 9))
    sources, limits = Sources(tmp_path, (name,)), SpriteLimits(max_width=500, max_height=500)
    for line in (
        prepare_sprite(sources, frame_files(tmp_path / "work", "ada"), "ada", Sprite(frames=name), limits),
        prepare_background(sources, frame_files(tmp_path / "work", "quay"), "quay", Background(file=name)),
    ):
        assert line.count(f"{name} asks viewers to turn it (EXIF orientation)") == turned


@given(st.binary(max_size=60))
def test_any_exif_data_is_looked_at(data):
    """Bytes after each mark of order, cut anywhere: an answer, and no error."""
    assert {is_turned(mark + data) for mark in (b"", b"Exif\0\0II*\0", b"MM\0*", b"II*\0\x08\0\0\0\xff\xff")} <= {True, False}


@pytest.mark.parametrize(("name", "options"), [("a.jpg", {}), ("a.jpeg", {"progressive": True}), ("a.webp", {})])
def test_formats_that_are_not_exact_say_so(tmp_path, name, options):
    """Near what was saved and what FFmpeg decodes; the build names the file once, for sprites and backgrounds."""
    picture = drawn("RGB").resize((84, 92), Image.Resampling.BICUBIC)
    picture.save(tmp_path / name, PICTURES[Path(name).suffix], quality=90, **options)
    read = open_picture(tmp_path, name)
    assert read.info["lossy"]
    seen = np.asarray(read).astype(int)
    with av.open(str(tmp_path / name)) as video:
        other = next(video.decode(video=0)).to_ndarray(format="rgb24")
    for wanted in (np.asarray(picture), other):
        assert np.abs(seen[..., :3] - wanted).mean() < 4
    sources, limits = Sources(tmp_path, (name,)), SpriteLimits(max_width=500, max_height=500)
    lines = [
        prepare_sprite(sources, frame_files(tmp_path / "work", "ada"), "ada", Sprite(frames=name), limits),
        prepare_background(sources, frame_files(tmp_path / "work", "quay"), "quay", Background(file=name)),
    ]
    for line in lines:
        assert line.count(f"{name} is in a format that changes colours") == 1


@pytest.mark.parametrize("quality", [60, 75, 90, 95])
def test_key_of_a_lossy_ground_has_a_tolerance_that_clears_it(tmp_path, quality):
    """Three in a hundred pixels of the ground stay at most, around the figure's edge; nothing of the figure goes."""
    picture = Image.new("RGB", (96, 80), (255, 0, 255))
    picture.paste((40, 160, 60), (30, 20, 66, 60))
    picture.save(tmp_path / "a.jpg", quality=quality, subsampling=0)
    read = open_picture(tmp_path, "a.jpg")
    ground = likely_key(np.asarray(read), lossy=True)
    assert isinstance(ground, Ground)
    clear = near(np.asarray(read), rgb_of(ground.colour), ground.tolerance)
    inside = np.zeros(clear.shape, dtype=bool)
    inside[20:60, 30:66] = True
    assert not clear[inside].any()
    assert (~clear[~inside]).mean() < 0.03


def test_textured_ground_of_a_lossy_picture_is_not_a_key():
    """Stone that a figure stands on differs by more than a format does; the key would take parts of the figure too."""
    chance = np.random.default_rng(4)
    pixels = np.full((60, 60, 4), 255, dtype=np.uint8)
    pixels[..., :3] = (20, 110, 90) + chance.integers(-30, 31, (60, 60, 1))
    assert likely_key(pixels, lossy=True) is None


def test_one_rule_finds_a_key():
    """A figure that touches the border keeps it; none in a picture with transparency, of one colour, or of two halves."""
    pixels = np.full((20, 30, 4), 255, dtype=np.uint8)
    pixels[..., 1] = 0
    assert likely_key(pixels) is None
    pixels[5:, 10:18, :3] = 40  # down to the lower border
    assert likely_key(pixels) == Ground("#ff00ff", 0)
    pixels[:, 15:, :3] = 40
    assert likely_key(pixels) is None
    pixels[0, 0, 3] = 0
    assert likely_key(pixels) is None


def test_empty_alpha_of_a_tga_without_alpha_is_opaque(tmp_path):
    """Bits 0 to 3 of the descriptor are how many bits of a pixel are alpha (Truevision TGA 2.0, field 5.6)."""
    blue_green_red = bytes([30, 20, 10, 0])
    for bits, alpha in ((0, 255), (8, 0)):
        (tmp_path / "a.tga").write_bytes(bytes([0, 0, 2, *[0] * 9, 2, 0, 1, 0, 32, bits]) + 2 * blue_green_red)
        assert open_picture(tmp_path, "a.tga").getpixel((1, 0)) == (10, 20, 30, alpha)


def test_more_scans_than_any_encoder_writes_are_refused(tmp_path):
    """Each scan costs as much as the whole picture (ITU-T T.81, B.2.3): 2,000 of 4096 x 4096 would take minutes."""
    out = io.BytesIO()
    drawn("RGB").save(out, "JPEG", progressive=True)
    data = out.getvalue()
    last = data.rindex(b"\xff\xda")
    (tmp_path / "a.jpg").write_bytes(data[:last] + data[last:-2] * (JPEG_SCANS + 1) + data[-2:])
    with pytest.raises(ProjectError, match=f"scans, at most {JPEG_SCANS} are decoded"):
        open_picture(tmp_path, "a.jpg")


def test_scans_are_counted_by_their_markers():
    """ITU-T T.81, B.1.1: FF 00 and restarts belong to a scan's bits, FF may fill up before a marker, and nothing counts after the end."""
    start, table, scan, end = b"\xff\xd8", b"\xff\xdb\0\x06\xff\xda\0\x02", b"\xff\xda\0\x03\x01", b"\xff\xd9"
    bits = b"\x12\xff\0\x34\xff\xd3\x56"
    data = start + table + scan + bits + b"\xff\xff" + scan + bits
    assert _scans(data + end) == _scans(data) == 2
    assert _scans(data + end + scan * 9) == 2
    assert _scans(data + scan[:4]) == 3  # its last byte is missing
    assert _scans(data + scan[:3]) == 2


def ground_with_a_figure(height: int, width: int) -> np.ndarray:
    """Return magenta with one green pixel in its middle: uint8, shape (height, width, 4)."""
    pixels = np.full((height, width, 4), (255, 0, 255, 255), dtype=np.uint8)
    pixels[height // 2, width // 2] = (40, 160, 60, 255)
    return pixels


@pytest.mark.parametrize("corner", [(0, 0), (0, -1), (-1, 0), (-1, -1)])
def test_key_is_the_colour_of_all_four_corners(corner):
    pixels = ground_with_a_figure(12, 16)
    assert likely_key(pixels) == Ground("#ff00ff", 0)
    pixels[corner] = (40, 160, 60, 255)
    assert likely_key(pixels) is None


@pytest.mark.parametrize(("height", "width", "found"), [(3, 3, True), (2, 16, False), (16, 2, False), (3, 16, True)])
def test_key_needs_three_rows_and_columns(height, width, found):
    """With fewer, all is border."""
    assert (likely_key(ground_with_a_figure(height, width)) is not None) == found
