"""How a picture that holds several frames is described: as a grid, or as figures that are found when it is built."""

from __future__ import annotations

import re
from pathlib import PurePosixPath
from typing import Any

from pipeline.bringing.measuring.shapes import Box, Grid, Look
from pipeline.bringing.names import words_of
from pipeline.bringing.records import Anim, Found, Frame
from pipeline.bringing.vocabulary import LETTERING, SHEETS

_LEAST_PARTS = 4  # figures of like size that make a sheet of a picture whose name does not say that it is one
_SIZE = re.compile(r"(?<![0-9])([0-9]{1,4})x([0-9]{1,4})(?![0-9])", re.IGNORECASE)
_COUNT = re.compile(r"strip_?([0-9]{1,3})(?![0-9])", re.IGNORECASE)


def says_sheet(name: str) -> bool:
    """Return whether a file's name says that it is a sheet."""
    stem = PurePosixPath(name).stem
    return bool(SHEETS & set(words_of(stem)) or _COUNT.search(stem) or _SIZE.search(stem))


def grid_of(name: str, look: Look) -> Grid | None:
    """Return the grid of a sheet: the one that its name says, if it fits; else the best that was measured; None without one."""
    stem = PurePosixPath(name).stem
    for found in _SIZE.finditer(stem):
        width, height = int(found[1]), int(found[2])
        if width and height and (width, height) != (look.width, look.height) and not look.width % width and not look.height % height:
            return _named(look, look.width // width, look.height // height, f"the name says {found[0]}, which is its cells")
        if width * height > 1 and (named := _measured(look, width, height)):
            return named._replace(reason=f"the name says {found[0]}, which is its columns and rows")
    count = _COUNT.search(stem)
    if count and int(count[1]) > 1 and not look.width % int(count[1]):
        return _measured(look, int(count[1]), 1) or _named(look, int(count[1]), 1, f"the name says {count[0]}")
    words = bool(LETTERING & set(words_of(stem))) and not says_sheet(name)
    fitting = (grid for grid in look.grids if not (words and grid.cuts))
    return next((grid for grid in fitting if grid.count > 2 or says_sheet(name) or _are_twins(look, grid)), None)


def _are_twins(look: Look, grid: Grid) -> bool:
    """Return whether two cells are two frames rather than two halves: square, and drawn on alike."""
    one, other = (box.width * box.height for box in grid.boxes[:2])
    return grid.frame[0] == grid.frame[1] and 4 * min(one, other) >= 3 * max(one, other) and look.width >= 32


def _measured(look: Look, columns: int, rows: int) -> Grid | None:
    return next((grid for grid in look.grids if (grid.columns, grid.rows) == (columns, rows)), None)


def _named(look: Look, columns: int, rows: int, reason: str) -> Grid | None:
    """Return a grid that a name says; one cell is none, and a picture of 4096 cells is not a figure's."""
    measured = _measured(look, columns, rows)
    if measured:
        return measured._replace(reason=reason)
    if not 1 < columns * rows <= 4096:
        return None
    frame = (look.width // columns, look.height // rows)
    grid = Grid(columns, rows, frame, (0, 0), (0, 0), columns * rows, (columns,) * rows, (), True, reason)
    return grid._replace(boxes=tuple(grid.cell(rank) for rank in range(grid.count)))


def is_parted(name: str, look: Look) -> bool:
    """Return whether a picture without a grid holds several figures: most of them alike in size, or its name says so."""
    lettering = LETTERING & set(words_of(PurePosixPath(name).stem)) or _are_letters(look.parts)
    if not look.parts or (lettering and not says_sheet(name)):
        return False
    sizes = sorted(max(box.width, box.height) for box in look.parts)
    middle = sizes[len(sizes) // 2]
    alike = sum(2 * size >= middle and size <= 2 * middle for size in sizes)
    enough = len(sizes) >= (2 if says_sheet(name) else _LEAST_PARTS)
    if sizes[-1] > 4 * middle:
        return False
    return enough and 4 * alike >= 3 * len(sizes) and middle >= 6


def _are_letters(parts: tuple[Box, ...]) -> bool:
    """Return whether figures are in few lines and close to one another in each, as letters of words are."""
    lines: list[list[Box]] = []
    for box in sorted(parts, key=lambda box: (box.top + box.height, box.left)):
        middle = 2 * box.top + box.height
        own = next((line for line in lines if any(2 * one.top < middle < 2 * (one.top + one.height) for one in line)), None)
        if own is None:
            lines.append([box])
        else:
            own.append(box)
    if not parts:
        return False
    gaps, height = [], sorted(box.height for box in parts)[len(parts) // 2]
    for line in lines:
        line.sort()
        gaps += [after.left - before.left - before.width for before, after in zip(line, line[1:], strict=False)]
    in_lines = sum(len(line) for line in lines if len(line) > 2)
    return 4 * in_lines >= 3 * len(parts) and 3 * sorted(gaps)[len(gaps) // 2] <= height


def is_strip_of_cells(look: Look) -> bool:
    """Return whether a picture is cells and no background: a long row or column of them, or squares whose edges show."""
    if not look.grids or look.grids[0].count < 3:
        return False
    long, short = max(look.width, look.height), min(look.width, look.height)
    return long >= 4 * short or (look.grids[0].things and look.grids[0].cuts)


def cells_of(name: str, grid: Grid) -> tuple[Frame, ...]:
    """Return the frames of a grid, in reading order."""
    return tuple(Frame(name, grid.cell(rank), box) for rank, box in enumerate(grid.boxes))


def source_keys(found: Found, file: str) -> dict[str, Any]:
    """Return the keys that describe a sprite's one file in the project file: this decides how a sheet is said there."""
    if found.source == "animated":
        return {"animated": file}
    grid = found.grid
    if grid is None:
        return {"sheet": {"file": file, "boxes": "found"}}
    sheet: dict[str, Any] = {"file": file}
    if any((*grid.margin, *grid.gap)) or not grid.whole:
        pairs = {"frame": grid.frame, "margin": grid.margin, "gap": grid.gap}
        sheet |= {key: list(pair) if key == "frame" or pair[0] != pair[1] else pair[0] for key, pair in pairs.items() if any(pair)}
    sheet |= {"columns": grid.columns, "rows": grid.rows}
    sheet |= {"count": grid.count} if grid.count != grid.columns * grid.rows else {}
    return {"sheet": sheet | ({"cut": "anyway"} if grid.cuts else {})}


def row_animations(grid: Grid) -> tuple[Anim, ...]:
    """Return an animation for each row of a grid that has several frames; a grid of one row or column is one; none of things."""
    if grid.things:
        return ()
    if grid.rows == 1 or grid.columns == 1 or len(grid.rows_used) == 1:
        return (Anim("play", tuple(range(grid.count))),)
    starts = range(0, grid.count, grid.columns)
    return tuple(
        Anim(f"row_{rank}", tuple(range(start, start + used)))
        for rank, (start, used) in enumerate(zip(starts, grid.rows_used, strict=True), 1)
        if used
    )
