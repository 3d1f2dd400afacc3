"""A picture drawn with the lines of a palette: every tile takes the line that shows it best."""

from __future__ import annotations

import numpy as np

from pipeline.pixels.cells import cut_into_cells
from pipeline.pixels.colours.colour import to_rgb
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.pixels.colours.quantise import nearest_colours
from pipeline.plain.bits import BitPattern


def draw_on_lines(
    words: np.ndarray, lines: list[np.ndarray], tile: tuple[int, int], pattern: BitPattern, counted: BitPattern | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Return the entry of each pixel and the line of each tile.

    A tile takes the line with the least sum of differences (``difference.metric_distance``), the lowest of those equally
    good, a pixel the entry of the line that looks nearest. Equal tiles, mirrored or not, so come to the same line and entries.

    Args:
        words: colours as words, uint32, shape (height, width), whole tiles.
        lines: words of each line, uint32, shape (n,); each at least one.
        tile: width and height.
        pattern: the console's palette entry.
        counted: the pattern of ``words`` when it is finer than the entry. By default ``pattern``.

    Returns:
        Ranks in the tile's line, int32, shape (height, width), and lines, int32, shape (rows, columns).
    """
    found, where = np.unique(words, return_inverse=True)
    colours = to_rgb(found, counted or pattern)
    ranks, gaps = zip(*(_nearest(colours, to_rgb(line, pattern)) for line in lines), strict=True)
    cells = cut_into_cells(where.reshape(words.shape), *tile)
    costs = np.stack([gap[cells].sum(axis=(1, 2)) for gap in gaps])
    line_of = np.argmin(costs, axis=0)
    drawn = np.stack(ranks)[line_of[:, None, None], cells]
    rows, columns = words.shape[0] // tile[1], words.shape[1] // tile[0]
    grid = drawn.reshape(rows, columns, tile[1], tile[0]).swapaxes(1, 2).reshape(words.shape)
    return grid.astype(np.int32), line_of.reshape(rows, columns).astype(np.int32)


def _nearest(rgb: np.ndarray, entries: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return for each colour the rank of the nearest entry and the difference, int64."""
    rank = nearest_colours(rgb, entries)
    return rank, metric_distance(metric_points(rgb), metric_points(entries[rank])).astype(np.int64)
