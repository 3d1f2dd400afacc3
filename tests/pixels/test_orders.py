"""Orders of planes and tiles as published hardware manuals draw them, and as a reader written here alone takes them apart.

Planes in pairs: "SNES Development Manual", book I (1993), character data of 4 and 16 and 256 colours: a row of an 8 x 8 character has a
byte of plane 0 and a byte of plane 1, the eight rows of these two planes come first (16 bytes), then those of planes 2 and 3, and so on;
bit 7 is the leftmost dot. Tiles of a sprite down columns: "Genesis Technical Overview" 1.00 (1991), sprite patterns: the cell below
comes before the cell to the right. Both from memory.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from pipeline.joints.pixel_size import packed_bytes
from pipeline.pixels.pack import pack_picture
from pipeline.plain.bits import parse_pattern
from pipeline.target.records import PixelFormat
from tests.makers import target_data, target_problems, toml_text

CELL = (8, 8)


def form(pixel: str, **keys) -> PixelFormat:
    """Return a pixel format; ``tile`` and ``order`` as in a target file."""
    return PixelFormat(pixel=parse_pattern(pixel, "I"), **keys)


def place_of(x: int, y: int, plane: int) -> tuple[int, int]:
    """Return byte and bit at which the manual draws a plane of a dot of an 8 x 8 character."""
    return plane // 2 * 16 + 2 * y + plane % 2, 7 - x


@pytest.mark.parametrize("depth", [2, 4, 8])
def test_every_bit_of_a_character_is_where_the_manual_draws_it(depth):
    """One bit of one dot at a time: each sets one bit of the packed character, the one of the manual."""
    pairs = form("I" * depth, planes="by pair", order="cells")
    for x, y, plane in ((x, y, plane) for x in range(8) for y in range(8) for plane in range(depth)):
        pixels = np.zeros((8, 8), dtype=np.uint32)
        pixels[y, x] = 1 << plane
        packed = pack_picture(pixels, pairs, "little", CELL)
        byte, bit = place_of(x, y, plane)
        assert len(packed) == 8 * depth
        assert {at: value for at, value in enumerate(packed) if value} == {byte: 1 << bit}


def test_two_planes_in_a_pair_are_planes_by_byte():
    """A character of four colours has one pair, so both orders are one; an odd plane stays alone at the end."""
    pixels = np.arange(64, dtype=np.uint32).reshape(8, 8) * 7
    two = [pack_picture(pixels & 3, form("II", planes=planes, order="cells"), "little", CELL) for planes in ("by pair", "by byte")]
    assert two[0] == two[1]
    three = pack_picture(pixels & 7, form("III", planes="by pair", order="cells"), "little", CELL)
    assert three[:16] == two[0]
    assert three[16:] == pack_picture(pixels >> 2 & 1, form("I", planes="by byte"), "little", CELL)


def numbers(packed: bytes, depth: int, columns: int, rows: int, down: bool) -> list[list[int]]:
    """Read a sprite of 8 x 8 characters in pairs of planes back, dot by dot, in the order of the manual: rows of dots."""
    size, dots = 8 * depth, []
    for y in range(8 * rows):
        line = []
        for x in range(8 * columns):
            tile = (x // 8) * rows + y // 8 if down else (y // 8) * columns + x // 8
            dot = 0
            for plane in range(depth):
                byte, bit = place_of(x % 8, y % 8, plane)
                dot |= (packed[tile * size + byte] >> bit & 1) << plane
            line.append(dot)
        dots.append(line)
    return dots


@pytest.mark.parametrize("order", ["cells", "columns"])
@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (4, 4), (2, 3), (3, 1)])
def test_a_sprite_of_several_tiles_is_numbered_as_the_manual_numbers_it(order, columns, rows):
    """Random dots of up to 4 x 4 tiles; the cell is the whole sprite, stored as tiles of 8 x 8, or a tile itself."""
    chance = random.Random(f"{order} {columns} {rows}")
    dots = np.array([[chance.randrange(16) for _ in range(8 * columns)] for _ in range(8 * rows)], dtype=np.uint32)
    for cell, tile in ((CELL, None), ((8 * columns, 8 * rows), CELL)):
        one = form("IIII", planes="by pair", order=order, tile=tile)
        packed = pack_picture(dots, one, "big", cell)
        assert numbers(packed, 4, columns, rows, order == "columns") == dots.tolist()
        assert packed_bytes(8 * columns, 8 * rows, one, cell) == len(packed) == 32 * columns * rows


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        (
            {"order": "rows", "tile": [8, 8]},
            "rows run across the whole picture, not tile after tile\n    set order = \"cells\" or \"columns\"",
        ),
        ({"tile": [3, 8]}, "a cell of 8 x 8 is not whole tiles of 3 x 8\n    use sides that divide those of [cells]"),
    ],
)
def test_a_tile_that_cannot_be_is_refused(tmp_path, keys, wrong):
    """Tiles are what cells are cut into."""
    data = target_data("lattice16")
    data["pixel_formats"]["tile4"] |= keys
    assert any(f"[pixel_formats.tile4] tile: {wrong}" in one for one in target_problems(tmp_path, toml_text(data)))
