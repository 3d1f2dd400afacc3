"""Backgrounds back to one picture: a bitmap, or tiles put together as their map says."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import BackgroundFacts, StoredTiles
from pipeline.joints.layouts import BACKGROUND, TILED, TILED_VERSION
from pipeline.reading.compare import name_hash, size_of, wrong_head, wrong_pixels
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.reading.pixels import format_of, read_parts, read_picture, start_of
from pipeline.target.records import Target


def decode_background(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a background of either arrangement; see ``decoded.decode_blob``."""
    if blob[:1] == bytes([TILED_VERSION]):
        return _tiled(blob, target)
    head = read_record(BACKGROUND, blob, 0, target.byte_order)
    pixel_format = format_of(head, target)
    return Decoded(head, read_picture(blob, head["pixels"], head, pixel_format, target)[None], pixel_format=pixel_format)


def _tiled(blob: bytes, target: Target) -> Decoded:
    """Put a background's tiles together as its map says."""
    head = read_record(TILED, blob, 0, target.byte_order)
    pixel_format, wide, high = format_of(head, target), head["tile_width"], head["tile_height"]
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
        raise BlobFault("a background without a tile")
    return Decoded(head, picture[None], pixel_format=pixel_format, lines=bool(head["line_mask"]) and bool(pixel_format.pixel.bits("I")))


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


def compare_background(decoded: Decoded, facts: BackgroundFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {**size_of(facts.intent), "palette": name_hash(facts.palette), **_tiled_head(facts)}
    return wrong_head(decoded, head) + wrong_pixels(decoded, facts.intent)


def _tiled_head(facts: BackgroundFacts) -> dict[str, int]:
    stored = facts.stored
    if not isinstance(stored, StoredTiles):
        return {}
    entry, (tile_width, tile_height) = stored.map_entry, facts.tile
    masks = {"tile_mask": "t", "flip_x_mask": "H", "flip_y_mask": "V", "line_mask": "c"}
    head = {name: int("".join("01"[bit == letter] for bit in entry), 2) for name, letter in masks.items()}
    head |= {key: getattr(stored, key) for key in ("columns", "rows", "tile_count", "tile_bytes", "first_tile")}
    return head | {"version": TILED_VERSION, "entry_bytes": len(entry) // 8, "tile_width": tile_width, "tile_height": tile_height}
