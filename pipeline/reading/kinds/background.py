"""Backgrounds back to one picture: a bitmap, or tiles put together as their map says."""

from __future__ import annotations

from pipeline.joints.facts import BackgroundFacts, StoredTiles
from pipeline.joints.layouts import BACKGROUND, TILED, TILED_VERSION
from pipeline.reading.compare import name_hash, size_of, wrong_head, wrong_pixels
from pipeline.reading.decoded import Decoded, FindPool, read_record
from pipeline.reading.pixels import format_of, read_picture
from pipeline.reading.tiles import chosen_lines, map_head, tiled_picture
from pipeline.target.records import Target


def decode_background(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a background of either arrangement; see ``decoded.decode_blob``."""
    if blob[:1] == bytes([TILED_VERSION]):
        head = read_record(TILED, blob, 0, target.byte_order)
        pixel_format = format_of(head, target)
        pixels = tiled_picture(blob, head, pixel_format, target)[None]
        return Decoded(head, pixels, pixel_format=pixel_format, lines=chosen_lines(head, pixel_format))
    head = read_record(BACKGROUND, blob, 0, target.byte_order)
    pixel_format = format_of(head, target)
    return Decoded(head, read_picture(blob, head["pixels"], head, pixel_format, target)[None], pixel_format=pixel_format)


def compare_background(decoded: Decoded, facts: BackgroundFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {**size_of(facts.intent), "palette": name_hash(facts.palette), **_tiled_head(facts)}
    return wrong_head(decoded, head) + wrong_pixels(decoded, facts.intent)


def _tiled_head(facts: BackgroundFacts) -> dict[str, int]:
    stored = facts.stored
    if not isinstance(stored, StoredTiles):
        return {}
    head = {key: getattr(stored, key) for key in ("columns", "rows", "tile_count", "tile_bytes", "first_tile")}
    tile_width, tile_height = facts.tile
    return head | {"version": TILED_VERSION, "tile_width": tile_width, "tile_height": tile_height, **map_head(stored.map_entry)}
