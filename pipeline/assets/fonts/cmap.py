"""Which characters a TrueType or OpenType font has glyphs for, as FreeType finds them, the library that also draws the glyphs.

A renderer draws a substitute for a character the font lacks and says nothing, so it is asked before.
Source: OpenType specification (ISO/IEC 14496-22), chapters "OpenType font file", "cmap" and "maxp" (number of glyphs).
"""

from __future__ import annotations

import io

_LAST = 0x10FFFF  # code point of Unicode
_OUTLINE_TAGS = (b"\x00\x01\x00\x00", b"OTTO", b"true")


def read_cmap(data: bytes) -> dict[int, int]:
    """Return code point -> glyph number of a font file, without those that have no glyph (number 0, or none of the font's).

    Raises:
        ValueError: it is not a single TrueType or OpenType font, is damaged, or has no table over Unicode that can be read.
    """
    if data[:4] not in _OUTLINE_TAGS:
        raise ValueError("is not a TrueType or OpenType font")
    import freetype

    try:
        face = freetype.Face(io.BytesIO(data))
    except freetype.FT_Exception:
        raise ValueError("is damaged or cut short") from None
    try:
        face.select_charmap(freetype.FT_ENCODING_UNICODE)  # pyright: ignore[reportAttributeAccessIssue]  # made while it is imported
    except freetype.FT_Exception:
        raise ValueError("has no table of Unicode characters that can be read") from None
    found = {}
    for code, _ in face.get_chars():
        if code > _LAST:
            raise ValueError("is damaged: its table names characters that do not exist")
        # In a damaged table a character can be among the listed ones and not be found when it is drawn.
        glyph = face.get_char_index(code)
        if 0 < glyph < face.num_glyphs:
            found[code] = glyph
    return found
