"""Packed pixels against published pictures, independent packers and readers, and the image reader's decoder."""

from __future__ import annotations

import io
import itertools
import struct
import subprocess
import zlib

import av
import msgspec
import numpy as np
import png
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from PIL import Image

from pipeline.assets.blob import put_record
from pipeline.joints.layouts import BACKGROUND, record_bytes
from pipeline.joints.pixel_size import packed_bytes
from pipeline.pixels.colours.colour import to_words
from pipeline.pixels.pack import pack_picture
from pipeline.plain.bits import parse_pattern
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import Cells, PixelFormat
from tests.conftest import LONG, need_tool
from tests.reading.decoding import decode_blob

CELL = (8, 8)


def make_format(pixel: str, **settings) -> PixelFormat:
    """Return a pixel format as a target file would give it."""
    return PixelFormat(pixel=parse_pattern(pixel), **settings)


def pack(pixels, pixel: str, byte_order: str = "big", cell=CELL, **settings) -> bytes:
    """Pack a picture in a format of few words."""
    return pack_picture(np.asarray(pixels, dtype=np.uint32), make_format(pixel, **settings), byte_order, cell)


# PngSuite, basn3p04.png: 32 x 32, 4-bit palette. "Permission to use, copy, modify and distribute these images for any purpose
# and without fee is hereby granted." (c) Willem van Schaik, 1996. It is small enough to be here.
BASN3P04 = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000020000000200403000000815467c70000000467414d41000186a031e8965f000000037342"
    "495404040477f8b5a30000002d504c54452200ff00ffff8800ff22ff000099ffff6600dd00ff77ff00ff000000ff99ddff00ff00bbffbb"
    "000044ff00ff44d2b049bd0000004749444154789c63e8e8080d3d7366d5aaf27263e377ef66ce64204300952b28488e002ad7c5851c01"
    "54eeddbbe408a07119c81140e52a29912380ca4d4b23470095bb7b37190200e0c4ead10f82057d0000000049454e44ae426082"
)


def png_rows(data: bytes) -> bytes:
    """Return a PNG's image data without the filter byte of each row (PNG specification; all filters must be none)."""
    at, packed = 8, b""
    while at < len(data):
        size = int.from_bytes(data[at : at + 4], "big")
        if data[at + 4 : at + 8] == b"IDAT":
            packed += data[at + 8 : at + 8 + size]
        at += 12 + size
    plain = zlib.decompress(packed)
    height = int.from_bytes(data[20:24], "big")
    rows = np.frombuffer(plain, dtype=np.uint8).reshape(height, -1)
    assert not rows[:, 0].any()
    return rows[:, 1:].tobytes()


def test_rows_of_a_published_png():
    """Four-bit rows packed from the high nibble are the bytes inside PngSuite's basn3p04 (CRC-32 31BE6049)."""
    width, height, rows, _ = png.Reader(bytes=BASN3P04).read()
    packed = pack(list(rows), "IIII")
    assert packed == png_rows(BASN3P04)
    assert (width, height, len(packed)) == (32, 32, 512)
    assert packed[:8].hex() == "88885555ccccaaaa"
    assert zlib.crc32(packed) == 0x31BE6049


@pytest.mark.parametrize("bits", [1, 2, 4, 8])
@settings(max_examples=40)
@given(st.data())
def test_rows_of_any_png(bits, data):
    """Narrow pixels from the high end, rows ending at a byte, are how an independent PNG writer (pypng) stores them."""
    pixels = data.draw(arrays(np.uint8, st.tuples(st.integers(1, 5), st.integers(1, 21)), elements=st.integers(0, 2**bits - 1)))
    stream = io.BytesIO()
    palette = [(level, level, level) for level in range(2**bits)]
    png.Writer(pixels.shape[1], pixels.shape[0], palette=palette, bitdepth=bits).write(stream, pixels.tolist())
    assert pack(pixels, "I" * bits) == png_rows(stream.getvalue())


LETTER_A = """
........
........
........
........
...##...
..#..#..
..#..#..
.#....#.
.#....#.
.######.
.#....#.
.#....#.
.#....#.
.#....#.
........
........
"""


def test_letter_of_a_bitmap_font():
    """The letter A, drawn, packs to its line in GNU Unifont's .hex file (U+0041)."""
    drawn = [[char == "#" for char in row] for row in LETTER_A.split()]
    assert pack(drawn, "I").hex().upper() == "0000000018242442427E424242420000"


@settings(max_examples=40)
@given(arrays(np.uint8, st.tuples(st.integers(1, 5), st.integers(1, 40)), elements=st.integers(0, 1)))
def test_leftmost_pixel_in_the_low_bit_as_xbm_has_it(pixels):
    """With the leftmost pixel in the low bit, rows are those of an X11 bitmap file as Pillow writes it."""
    stream = io.BytesIO()
    Image.fromarray(pixels * 255).convert("1").save(stream, "XBM")
    listing = stream.getvalue().decode().split("{")[1].split("}")[0]
    theirs = bytes(int(number, 16) for number in listing.replace("\n", "").split(",") if number.strip())
    assert pack(pixels, "I", first="low") == theirs


@pytest.mark.parametrize(
    ("bits", "first", "packed"),
    [
        (1, "high", "80"), (1, "low", "01"), (2, "high", "c0"), (2, "low", "03"), (4, "high", "f1"), (4, "low", "1f"), (8, "high", "ff01"),
    ],
)  # fmt: skip
def test_end_of_a_byte(bits, first, packed):
    """The first pixel lies in the high or in the low end of its byte; a pixel as wide as a byte has no end to choose."""
    pixels = {1: [[1, 0]], 2: [[3, 0]], 4: [[15, 1]], 8: [[255, 1]]}[bits]
    assert pack(pixels, "I" * bits, first=first).hex() == packed


def test_planes_of_an_interchange_bitmap():
    """Indices 0 to 7 over 20 pixels are the planes EA IFF 85 ILBM (J. Morrison, 1986) defines: plane 0 holds bit 0, rows fill words."""
    pixels = [[index % 8 for index in range(20)]]
    assert pack(pixels, "IIII", planes="by row").hex() == "55555000" "33333000" "0f0f0000" "00000000"


# One row of indices 0 1 2 3 0 1 2 3 ...: bit 0 is 0101..., bit 1 is 0011... Planes that take turns by byte or word as tile
# hardware reads them, and whole planes one after the other, are common practice, no source.
@pytest.mark.parametrize(
    ("planes", "order", "first", "packed"),
    [
        ("by byte", "big", "high", "5533" "5533"),
        ("by byte", "little", "high", "5533" "5533"),
        ("by byte", "big", "low", "aacc" "aacc"),
        ("by word", "big", "high", "5555" "3333"),
        ("by row", "big", "high", "5555" "3333"),
        ("by picture", "big", "high", "5555" "3333"),
    ],
)
def test_planes_taking_turns(planes, order, first, packed):
    """Two planes of one 16-pixel row are in the order their name says."""
    assert pack([[index % 4 for index in range(16)]], "II", order, planes=planes, first=first).hex() == packed


def test_planes_of_two_rows():
    """By row the planes change with the row, by picture only after the last row."""
    pixels = [[1] * 16, [2] * 16]
    assert pack(pixels, "II", planes="by row").hex() == "ffff" "0000" "0000" "ffff"
    assert pack(pixels, "II", planes="by picture").hex() == "ffff" "0000" "0000" "ffff"
    assert pack([[3] * 16, [2] * 16], "II", planes="by row").hex() == "ffff" "ffff" "0000" "ffff"
    assert pack([[3] * 16, [2] * 16], "II", planes="by picture").hex() == "ffff" "0000" "ffff" "ffff"


def test_byte_order_of_planes_by_word():
    """A little-endian console swaps the bytes of each plane's word, and nothing else."""
    pixels = [[1, 0, 0, 0, 0, 0, 0, 0, 2, 2, 0, 0, 0, 0, 0, 0]]
    assert pack(pixels, "II", "big", planes="by word").hex() == "8000" "00c0"
    assert pack(pixels, "II", "little", planes="by word").hex() == "0080" "c000"


def ilbm(pixels: np.ndarray, planes: int) -> bytes:
    """Return an ILBM file around our planes by row (EA IFF 85: FORM, BMHD, CMAP, BODY); colours distinguish indices."""
    height, width = pixels.shape
    header = struct.pack(">HHhhBBBBHBBhh", width, height, 0, 0, planes, 0, 0, 0, 0, 1, 1, width, height)
    colours = bytes(itertools.chain.from_iterable(colour_of(index) for index in range(2**planes)))
    body = pack(pixels, "I" * planes, planes="by row")
    parts = b"".join(name + struct.pack(">I", len(data)) + data + b"\0" * (len(data) % 2) for name, data in
                     ((b"BMHD", header), (b"CMAP", colours), (b"BODY", body)))  # fmt: skip
    return b"FORM" + struct.pack(">I", len(parts) + 4) + b"ILBM" + parts


def colour_of(index: int) -> tuple[int, int, int]:
    """Return the colour the test gives an index."""
    return (index, 255 - index, index * 7 % 256)


def coloured(pixels: np.ndarray) -> np.ndarray:
    """Return the picture a reader should show."""
    return np.array([colour_of(index) for index in range(256)], dtype=np.uint8)[pixels]


def pattern_picture(width: int, height: int, planes: int) -> np.ndarray:
    """Return a picture that uses every index and repeats nowhere."""
    y, x = np.mgrid[:height, :width]
    return ((x * 5 + y * 11 + x * y) % 2**planes).astype(np.uint32)


SIZES = [(20, 13), (16, 4), (1, 1), (37, 29)]


@pytest.mark.parametrize("planes", range(1, 9))
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_whole_picture_read_by_ffmpeg(width, height, planes):
    """A file around our planes shows our picture in FFmpeg's ILBM reader."""
    pixels = pattern_picture(width, height, planes)
    with av.open(io.BytesIO(ilbm(pixels, planes)), format="iff") as file:
        frame = next(file.decode(video=0))
    assert np.array_equal(frame.to_ndarray(format="rgb24"), coloured(pixels))


@pytest.mark.parametrize("planes", range(1, 9))
def test_whole_picture_read_by_netpbm(planes):
    """A file around our planes shows our picture in netpbm's ilbmtoppm."""
    program = need_tool("ilbmtoppm")
    pixels = pattern_picture(37, 29, planes)
    shown = subprocess.run([program], input=ilbm(pixels, planes), capture_output=True, check=True).stdout
    assert np.array_equal(np.asarray(Image.open(io.BytesIO(shown)).convert("RGB")), coloured(pixels))


@pytest.mark.parametrize("depth", range(1, 9))
def test_planes_by_picture_are_bitmaps_in_a_row(depth):
    """Planes by picture are as many 1-bit pictures, each as Pillow packs it, rows filled to a word."""
    pixels = pattern_picture(35, 9, depth)
    wide = np.pad(pixels, ((0, 0), (0, 13)))
    bitmaps = [Image.fromarray(((wide >> rank) & 1).astype(np.uint8) * 255).convert("1").tobytes() for rank in range(depth)]
    assert pack(pixels, "I" * depth, planes="by picture") == b"".join(bitmaps)


RGB24 = np.arange(6 * 5 * 3, dtype=np.uint8).reshape(5, 6, 3) * 2 + 40


@pytest.mark.parametrize(
    ("pattern", "order", "raw"),
    [
        ("RRRRRRRRGGGGGGGGBBBBBBBB", "big", "RGB"),
        ("RRRRRRRRGGGGGGGGBBBBBBBB", "little", "BGR"),
        ("BBBBBBBBGGGGGGGGRRRRRRRR", "big", "BGR"),
        ("RRRRRRRRGGGGGGGGBBBBBBBBxxxxxxxx", "big", "RGBX"),
        ("xxxxxxxxRRRRRRRRGGGGGGGGBBBBBBBB", "big", "XRGB"),
        ("xxxxxxxxRRRRRRRRGGGGGGGGBBBBBBBB", "little", "BGRX"),
        ("xxxxxxxxBBBBBBBBGGGGGGGGRRRRRRRR", "big", "XBGR"),
    ],
)
def test_direct_colour_of_24_and_32_bits(pattern, order, raw):
    """Bytes of wide pixels are in the order Pillow's raw modes name, don't-care bytes apart."""
    fields = parse_pattern(pattern)
    packed = pack(to_words(RGB24, fields), pattern, order)
    shown = Image.frombytes("RGB", (6, 5), packed, "raw", raw)
    assert np.array_equal(np.asarray(shown), RGB24)


@pytest.mark.parametrize(("order", "sign"), [("big", ">"), ("little", "<")])
@given(words=arrays(np.uint32, st.tuples(st.integers(1, 4), st.integers(1, 9)), elements=st.integers(0, 65535)))
def test_words_of_16_bits(order, sign, words):
    """Two-byte pixels are what struct writes in the same byte order."""
    assert pack(words, "xBBBBBGGGGGRRRRR", order) == struct.pack(f"{sign}{words.size}H", *words.ravel().tolist())


def test_cells_follow_each_other():
    """In order of cells each cell is a picture of its own, left to right and then down."""
    pixels = pattern_picture(24, 16, 4)
    parts = [pack(pixels[top : top + 8, left : left + 8], "IIII") for top in (0, 8) for left in (0, 8, 16)]
    assert pack(pixels, "IIII", order="cells") == b"".join(parts)


INDEXED = [
    {"pixel": "I" * bits, "planes": planes, "first": first, "order": order}
    for planes in ("chunky", "by byte", "by pair", "by word", "by row", "by picture")
    for bits in ((1, 2, 4, 8) if planes == "chunky" else range(1, 9))
    for first in ("high", "low")
    for order in ("rows", "cells", "columns")
]
DIRECT = [
    {"pixel": pixel, "order": order}
    for pixel in ("RRRGGGBB", "xBBBBBGGGGGRRRRR", "RRRRRRRRGGGGGGGGBBBBBBBB", "AAAAAAAARRRRRRRRGGGGGGGGBBBBBBBB")
    for order in ("rows", "cells")
]
CELLS = [(8, 8), (16, 16), (8, 16), (5, 3), (12, 1)]
ORDERS = [("big", None), ("little", None), ("big", "little")]  # the target's, the format's own
TARGET = load_target(shipped_targets()["lattice16"])


def check_round_trip(settings: dict, pixels: np.ndarray, cell: tuple[int, int], order: str, own: str | None) -> None:
    """Pack a picture as a background's blob, decode it with the image reader, and compare pixels and sizes."""
    height, width = pixels.shape
    pixel_format = make_format(**settings, byte_order=own)
    packed = pack_picture(pixels, pixel_format, own or order, cell)
    assert packed_bytes(width, height, pixel_format, cell) == len(packed)
    formats = {"other": make_format("II"), "tested": pixel_format}
    target = msgspec.structs.replace(TARGET, byte_order=order, cells=Cells(width=cell[0], height=cell[1]), pixel_formats=formats)
    head = put_record(BACKGROUND, order, version=1, pixel_format=1, width=width, height=height, pixels=record_bytes(BACKGROUND))
    decoded = decode_blob("background", head + packed, target)
    assert np.array_equal(decoded.pixels[0], pixels)
    assert decoded.pixel_format == pixel_format


@pytest.mark.parametrize("settings", INDEXED + DIRECT, ids=lambda one: "-".join(one.values()))
def test_image_reader_gets_the_same_pixels(settings):
    """Whatever is packed in any format, the reader, which shares no code with the packer, decodes the same pixels."""
    random = np.random.default_rng(7)
    for cell, (order, own) in itertools.product(CELLS, ORDERS) if LONG else zip(CELLS, itertools.cycle(ORDERS), strict=False):
        width, height = (3 * cell[0], 2 * cell[1]) if settings["order"] != "rows" else (37, 5)
        pixels = random.integers(0, 2 ** len(settings["pixel"]), (height, width), dtype=np.uint32)
        check_round_trip(settings, pixels, cell, order, own)


@st.composite
def pictures(draw):
    """Draw a format, a cell, and a picture (of whole cells where the format asks for them) that fits it."""
    settings, cell = draw(st.sampled_from(INDEXED + DIRECT)), (draw(st.integers(1, 20)), draw(st.integers(1, 9)))
    across, down = draw(st.integers(1, 3)), draw(st.integers(1, 3))
    shape = (down * cell[1], across * cell[0]) if settings["order"] != "rows" else (down, draw(st.integers(1, 40)))
    level = st.integers(0, 2 ** len(settings["pixel"]) - 1)
    return settings, draw(arrays(np.uint32, shape, elements=level, fill=level)), cell


@given(pictures(), st.sampled_from(["big", "little"]), st.sampled_from([None, "big", "little"]))
def test_image_reader_gets_any_picture_back(case, order, own):
    """Pictures, cells and formats put together at random survive as well."""
    check_round_trip(*case, order, own)
