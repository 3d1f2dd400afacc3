"""Which characters a TrueType or OpenType font has glyphs for, from its own table.

A renderer draws a substitute for a character the font lacks and says nothing, so the table is read here.
Source: OpenType specification (ISO/IEC 14496-22), chapters "OpenType font file" (table directory), "cmap", formats 4
and 12, and "maxp" (number of glyphs). Numbers are big-endian.
"""

from __future__ import annotations

import struct

_OUTLINE_TAGS = (b"\x00\x01\x00\x00", b"OTTO", b"true")
# Platform and encoding of tables over Unicode, the fullest first: all planes, then the basic plane only.
_UNICODE = ((3, 10), (0, 6), (0, 4), (3, 1), (0, 3), (0, 2), (0, 1), (0, 0))


def read_cmap(data: bytes) -> dict[int, int]:
    """Return code point -> glyph number of a font file, without those that have no glyph (number 0, or none of the font's).

    Raises:
        ValueError: it is not a single TrueType or OpenType font, is cut short, or has no table over Unicode that can be read.
    """
    if data[:4] not in _OUTLINE_TAGS:
        raise ValueError("is not a TrueType or OpenType font")
    try:
        cmap = _table(data, b"cmap")
        found = _best(cmap)
        (glyphs,) = struct.unpack_from(">H", _table(data, b"maxp"), 4)
    except (struct.error, IndexError):
        raise ValueError("is damaged or cut short: its table of characters ends early") from None
    return {code: glyph for code, glyph in found.items() if 0 < glyph < glyphs}


def _table(data: bytes, tag: bytes) -> bytes:
    (count,) = struct.unpack_from(">H", data, 4)
    for rank in range(count):
        name, _, offset, length = struct.unpack_from(">4sLLL", data, 12 + 16 * rank)
        if name == tag:
            return data[offset : offset + length]
    raise ValueError(f"has no {tag.decode()} table")


def _best(cmap: bytes) -> dict[int, int]:
    (count,) = struct.unpack_from(">H", cmap, 2)
    places = {}
    for rank in range(count):
        platform, encoding, offset = struct.unpack_from(">HHL", cmap, 4 + 8 * rank)
        places[platform, encoding] = offset
    for key in _UNICODE:
        if key in places:
            (kind,) = struct.unpack_from(">H", cmap, places[key])
            if kind in _READERS:
                return _READERS[kind](cmap, places[key])
    raise ValueError("has no table of Unicode characters in format 4 or 12")


def _format_4(cmap: bytes, at: int) -> dict[int, int]:
    """Segments of the basic plane, each with a shift or a place in a list of glyph numbers."""
    (double,) = struct.unpack_from(">H", cmap, at + 6)
    count, ends_at = double // 2, at + 14
    starts_at = ends_at + double + 2
    shifts_at, places_at = starts_at + double, starts_at + 2 * double
    found, seen = {}, 0
    for rank in range(count):
        end, start, shift, place = (
            struct.unpack_from(">H", cmap, begin + 2 * rank)[0] for begin in (ends_at, starts_at, shifts_at, places_at)
        )
        if start == 0xFFFF:
            continue  # the closing segment: no character, and in some fonts its place leads nowhere
        seen = _count(seen, start, end)
        for code in range(start, end + 1):
            glyph = code
            if place:
                # Counted from the segment's own entry in the list of places.
                (glyph,) = struct.unpack_from(">H", cmap, places_at + 2 * rank + place + 2 * (code - start))
            if glyph or not place:
                found[code] = (glyph + shift) & 0xFFFF
    return found


def _format_12(cmap: bytes, at: int) -> dict[int, int]:
    """Groups of code points whose glyph numbers follow each other."""
    (count,) = struct.unpack_from(">L", cmap, at + 12)
    found, seen = {}, 0
    for rank in range(count):
        first, last, glyph = struct.unpack_from(">LLL", cmap, at + 16 + 12 * rank)
        seen = _count(seen, first, last)
        found.update(zip(range(first, last + 1), range(glyph, glyph + last - first + 1), strict=True))
    return found


def _count(seen: int, first: int, last: int) -> int:
    """Add a range to the characters seen; a damaged table could otherwise name all of them again and again."""
    seen += max(0, last - first + 1)
    if seen > 0x110000 or last > 0x10FFFF:
        raise ValueError("is damaged: its table names more characters than there are")
    return seen


_READERS = {4: _format_4, 12: _format_12}
