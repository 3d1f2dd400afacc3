"""Tiles and maps: against Pillow's crops and mirrors, Burnside's lemma, and map entries read by hand."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from PIL import Image, ImageOps

from pipeline.pixels.tiles.tiles import Tiles, allowed_flips, cut, encode_map, join
from pipeline.plain.bits import parse_pattern
from tests.pixels.inverses import decode_map

ENTRY = parse_pattern("ccHVPttttttttttt")
FLIPS = [(False, False), (True, False), (False, True), (True, True)]


@st.composite
def pictures(draw) -> tuple[np.ndarray, int, int]:
    """A picture of whole tiles with few colours, so that tiles come again, and the tile's width and height."""
    width, height = draw(st.integers(1, 3)), draw(st.integers(1, 3))
    shape = (height * draw(st.integers(1, 5)), width * draw(st.integers(1, 5)))
    dtype = draw(st.sampled_from([np.uint8, np.uint16, np.uint32]))
    return draw(hnp.arrays(dtype, shape, elements=st.integers(0, 1))), width, height


def crops(picture: np.ndarray, width: int, height: int) -> list[Image.Image]:
    """Return the cells of a picture as Pillow crops them."""
    image = Image.fromarray(picture.astype(np.uint8))
    return [
        image.crop((left, top, left + width, top + height))
        for top in range(0, image.height, height)
        for left in range(0, image.width, width)
    ]


def mirrors(image: Image.Image, flip_x: bool, flip_y: bool) -> set[bytes]:
    """Return a cell and its mirror images as Pillow makes them."""
    found = [image, *([ImageOps.mirror(image)] if flip_x else [])]
    found += [ImageOps.flip(one) for one in found] if flip_y else []
    return {one.tobytes() for one in found}


@given(pictures(), st.sampled_from(FLIPS))
def test_picture_comes_back(case, flips):
    """Tiles and map give the very picture back, in its dtype."""
    picture, width, height = case
    back = join(cut(picture, width, height, *flips))
    assert back.dtype == picture.dtype
    assert np.array_equal(back, picture)


@given(pictures(), st.sampled_from(FLIPS))
def test_tiles_against_pillow(case, flips):
    """The tiles are the cells Pillow crops, in order of first use, without those that Pillow's mirrors make of earlier ones."""
    picture, width, height = case
    kept: list[bytes] = []
    known: set[bytes] = set()
    for cell in crops(picture, width, height):
        if cell.tobytes() not in known:
            kept.append(cell.tobytes())
            known |= mirrors(cell, *flips)
    assert [tile.astype(np.uint8).tobytes() for tile in cut(picture, width, height, *flips).tiles] == kept


@given(pictures(), st.sampled_from(FLIPS))
def test_flips_are_allowed_and_none_too_many(case, flips):
    """Only allowed flips occur, and none where the tile as it is would do."""
    picture, width, height = case
    tiles = cut(picture, width, height, *flips)
    assert set(tiles.map_flips.ravel().tolist()) <= set(allowed_flips(*flips))
    plain = [tiles.tiles[index].astype(np.uint8).tobytes() for index in tiles.map_index.ravel()]
    for stored, cell, flip in zip(plain, crops(picture, width, height), tiles.map_flips.ravel(), strict=True):
        assert (flip == 0) == (stored == cell.tobytes())
    assert tiles.map_index.dtype == np.int32
    assert tiles.map_flips.dtype == np.uint8


@pytest.mark.parametrize("flips", FLIPS)
@pytest.mark.parametrize(("width", "height"), [(2, 2), (3, 3), (4, 2), (3, 2)])
def test_all_black_and_white_tiles_against_burnside(width, height, flips):
    """All tiles of two colours: as many are left as Burnside's lemma counts patterns that no mirror makes of each other."""
    size = width * height
    every = (np.arange(1 << size)[:, None] >> np.arange(size)) & 1
    picture = every.reshape(-1, width).astype(np.uint8)
    half_x, half_y = (width + 1) // 2 * height, width * ((height + 1) // 2)
    fixed = [1 << size] + [1 << half_x] * flips[0] + [1 << half_y] * flips[1] + [1 << (size + 1) // 2] * (flips[0] and flips[1])
    assert len(cut(picture, width, height, *flips).tiles) == sum(fixed) // len(fixed)


# Squares of 12 over tiles of 8 repeat after three tiles: whole, cut in halves, whole of the other colour. Whole by whole
# gives 2 tiles, whole by halves 2 wide and 2 high, halves by halves 1 of quarters; mirrors make one of each pair of halves.
BOARDS = [
    (1, 8, False, 1),
    (4, 8, False, 1),
    (8, 8, False, 2),
    (16, 8, False, 2),
    (1, 3, False, 2),
    (1, 4, False, 1),
    (12, 8, False, 7),
    (12, 8, True, 5),
]


@pytest.mark.parametrize(("square", "tile", "flips", "count"), BOARDS)
def test_checkerboards(square, tile, flips, count):
    """Checkerboards have the number of tiles that counting by hand gives."""
    rows, columns = np.indices((48, 48)) // square
    assert len(cut(((rows + columns) % 2).astype(np.uint8), tile, tile, flips, flips).tiles) == count


def test_noise_has_a_tile_a_cell():
    """Noise of 16 bits has as many tiles as cells; numbers run from 0 in reading order."""
    noise = np.random.default_rng(5).integers(0, 65536, (64, 96)).astype(np.uint16)
    tiles = cut(noise, 8, 8, True, True)
    assert np.array_equal(tiles.map_index, np.arange(96).reshape(8, 12))
    assert not tiles.map_flips.any()


@pytest.mark.parametrize("shape", [(8, 12), (12, 8), (0, 8), (8, 0)])
def test_part_of_a_tile_is_refused(shape):
    """A picture that is not whole tiles is refused with its size."""
    with pytest.raises(ValueError, match=f"{shape[1]} x {shape[0]} is not made of whole tiles of 8 x 8"):
        cut(np.zeros(shape, dtype=np.uint8), 8, 8)


def one_cell(index: int, flips: int) -> Tiles:
    """Return a map of one cell."""
    return Tiles(np.zeros((1, 8, 8), np.uint8), np.array([[index]], np.int32), np.array([[flips]], np.uint8))


# Two usual layouts of 16-bit tile hardware, from memory, each word put together by hand, bit by bit.
BY_HAND = [
    # priority 15, palette 14-13, vertical flip 12, horizontal flip 11, tile 10-0
    ("PccVHttttttttttt", 0x000, 0, 0, 0, 0x0000),
    ("PccVHttttttttttt", 0x7FF, 0, 0, 0, 0x07FF),
    ("PccVHttttttttttt", 0x001, 1, 0, 0, 0x0801),
    ("PccVHttttttttttt", 0x001, 2, 0, 0, 0x1001),
    ("PccVHttttttttttt", 0x123, 3, 2, 1, 0xD923),
    ("PccVHttttttttttt", 0x456, 0, 3, 0, 0x6456),
    # vertical flip 15, horizontal flip 14, priority 13, palette 12-10, tile 9-0
    ("VHPccctttttttttt", 0x3FF, 1, 0, 0, 0x43FF),
    ("VHPccctttttttttt", 0x155, 2, 5, 1, 0xB555),
    # bits that do not count, are fixed, and a field in two parts
    ("1xxt cHVt tttt tttt", 0x2FF, 3, 1, 0, 0x9EFF),
    ("xxxxxxxxtttttttt", 0x0AB, 0, 0, 0, 0x00AB),
]


@pytest.mark.parametrize(("text", "tile", "flips", "palette", "priority", "word"), BY_HAND)
def test_map_entries_read_by_hand(text, tile, flips, palette, priority, word):
    """Words are those put together by hand, and say the same when read."""
    pattern = parse_pattern(text)
    made = encode_map(one_cell(tile, flips), pattern, 0, np.array([[palette]]))
    assert made.tolist() == [[word - sum(priority << place for place in pattern.fields.get("P", ()))]]
    read = decode_map(np.array([[word]], dtype=np.uint16), pattern)
    assert (read.tile[0, 0], read.flips[0, 0], read.palette[0, 0], read.priority[0, 0]) == (tile, flips, palette, priority)


@given(pictures(), st.data())
def test_map_comes_back(case, data):
    """What is written into a map is read from it, for any place of the fields, any first tile and any palettes."""
    tiles = cut(*case, True, True)
    pattern = parse_pattern("".join(data.draw(st.permutations("PccVHttttttttxx10"))))
    shape = tiles.map_index.shape
    first = data.draw(st.integers(0, 256 - len(tiles.tiles)))
    palettes = data.draw(hnp.arrays(np.uint8, shape, elements=st.integers(0, 3)))
    words = encode_map(tiles, pattern, first, palettes)
    junk = sum(1 << (pattern.width - 1 - rank) for rank, char in enumerate(pattern.text) if char == "x")
    read = decode_map(words | np.uint32(junk), pattern)
    assert np.array_equal(read.tile, tiles.map_index + first)
    assert np.array_equal(read.flips, tiles.map_flips)
    assert np.array_equal(read.palette, palettes)
    assert not read.priority.any()


@pytest.mark.parametrize(
    ("text", "cell", "options", "message"),
    [
        ("PccVHttttttttttt", (2047, 0), {"first_tile": 1}, "tile number 2048 in row 0, column 0 does not fit"),
        ("PccVHttttttttttt", (0, 0), {"first_tile": -1}, "tile number -1 in row 0"),
        ("PccVHttttttttttt", (0, 0), {"palettes": np.array([[4]])}, "its field c has 2 bits, so 0 to 3"),
        ("tttttttt", (0, 1), {}, "flip left to right 1 in row 0, column 0 does not fit map entry tttttttt: its field H has 0 bits"),
        ("Htttttttt", (0, 2), {}, "flip top to bottom 1"),
        ("tttttttt", (0, 0), {"palettes": np.array([[1]])}, "palette 1 in row 0"),
        ("Zttttttt", (0, 0), {}, "has Z; the fields here are t, H, V, c, P"),
        ("PccVH", (0, 0), {}, "no tile number"),
    ],
)
def test_what_does_not_fit_is_refused(text, cell, options, message):
    """A number that a field cannot hold is never cut: it is refused with number, place, field and range."""
    with pytest.raises(ValueError, match=re.escape(message)):
        encode_map(one_cell(*cell), parse_pattern(text), **options)


def test_place_of_a_refusal():
    """The first cell that does not fit is named."""
    picture = np.arange(12, dtype=np.uint8).reshape(3, 4)
    with pytest.raises(ValueError, match="tile number 8 in row 2, column 0"):
        encode_map(cut(picture, 1, 1), parse_pattern("xttt"))
