"""A map of tiles as bytes, and what a blob's record says of its entries."""

from __future__ import annotations

import numpy as np

from pipeline.target.tiles import TileRules

_LETTERS = {"tile_mask": "t", "flip_x_mask": "H", "flip_y_mask": "V", "line_mask": "c"}


def map_masks(cutting: TileRules) -> dict[str, int]:
    """Return the masks of a map entry, by the names that records have for them."""
    return {name: sum(1 << place for place in cutting.entry.fields.get(letter, ())) for name, letter in _LETTERS.items()}


def map_bytes(words: np.ndarray, cutting: TileRules) -> bytes:
    """Return the bytes of a map, row by row, in the byte order of the console's map entries.

    Args:
        words: uint32, shape (rows, columns).
    """
    width = cutting.entry.bytes
    octets = words.astype(">u4").view(np.uint8).reshape(*words.shape, 4)[..., 4 - width :]
    return (octets[..., ::-1] if cutting.entry_order == "little" else octets).tobytes()
