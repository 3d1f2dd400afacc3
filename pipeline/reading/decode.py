"""Blobs back to pixels, samples and colours, from their bytes and the target alone. Shares no code with the packers."""

from __future__ import annotations

import numpy as np

from pipeline.joints.layouts import BACKGROUND, FONT, GLYPH, PALETTE, SCREEN, SOUND, SOUND_FORMATS, TILED, TILED_VERSION
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.reading.pixels import format_of, read_entries, read_part, read_picture
from pipeline.reading.sprite import decode_pool, decode_sprite
from pipeline.target.records import Target


def decode_blob(kind: str, blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a sprite, pool, background, screen, palette, sound or font; programs and data have nothing to decode.

    Args:
        find_pool: how to come by the pool of a sprite that names one.

    Raises:
        BlobFault: a table or the pixels leave the blob, or a number names nothing.
    """
    if kind == "sprite":
        return decode_sprite(blob, target, find_pool)
    decoder = _DECODERS.get(kind)
    return decoder(blob, target) if decoder else Decoded({})


def _background(blob: bytes, target: Target) -> Decoded:
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
    words, pool, at = _map_words(blob, head, target), [], head["tiles"]
    for rank in range(head["tile_count"]):
        tile, end = read_part(blob, at, wide, high, pixel_format, target)
        if end - at != head["tile_bytes"]:
            raise BlobFault(f"tile {rank} takes {end - at} bytes, the record says {head['tile_bytes']}")
        pool.append(tile)
        at = end
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


def _screen(blob: bytes, target: Target) -> Decoded:
    head = read_record(SCREEN, blob, 0, target.byte_order)
    pixel_format = format_of(head, target)
    pixels = read_picture(blob, head["pixels"], head, pixel_format, target)[None]
    return Decoded(head, pixels, read_entries(blob, head, target), pixel_format=pixel_format)


def _palette(blob: bytes, target: Target) -> Decoded:
    head = read_record(PALETTE, blob, 0, target.byte_order)
    return Decoded(head, colours=read_entries(blob, head, target))


def _sound(blob: bytes, target: Target) -> Decoded:
    head = read_record(SOUND, blob, 0, target.byte_order)
    if head["format"] >= len(SOUND_FORMATS):
        raise BlobFault(f"sound format {head['format']} is not one of {len(SOUND_FORMATS)}")
    order = target.order_of(target.sound.byte_order)
    kind = {"u8": "u1", "s8": "i1", "s16": "i2"}[SOUND_FORMATS[head["format"]]]
    width, start = int(kind[1]), head["samples"]
    raw = blob[start : start + width * head["sample_count"]]
    if len(raw) != width * head["sample_count"]:
        raise BlobFault("the samples leave the blob")
    return Decoded(head, samples=np.frombuffer(raw, dtype=(">" if order == "big" else "<") + kind).astype(np.int32))


def _font(blob: bytes, target: Target) -> Decoded:
    """One frame for each glyph, in the order of the table, whether or not it shares its picture."""
    head = read_record(FONT, blob, 0, target.byte_order)
    pixel_format, before, frames, glyphs = format_of(head, target), -1, [], []
    size, count = head["picture_bytes"], head["picture_count"]
    pictures = [read_picture(blob, head["pixels"] + rank * size, head, pixel_format, target) for rank in range(count)]
    for rank in range(head["glyph_count"]):
        one = read_record(GLYPH, blob, head["glyphs"] + 8 * rank, target.byte_order)
        if one["code"] <= before or one["code"] > 0x10FFFF:
            raise BlobFault(f"glyph {rank} is of U+{one['code']:04X}, which does not follow U+{max(before, 0):04X}")
        if one["picture"] >= count:
            raise BlobFault(f"glyph {rank} shows picture {one['picture']} of {count}")
        if head["advance"] not in (0, one["advance"]):
            raise BlobFault(f"glyph {rank} advances {one['advance']}, all should {head['advance']}")
        frames.append(pictures[one["picture"]])
        glyphs.append((one["code"], one["advance"]))
        before = one["code"]
    if not frames:
        raise BlobFault("a font of no glyphs")
    return Decoded(head, np.stack(frames), pixel_format=pixel_format, glyphs=glyphs)


_DECODERS = {"font": _font, "pool": decode_pool, "background": _background, "screen": _screen, "palette": _palette, "sound": _sound}
