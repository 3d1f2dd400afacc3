"""A picture drawn with the lines of a palette: every tile takes the line that shows it best."""

from __future__ import annotations

import numpy as np

from pipeline.pixels.cells import cut_into_cells
from pipeline.pixels.colours.colour import perceptual, to_rgb
from pipeline.pixels.colours.quantise import nearest_entries
from pipeline.plain.bits import BitPattern


def draw_on_lines(
    words: np.ndarray, lines: list[np.ndarray], tile: tuple[int, int], pattern: BitPattern
) -> tuple[np.ndarray, np.ndarray]:
    """Return the entry of each pixel and the line of each tile.

    A tile takes the line with the least sum of squared perceptual differences, the lowest of those equally good. Equal
    tiles, mirrored or not, so come to the same line and entries.

    Args:
        words: colours as palette words, uint32, shape (height, width), whole tiles.
        lines: words of each line, uint32, shape (n,); each at least one.
        tile: width and height.
        pattern: the console's palette entry.

    Returns:
        Ranks in the tile's line, int32, shape (height, width), and lines, int32, shape (rows, columns).
    """
    found, where = np.unique(words, return_inverse=True)
    ranks, squares = zip(*(_nearest(found, line, pattern) for line in lines), strict=True)
    cells = cut_into_cells(where.reshape(words.shape), *tile)
    costs = np.stack([square[cells].sum(axis=(1, 2)) for square in squares])
    line_of = np.argmin(costs, axis=0)
    drawn = np.stack(ranks)[line_of[:, None, None], cells]
    rows, columns = words.shape[0] // tile[1], words.shape[1] // tile[0]
    grid = drawn.reshape(rows, columns, tile[1], tile[0]).swapaxes(1, 2).reshape(words.shape)
    return grid.astype(np.int32), line_of.reshape(rows, columns).astype(np.int32)


def _nearest(words: np.ndarray, line: np.ndarray, pattern: BitPattern) -> tuple[np.ndarray, np.ndarray]:
    """Return for each word its rank in a line and the squared difference, int64; a word of the line is itself."""
    points, entries = perceptual(to_rgb(words, pattern)), perceptual(to_rgb(line, pattern))
    same = words[:, None] == line[None, :]
    rank = np.where(same.any(axis=1), np.argmax(same, axis=1), nearest_entries(points, entries))
    gap = points.astype(np.int64) - entries[rank]
    return rank, (gap * gap).sum(axis=1)
