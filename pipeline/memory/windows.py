"""A background through a window: what the window holds of it in memory, and what one step of the picture brings in.

The program keeps as many units (bytes of adjacent pixels, cells, map entries) as any position of the window covers, in memory that
wraps around: what leaves on one side makes room for what comes in on the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.joints.pixel_size import packed_bytes
from pipeline.plain.sizes import round_up
from pipeline.target.records import PixelFormat


@dataclass(frozen=True)
class Grid:
    """How a background is stored, as units that are copied whole.

    Attributes:
        unit: width and height of one in pixels; ``bytes``: of one.
        whole: how many there are across and down, with those that pad it.
        split: runs into which a row of units breaks; ``split_whole``: those into which several whole rows do.
        apart: units of a row, or bytes of a unit, are not adjacent in the cartridge.
    """

    unit: tuple[int, int]
    bytes: int
    whole: tuple[int, int]
    split: int = 1
    split_whole: int = 1
    apart: bool = False


@dataclass(frozen=True)
class View:
    """A window over a grid.

    Attributes:
        held: units across and down that are in memory; ``size``: the same in pixels; ``bytes``: of all of them.
        moved: units that come in across and down with one step, at most.
        moved_bytes, moved_runs: of the strips that this step brings, and of how many runs they are.
        pace: bytes that come in with a step on average while it goes on, rounded up.
    """

    held: tuple[int, int]
    size: tuple[int, int]
    bytes: int
    moved: tuple[int, int]
    moved_bytes: int
    moved_runs: int
    pace: int


def bitmap_grid(size: tuple[int, int], pixel_format: PixelFormat, cell: tuple[int, int], start: int = 1) -> Grid:
    """Return the grid of a bitmap of this size in pixels, stored as whole cells of this size.

    Args:
        start: bytes at multiples of which each cell starts, where pictures are stored cell after cell.
    """
    padded = [round_up(side, step) for side, step in zip(size, cell, strict=True)]
    unit, split, split_whole = pixel_format.part(cell) or cell, 1, 1
    if pixel_format.order == "rows":
        unit = (_together(pixel_format), 1)
        planes = pixel_format.pixel.width
        apart = {"by row": planes, "by picture": planes, "by pair": -(-planes // 2)}
        split = apart.get(pixel_format.planes, 1)
        split_whole = 1 if pixel_format.planes == "by row" else split
    whole = (-(-padded[0] // unit[0]), -(-padded[1] // unit[1]))
    apart = split > 1 or pixel_format.order == "columns"
    return Grid(unit, packed_bytes(*unit, pixel_format, cell, start), whole, split, split_whole, apart)


def _together(pixel_format: PixelFormat) -> int:
    """Return how many pixels of a row are the fewest that take whole bytes, and whole row units of the format."""
    if pixel_format.planes != "chunky":
        return 8 * max(1 if pixel_format.planes in ("by byte", "by pair") else 2, pixel_format.row_unit)
    bits = pixel_format.pixel.width
    return math.lcm(bits, 8 * pixel_format.row_unit) // bits


def through(grid: Grid, picture: tuple[int, int], seen: tuple[int, int], margin: int, speed: tuple[int, int]) -> View:
    """Return what a window of a background takes and brings.

    Args:
        picture: width and height of the background in pixels; ``seen``: of the part that is seen.
        margin: pixels held beyond that, where the picture goes on.
        speed: pixels by which the window moves across and down from one picture to the next, either way, at most.
    """
    (wide, right), (high, down) = (_axis(*one, margin) for one in zip(picture, seen, grid.unit, speed, strict=True))
    strips = [right * high, down * wide]
    runs = (high * (1 if right == 1 else 2) * grid.split if right else 0) + (_row_runs(grid, wide, down) if down else 0)
    brought = (sum(strips) - right * down) * grid.bytes
    pace = sum(
        -(-amount * length * grid.bytes // unit) if moved else 0
        for amount, length, unit, moved in zip(speed, (high, wide), grid.unit, (right, down), strict=True)
    )
    return View(
        (wide, high),
        (min(wide * grid.unit[0], picture[0]), min(high * grid.unit[1], picture[1])),
        wide * high * grid.bytes,
        (right, down),
        brought,
        runs,
        min(pace, brought),
    )


def _row_runs(grid: Grid, wide: int, rows: int) -> int:
    """Return of how many runs some rows of the window are; one that wraps around is two."""
    if wide == grid.whole[0]:
        return (1 if rows == 1 else 2) * grid.split_whole
    return rows * (2 if wide > 1 else 1) * grid.split


def _axis(length: int, seen: int, unit: int, speed: int, margin: int) -> tuple[int, int]:
    """Return how many units are held along one axis, and how many one step brings at most; what only pads the picture is not needed."""
    whole = -(-length // unit)
    if seen >= length:
        return whole, 0
    held = min(whole, (seen + 2 * margin - 2) // unit + 2 if seen + 2 * margin > 1 else 1)
    first = [min(max(place - margin, 0) // unit, whole - held) for place in range(length - seen + 1)]
    step = min(speed, length - seen)
    moved = max(after - before for before, after in zip(first, [*first[step:], *[first[-1]] * step], strict=True))
    return held, min(moved, held)
