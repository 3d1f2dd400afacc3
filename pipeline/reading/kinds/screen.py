"""Boot notices back to a picture and its own palette, with codes that read: one picture, or tiles put together as their map says."""

from __future__ import annotations

import numpy as np

from pipeline.joints.codes import code_fault
from pipeline.joints.facts import ScreenFacts
from pipeline.joints.layouts import SCREEN, TILED_SCREEN, TILED_SCREEN_VERSION
from pipeline.joints.notice import safe_area
from pipeline.reading.compare import size_of, wrong_head, wrong_pixels
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.reading.pixels import format_of, read_entries, read_picture
from pipeline.reading.show import screen_rgb
from pipeline.reading.tiles import chosen_lines, map_head, tiled_picture
from pipeline.target.records import Target


def decode_screen(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a boot notice of either arrangement; see ``decoded.decode_blob``."""
    if blob[:1] == bytes([TILED_SCREEN_VERSION]):
        return _tiled(blob, target)
    head = read_record(SCREEN, blob, 0, target.byte_order)
    pixel_format = format_of(head, target)
    pixels = read_picture(blob, head["pixels"], head, pixel_format, target)[None]
    return Decoded(head, pixels, read_entries(blob, head, target), pixel_format=pixel_format)


def _tiled(blob: bytes, target: Target) -> Decoded:
    head = read_record(TILED_SCREEN, blob, 0, target.byte_order)
    pixel_format = format_of(head, target)
    pixels = tiled_picture(blob, head, pixel_format, target)[None]
    lines, used = chosen_lines(head, pixel_format), head["tiles"] + head["tile_count"] * head["tile_bytes"]
    unused = (head["tile_room"] - head["tile_count"]) * head["tile_bytes"]
    if len(blob) - used != unused or any(blob[used:]):
        raise BlobFault(f"{len(blob) - used} bytes after {head['tile_count']} tiles are not room for {head['tile_room']}")
    bits = pixel_format.pixel.bits("I")
    if head["line_entries"] != (1 << bits if bits else 0):
        raise BlobFault(f"a line of {head['line_entries']} entries, where a pixel has {bits} bits")
    return Decoded(head, pixels, read_entries(blob, head, target), pixel_format=pixel_format, lines=lines)


def compare_screen(decoded: Decoded, facts: ScreenFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {**size_of(facts.intent), **_tiled_head(facts)}
    return wrong_head(decoded, head) + wrong_pixels(decoded, facts.intent) + _wrong_codes(decoded, facts, target)


def _tiled_head(facts: ScreenFacts) -> dict[str, int]:
    tiles = facts.tiles
    if tiles is None:
        return {}
    head = {key: getattr(tiles, key) for key in ("columns", "rows", "tile_count", "tile_room", "tile_bytes", "first_tile", "entry_count")}
    tile_width, tile_height = tiles.tile
    sizes = {"version": TILED_SCREEN_VERSION, "tile_width": tile_width, "tile_height": tile_height, "palette": 0}
    return head | sizes | map_head(tiles.map_entry)


def _wrong_codes(decoded: Decoded, facts: ScreenFacts, target: Target) -> list[str]:
    """Return which codes do not read, on the whole screen or where a television cuts it off."""
    rgb, faults = screen_rgb(decoded)[: facts.height, : facts.width], []
    for percent in dict.fromkeys((100, target.screen.action_safe, target.screen.title_safe)):
        left, top, right, bottom = safe_area(facts.width, facts.height, percent)
        seen = np.ascontiguousarray(rgb[top:bottom, left:right])
        for code in facts.codes:
            fault = code_fault(seen, code.left - left, code.top - top, facts.module_pixels, code.link, facts.code_version)
            if fault:
                faults.append(f"the code {code.label!r} {fault}" + (f" in the middle {percent} %" if percent < 100 else ""))
    return faults
