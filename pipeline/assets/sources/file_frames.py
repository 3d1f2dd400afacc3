"""The frames that a picture file says it has, from its structure alone: nothing is decoded.

Sources: GIF89a specification (sections 17 to 27); PNG specification, third edition, 11.2.2 and 12 (acTL, fcTL).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.assets.sources.png_rows import chunks
from pipeline.plain.bounds import PICTURE_PIXELS
from pipeline.plain.errors import refuse

PNG_MARK = b"\x89PNG\r\n\x1a\n"
_GIF_MARKS = (b"GIF87a", b"GIF89a")


class Announced(NamedTuple):
    """What a file says of itself before anything is decoded."""

    count: int  # frames, at least 1
    size: tuple[int, int]  # width and height of the canvas that holds all frames; (0, 0) where only a decoder can say


def check_frames(data: bytes, name: str, most: int) -> Announced:
    """Return how many frames a GIF or PNG file has, and the canvas they need; 1 and (0, 0) for other files.

    Args:
        data: the file, perhaps damaged: what comes after the damage is not seen.
        most: frames it may have.

    Raises:
        ProjectError: it has or announces more frames, or its canvas grows to more pixels than a picture may have.
    """
    count, canvas = announced_frames(data), (0, 0)
    if count <= most:
        for rank, canvas in enumerate(_canvases(data)):
            width, height = canvas
            if width * height > PICTURE_PIXELS:
                needed = f"{width:,} x {height:,} pixels for frame {rank}, {width * height:,} in all"
                wrong = f"needs {needed}; at most {PICTURE_PIXELS:,} are taken"
                raise refuse(name, "", wrong, "scale it down first, or save it again if it is damaged")
            count = max(count, rank + 1)
    if count > most:
        raise refuse(name, "", f"has {count:,} frames, at most {most:,} are taken", "split it in two, or leave frames out")
    return Announced(count, canvas)


def announced_frames(data: bytes) -> int:
    """Return how many frames there are: of an animated PNG as its acTL chunk says, of a GIF as its blocks show; else 1."""
    if data.startswith(PNG_MARK):
        said = (int.from_bytes(data[at : at + 4], "big") for at, size, kind in chunks(data) if kind == b"acTL" and size >= 4)
        return max(1, next(said, 1))
    return max(1, sum(1 for _ in _sizes(data)))


def _canvases(data: bytes) -> Iterator[tuple[int, int]]:
    """Yield the canvas that a decoder has made room for once it has seen each frame.

    It never shrinks: one wide frame and one high one need a canvas as wide and as high as both.
    """
    width = height = 0
    if data.startswith(_GIF_MARKS):
        width, height = (int.from_bytes(data[at : at + 2], "little") for at in (6, 8))  # the logical screen
    for right, bottom in _sizes(data):
        width, height = max(width, right), max(height, bottom)
        yield width, height


def _sizes(data: bytes) -> Iterator[tuple[int, int]]:
    """Yield width and height that each frame of an animation needs, counted from the canvas's top left."""
    if data.startswith(PNG_MARK):
        for at, size, kind in chunks(data):
            if kind == b"fcTL" and size >= 20:
                width, height, left, top = (int.from_bytes(data[at + to : at + to + 4], "big") for to in (4, 8, 12, 16))
                yield left + width, top + height
    elif data.startswith(_GIF_MARKS) and len(data) > 12:
        yield from _gif_sizes(data)


def _gif_sizes(data: bytes) -> Iterator[tuple[int, int]]:
    at = 13 + _table(data[10])
    while at < len(data) and data[at] != 0x3B:
        if data[at] == 0x2C and at + 10 < len(data):
            left, top, width, height = (int.from_bytes(data[at + to : at + to + 2], "little") for to in (1, 3, 5, 7))
            yield left + width, top + height
            at = _behind(data, at + 10 + _table(data[at + 9]) + 1)
        elif data[at] == 0x21:
            at = _behind(data, at + 2)
        else:
            at += 1  # what is not a block is skipped, as decoders do


def _table(flags: int) -> int:
    """Return the bytes of a colour table, by the flags before it."""
    return 3 << (flags & 7) + 1 if flags & 0x80 else 0


def _behind(data: bytes, at: int) -> int:
    """Return the place after a row of sub-blocks."""
    while at < len(data) and data[at]:
        at += data[at] + 1
    return at + 1
