"""Sizes of packed pictures, in bytes, without packing one: needed before there is a picture."""

from __future__ import annotations

import msgspec

from pipeline.joints.layouts import SCREEN, record_bytes
from pipeline.joints.notice import notice_colours
from pipeline.plain.sizes import round_up
from pipeline.target.records import PictureRules, PixelFormat


def packed_bytes(width: int, height: int, pixel_format: PixelFormat, cell: tuple[int, int], start: int = 1) -> int:
    """Return the bytes a picture of this size takes in a pixel format.

    Args:
        width, height: in pixels; whole cells when the format's order is not ``rows``.
        cell: width and height of a cell in pixels.
        start: at multiples of which each cell starts when the format's order is not ``rows`` and cells are not tiles.
    """
    parts = 1
    part = pixel_format.part(cell)
    if part is not None:
        parts = (width // part[0]) * (height // part[1])
        width, height = part
    bits = pixel_format.pixel.width
    if pixel_format.planes == "chunky":
        size = height * round_up(-(-width * bits // 8), pixel_format.row_unit)
    else:
        unit = 1 if pixel_format.planes in ("by byte", "by pair") else 2
        size = height * bits * round_up(-(-width // 8), max(unit, pixel_format.row_unit))
    return parts * round_up(size, start if part == cell else 1)


def one_part(pixel_format: PixelFormat) -> PixelFormat:
    """Return a format whose pictures are consecutive cells, the rows of each one below another, as tiles of a background are."""
    return msgspec.structs.replace(pixel_format, order="cells", tile=None)


def stored_bytes(width: int, height: int, rules: PictureRules, start: int = 1) -> int:
    """Return the bytes a picture of this size takes in a blob where what follows it starts at a multiple of ``start``."""
    return round_up(packed_bytes(width, height, rules.pixel_format, rules.cell, rules.starts.cell), start)


def padding_bytes(width: int, height: int, rules: PictureRules, stored: int) -> int:
    """Return how many of the ``stored`` bytes of a picture are there only because rows, cells and frames start where they must."""
    return stored - packed_bytes(width, height, msgspec.structs.replace(rules.pixel_format, row_unit=1), rules.cell)


def screen_pixels_at(rules: PictureRules, alignment: int) -> int:
    """Return the offset of the pixels in a boot notice's blob: after its record and its own palette."""
    indexed = rules.pixel_format.pixel.bits("I")
    entries = len(notice_colours(rules.pixel_format.pixel.width)) if indexed else 0
    return round_up(screen_entries_at(rules) + entries * rules.entry.bytes, max(alignment, 4))


def screen_entries_at(rules: PictureRules) -> int:
    """Return the offset of its own palette's entries in a boot notice's blob."""
    return round_up(record_bytes(SCREEN), rules.starts.entries)


def screen_bytes(width: int, height: int, rules: PictureRules, alignment: int) -> int:
    """Return the size of a boot notice's blob; known before its content, so that other assets can be placed first."""
    across, down = round_up(width, rules.cell[0]), round_up(height, rules.cell[1])
    return screen_pixels_at(rules, alignment) + stored_bytes(across, down, rules)
