"""Whether a PNG is whole: its chunks as their sums say, and all the rows its header promises.

Pillow fills missing rows in without a word. Source: PNG specification (W3C, third edition), sections 5 (chunks),
7.2 (scanlines) and 8 (interlacing).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from PIL import Image

from pipeline.plain.bounds import PNG_CHUNKS
from pipeline.plain.errors import refuse

_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}  # by colour type
# Adam7: first column and row, and distance between columns and rows, of each pass.
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


_MARKS = {"1": 1, "L": 90, "P": 255, "LA": (90, 1), "RGB": (90, 1, 91), "RGBA": (90, 1, 91, 1)}  # colours a last row seldom has


_USED = (b"tRNS", b"acTL", b"fcTL", b"fdAT")  # ancillary chunks that decide what is seen


def used_chunks(data: bytes, name: str) -> bytes:
    """Return a PNG file without the chunks that do not count here: texts and colour profiles may inflate to any size.

    Raises:
        ProjectError: there are more chunks than are looked through.
    """
    dropped = []
    for count, (at, size, kind) in enumerate(chunks(data), 1):
        if count > PNG_CHUNKS:
            raise refuse(name, "", f"has {count:,} chunks or more, at most {PNG_CHUNKS:,} are looked through", "save it again as PNG")
        # A small first letter marks a chunk that can be left out (PNG specification, 5.4).
        if kind[:1].islower() and kind not in _USED:
            dropped.append((at - 8, at + size + 4))
    kept, behind = [], 0
    for start, end in dropped:
        kept.append(data[behind:start])
        behind = end
    return b"".join([*kept, data[behind:]]) if dropped else data


def check_chunks(data: bytes, name: str) -> None:
    """Check the sums of a PNG file's chunks up to the one that ends it.

    Raises:
        ProjectError: a sum is wrong, or the file ends before.
    """
    ended = False
    for at, size, kind in chunks(data):
        ended = kind == b"IEND" and at + size + 4 <= len(data)
        stored = data[at + size : at + size + 4]
        if len(stored) == 4 and zlib.crc32(data[at - 4 : at + size]) != int.from_bytes(stored, "big"):
            raise _cut_short(name, f"the chunk at byte {at - 8} is not as its checksum says")
    if not ended:
        raise _cut_short(name, f"it ends too early, after {len(data)} bytes")


def load_whole(picture: Image.Image, data: bytes, name: str) -> None:
    """Decode a still PNG and check that all rows are there.

    Args:
        picture: as opened, not decoded yet; of a mode that PNG with up to 8 bits a channel has.
        data: the file, whose chunks have been checked.
        name: for messages.

    Raises:
        ProjectError: see ``check_rows``.
        OSError, SyntaxError, ValueError: what Pillow raises while decoding.
    """
    mark, last = _MARKS[picture.mode], (0, picture.height - 1, picture.width, picture.height)
    if not picture.info.get("interlace"):
        # Pillow decodes row after row into the memory that is there, so a last row that changed is there, and all before it.
        picture.im = Image.new(picture.mode, picture.size, mark).im
        try:
            picture.load()
        except OSError:
            check_rows(data, name)  # says how much is missing, where that is what is wrong
            raise
        if picture.crop(last).tobytes() != Image.new(picture.mode, (picture.width, 1), mark).tobytes():
            return
    check_rows(data, name)


def check_rows(data: bytes, name: str) -> None:
    """Check that the first image of a PNG file is whole.

    Args:
        data: the file, whose chunks have been checked.
        name: for messages.

    Raises:
        ProjectError: there are fewer bytes of pixels than the header's size needs, or they cannot be inflated.
    """
    width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    bits = data[24] * _CHANNELS.get(data[25], 0)
    passes = _PASSES if data[28] else ((0, 0, 1, 1),)
    needed = sum(_pass_bytes(width, height, bits, one) for one in passes)
    try:
        found = len(zlib.decompressobj().decompress(_pixels(data), needed))
    except zlib.error:
        found = 0
    if found < needed:
        raise _cut_short(name, f"{found} of {needed} bytes of pixels are there")


def _cut_short(name: str, how: str) -> Exception:
    return refuse(name, "", f"is damaged or cut short: {how}", "save it again from the paint program")


def _pass_bytes(width: int, height: int, bits: int, one: tuple[int, int, int, int]) -> int:
    left, top, across, down = one
    columns, rows = -(-(width - left) // across), -(-(height - top) // down)
    return rows * (1 + -(-columns * bits // 8)) if columns > 0 and rows > 0 else 0


def _pixels(data: bytes) -> bytes:
    return b"".join(data[at : at + size] for at, size, kind in chunks(data) if kind == b"IDAT")


def chunks(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Yield place and size of the data of each chunk of a PNG file, and its type, up to the chunk that ends the file."""
    at, kind = 8, b""
    while at + 8 <= len(data) and kind != b"IEND":
        size, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        yield at + 8, size, kind
        at += 12 + size
