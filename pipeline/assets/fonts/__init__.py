"""Fonts. In: a font file or a strip of letters, and texts. Out: a blob of glyphs with code points and widths."""
