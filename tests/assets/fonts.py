"""Writing small TrueType fonts for tests, with fontTools: every glyph one rectangle, no hints."""

from __future__ import annotations

import io

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import newTable
from fontTools.ttLib.tables.ttProgram import Program

EM = 1000  # units
SQUARE = (0, 0, 500, 500)


def made_font(
    characters: list[int],
    keep_formats: tuple[int, ...] = (4, 12),
    shapes: dict[int, tuple[int, int, int, int]] | None = None,
    advance: int = 600,
) -> bytes:
    """Return a font whose glyph numbers are in a shuffled order.

    Args:
        shapes: code point -> left, bottom, right, top in units of a thousandth of the em; others are ``SQUARE``.
    """
    order = sorted(characters, key=lambda code: code * 7919 % 65521)
    names = {code: f"g{code:X}" for code in order}
    builder = FontBuilder(EM, isTTF=True)
    builder.setupGlyphOrder([".notdef", *names.values()])
    builder.setupCharacterMap({code: names[code] for code in characters})
    glyphs = {names[code]: _rectangle(*(shapes or {}).get(code, SQUARE)) for code in order}
    builder.setupGlyf({".notdef": _rectangle(*SQUARE), **glyphs})
    metrics = {name: (advance, glyph.xMin) for name, glyph in builder.font["glyf"].glyphs.items()}
    builder.setupHorizontalMetrics(metrics)
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Rectangles", "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=800)
    builder.setupPost()
    # A font without any program is hinted by the renderer's own guesses; with an empty function it is drawn as it is.
    program = newTable("fpgm")
    program.program = Program()
    program.program.fromAssembly(["PUSHB[ ]", "0", "FDEF[ ]", "ENDF[ ]"])
    builder.font["fpgm"] = program
    builder.font["maxp"].maxFunctionDefs = 1
    builder.font["maxp"].maxStackElements = 4
    cmap = builder.font["cmap"]
    cmap.tables = [one for one in cmap.tables if one.format in keep_formats]
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


def made_otf(shapes: dict[int, tuple[int, int, int, int]], advance: int = 600) -> bytes:
    """Return an OpenType font with PostScript outlines (CFF), without hints."""
    names = {code: f"g{code:X}" for code in shapes}
    builder = FontBuilder(EM, isTTF=False)
    builder.setupGlyphOrder([".notdef", *names.values()])
    builder.setupCharacterMap(names)
    charstrings = {}
    for name, (left, bottom, right, top) in {".notdef": SQUARE, **{names[code]: shape for code, shape in shapes.items()}}.items():
        pen = T2CharStringPen(advance, None)
        pen.moveTo((left, bottom))
        for point in ((right, bottom), (right, top), (left, top)):
            pen.lineTo(point)
        pen.closePath()
        charstrings[name] = pen.getCharString()
    builder.setupCFF("Rectangles", {}, charstrings, {})
    builder.setupHorizontalMetrics(dict.fromkeys(charstrings, (advance, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Rectangles", "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=800)
    builder.setupPost()
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


def _rectangle(left: int, bottom: int, right: int, top: int):
    pen = TTGlyphPen(None)
    pen.moveTo((left, bottom))
    for point in ((left, top), (right, top), (right, bottom)):
        pen.lineTo(point)
    pen.closePath()
    return pen.glyph()
