"""Bitmap and tiles compared: against going through every position with plain sets, and against counting by hand."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.pixels.tiles.compare import Layer, add_layers, compare
from pipeline.pixels.tiles.tiles import Tiles, cut
from tests.conftest import tries


@st.composite
def layers(draw) -> Layer:
    """A background with a random map; its tiles reach beyond the picture or not."""
    tile_width, tile_height = draw(st.integers(1, 4)), draw(st.integers(1, 4))
    width, height = draw(st.integers(1, 18)), draw(st.integers(1, 14))
    rows, columns = -(-height // tile_height), -(-width // tile_width)
    amount = draw(st.integers(1, 12))
    index = np.random.default_rng(draw(st.integers(0, 1000))).integers(0, amount, (rows, columns)).astype(np.int32)
    tiles = Tiles(np.zeros((amount, tile_height, tile_width), np.uint8), index, np.zeros((rows, columns), np.uint8))
    pixel_bits = draw(st.sampled_from([*range(1, 9), 16, 24]))
    return Layer(width, height, tiles, draw(st.integers(1, 64)), draw(st.integers(1, 4)), pixel_bits)


sizes = st.tuples(st.integers(1, 20), st.integers(1, 16))
speeds = st.tuples(st.integers(0, 6), st.integers(0, 6))


def positions(layer: Layer, window: tuple[int, int]) -> list[tuple[range, range]]:
    """Return the pixels, across and down, of every position of a window."""
    wide, high = min(window[0], layer.width), min(window[1], layer.height)
    return [(range(x, x + wide), range(y, y + high)) for x in range(layer.width - wide + 1) for y in range(layer.height - high + 1)]


def cells(layer: Layer, place: tuple[range, range]) -> set[tuple[int, int]]:
    """Return the cells under some pixels."""
    _, height, width = layer.tiles.tiles.shape
    return {(y // height, x // width) for x in place[0] for y in place[1]}


def tiles_of(layer: Layer, some: set[tuple[int, int]]) -> set[int]:
    """Return the tiles in some cells."""
    return {int(layer.tiles.map_index[cell]) for cell in some}


def bytes_of(layer: Layer, x: int) -> list[tuple[int, int]]:
    """Return which bytes of a row hold a pixel: of bits that do not divide 8, the same byte of each plane."""
    bits = layer.pixel_bits
    if bits >= 8:
        return [(x, rank) for rank in range(bits // 8)]
    return [(x * bits // 8, 0)] if 8 % bits == 0 else [(x // 8, plane) for plane in range(bits)]


def steps(layer: Layer, window: tuple[int, int], speed: tuple[int, int]):
    """Return where a window may be before and after a step."""
    known = {(across[0], down[0]): (across, down) for across, down in positions(layer, window)}
    last_x, last_y = max(known)
    for (x, y), place in known.items():
        for dx, dy in itertools.product((speed[0], -speed[0]), (speed[1], -speed[1])):
            yield place, known[min(max(x + dx, 0), last_x), min(max(y + dy, 0), last_y)]


@settings(max_examples=tries(50, 150), deadline=None)
@given(layers(), sizes)
def test_working_set_against_every_position(layer, window):
    """The most distinct tiles, and the bytes, are those of the worst of all positions, found with sets."""
    got = compare(layer, window, (0, 0))
    covered = [cells(layer, place) for place in positions(layer, window)]
    most = max(len(tiles_of(layer, some)) for some in covered)
    assert got["tiles"]["window_tiles"] == most
    most_cells = max(map(len, covered))
    assert got["tiles"]["window_bytes"] == most * layer.tile_bytes + most_cells * layer.entry_bytes
    _, height, width = layer.tiles.tiles.shape
    worst = 0
    for some in covered:
        rows, columns = ({cell[axis] for cell in some} for axis in (0, 1))
        worst = max(worst, len(rows) * height * math.ceil(len(columns) * width * layer.pixel_bits / 8))
    whole = layer.height * math.ceil(layer.width * layer.pixel_bits / 8)
    assert got["bitmap"]["window_bytes"] == min(worst, whole)
    assert got["bitmap"]["image_bytes"] == got["bitmap"]["memory_bytes"] == whole


@settings(max_examples=tries(50, 150), deadline=None)
@given(layers(), sizes, speeds)
def test_bytes_to_move_against_every_step(layer, window, speed):
    """The most that a step brings is what the worst of all steps brings, found with sets."""
    got = compare(layer, window, speed)
    tiles, bitmap = [(0, 0)], [0]
    for before, behind in steps(layer, window, speed):
        old, new = cells(layer, before), cells(layer, behind)
        fresh = len(tiles_of(layer, new) - tiles_of(layer, old))
        tiles.append((fresh * layer.tile_bytes + len(new - old) * layer.entry_bytes, fresh))
        if speed[0] < 3 and speed[1] < 3:
            seen, shown = ({(y, *one) for x in place[0] for y in place[1] for one in bytes_of(layer, x)} for place in (before, behind))
            bitmap.append(len(shown - seen))
    assert (got["tiles"]["moved_bytes"], got["tiles"]["moved_tiles"]) == max(tiles)
    if len(bitmap) > 1:
        assert got["bitmap"]["moved_bytes"] == max(bitmap)


def background(picture: np.ndarray, factor=1) -> Layer:
    """Return a layer of 8 x 8 tiles of 4-bit pixels with map entries of 2 bytes."""
    return Layer(picture.shape[1], picture.shape[0], cut(picture, 8, 8), 32, 2, 4, factor)


def test_one_colour_by_hand():
    """640 x 320 of one colour under 320 x 240: the window covers at most 41 x 31 cells and a step of 8 brings one column."""
    got = compare(background(np.zeros((320, 640), np.uint8)), (320, 240), (8, 0))
    assert got["tiles"] == {
        "image_bytes": 32 + 80 * 40 * 2,
        "memory_bytes": 32 + 80 * 40 * 2,
        "window_bytes": 32 + 41 * 31 * 2,
        "moved_bytes": 31 * 2,
        "tiles": 1,
        "window_tiles": 1,
        "moved_tiles": 0,
    }
    assert got["bitmap"] == {
        "image_bytes": 640 * 320 // 2,
        "memory_bytes": 640 * 320 // 2,
        "window_bytes": 41 * 8 // 2 * 31 * 8,
        "moved_bytes": 4 * 240,
    }


def test_all_different_by_hand():
    """Where no tile comes again, a step of 8 down brings a row of 41 cells and 41 tiles; without a step nothing comes."""
    layer = background(np.arange(320 * 640, dtype=np.uint32).reshape(320, 640))
    down = compare(layer, (320, 240), (0, 8))
    assert (down["tiles"]["moved_bytes"], down["tiles"]["moved_tiles"]) == (41 * 34, 41)
    # A window of 320 pixels of 4 bits that starts within a byte touches 161 bytes.
    assert down["bitmap"]["moved_bytes"] == 161 * 8
    still = compare(layer, (320, 240), (0, 0))
    assert still["tiles"]["moved_bytes"] == still["bitmap"]["moved_bytes"] == 0
    assert still["tiles"]["window_bytes"] == 41 * 31 * 34


def test_window_as_large_as_the_picture_never_moves():
    """A window of the picture's size or more needs all of it and no step."""
    layer = background(np.arange(64 * 64, dtype=np.uint32).reshape(64, 64))
    for window in ((64, 64), (320, 240)):
        got = compare(layer, window, (5, 5))
        assert got["tiles"]["window_bytes"] == got["tiles"]["memory_bytes"]
        assert got["bitmap"]["window_bytes"] == got["bitmap"]["memory_bytes"]
        assert got["tiles"]["moved_bytes"] == got["bitmap"]["moved_bytes"] == 0


@pytest.mark.parametrize(("factor", "speed"), [(Fraction(1, 2), 2), ("1/2", 2), ("0.5", 2), (2, 6), (0, 0), ("0.1", 1), (1, 3)])
def test_factor_scales_the_step(factor, speed):
    """A layer of a factor moves by the factor times 3 pixels, rounded up."""
    picture = np.random.default_rng(2).integers(0, 2, (64, 128)).astype(np.uint8)
    layer, plain = background(picture, factor), background(picture)
    assert compare(layer, (40, 40), (3, -3)) == compare(plain, (40, 40), (speed, speed))


def test_layers_add_up():
    """The sums of a scene are those of its layers, each at its own speed."""
    picture = np.random.default_rng(3).integers(0, 2, (64, 128)).astype(np.uint8)
    scene = [background(picture), background(picture // 2, "1/3"), background(picture[:32], 0)]
    got = add_layers(scene, (40, 30), (6, 0))
    single = [compare(background(one), (40, 30), (speed, 0)) for one, speed in ((picture, 6), (picture // 2, 2), (picture[:32], 0))]
    assert got["layers"] == single
    for form in ("bitmap", "tiles"):
        for key in ("image_bytes", "memory_bytes", "window_bytes", "moved_bytes"):
            assert got[form][key] == sum(one[form][key] for one in single)
    assert add_layers([], (40, 30), (1, 1))["tiles"]["window_bytes"] == 0


def test_refusals():
    """Sizes below 1, strange pixels, factors below 0 and a map of another size are refused."""
    layer = background(np.zeros((16, 16), np.uint8))
    with pytest.raises(ValueError, match="a window of 0 x 8"):
        compare(layer, (0, 8), (0, 0))
    with pytest.raises(ValueError, match="pixels of 12 bits"):
        compare(Layer(16, 16, layer.tiles, 32, 2, 12), (8, 8), (0, 0))
    with pytest.raises(ValueError, match="factor of -1"):
        compare(Layer(16, 16, layer.tiles, 32, 2, 4, -1), (8, 8), (0, 0))
    with pytest.raises(ValueError, match=r"17 x 16 pixels need \(2, 3\)"):
        compare(Layer(17, 16, layer.tiles, 32, 2, 4), (8, 8), (0, 0))
