"""A background as one bitmap and as tiles with a map: what each takes, over all positions the window can have.

The window moves over whole pixels and covers cells; only the cells matter, so positions are taken together by the cells
they cover. All numbers are exact maxima, found by going through every such case.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TypedDict

import numpy as np

from pipeline.pixels.tiles.tiles import Tiles

_MEASURES = ("image_bytes", "memory_bytes", "window_bytes", "moved_bytes")


@dataclass(frozen=True)
class Layer:
    """A background in both forms.

    Attributes:
        width, height: of the picture in pixels; its tiles may reach beyond by less than a tile.
        tiles: the tiles and the map.
        tile_bytes, entry_bytes: of one tile and of one map entry.
        pixel_bits: of one pixel of the bitmap: 1 to 8, 16, 24 or 32.
        factor: how far it moves while the scene moves by 1: a fraction, whole number or decimal text, 0 or more.
        bitmap_bytes: what the bitmap takes as it is stored, padded; None: rows that end at a whole byte.
    """

    width: int
    height: int
    tiles: Tiles
    tile_bytes: int
    entry_bytes: int
    pixel_bits: int
    factor: Fraction | int | str = 1
    bitmap_bytes: int | None = None


def compare(layer: Layer, window: tuple[int, int], speed: tuple[int, int]) -> dict[str, dict[str, int]]:
    """Compare the two forms of one background.

    Args:
        layer: the background; the map covers its picture.
        window: width and height of the part that is seen, at least 1; more than the picture counts as the picture.
        speed: pixels the scene moves across and down from one picture to the next, either way; less where the picture ends.

    Returns:
        ``bitmap`` and ``tiles``, each with ``image_bytes`` (stored as it is), ``memory_bytes`` (all of it loaded),
        ``window_bytes`` (the most that a window's position needs at once: cells covered in part count whole, tiles count
        once) and ``moved_bytes`` (the most that comes in with one step: the bitmap's bytes that were not seen before; map
        entries of cells, and tiles, that the position before did not need). Under ``tiles`` also ``tiles``,
        ``window_tiles`` and ``moved_tiles`` (as many as the step that moves most bytes brings; of such steps the one with more).

    Raises:
        ValueError: a size below 1, bits that no pixel has, or a map that is not the picture's.
    """
    _check(layer, window)
    tile_height, tile_width = layer.tiles.tiles.shape[1:]
    across = _Axis(layer.width, window[0], _ceil(layer.factor, speed[0]))
    down = _Axis(layer.height, window[1], _ceil(layer.factor, speed[1]))
    wide, _ = across.widest(tile_width)
    high, _ = down.widest(tile_height)
    bitmap = layer.bitmap_bytes or layer.height * -(-layer.width * layer.pixel_bits // 8)
    stored = len(layer.tiles.tiles) * layer.tile_bytes + layer.tiles.map_index.size * layer.entry_bytes
    most = _most_distinct(layer.tiles.map_index, across, down, tile_width, tile_height)
    moved, moved_tiles = _most_moved(layer, across, down)
    return {
        "bitmap": {
            "image_bytes": bitmap,
            "memory_bytes": bitmap,
            "window_bytes": min(bitmap, high * tile_height * -(-wide * tile_width * layer.pixel_bits // 8)),
            "moved_bytes": _bitmap_moved(layer.pixel_bits, across, down),
        },
        "tiles": {
            "image_bytes": stored,
            "memory_bytes": stored,
            "window_bytes": most * layer.tile_bytes + wide * high * layer.entry_bytes,
            "moved_bytes": moved,
            "tiles": len(layer.tiles.tiles),
            "window_tiles": most,
            "moved_tiles": moved_tiles,
        },
    }


class Added(TypedDict):
    """What ``compare`` says of each layer, and the sums of the four measures."""

    layers: list[dict[str, dict[str, int]]]
    bitmap: dict[str, int]
    tiles: dict[str, int]


def add_layers(layers: list[Layer], window: tuple[int, int], speed: tuple[int, int]) -> Added:
    """Compare the backgrounds of one scene; each moves by its factor times the scene's speed, rounded up to whole pixels.

    Returns:
        ``layers``: what ``compare`` says of each; ``bitmap`` and ``tiles``: sums of the four measures. The sums of worst
        cases are never too low; layers need not all have theirs at once.
    """
    each = [compare(layer, window, speed) for layer in layers]
    return {"layers": each, "bitmap": _added(each, "bitmap"), "tiles": _added(each, "tiles")}


def _added(each: list[dict[str, dict[str, int]]], form: str) -> dict[str, int]:
    return {key: sum(one[form][key] for one in each) for key in _MEASURES}


@dataclass(frozen=True)
class _Axis:
    """Positions of a window along one axis of a picture, and the steps it takes."""

    length: int
    window: int
    step: int

    def covered(self, cell: int) -> tuple[np.ndarray, np.ndarray]:
        """Return the first cell of every position and the one after the last: each shape (positions,)."""
        window = min(self.window, self.length)
        first = np.arange(self.length - window + 1)
        return first // cell, (first + window - 1) // cell + 1

    def widest(self, cell: int) -> tuple[int, int]:
        """Return the most cells a position covers and at how many first cells, from 0 on, it does; the rest lie inside these."""
        start, stop = self.covered(cell)
        most = int((stop - start).max())
        return most, len(np.unique(start[stop - start == most]))

    def moves(self, cell: int) -> np.ndarray:
        """Return the moves that can bring most: start and stop before, start and stop after, int64, shape (moves, 4)."""
        start, stop = self.covered(cell)
        ends = np.stack([start, stop], axis=1)
        places = np.arange(len(ends))
        there = np.concatenate([ends, ends[np.minimum(places + self.step, len(ends) - 1)]], axis=1)
        back = np.concatenate([ends, ends[np.maximum(places - self.step, 0)]], axis=1)
        return _undominated(np.unique(np.concatenate([there, back]), axis=0))


def _undominated(moves: np.ndarray) -> np.ndarray:
    """Leave out moves that cannot bring more than another: their end lies in its end, their start holds its start."""
    keep = []
    for rank, (start, stop, to, end) in enumerate(moves):
        other = (moves[:, 0] >= start) & (moves[:, 1] <= stop) & (moves[:, 2] <= to) & (moves[:, 3] >= end)
        other[rank] = False
        keep.append(not other.any())
    return moves[keep]


def _seen_until(band: np.ndarray, amount: int) -> np.ndarray:
    """Return in how many columns before each one every tile occurs: int32, shape (amount, columns + 1)."""
    seen = np.zeros((amount, band.shape[1] + 1), dtype=np.int32)
    seen[band, np.broadcast_to(np.arange(1, band.shape[1] + 1), band.shape)] = 1
    return np.cumsum(seen, axis=1, dtype=np.int32)


def _most_distinct(index: np.ndarray, across: _Axis, down: _Axis, tile_width: int, tile_height: int) -> int:
    """Return the largest number of distinct tiles that a position of the window needs."""
    (wide, starts), (high, tops) = across.widest(tile_width), down.widest(tile_height)
    most = 0
    for top in range(tops):
        found, band = np.unique(index[top : top + high], return_inverse=True)
        seen = _seen_until(band.reshape(high, -1), len(found))
        inside = seen[:, wide : wide + starts] > seen[:, :starts]
        most = max(most, int(inside.sum(axis=0).max()))
    return most


def _most_moved(layer: Layer, across: _Axis, down: _Axis) -> tuple[int, int]:
    """Return the most bytes of tiles and map entries that one step brings, and how many tiles are among them."""
    index = layer.tiles.map_index
    tile_height, tile_width = layer.tiles.tiles.shape[1:]
    columns, best = across.moves(tile_width), (0, 0)
    for rows in down.moves(tile_height).tolist():
        low, high = min(rows[0], rows[2]), max(rows[1], rows[3])
        found, band = np.unique(index[low:high], return_inverse=True)
        band = band.reshape(high - low, -1)
        old = _seen_until(band[rows[0] - low : rows[1] - low], len(found))
        new = _seen_until(band[rows[2] - low : rows[3] - low], len(found))
        fresh = (new[:, columns[:, 3]] > new[:, columns[:, 2]]) & (old[:, columns[:, 1]] == old[:, columns[:, 0]])
        tiles = fresh.sum(axis=0)
        moved = tiles * layer.tile_bytes + _fresh_cells(np.array(rows), columns) * layer.entry_bytes
        worst = int(np.lexsort((tiles, moved))[-1])  # of equal moves the one with more tiles
        best = max(best, (int(moved[worst]), int(tiles[worst])))
    return best


def _fresh_cells(rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Return how many cells of the place after a move are not in the place before it; moves as ``_Axis.moves`` gives them."""

    def both(moves: np.ndarray) -> np.ndarray:
        return np.maximum(np.minimum(moves[..., 1], moves[..., 3]) - np.maximum(moves[..., 0], moves[..., 2]), 0)

    return (rows[..., 3] - rows[..., 2]) * (columns[..., 3] - columns[..., 2]) - both(rows) * both(columns)


def _bitmap_moved(pixel_bits: int, across: _Axis, down: _Axis) -> int:
    """Return the most bytes of a bitmap that one step brings into the window; pixels that share a byte come together.

    Pixels of 3, 5, 6 or 7 bits are in planes, of which eight pixels take a byte each.
    """
    together = 8 if 8 % pixel_bits and pixel_bits < 8 else max(8 // pixel_bits, 1)
    columns, rows = across.moves(together), down.moves(1)
    return max(int(_fresh_cells(row, columns).max()) for row in rows) * (together * pixel_bits // 8)


def _ceil(factor: Fraction | int | str, speed: int) -> int:
    return math.ceil(Fraction(str(factor)) * abs(speed))


def _check(layer: Layer, window: tuple[int, int]) -> None:
    tile_height, tile_width = layer.tiles.tiles.shape[1:]
    if min(layer.width, layer.height, *window) < 1:
        raise ValueError(f"a window of {window[0]} x {window[1]} over {layer.width} x {layer.height}: sizes start at 1")
    if layer.pixel_bits not in (*range(1, 9), 16, 24, 32):
        raise ValueError(f"pixels of {layer.pixel_bits} bits; they have 1 to 8, 16, 24 or 32")
    if Fraction(str(layer.factor)) < 0:
        raise ValueError(f"a scroll factor of {layer.factor}; it is 0 or more")
    expected = (-(-layer.height // tile_height), -(-layer.width // tile_width))
    if layer.tiles.map_index.shape != expected:
        raise ValueError(f"a map of {layer.tiles.map_index.shape} cells; {layer.width} x {layer.height} pixels need {expected}")
