"""What a picture shows, as plain values: boxes, grids of cells, and all that was measured."""

from __future__ import annotations

from typing import NamedTuple

from pipeline.assets.sources.keyed import Ground


class Box(NamedTuple):
    """A part of a picture, in pixels from its top left."""

    left: int
    top: int
    width: int
    height: int


class Grid(NamedTuple):
    """Cells of one size in a picture.

    Attributes:
        frame: width and height of a cell in pixels.
        margin: pixels before the first cell, across and down. gap: pixels between cells.
        count: cells that are used, in reading order.
        rows_used: used cells of each row; those that follow in it are empty.
        boxes: of each cell, what is drawn in it; empty cells before the last used one have no size.
        cuts: something drawn crosses from one cell into another, more than where two figures touch.
        reason: what shows that there is such a grid.
        things: the cells are things of their own, such as tiles and icons, and no animation.
        whole: the cells reach to the picture's right and lower edge, so that columns and rows say all.
    """

    columns: int
    rows: int
    frame: tuple[int, int]
    margin: tuple[int, int]
    gap: tuple[int, int]
    count: int
    rows_used: tuple[int, ...]
    boxes: tuple[Box, ...]
    cuts: bool
    reason: str
    things: bool = False
    whole: bool = True

    def cell(self, rank: int) -> Box:
        """Return a cell by its number."""
        place = (rank % self.columns, rank // self.columns)
        left, top = (first + at * (side + gap) for first, at, side, gap in zip(self.margin, place, self.frame, self.gap, strict=True))
        return Box(left, top, *self.frame)


class Look(NamedTuple):
    """What a still picture shows.

    Attributes:
        width, height: in pixels.
        opaque: share of its pixels that are drawn, in thousandths, rounded down; 1000 only if all are.
        colours: distinct colours of what is drawn.
        key: the colour that means nothing; None where there is none, or the picture has an alpha channel that says so.
        box: what is drawn, as one rectangle; without size if nothing is.
        grids: grids that fit, the best first.
        parts: figures apart from one another, in reading order, if there are several; their boxes may overlap.
        strip: it is a strip of blocks, each of one colour.
        lossy: its format keeps colours only approximately.
        turned: it asks viewers to turn it.
    """

    width: int
    height: int
    opaque: int
    colours: int
    key: Ground | None
    box: Box
    grids: tuple[Grid, ...] = ()
    parts: tuple[Box, ...] = ()
    strip: bool = False
    lossy: bool = False
    turned: bool = False
