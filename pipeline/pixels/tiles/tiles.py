"""Tiles and their map: a picture as distinct tiles, and the words of the map by which the console puts them together.

The letters of a map entry's bit pattern (``ccHVPttttttttttt``): t tile number, H mirrored left to right, V mirrored top
to bottom, c palette, P priority; x does not count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.pixels.cells import cut_into_cells
from pipeline.plain.bits import BitPattern

FLIP_X, FLIP_Y = 1, 2  # bits of map_flips
MAP_LETTERS = "tHVcP"
_NAMES = {"t": "tile number", "H": "flip left to right", "V": "flip top to bottom", "c": "palette", "P": "priority"}


@dataclass(frozen=True)
class Tiles:
    """A picture as tiles and a map.

    Attributes:
        tiles: distinct tiles, dtype of the picture, shape (n, tile height, tile width).
        map_index: number of each cell's tile in ``tiles``, int32, shape (rows, columns).
        map_flips: how each cell's tile is mirrored, uint8, shape (rows, columns): bit 0 left to right, bit 1 top to bottom.
    """

    tiles: np.ndarray
    map_index: np.ndarray
    map_flips: np.ndarray


def cut(picture: np.ndarray, tile_width: int, tile_height: int, flip_x: bool = False, flip_y: bool = False) -> Tiles:
    """Return the distinct tiles of a picture, in order of first use, and its map.

    A tile is stored as it is first seen; where the console can mirror (``flip_x`` left to right, ``flip_y`` top to
    bottom), its mirror images are not stored. Of several ways to mirror, the one with the lowest number is taken.

    Args:
        picture: any integer dtype, shape (height, width), whole tiles and at least one (see ``pad_to_cells``).

    Raises:
        ValueError: no whole tiles.
    """
    height, width = picture.shape
    if min(tile_width, tile_height, width, height) < 1 or width % tile_width or height % tile_height:
        raise ValueError(f"a picture of {width} x {height} is not made of whole tiles of {tile_width} x {tile_height}; pad it first")
    cells = np.ascontiguousarray(cut_into_cells(picture, tile_width, tile_height))
    first, cell_of = _distinct([cells])
    seen = cells[first]
    flips = allowed_flips(flip_x, flip_y)
    kept, group_of = _distinct([flipped(seen, flip) for flip in flips])
    how = _how_mirrored(seen, seen[kept][group_of], flips)
    shape = (height // tile_height, width // tile_width)
    return Tiles(seen[kept], group_of[cell_of].astype(np.int32).reshape(shape), how[cell_of].reshape(shape))


def join(tiles: Tiles) -> np.ndarray:
    """Return the picture that tiles and map make: dtype of the tiles, shape (height, width)."""
    cells = tiles.tiles[tiles.map_index]
    for bit, axis in ((FLIP_X, 3), (FLIP_Y, 2)):
        mirrored = (tiles.map_flips & bit)[..., None, None] != 0
        cells = np.where(mirrored, np.flip(cells, axis), cells)
    rows, columns, tile_height, tile_width = cells.shape
    return cells.swapaxes(1, 2).reshape(rows * tile_height, columns * tile_width)


def allowed_flips(flip_x: bool, flip_y: bool) -> list[int]:
    """Return the values a cell's flips may have, rising, 0 first."""
    return [flip for flip in range(4) if not flip & ~(flip_x * FLIP_X | flip_y * FLIP_Y)]


def flipped(tiles: np.ndarray, flip: int) -> np.ndarray:
    """Return tiles, shape (..., height, width), mirrored: bit 0 of ``flip`` left to right, bit 1 top to bottom."""
    tiles = tiles[..., ::-1] if flip & FLIP_X else tiles
    return tiles[..., ::-1, :] if flip & FLIP_Y else tiles


def encode_map(tiles: Tiles, pattern: BitPattern, first_tile: int = 0, palettes: np.ndarray | None = None) -> np.ndarray:
    """Return the words of a map, of priority 0.

    Args:
        pattern: letters t (needed), H, V, c, P.
        first_tile: number of the first tile in the console's tile memory.
        palettes: palette of each cell, integers from 0, shape (rows, columns); None: 0 everywhere.

    Returns:
        uint32, shape (rows, columns).

    Raises:
        ValueError: a field this does not know, or a number that does not fit its field.
    """
    shape = tiles.map_index.shape
    values = {
        "t": tiles.map_index.astype(np.int64) + first_tile,
        "H": tiles.map_flips & FLIP_X,
        "V": (tiles.map_flips & FLIP_Y) >> 1,
        "c": np.zeros(shape, dtype=np.int64) if palettes is None else palettes,
        "P": np.zeros(shape, dtype=np.int64),
    }
    _check_letters(pattern)
    for letter, value in values.items():
        values[letter] = _checked(letter, value, pattern)
    return np.asarray(pattern.encode(**{letter: values[letter] for letter in pattern.fields}), dtype=np.uint32)


def _distinct(variants: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Sort tiles into groups that share a variant.

    Args:
        variants: for each way to mirror, all tiles so mirrored, shape (n, height, width).

    Returns:
        The first tile of each group, in rising order, and for each tile the rank of its group.
    """
    rows = np.concatenate([np.ascontiguousarray(one).reshape(len(one), -1) for one in variants])
    _, numbers = np.unique(rows.view(np.dtype((np.void, rows.itemsize * rows.shape[1]))).ravel(), return_inverse=True)
    # Mirroring permutes a tile's variants, so the lowest number among them is the same for all mirror images.
    lowest = numbers.reshape(len(variants), -1).min(axis=0)
    _, first, group = np.unique(lowest, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return first[order], rank[group]


def _how_mirrored(tiles: np.ndarray, stored: np.ndarray, flips: list[int]) -> np.ndarray:
    """Return for each tile the lowest flip that makes it of the stored one: uint8, shape (n,)."""
    how = np.zeros(len(tiles), dtype=np.uint8)
    for flip in reversed(flips):
        how[(flipped(stored, flip) == tiles).all(axis=(1, 2))] = flip
    return how


def _check_letters(pattern: BitPattern) -> None:
    strange = [letter for letter in pattern.fields if letter not in MAP_LETTERS]
    if strange:
        raise ValueError(f"map entry {pattern.text} has {', '.join(strange)}; the fields here are {', '.join(MAP_LETTERS)}")
    if not pattern.bits("t"):
        raise ValueError(f"map entry {pattern.text} has no tile number; write it with the letter t")


def _checked(letter: str, values: np.ndarray, pattern: BitPattern) -> np.ndarray:
    """Return a field's values as uint32; refuse the first that does not fit."""
    most = (1 << pattern.bits(letter)) - 1
    wrong = np.argwhere((values < 0) | (values > most))
    if len(wrong):
        row, column = wrong[0].tolist()
        raise ValueError(
            f"{_NAMES[letter]} {int(values[row, column])} in row {row}, column {column} does not fit map entry {pattern.text}: "
            f"its field {letter} has {pattern.bits(letter)} bits, so 0 to {most}"
        )
    return values.astype(np.uint32)
