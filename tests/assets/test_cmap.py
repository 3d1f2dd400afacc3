"""The table of characters of a font, against fontTools, an independent reader and writer of OpenType."""

from __future__ import annotations

import io
import struct

import pytest
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables.DefaultTable import DefaultTable
from hypothesis import given
from hypothesis import strategies as st

from pipeline.assets.fonts.cmap import read_cmap
from pipeline.plain.shipped import BOLD, MONO, REGULAR
from tests.assets.fonts import made_font


def by_fonttools(data: bytes) -> dict[int, int]:
    """Return code point -> glyph number as fontTools reads it."""
    font = TTFont(io.BytesIO(data))
    return {code: font.getGlyphID(name) for code, name in font.getBestCmap().items() if font.getGlyphID(name)}


@pytest.mark.parametrize("path", [REGULAR, BOLD, MONO], ids=lambda path: path.stem)
@pytest.mark.parametrize("kept", [(4, 12), (4,), (12,)], ids=str)
def test_real_fonts_have_the_glyphs_that_fonttools_finds(path, kept):
    """All of some thousand characters, read from each format alone and from both; glyph numbers agree too."""
    font = TTFont(path)
    font["cmap"].tables = [one for one in font["cmap"].tables if one.format in kept and one.isUnicode()]
    out = io.BytesIO()
    font.save(out)
    found = read_cmap(out.getvalue())
    assert found == by_fonttools(out.getvalue())
    assert len(found) > 3000
    assert (0x1D538 in found) == (0x1D538 in font.getBestCmap())


CODES = st.sets(st.integers(0x21, 0xFFFD).filter(lambda code: not 0xD800 <= code < 0xE000), min_size=1, max_size=40)


@given(CODES, st.sets(st.integers(0x10000, 0x10FFFD), max_size=10))
def test_any_set_of_characters_is_read_back(basic, others):
    """Fonts written by fontTools over any characters, of the basic plane and of all."""
    data = made_font(sorted(basic | others))
    assert read_cmap(data) == by_fonttools(data)
    assert set(read_cmap(data)) == basic | others


def test_segment_with_a_list_of_glyph_numbers_is_read():
    """Format 4 keeps a list where glyph numbers do not follow each other; the font written here must have one."""
    data = made_font(list(range(0x41, 0x5B)), keep_formats=(4,))
    table = TTFont(io.BytesIO(data)).getTableData("cmap")
    at = int.from_bytes(table[8:12], "big")
    double = int.from_bytes(table[at + 6 : at + 8], "big")
    places = table[at + 16 + 3 * double : at + 16 + 4 * double]
    assert any(places)
    assert sorted(read_cmap(data)) == list(range(0x41, 0x5B))


@given(st.integers(0, 3000))
def test_font_cut_short_is_refused_or_read_and_never_falls_over(length):
    """A file that ends early says so in words (ValueError), however short it is."""
    said = ""
    try:
        read_cmap(made_font([0x41, 0x42, 0x10400])[:length])
    except ValueError as error:
        said = str(error)
    assert said.startswith(("is ", "has ")) or length > 200 and not said


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"", "is not a TrueType or OpenType font"),
        (b"wOFF" + bytes(60), "is not a TrueType or OpenType font"),
        (b"ttcf" + bytes(60), "is not a TrueType or OpenType font"),
        (b"OTTO" + bytes(8), "is damaged or cut short"),
        (made_font([0x41])[:100], "is damaged or cut short"),
        (made_font([0x41], keep_formats=()), "has no table of Unicode characters that can be read"),
    ],
    ids=["empty", "packed", "collection", "no tables", "cut short", "no characters"],  # a made font holds the time of day
)
def test_what_cannot_be_read_is_said(data, wrong):
    """Web fonts and collections have other starts (OpenType specification, "OpenType font file")."""
    with pytest.raises(ValueError, match="^" + wrong):
        read_cmap(data)


def _with_groups(groups: list[tuple[int, int, int]]) -> bytes:
    """Return a font of three glyphs whose table is of format 12 with these groups: first and last code point, first glyph."""
    font = TTFont(io.BytesIO(made_font([0x41, 0x10400], keep_formats=(12,))))
    body = b"".join(struct.pack(">LLL", *group) for group in groups)
    table = DefaultTable("cmap")
    table.data = struct.pack(">HHHHL", 0, 1, 3, 10, 12) + struct.pack(">HHLLL", 12, 0, 16 + len(body), 0, len(groups)) + body
    font.tables["cmap"] = table
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


def test_group_of_all_characters_has_those_that_the_font_has_glyphs_for():
    """Glyph numbers follow each other, and end with the font's last glyph."""
    assert read_cmap(_with_groups([(0, 0x10FFFF, 1)])) == {0: 1, 1: 2}


@pytest.mark.parametrize("last", [0x110000, 0xFFFFFFFF])
def test_table_beyond_unicode_is_refused_at_once(last):
    """OpenType, cmap format 13, many characters to one glyph: two to the 32 of them would take hours and all memory."""
    data = _with_groups([(0x10F000, last, 1)])
    at = data.index(struct.pack(">HHL", 12, 0, 28))
    with pytest.raises(ValueError, match="^is damaged: its table names characters that do not exist"):
        read_cmap(data[:at] + struct.pack(">H", 13) + data[at + 2 :])


@pytest.mark.parametrize(
    "groups",
    [[(0, 0x10FFFF, 1)] * 10_000, [(0x42, 0x43, 1), (0x41, 0x41, 2)], [(0x42, 0x41, 1)]],
    ids=["many", "falling", "backwards"],
)
def test_groups_out_of_order_are_refused(groups):
    """OpenType, cmap format 12: groups must be sorted by increasing start; a small table of many would be a long wait."""
    with pytest.raises(ValueError, match="^has no table of Unicode characters that can be read"):
        read_cmap(_with_groups(groups))


def test_glyph_number_the_font_does_not_have_is_no_glyph():
    """A character that a damaged table gives glyph 900 of 3: a renderer has no glyph of that number, and draws none."""
    data = bytearray(made_font([0x41, 0x1F600], keep_formats=(12,)))
    font = TTFont(io.BytesIO(bytes(data)))
    at = data.index(font.getTableData("cmap"))
    group = data.index((0x1F600).to_bytes(4, "big") * 2, at)
    data[group + 8 : group + 12] = (900).to_bytes(4, "big")
    assert set(read_cmap(bytes(data))) == {0x41}
    assert font.getGlyphOrder()[3:] == []
