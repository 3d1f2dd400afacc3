"""Animated PNG with delays as exact fractions of a second.

Source: PNG specification (W3C, third edition, 2025), section 11.3.6, animation information: acTL, fcTL, fdAT.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from fractions import Fraction

import numpy as np
from PIL import Image

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_QUICK = 3  # of zlib's 1 to 9: on the demo's sprites smaller than 4, and a fifth larger than 6 in less than half the time
FEW_BYTES = 6  # for large pictures of many colours, which the report holds for as long as it is kept
_MOST = 65535  # of a delay's numerator and denominator


def tick_seconds(refresh: float) -> Fraction:
    """Return how long one screen picture is shown, in seconds, as an animated PNG can say it.

    Exact for a refresh of few digits (59.94 gives 50/2997), else the nearest fraction whose denominator is below 65,536.
    """
    return (1 / Fraction(str(refresh))).limit_denominator(_MOST)


def animated_png(frames: list[tuple[Image.Image, int]], tick: Fraction) -> bytes:
    """Return an animation that plays for ever.

    Args:
        frames: pictures of one size, mode and palette, each with the ticks it is shown, at least 1. Neighbours that are
            equal become one; of the others only the rectangle that changes is stored.
        tick: seconds; see ``tick_seconds``.
    """
    shown = list(_split(_merged(frames), _MOST // tick.numerator))
    out, number, before = [_SIGNATURE, _head(shown[0][0]), _chunk(b"acTL", _u32(len(shown)) + _u32(0))], 0, None
    known: dict[tuple[int, int], tuple[tuple[int, int, int, int], bytes]] = {}  # a loop that plays again changes in the same way
    for picture, ticks in shown:
        key = (id(before), id(picture))
        if key not in known:
            known[key] = _change(before, picture)
        box, data = known[key]
        out.append(_chunk(b"fcTL", _control(number, box, ticks * tick)))
        # The first frame is the picture that readers without animation show.
        out.append(_chunk(b"IDAT", data) if before is None else _chunk(b"fdAT", _u32(number + 1) + data))
        number += 1 if before is None else 2
        before = picture
    return b"".join([*out, _chunk(b"IEND", b"")])


def _merged(frames: list[tuple[Image.Image, int]]) -> list[tuple[Image.Image, int]]:
    found: list[tuple[Image.Image, int]] = []
    for picture, ticks in frames:
        if found and found[-1][0] == picture:
            found[-1] = (picture, found[-1][1] + ticks)
        else:
            found.append((picture, ticks))
    return found


def _split(frames: list[tuple[Image.Image, int]], most: int) -> Iterator[tuple[Image.Image, int]]:
    """Show a frame again where its delay's numerator would not fit."""
    for picture, ticks in frames:
        while ticks > most:
            yield picture, most
            ticks -= most
        yield picture, ticks


def _change(before: Image.Image | None, picture: Image.Image) -> tuple[tuple[int, int, int, int], bytes]:
    """Return the rectangle (left, top, right, bottom) outside which two pictures are equal, at least one pixel, and its pixels."""
    pixels = np.asarray(picture)
    if before is None:
        return (0, 0, *picture.size), _packed(pixels)
    differs = np.asarray(before) != pixels
    differs = differs.any(axis=-1) if differs.ndim == 3 else differs
    rows, columns = np.flatnonzero(differs.any(axis=1)), np.flatnonzero(differs.any(axis=0))
    left, right = (int(columns[0]), int(columns[-1]) + 1) if len(columns) else (0, 1)
    top, bottom = (int(rows[0]), int(rows[-1]) + 1) if len(rows) else (0, 1)
    return (left, top, right, bottom), _packed(pixels[top:bottom, left:right])


def _control(number: int, box: tuple[int, int, int, int], delay: Fraction) -> bytes:
    left, top, right, bottom = box
    place = b"".join(_u32(value) for value in (number, right - left, bottom - top, left, top))
    return place + delay.numerator.to_bytes(2, "big") + delay.denominator.to_bytes(2, "big") + b"\0\0"  # left as it is, no blending


def _head(picture: Image.Image) -> bytes:
    """Return the header chunk, and the palette's where there is one."""
    kind = {"P": 3, "RGB": 2}[picture.mode]
    head = _chunk(b"IHDR", _u32(picture.width) + _u32(picture.height) + bytes([8, kind, 0, 0, 0]))
    return head + (_chunk(b"PLTE", bytes(picture.getpalette() or ())) if picture.mode == "P" else b"")


def _packed(pixels: np.ndarray) -> bytes:
    """Return compressed rows: as they are for palette entries, as differences from the row above (filter 2) for colours."""
    rows = pixels.reshape(len(pixels), -1)
    if pixels.ndim == 3:
        rows = np.concatenate([rows[:1], rows[1:] - rows[:-1]])
    kinds = np.full((len(rows), 1), 2 if pixels.ndim == 3 else 0, dtype=np.uint8)
    return zlib.compress(np.concatenate([kinds, rows], axis=1).tobytes(), _QUICK)


def _chunk(kind: bytes, body: bytes) -> bytes:
    return _u32(len(body)) + kind + body + _u32(zlib.crc32(kind + body))


def _u32(value: int) -> bytes:
    return value.to_bytes(4, "big")
