"""What the tool never does and a check of it must: draw pieces together, read the words of a map, count the words of pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.pixels.colours.colour import to_words
from pipeline.pixels.pieces.pieces import _overlap
from pipeline.pixels.tiles.tiles import FLIP_X, FLIP_Y, MAP_LETTERS, _check_letters
from pipeline.plain.bits import BitPattern


def count_words(rgb: np.ndarray, pattern: BitPattern) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct palette words of some pixels and how often each occurs.

    Args:
        rgb: uint8, shape (n, 3).

    Returns:
        Words in rising order (uint32) and counts (int64).
    """
    words, counts = np.unique(to_words(rgb, pattern), return_counts=True)
    return words, counts.astype(np.int64)


def draw_pieces(cells: np.ndarray, places: np.ndarray, width: int, height: int) -> np.ndarray:
    """Draw cells one after another, as the console does: colour 0 leaves what is there.

    Args:
        cells: shape (pieces, cell height, cell width); places: integers, shape (pieces, 2).

    Returns:
        dtype of the cells, shape (height, width).
    """
    frame = np.zeros((height, width), dtype=cells.dtype)
    for cell, (x, y) in zip(cells, places.tolist(), strict=True):
        inside, within = _overlap(frame.shape, x, y, cell.shape[1], cell.shape[0])
        np.copyto(frame[inside], cell[within], where=cell[within] != 0)
    return frame


@dataclass(frozen=True)
class MapEntries:
    """What the words of a map say.

    Attributes:
        tile, palette, priority: int32, the shape of the words; 0 where the pattern has no such field.
        flips: uint8, the shape of the words, as ``Tiles.map_flips``.
    """

    tile: np.ndarray
    flips: np.ndarray
    palette: np.ndarray
    priority: np.ndarray


def decode_map(words: np.ndarray, pattern: BitPattern) -> MapEntries:
    """Return what the words of a map say.

    Args:
        words: unsigned integers, any shape; bits outside the pattern's fields are ignored.

    Raises:
        ValueError: the pattern has a field this does not know, or no t.
    """
    _check_letters(pattern)
    words = np.asarray(words, dtype=np.uint32)
    tile, flip_x, flip_y, palette, priority = (
        pattern.decode(words, letter).astype(np.int32) if pattern.bits(letter) else np.zeros(words.shape, dtype=np.int32)
        for letter in MAP_LETTERS
    )
    return MapEntries(tile, ((flip_x != 0) * FLIP_X + (flip_y != 0) * FLIP_Y).astype(np.uint8), palette, priority)
