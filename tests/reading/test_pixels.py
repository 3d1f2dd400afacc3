"""Pixels read from bytes: every format against bits taken one at a time, and many parts at once against each alone."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.plain.bits import parse_pattern
from pipeline.reading.decoded import BlobFault
from pipeline.reading.pixels import read_parts
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import PixelFormat

WIDTH, HEIGHT, COUNT = 19, 3, 5
FORMATS = [
    (4, "chunky", "high", "big"),
    (2, "chunky", "low", "big"),
    (16, "chunky", "high", "little"),
    (24, "chunky", "high", "big"),
    (3, "by byte", "high", "big"),
    (4, "by pair", "high", "big"),
    (5, "by pair", "low", "little"),
    (4, "by word", "high", "little"),
    (4, "by word", "low", "big"),
    (2, "by row", "high", "big"),
    (5, "by picture", "low", "big"),
]


def one_pixel(part: bytes, x: int, y: int, depth: int, planes: str, first: str, order: str) -> int:
    """Return a pixel by the meaning of the format: each of its bits looked up where the format puts it."""
    if planes == "chunky" and depth >= 8:
        at = (y * WIDTH + x) * depth // 8
        return int.from_bytes(part[at : at + depth // 8], order)
    if planes == "chunky":
        octet, place = part[y * (len(part) // HEIGHT) + x * depth // 8], x * depth % 8
        return octet >> (8 - depth - place if first == "high" else place) & (1 << depth) - 1
    row = len(part) // HEIGHT // depth  # bytes of one plane of a row
    value = 0
    for plane in range(depth):
        if planes == "by byte":
            at = y * row * depth + x // 8 * depth + plane
        elif planes == "by word":
            inside = x // 8 % 2
            at = y * row * depth + x // 16 * 2 * depth + 2 * plane + (1 - inside if order == "little" else inside)
        elif planes == "by pair":
            mates = 2 if plane // 2 * 2 + 1 < depth else 1
            at = plane // 2 * 2 * HEIGHT * row + (y * row + x // 8) * mates + plane % 2
        elif planes == "by row":
            at = (y * depth + plane) * row + x // 8
        else:
            at = (plane * HEIGHT + y) * row + x // 8
        value |= (part[at] >> (7 - x % 8 if first == "high" else x % 8) & 1) << plane
    return value


def made(depth: int, planes: str, first: str, order: str) -> PixelFormat:
    pattern = parse_pattern("I" * depth if depth < 16 else "R" * (depth - 10) + "GGGGGBBBBB")
    return PixelFormat(pixel=pattern, planes=planes, first=first, byte_order=order)


@pytest.mark.parametrize(("depth", "planes", "first", "order"), FORMATS)
def test_every_bit_is_where_the_format_has_it(depth, planes, first, order):
    target = load_target(next(iter(shipped_targets().values())))
    blob = np.random.default_rng(depth).integers(0, 256, 4000, dtype=np.uint8).tobytes()
    parts, end = read_parts(blob, 7, COUNT, WIDTH, HEIGHT, made(depth, planes, first, order), target)
    size = (end - 7) // COUNT
    wanted = [
        [[one_pixel(blob[at : at + size], x, y, depth, planes, first, order) for x in range(WIDTH)] for y in range(HEIGHT)]
        for at in range(7, end, size)
    ]
    assert parts.dtype == np.uint32
    assert parts.tolist() == wanted


@pytest.mark.parametrize("planes", ["chunky", "by picture"])
def test_the_first_part_that_leaves_the_blob_is_named(planes):
    target = load_target(next(iter(shipped_targets().values())))
    form = made(4, planes, "high", "big")
    _, end = read_parts(bytes(4000), 100, COUNT, WIDTH, HEIGHT, form, target)
    size = (end - 100) // COUNT
    with pytest.raises(BlobFault, match=f"pixels at {100 + 3 * size} leave"):
        read_parts(bytes(end - size - 1), 100, COUNT, WIDTH, HEIGHT, form, target)
    with pytest.raises(BlobFault, match="pixels at 5000 leave"):
        read_parts(bytes(4000), 5000, 1 << 40, WIDTH, HEIGHT, form, target)
    assert read_parts(b"", 0, 0, WIDTH, HEIGHT, form, target)[0].shape == (0, HEIGHT, WIDTH)
