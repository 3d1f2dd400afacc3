"""Pixels and colours of a blob from its bytes, as the target's patterns draw them."""

from __future__ import annotations

import numpy as np

from pipeline.reading.decoded import BlobFault
from pipeline.target.records import PixelFormat, Target


def format_of(head: dict[str, int], target: Target) -> PixelFormat:
    """Return the pixel format that a record names by its rank among the target's.

    Raises:
        BlobFault: the target has no such format.
    """
    formats = list(target.pixel_formats.values())
    if head["pixel_format"] >= len(formats):
        raise BlobFault(f"pixel format {head['pixel_format']} is not one of the target's {len(formats)}")
    return formats[head["pixel_format"]]


def read_entries(blob: bytes, head: dict[str, int], target: Target) -> np.ndarray:
    """Return a palette's colours: uint8, shape (entries, 3).

    Raises:
        BlobFault: an entry leaves the blob.
    """
    pattern, order = target.palette.entry, target.order_of(target.palette.byte_order)
    width, colours = -(-pattern.width // 8), []
    check_start(head["entries"], start_of("entries", target), "its first entry")
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


def read_picture(blob: bytes, at: int, head: dict[str, int], pixel_format: PixelFormat, target: Target) -> np.ndarray:
    """Decode a picture of the record's width and height, stored row by row or cell after cell.

    Returns:
        uint32, shape (height, width): palette indices or direct-colour words.

    Raises:
        BlobFault: no whole cells, or pixels that leave the blob.
    """
    width, height = head["width"], head["height"]
    cell = target.cells.width, target.cells.height
    across, down = (width, height) if pixel_format.order == "rows" else pixel_format.tile or cell
    if not width or not height or width % across or height % down:
        raise BlobFault(f"{width} x {height} pixels are not whole cells")
    rows, columns = height // down, width // across
    start = 1 if pixel_format.order == "rows" or pixel_format.tile else start_of("cell", target)
    parts, _ = read_parts(blob, at, rows * columns, across, down, pixel_format, target, start)
    if pixel_format.order == "columns":
        return parts.reshape(columns, rows, down, across).transpose(1, 2, 0, 3).reshape(height, width)
    return parts.reshape(rows, columns, down, across).swapaxes(1, 2).reshape(height, width)


def read_cells(blob: bytes, at: int, count: int, pixel_format: PixelFormat, target: Target) -> np.ndarray:
    """Decode consecutive cells, each a run of its own, or several tiles: uint32, shape (count, height, width).

    Raises:
        BlobFault: pixels leave the blob, or begin elsewhere.
    """
    width, height = target.cells.width, target.cells.height
    start = start_of("cell", target)
    if not pixel_format.tile:
        return read_parts(blob, at, count, width, height, pixel_format, target, start)[0]
    check_start(at, start, "the first of its pixels")
    across, down = pixel_format.tile
    size = _row_octets(across, pixel_format) * down * (width // across) * (height // down)
    size += -size % start
    head = {"width": width, "height": height}
    if at + count * size > len(blob):
        raise BlobFault(f"{count} cells of {size} bytes at {at} leave the blob")
    cells = [read_picture(blob, at + rank * size, head, pixel_format, target) for rank in range(count)]
    return np.array(cells, dtype=np.uint32).reshape(count, height, width)


def read_parts(
    blob: bytes, at: int, count: int, width: int, height: int, pixel_format: PixelFormat, target: Target, start: int = 1
) -> tuple[np.ndarray, int]:
    """Decode rectangles of one size, each stored in one run, one after another.

    Args:
        start: bytes of which each begins at a whole multiple.

    Returns:
        uint32, shape (count, height, width), and the offset after the last.

    Raises:
        BlobFault: pixels leave the blob, or begin elsewhere.
    """
    check_start(at, start, "the first of its pixels")
    planar = pixel_format.planes != "chunky"
    size = _row_octets(width, pixel_format) * height
    size += -size % start
    if at < 0 or at + count * size > len(blob):
        first = at + (len(blob) - at) // size * size if 0 <= at <= len(blob) else at
        raise BlobFault(f"pixels at {first} leave the blob")
    raw = np.frombuffer(blob, dtype=np.uint8, count=count * size, offset=at)
    order = target.order_of(pixel_format.byte_order)
    read = _from_planes if planar else _from_chunky
    return read(raw.reshape(count, size), width, height, pixel_format, order), at + count * size


def start_of(part: str, target: Target) -> int:
    """Return at which multiples of bytes a part of a blob starts: ``frame``, ``cell``, ``tile``, ``glyph`` or ``entries``."""
    return target.alignment.get(part, 1)


def check_start(at: int, start: int, what: str) -> None:
    """Raise ``BlobFault`` for a part that starts elsewhere than the hardware fetches it."""
    if at % start:
        raise BlobFault(f"{what} starts at {at}, not at a multiple of {start}")


def cell_octets(pixel_format: PixelFormat, target: Target) -> int:
    """Return the bytes from one cell of a sprite to the next."""
    width, height = target.cells.width, target.cells.height
    across, down = pixel_format.tile or (width, height)
    size = _row_octets(across, pixel_format) * down * (width // across) * (height // down)
    return size + -size % start_of("cell", target)


def _row_octets(width: int, pixel_format: PixelFormat) -> int:
    """Return the bytes of a row, of all its planes."""
    depth, unit = pixel_format.pixel.width, pixel_format.row_unit
    if pixel_format.planes == "chunky":
        return -(-width * depth // (8 * unit)) * unit
    bits = 8 * unit if pixel_format.planes in ("by byte", "by pair") else max(16, 8 * unit)
    return -(-width // bits) * bits // 8 * depth


def _from_chunky(raw: np.ndarray, width: int, height: int, pixel_format: PixelFormat, order: str) -> np.ndarray:
    depth, count = pixel_format.pixel.width, len(raw)
    row, used = _row_octets(width, pixel_format), -(-width * depth // 8)
    raw = raw[:, : height * row].reshape(count, height, row)[:, :, :used].reshape(count, height * used)
    if depth < 8:
        bits = np.unpackbits(raw, axis=-1, bitorder="big" if pixel_format.first == "high" else "little")
        bits = bits.reshape(count, height, bits.shape[1] // (height * depth), depth)[:, :, :width]
        if pixel_format.first == "low":
            bits = bits[..., ::-1]
        return _number(bits)
    octets = raw.reshape(count, height, width, depth // 8)
    if order == "little":
        octets = octets[..., ::-1]
    return _number(np.unpackbits(octets, axis=-1))


def _from_planes(raw: np.ndarray, width: int, height: int, pixel_format: PixelFormat, order: str) -> np.ndarray:
    depth, planes, count = pixel_format.pixel.width, pixel_format.planes, len(raw)
    octets = _row_octets(width, pixel_format) // depth  # of a plane of a row
    raw = raw[:, : height * depth * octets]
    if planes in ("by byte", "by word"):
        size = 1 if planes == "by byte" else 2
        groups = raw.reshape(count, height, octets // size, depth, size)
        if planes == "by word" and order == "little":
            groups = groups[..., ::-1]
        rows = groups.swapaxes(2, 3).reshape(count, height, depth, octets)
    elif planes == "by pair":
        rows = np.empty((count, height, depth, octets), dtype=np.uint8)
        for plane in range(depth):
            mates = min(2, depth - plane // 2 * 2)  # an odd number of planes leaves the last one alone
            first = plane // 2 * 2 * height * octets
            pair = raw[:, first : first + mates * height * octets].reshape(count, height, octets, mates)
            rows[:, :, plane] = pair[..., plane % 2]
    elif planes == "by row":
        rows = raw.reshape(count, height, depth, octets)
    else:
        rows = raw.reshape(count, depth, height, octets).swapaxes(1, 2)
    bits = np.unpackbits(rows, axis=-1, bitorder="big" if pixel_format.first == "high" else "little")[..., :width]
    return _number(bits.swapaxes(2, 3)[..., ::-1])  # plane 0 is the least significant bit


def _number(bits: np.ndarray) -> np.ndarray:
    """Return numbers from bits along the last axis, most significant first."""
    total = np.zeros(bits.shape[:-1], dtype=np.uint32)
    for rank in range(bits.shape[-1]):
        total = total * 2 + bits[..., rank]
    return total
