"""What a picture shows, measured: what is drawn, the colour that means nothing, cells of a grid, figures apart from one another.

A grid is found where cells of one size fill the picture and nothing drawn crosses from one into the next. All is whole numbers.
"""

from __future__ import annotations

import numpy as np

from pipeline.assets.sources.islands import TooManyIslands, find_islands, island_count
from pipeline.assets.sources.keyed import likely_key, near, rgb_of
from pipeline.assets.sources.sheets import cuts_of, likely_grids, slices
from pipeline.bringing.measuring.cells import are_things, full_cells
from pipeline.bringing.measuring.shapes import Box, Grid, Look
from pipeline.project.assets import Sheet

_ALPHA = 128  # pixels at least this opaque are drawn, as in a sprite that says nothing else
_LEAST_CELL, _MOST_ACROSS = 4, 256  # pixels of a cell's side; cells in a row or column
_MOST_PARTS = 1024
_LAGS, _LEAST_REPEATED = 97, 12  # distances that a picture is moved by; pixels across of the narrowest frame that repeats
_WIDEST = 4096
_LEAST_ROW = 3  # figures at one distance that are a row of frames
_PARTED = 4  # figures apart from one another that may be on a grid with gaps
_STRIP_SIDE, _STRIP_COLOURS = 64, 4
_CROSSING = 12  # a line between cells may be crossed by one pixel where this many cross elsewhere
NOTHING = Box(0, 0, 0, 0)


def measure(pixels: np.ndarray, lossy: bool = False) -> Look:
    """Return what a picture shows.

    Args:
        pixels: uint8, shape (height, width, 4): red, green, blue, alpha; height and width at least 1.
        lossy: its format keeps colours only approximately.
    """
    height, width = pixels.shape[:2]
    drawn = pixels[..., 3] >= _ALPHA
    count = int(np.count_nonzero(drawn))
    words = pixels.view(np.uint32)[..., 0] if pixels.flags.c_contiguous else np.ascontiguousarray(pixels).view(np.uint32)[..., 0]
    whole = count == width * height
    key = likely_key(pixels, lossy) if whole else None
    shape = drawn if key is None else ~near(pixels, rgb_of(key.colour), key.tolerance)
    colours = len(np.unique(words[shape]))
    grids, parts = (), ()
    box = drawn_box(shape, Box(0, 0, width, height))
    if box.width and not (whole and key is None):
        grids, parts = _grids(shape), _parts(shape)
        if len(parts) >= max(_PARTED, 2 * grids[0].count if grids else 0):  # several figures in a cell: not cells, or gaps between them
            least = grids[0].count if grids else 1
            grids = (*(grid for grid in _gapped(shape) if grid.count > least), *grids)
        spaced = _spaced(shape, parts) if not grids else None
        grids = (spaced,) if spaced else grids
    repeated = None
    if not grids and _PARTED * height <= width <= _WIDEST and box.width:
        repeated = _repeated(pixels)
        grids = (repeated,) if repeated else ()
    full = full_cells(pixels, lossy) if not grids or repeated or grids[0].count < _LEAST_ROW else None
    if full and not (repeated and repeated.count <= full.count):  # what repeats in larger steps is frames of several squares
        grids = (full, *grids)
    grids = tuple(grid._replace(things=grid.things or are_things(pixels, shape, grid)) for grid in grids)
    strip = whole and _is_strip(words)
    return Look(width, height, count * 1000 // (width * height), colours, key, box, grids, parts, strip, lossy)


def drawn_box(shape: np.ndarray, cell: Box) -> Box:
    """Return what is drawn inside a part of a picture, in the picture's pixels; without size if nothing is."""
    part = shape[slices(cell)]
    rows, columns = np.flatnonzero(part.any(axis=1)), np.flatnonzero(part.any(axis=0))
    if not len(rows):
        return NOTHING
    left, top = int(columns[0]), int(rows[0])
    return Box(cell.left + left, cell.top + top, int(columns[-1]) - left + 1, int(rows[-1]) - top + 1)


def _is_strip(words: np.ndarray) -> bool:
    """Return whether a picture is a row or column of blocks of one size, each of another colour."""
    short, long = sorted(words.shape)
    if short > _STRIP_SIDE or long < max(_STRIP_COLOURS, 2 * short):
        return False
    line, same = (words[0], (words == words[0]).all()) if words.shape[1] == long else (words[:, 0], (words == words[:, :1]).all())
    starts = np.flatnonzero(np.concatenate([[True], line[1:] != line[:-1]]))
    widths = np.diff([*starts, long])
    return bool(same and len(starts) >= _STRIP_COLOURS and len(np.unique(line)) == len(starts) and (widths == widths[0]).all())


def _grids(shape: np.ndarray) -> tuple[Grid, ...]:
    """Return grids of equal cells that fit what is drawn, the best first, at most three."""
    height, width = shape.shape
    columns, rows = _divisions(shape), _divisions(shape.T)
    if len(columns) * len(rows) < 2:
        return ()
    total = np.zeros((height + 1, width + 1), dtype=np.int64)
    np.cumsum(np.cumsum(shape, axis=0, dtype=np.int64), axis=1, out=total[1:, 1:])
    fitting = []
    for across in columns:
        for down in rows:
            used = _rows_used(total, across, down) if across * down > 1 else None
            if used is not None:
                fitting.append((_worth(width // across, height // down, sum(used)), across, down, used))
    fitting.sort(key=lambda one: (one[0], one[1], one[2]), reverse=True)
    return tuple(_grid(shape, across, down, used) for _, across, down, used in fitting[:3])


def _worth(width: int, height: int, count: int) -> tuple[int, int]:
    """Return how likely cells of a size are among those that fit: not slivers first, then small."""
    longer, shorter = max(width, height), min(width, height)
    return int(longer <= 4 * shorter), count


def _divisions(shape: np.ndarray) -> list[int]:
    """Return into how many equal parts from left to right a picture can be cut without cutting what is drawn; 1 is always among them."""
    width = shape.shape[1]
    crossing = np.count_nonzero(shape[:, 1:] & shape[:, :-1], axis=0)
    mean = int(crossing.sum())
    found = [1]
    for count in range(2, min(width // _LEAST_CELL, _MOST_ACROSS) + 1):
        if width % count == 0:
            step = width // count
            cut = int(crossing[step - 1 :: step].sum())
            # By mean over the lines: what little crosses may be a shadow or a sword that touches the cell's edge.
            if cut * _CROSSING * (width - 1) <= mean * (count - 1):
                found.append(count)
    return found


def _rows_used(total: np.ndarray, across: int, down: int) -> tuple[int, ...] | None:
    """Return the used cells of each row; None where an empty cell is before a used one, or cells differ too much to be one figure's."""
    height, width = total.shape[0] - 1, total.shape[1] - 1
    corners = total[:: height // down, :: width // across]
    cells = corners[1:, 1:] - corners[:-1, 1:] - corners[1:, :-1] + corners[:-1, :-1]
    used = np.count_nonzero(cells, axis=1)
    filled = np.arange(across) < used[:, None]
    if (filled != (cells > 0)).any() or np.count_nonzero(cells) < 2:
        return None
    last = int(np.flatnonzero(used)[-1])
    if (used[: last + 1] == 0).any():
        return None
    areas = np.sort(cells[cells > 0])
    # A grid that is too fine cuts figures into heads and feet, full cells and nearly empty ones.
    if 8 * areas[len(areas) // 4] < areas[len(areas) // 2] or 3 * np.count_nonzero(cells) < 2 * across * (last + 1):
        return None
    return tuple(used[: last + 1].tolist())


def _grid(shape: np.ndarray, across: int, down: int, used: tuple[int, ...]) -> Grid:
    width, height = shape.shape[1] // across, shape.shape[0] // down
    count = across * (len(used) - 1) + used[-1]
    grid = Grid(across, down, (width, height), (0, 0), (0, 0), count, used, (), False, "")
    return _drawn_on(shape, grid, f"nothing crosses the lines between cells of {width} x {height}")


def _drawn_on(shape: np.ndarray, grid: Grid, reason: str) -> Grid:
    """Return a grid with what is drawn in its cells, and whether they cut anything."""
    cells = [grid.cell(rank) for rank in range(grid.count)]
    boxes = tuple(drawn_box(shape, cell) for cell in cells)
    cuts = bool(cuts_of(shape, [grid.cell(rank) for rank in range(grid.columns * grid.rows)]))
    reason = reason.replace("nothing crosses", "little crosses") if cuts else reason
    return grid._replace(boxes=boxes, cuts=cuts, reason=reason)


def _gapped(shape: np.ndarray) -> tuple[Grid, ...]:
    """Return a grid with a margin or gaps that fits what is drawn, if there is one: in no cell nothing, and nothing outside them."""
    fitting = []
    for across, down in likely_grids(shape, Sheet(file="-")):
        frame, margin, gap = ((getattr(across, name), getattr(down, name)) for name in ("frame", "margin", "gap"))
        grid = Grid(across.count, down.count, frame, margin, gap, across.count * down.count, (), (), False, "")
        grid = _drawn_on(shape, grid, f"empty lines of one width part cells of {frame[0]} x {frame[1]}")
        used = _used_cells(shape, grid)
        if used and any((*margin, *gap)) and not grid.cuts:
            rows = -(-used // grid.columns)
            rows_used = (*[grid.columns] * (rows - 1), used - grid.columns * (rows - 1))
            fitting.append(grid._replace(count=used, rows_used=rows_used, boxes=grid.boxes[:used]))
    return tuple(sorted(fitting, key=lambda grid: (grid.margin[0] != grid.margin[1]) + (grid.gap[0] != grid.gap[1]))[:1])


def _spaced(shape: np.ndarray, parts: tuple[Box, ...]) -> Grid | None:
    """Return a row of cells, one for each figure, that ends before the picture does, as where its width is rounded up to a power of two."""
    width, height = shape.shape[1], shape.shape[0]
    count = len(parts)
    lefts = sorted(box.left for box in parts)
    if count < _LEAST_ROW or any(2 * box.height < parts[0].height or box.height > 2 * parts[0].height for box in parts):
        return None
    near = (lefts[-1] - lefts[0]) // (count - 1)
    ordered = sorted(parts)
    steps = sorted(range(max(_LEAST_CELL, near - 2), near + 3), key=lambda step: (abs(step - near), -(step & -step)))
    for step in steps:
        inside = (rank * step <= box.left and box.left + box.width <= (rank + 1) * step for rank, box in enumerate(ordered))
        if step * count < width and all(inside):
            grid = Grid(count, 1, (step, height), (0, 0), (0, 0), count, (count,), (), False, "", whole=False)
            return _drawn_on(shape, grid, f"a figure every {step} pixels, and nothing after the last")
    return None


def _used_cells(shape: np.ndarray, grid: Grid) -> int:
    """Return the used cells of a grid; 0 if something is drawn outside them, an empty one is between, or they differ too much."""
    cells = (grid.cell(rank) for rank in range(grid.count))
    filled = [int(np.count_nonzero(shape[cell.top : cell.top + cell.height, cell.left : cell.left + cell.width])) for cell in cells]
    used = max((rank + 1 for rank, count in enumerate(filled) if count), default=0)
    alike = sorted(filled[:used])
    if sum(filled) != int(np.count_nonzero(shape)) or used < 2 or not alike[0] or 8 * alike[len(alike) // 4] < alike[len(alike) // 2]:
        return 0
    return used


def _parts(shape: np.ndarray) -> tuple[Box, ...]:
    """Return the figures of a picture without a grid, in reading order; none where there are fewer than two, or too many to be figures."""
    if island_count(~shape, 0) < 2:
        return ()  # most pictures: no distance has to be tried
    try:
        boxes = find_islands(~shape, most=_MOST_PARTS).boxes
    except TooManyIslands:
        return ()
    return tuple(Box(*box) for box in boxes) if len(boxes) > 1 else ()


def around(boxes: tuple[Box, ...]) -> Box:
    """Return the smallest box that holds all of some boxes with size; one without size if there is none."""
    boxes = tuple(box for box in boxes if box.width)
    if not boxes:
        return NOTHING
    left, top = min(box.left for box in boxes), min(box.top for box in boxes)
    right, bottom = max(box.left + box.width for box in boxes), max(box.top + box.height for box in boxes)
    return Box(left, top, right - left, bottom - top)


def _repeated(pixels: np.ndarray) -> Grid | None:
    """Return a row of cells whose pictures repeat with changes, as the frames of water do; None where nothing repeats.

    A picture moved by the width of one frame is more like itself than moved by any other distance. Cells that are all the same are a
    pattern, and not an animation.

    Args:
        pixels: as of ``measure``; fully clear pixels count as alike whatever their colour is.
    """
    width = pixels.shape[1]
    seen = pixels.astype(np.int32)
    seen[..., :3] = seen[..., :3] * seen[..., 3:] // 255
    lags = sorted({width * part // _LAGS for part in range(1, _LAGS * 3 // 4)} - {0})
    usual = sorted(_difference(seen, lag) for lag in lags)[len(lags) // 2] if lags else 0
    for step in (step for step in range(_LEAST_REPEATED, width // 3 + 1) if width % step == 0):
        if 0 < _difference(seen, step) * 2 < usual and step <= 8 * pixels.shape[0]:
            count = width // step
            grid = Grid(count, 1, (step, pixels.shape[0]), (0, 0), (0, 0), count, (count,), (), True, "")
            boxes = tuple(grid.cell(rank) for rank in range(count))
            return grid._replace(boxes=boxes, reason=f"every {step} pixels the picture repeats with changes")
    return None


def _difference(seen: np.ndarray, lag: int) -> int:
    """Return the mean difference of a picture and the same moved to the right, in thousandths of a step of a channel."""
    return int(np.abs(seen[:, lag:] - seen[:, :-lag]).sum()) * 1000 // seen[:, lag:].size
