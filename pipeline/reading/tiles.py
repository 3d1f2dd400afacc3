"""A picture of tiles and a map, put together as its record says: what tiled backgrounds and boot notices share."""

from __future__ import annotations

import numpy as np

from pipeline.reading.decoded import BlobFault
from pipeline.reading.pixels import read_parts, start_of
from pipeline.target.records import PixelFormat, Target


def tiled_picture(blob: bytes, head: dict[str, int], pixel_format: PixelFormat, target: Target) -> np.ndarray:
    """Put the tiles of a record together as its map says.

    Args:
        head: the record, with all fields of ``layouts.TILED``.

    Returns:
        uint32, shape (height, width): pixels, and where the map chooses lines of the palette, places in the whole of it.

    Raises:
        BlobFault: a table leaves the blob, or a number names nothing.
    """
    wide, high = head["tile_width"], head["tile_height"]
    if not wide or not high or (head["columns"] * wide, head["rows"] * high) != (head["width"], head["height"]):
        raise BlobFault(f"{head['columns']} x {head['rows']} tiles of {wide} x {high} are not {head['width']} x {head['height']} pixels")
    words, count = _map_words(blob, head, target), head["tile_count"]
    pool, end = read_parts(blob, head["tiles"], count, wide, high, pixel_format, target, start_of("tile", target))
    if end - head["tiles"] != count * head["tile_bytes"]:
        raise BlobFault(f"a tile takes {(end - head['tiles']) // count} bytes, the record says {head['tile_bytes']}")
    picture = np.zeros((head["height"], head["width"]), dtype=np.uint32)
    for place, word in enumerate(words):
        row, column = divmod(place, head["columns"])
        number = _masked(word, head["tile_mask"]) - head["first_tile"]
        if not 0 <= number < len(pool):
            raise BlobFault(f"the map's entry in row {row}, column {column} names tile {number} of {len(pool)}")
        tile = pool[number]
        tile = tile[:, ::-1] if word & head["flip_x_mask"] else tile
        tile = tile[::-1] if word & head["flip_y_mask"] else tile
        line = _masked(word, head["line_mask"]) << pixel_format.pixel.bits("I")
        picture[row * high : (row + 1) * high, column * wide : (column + 1) * wide] = tile + np.uint32(line)
    if not picture.size:
        raise BlobFault("a picture without a tile")
    return picture


def chosen_lines(head: dict[str, int], pixel_format: PixelFormat) -> bool:
    """Return whether the map chooses each tile's line of the palette."""
    return bool(head["line_mask"]) and bool(pixel_format.pixel.bits("I"))


def map_head(entry: str) -> dict[str, int]:
    """Return what a record must say of map entries of a bit pattern."""
    masks = {"tile_mask": "t", "flip_x_mask": "H", "flip_y_mask": "V", "line_mask": "c"}
    head = {name: int("".join("01"[bit == letter] for bit in entry), 2) for name, letter in masks.items()}
    return head | {"entry_bytes": len(entry) // 8}


def _map_words(blob: bytes, head: dict[str, int], target: Target) -> list[int]:
    size, start, count = head["entry_bytes"], head["map"], head["columns"] * head["rows"]
    raw = blob[start : start + count * size]
    if not 1 <= size <= 4 or len(raw) != count * size:
        raise BlobFault(f"a map of {count} entries of {size} bytes at {start} leaves the blob")
    order = target.order_of(target.tiles.byte_order if target.tiles else None)
    return [int.from_bytes(raw[at : at + size], order) for at in range(0, len(raw), size)]


def _masked(word: int, mask: int) -> int:
    """Return the number in the bits of a mask, most significant first."""
    number = 0
    for place in reversed(range(32)):
        if mask >> place & 1:
            number = number * 2 + (word >> place & 1)
    return number
