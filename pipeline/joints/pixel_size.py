"""Sizes of packed pictures, in bytes, without packing one: needed before there is a picture."""

from __future__ import annotations

from pipeline.joints.layouts import SCREEN, record_bytes
from pipeline.joints.notice import notice_colours
from pipeline.plain.sizes import round_up
from pipeline.target.records import PictureRules, PixelFormat


def packed_bytes(width: int, height: int, pixel_format: PixelFormat, cell: tuple[int, int]) -> int:
    """Return the bytes a picture of this size takes in a pixel format.

    Args:
        width, height: in pixels; whole cells when the format's order is ``cells``.
        cell: width and height of a cell in pixels.
    """
    parts = 1
    if pixel_format.order == "cells":
        parts = (width // cell[0]) * (height // cell[1])
        width, height = cell
    bits = pixel_format.pixel.width
    if pixel_format.planes == "chunky":
        return parts * height * -(-width * bits // 8)
    unit = 8 if pixel_format.planes == "by byte" else 16
    return parts * height * bits * round_up(width, unit) // 8


def screen_pixels_at(rules: PictureRules, alignment: int) -> int:
    """Return the offset of the pixels in a boot notice's blob: after its record and its own palette."""
    indexed = rules.pixel_format.pixel.bits("I")
    entries = len(notice_colours(rules.pixel_format.pixel.width)) if indexed else 0
    return round_up(record_bytes(SCREEN) + entries * rules.entry.bytes, max(alignment, 4))


def screen_bytes(width: int, height: int, rules: PictureRules, alignment: int) -> int:
    """Return the size of a boot notice's blob; known before its content, so that other assets can be placed first."""
    across, down = round_up(width, rules.cell[0]), round_up(height, rules.cell[1])
    return screen_pixels_at(rules, alignment) + packed_bytes(across, down, rules.pixel_format, rules.cell)
