"""Blobs back to pixels, samples and colours, from their bytes and the target alone. Shares no code with the packers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from pipeline.records import (
    ANIMATION,
    BACKGROUND,
    BOX,
    FONT,
    FRAME,
    FRAMED,
    FRAMED_VERSION,
    GLYPH,
    OWN_POOL,
    PALETTE,
    PIECE,
    PIECED,
    PIECED_VERSION,
    POOL,
    SCREEN,
    SOUND,
    SOUND_FORMATS,
    SPRITE,
    STEP,
    TILED,
    TILED_VERSION,
    Part,
)
from pipeline.target import PixelFormat, Target


class BlobFault(ValueError):
    """A blob that cannot be what its kind says; the message tells why."""


@dataclass
class Decoded:
    """What a blob holds.

    Attributes:
        head: the blob's own record, by field name.
        pixels: uint32, shape (frames, height, width): palette indices or direct-colour words; the cells of a pool; empty
            for other kinds.
        colours: uint8, shape (entries, 3): of a palette, or of a screen's own palette.
        samples: int32, shape (n,).
        animations: (name hash, loop, [(frame, ticks), ...]).
        pixel_format: the format of ``pixels``.
        lines: a map chose each tile's line of the palette, and pixels are places in the console's whole palette.
        glyphs: (code point, advance) of each frame of a font.
    """

    head: dict[str, int]
    pixels: np.ndarray = field(default_factory=lambda: np.zeros((0, 0, 0), dtype=np.uint32))
    colours: np.ndarray = field(default_factory=lambda: np.zeros((0, 3), dtype=np.uint8))
    samples: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))
    animations: list[tuple[int, bool, list[tuple[int, int]]]] = field(default_factory=list)
    pixel_format: PixelFormat | None = None
    lines: bool = False
    glyphs: list[tuple[int, int]] = field(default_factory=list)


# From the name hash of a pool to the pool, decoded; None when there is none of that name.
FindPool = Callable[[int], Decoded | None]


def decode_blob(kind: str, blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a sprite, pool, background, screen, palette, sound or font; programs and data have nothing to decode.

    Args:
        find_pool: how to come by the pool of a sprite that names one.

    Raises:
        BlobFault: a table or the pixels leave the blob, or a number names nothing.
    """
    if kind == "sprite":
        return _sprite(blob, target, find_pool)
    decoder = _DECODERS.get(kind)
    return decoder(blob, target) if decoder else Decoded({})


def read_record(record: tuple[Part, ...], blob: bytes, at: int, byte_order: str) -> dict[str, int]:
    """Return a record's numbers by name.

    Raises:
        BlobFault: it does not lie inside the blob.
    """
    values = {}
    for part in record:
        if at < 0 or at + part.bytes > len(blob):
            raise BlobFault(f"{part.name} lies at {at}, outside the blob's {len(blob)} bytes")
        values[part.name] = int.from_bytes(blob[at : at + part.bytes], byte_order, signed=part.signed)
        at += part.bytes
    return values


def _sprite(blob: bytes, target: Target, find_pool: FindPool | None) -> Decoded:
    if blob[:1] == bytes([PIECED_VERSION]):
        return _pieced(blob, target, find_pool)
    if blob[:1] == bytes([FRAMED_VERSION]):
        return _framed(blob, target)
    head = read_record(SPRITE, blob, 0, target.byte_order)
    pixel_format = _format(head, target)
    frames = []
    for rank in range(head["frame_count"]):
        at = head["pixels"] + rank * head["frame_bytes"]
        frames.append(_picture(blob, at, head, pixel_format, target))
    if not frames:
        raise BlobFault("a sprite of no frames")
    return Decoded(head, np.stack(frames), animations=_animations(blob, head, target), pixel_format=pixel_format)


def _framed(blob: bytes, target: Target) -> Decoded:
    """Put trimmed frames where they stand in the whole ones."""
    head = read_record(FRAMED, blob, 0, target.byte_order)
    pixel_format, frames = _format(head, target), _empty_frames(head)
    for rank, canvas in enumerate(frames):
        box = read_record(BOX, blob, head["boxes"] + 16 * rank, target.byte_order)
        if box["flips"] > 3 or box["width"] % target.cells.width or box["height"] % target.cells.height:
            raise BlobFault(f"frame {rank} shows {box['width']} x {box['height']} pixels, mirrored {box['flips']}")
        if box["width"] or box["height"]:
            _draw(canvas, _picture(blob, box["pixels"], box, pixel_format, target), box, head["clear"])
    return Decoded(head, frames, animations=_animations(blob, head, target), pixel_format=pixel_format)


def _pieced(blob: bytes, target: Target, find_pool: FindPool | None) -> Decoded:
    """Put the frames of a sprite in pieces together again, pixel by pixel as a program would draw them."""
    head = read_record(PIECED, blob, 0, target.byte_order)
    own = head["pool"] == OWN_POOL
    cells = _cells(blob, head, target) if own else _pool_of(head, find_pool).pixels
    frames = _empty_frames(head)
    for rank, canvas in enumerate(frames):
        frame = read_record(FRAME, blob, head["frames"] + 8 * rank, target.byte_order)
        for number in range(frame["first_piece"], frame["first_piece"] + frame["piece_count"]):
            piece = read_record(PIECE, blob, head["pieces"] + 8 * number, target.byte_order)
            if piece["cell"] >= len(cells) or piece["flips"] > 3:
                raise BlobFault(f"piece {number} uses cell {piece['cell']} of {len(cells)}, mirrored {piece['flips']}")
            _draw(canvas, cells[piece["cell"]], piece, head["clear"])
    return Decoded(head, frames, animations=_animations(blob, head, target), pixel_format=_format(head, target))


def _empty_frames(head: dict[str, int]) -> np.ndarray:
    if not head["frame_count"]:
        raise BlobFault("a sprite of no frames")
    return np.full((head["frame_count"], head["height"], head["width"]), head["clear"], dtype=np.uint32)


def _pool_of(head: dict[str, int], find_pool: FindPool | None) -> Decoded:
    """Return the pool a sprite names; what the sprite's own record says of it must be so."""
    pool = find_pool(head["pool"]) if find_pool else None
    if pool is None:
        raise BlobFault(f"its cells are in a pool of name hash {head['pool']:#010x}, which is not there")
    for key in ("pixel_format", "clear", "cell_count"):
        if head[key] != pool.head[key]:
            raise BlobFault(f"its {key.replace('_', ' ')} is {head[key]}, its pool's {pool.head[key]}")
    return pool


def _pool(blob: bytes, target: Target) -> Decoded:
    head = read_record(POOL, blob, 0, target.byte_order)
    return Decoded(head, _cells(blob, head, target), pixel_format=_format(head, target))


def _cells(blob: bytes, head: dict[str, int], target: Target) -> np.ndarray:
    """Return cells that stand one after another: uint32, shape (cells, height, width)."""
    pixel_format, cells, at = _format(head, target), [], head["pixels"]
    for _ in range(head["cell_count"]):
        cell, at = _part(blob, at, target.cells.width, target.cells.height, pixel_format, target)
        cells.append(cell)
    return np.array(cells, dtype=np.uint32).reshape(-1, target.cells.height, target.cells.width)


def _draw(canvas: np.ndarray, cell: np.ndarray, piece: dict[str, int], clear: int) -> None:
    if piece["flips"] & 1:
        cell = cell[:, ::-1]
    if piece["flips"] & 2:
        cell = cell[::-1]
    left, top = max(piece["x"], 0), max(piece["y"], 0)
    inside = canvas[top : max(piece["y"] + cell.shape[0], 0), left : max(piece["x"] + cell.shape[1], 0)]
    shown = cell[top - piece["y"] :, left - piece["x"] :][: inside.shape[0], : inside.shape[1]]
    inside[shown != clear] = shown[shown != clear]


def _animations(blob: bytes, head: dict[str, int], target: Target) -> list:
    found = []
    for rank in range(head["animation_count"]):
        one = read_record(ANIMATION, blob, head["animations"] + 12 * rank, target.byte_order)
        steps = []
        for step in range(one["first_step"], one["first_step"] + one["step_count"]):
            if step >= head["step_count"]:
                raise BlobFault(f"animation {rank} uses step {step} of {head['step_count']}")
            numbers = read_record(STEP, blob, head["steps"] + 4 * step, target.byte_order)
            if numbers["frame"] >= head["frame_count"]:
                raise BlobFault(f"step {step} shows frame {numbers['frame']} of {head['frame_count']}")
            steps.append((numbers["frame"], numbers["ticks"]))
        found.append((one["name_hash"], bool(one["loop"]), steps))
    return found


def _background(blob: bytes, target: Target) -> Decoded:
    if blob[:1] == bytes([TILED_VERSION]):
        return _tiled(blob, target)
    head = read_record(BACKGROUND, blob, 0, target.byte_order)
    pixel_format = _format(head, target)
    return Decoded(head, _picture(blob, head["pixels"], head, pixel_format, target)[None], pixel_format=pixel_format)


def _tiled(blob: bytes, target: Target) -> Decoded:
    """Put a background's tiles together as its map says."""
    head = read_record(TILED, blob, 0, target.byte_order)
    pixel_format, wide, high = _format(head, target), head["tile_width"], head["tile_height"]
    if not wide or not high or (head["columns"] * wide, head["rows"] * high) != (head["width"], head["height"]):
        raise BlobFault(f"{head['columns']} x {head['rows']} tiles of {wide} x {high} are not {head['width']} x {head['height']} pixels")
    words, pool, at = _map_words(blob, head, target), [], head["tiles"]
    for rank in range(head["tile_count"]):
        tile, end = _part(blob, at, wide, high, pixel_format, target)
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
    """Return the number that stands in the bits of a mask, most significant first."""
    number = 0
    for place in reversed(range(32)):
        if mask >> place & 1:
            number = number * 2 + (word >> place & 1)
    return number


def _screen(blob: bytes, target: Target) -> Decoded:
    head = read_record(SCREEN, blob, 0, target.byte_order)
    pixel_format = _format(head, target)
    pixels = _picture(blob, head["pixels"], head, pixel_format, target)[None]
    return Decoded(head, pixels, _entries(blob, head, target), pixel_format=pixel_format)


def _palette(blob: bytes, target: Target) -> Decoded:
    head = read_record(PALETTE, blob, 0, target.byte_order)
    return Decoded(head, colours=_entries(blob, head, target))


def _sound(blob: bytes, target: Target) -> Decoded:
    head = read_record(SOUND, blob, 0, target.byte_order)
    if head["format"] >= len(SOUND_FORMATS):
        raise BlobFault(f"sound format {head['format']} is none of {len(SOUND_FORMATS)}")
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
    pixel_format, before, frames, glyphs = _format(head, target), -1, [], []
    pictures = [
        _picture(blob, head["pixels"] + rank * head["picture_bytes"], head, pixel_format, target) for rank in range(head["picture_count"])
    ]
    for rank in range(head["glyph_count"]):
        one = read_record(GLYPH, blob, head["glyphs"] + 8 * rank, target.byte_order)
        if one["code"] <= before or one["code"] > 0x10FFFF:
            raise BlobFault(f"glyph {rank} is of U+{one['code']:04X}, which does not follow U+{max(before, 0):04X}")
        if one["picture"] >= head["picture_count"]:
            raise BlobFault(f"glyph {rank} shows picture {one['picture']} of {head['picture_count']}")
        if head["advance"] not in (0, one["advance"]):
            raise BlobFault(f"glyph {rank} advances {one['advance']}, all should {head['advance']}")
        frames.append(pictures[one["picture"]])
        glyphs.append((one["code"], one["advance"]))
        before = one["code"]
    if not frames:
        raise BlobFault("a font of no glyphs")
    return Decoded(head, np.stack(frames), pixel_format=pixel_format, glyphs=glyphs)


_DECODERS = {"font": _font, "pool": _pool, "background": _background, "screen": _screen, "palette": _palette, "sound": _sound}


def _format(head: dict[str, int], target: Target) -> PixelFormat:
    formats = list(target.pixel_formats.values())
    if head["pixel_format"] >= len(formats):
        raise BlobFault(f"pixel format {head['pixel_format']} is none of the target's {len(formats)}")
    return formats[head["pixel_format"]]


def _entries(blob: bytes, head: dict[str, int], target: Target) -> np.ndarray:
    pattern, order = target.palette.entry, target.order_of(target.palette.byte_order)
    width, colours = -(-pattern.width // 8), []
    for rank in range(head["entry_count"]):
        at = head["entries"] + rank * width
        raw = blob[at : at + width]
        if len(raw) != width:
            raise BlobFault(f"palette entry {rank} leaves the blob")
        colours.append(word_to_rgb(int.from_bytes(raw, order), pattern))
    return np.array(colours, dtype=np.uint8).reshape(-1, 3)


def word_to_rgb(word: int, pattern) -> tuple[int, int, int]:
    """Return the 8-bit colour of one direct-colour word; each channel's bits are repeated to fill eight."""
    channels = []
    for letter in "RGB":
        bits = "".join(str(word >> place & 1) for place in pattern.fields[letter])
        channels.append(int((bits * 8)[:8], 2))
    return tuple(channels)


def _picture(blob: bytes, at: int, head: dict[str, int], pixel_format: PixelFormat, target: Target) -> np.ndarray:
    width, height = head["width"], head["height"]
    across, down = (target.cells.width, target.cells.height) if pixel_format.order == "cells" else (width, height)
    if not width or not height or width % across or height % down:
        raise BlobFault(f"{width} x {height} pixels are no whole cells")
    picture = np.zeros((height, width), dtype=np.uint32)
    for top in range(0, height, down):
        for left in range(0, width, across):
            part, at = _part(blob, at, across, down, pixel_format, target)
            picture[top : top + down, left : left + across] = part
    return picture


def _part(blob: bytes, at: int, width: int, height: int, pixel_format: PixelFormat, target: Target) -> tuple[np.ndarray, int]:
    """Decode one rectangle stored in one run; return it and the offset behind it."""
    depth = pixel_format.pixel.width
    planar = pixel_format.planes != "chunky"
    unit = {"chunky": 8, "by byte": 8}.get(pixel_format.planes, 16)
    row_bits = -(-width // unit) * unit * depth if planar else -(-width * depth // 8) * 8
    count = row_bits // 8 * height
    raw = np.frombuffer(blob[at : at + count], dtype=np.uint8)
    if at < 0 or len(raw) != count:
        raise BlobFault(f"pixels at {at} leave the blob")
    order = target.order_of(pixel_format.byte_order)
    if planar:
        return _from_planes(raw, width, height, pixel_format, order), at + count
    return _from_chunky(raw, width, height, pixel_format, order), at + count


def _from_chunky(raw: np.ndarray, width: int, height: int, pixel_format: PixelFormat, order: str) -> np.ndarray:
    depth = pixel_format.pixel.width
    if depth < 8:
        bits = np.unpackbits(raw, bitorder="big" if pixel_format.first == "high" else "little")
        bits = bits.reshape(height, -1, depth)[:, :width]
        if pixel_format.first == "low":
            bits = bits[..., ::-1]
        return _number(bits)
    octets = raw.reshape(height, width, depth // 8)
    if order == "little":
        octets = octets[..., ::-1]
    return _number(np.unpackbits(octets, axis=-1))


def _from_planes(raw: np.ndarray, width: int, height: int, pixel_format: PixelFormat, order: str) -> np.ndarray:
    depth, planes = pixel_format.pixel.width, pixel_format.planes
    if planes in ("by byte", "by word"):
        size = 1 if planes == "by byte" else 2
        groups = raw.reshape(height, -1, depth, size)
        if planes == "by word" and order == "little":
            groups = groups[..., ::-1]
        rows = groups.transpose(0, 2, 1, 3).reshape(height, depth, -1)
    elif planes == "by row":
        rows = raw.reshape(height, depth, -1)
    else:
        rows = raw.reshape(depth, height, -1).transpose(1, 0, 2)
    bits = np.unpackbits(rows, axis=-1, bitorder="big" if pixel_format.first == "high" else "little")[..., :width]
    return _number(bits.transpose(0, 2, 1)[..., ::-1])  # plane 0 is the least significant bit


def _number(bits: np.ndarray) -> np.ndarray:
    """Return numbers from bits along the last axis, most significant first."""
    total = np.zeros(bits.shape[:-1], dtype=np.uint32)
    for rank in range(bits.shape[-1]):
        total = total * 2 + bits[..., rank]
    return total
