"""The paragraph styles of one packet. Lengths in points unless said otherwise."""

from __future__ import annotations

from typing import Any

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle

from pipeline.release import packet_style as style


class Look:
    """Every paragraph style by its name; made for one packet and not changed afterwards."""

    def __init__(self) -> None:
        self.BODY = _style("body", 9.5, 13.5, spaceBefore=4, spaceAfter=5)
        self.NOTE = _style("note", 9.5, 13.5, spaceAfter=6, colour=style.QUIET)
        self.NOTE_OF_LIST = _style("note of list", 9.5, 13.5, spaceAfter=6, colour=style.QUIET, keepWithNext=1)
        self.ITEM = _style("item", 9.5, 13.5, spaceAfter=3.5, leftIndent=17, bulletIndent=1)
        self.STEP = _style("step", 9.5, 13.5, spaceAfter=3.5, leftIndent=20, bulletIndent=1)
        self.HEADING = _style("heading", 14, 18, style.STRONG, style.ACCENT, spaceBefore=18, spaceAfter=5, keepWithNext=1)
        self.HEADING_OF_TABLE = _style("heading of table", 14, 18, style.STRONG, style.ACCENT, spaceBefore=18, spaceAfter=5)
        self.BODY_CELL = _style("body cell", 9.5, 13.5)
        self.BODY_STRONG = _style("body strong", 9.5, 13.5, style.STRONG)
        self.CELL = _style("cell", 9, 12.5)
        self.CELL_QUIET = _style("cell quiet", 9, 12.5, colour=style.QUIET)
        self.CELL_STRONG = _style("cell strong", 9, 12.5, style.STRONG)
        self.CELL_STEP = _style("cell step", 9, 12.5, leftIndent=15, bulletIndent=1)
        self.CELL_MONO = _style("cell mono", 9, 13, style.MONO)
        self.CELL_HEAD = _style("cell head", 8.5, 11.5, style.STRONG)
        self.MARKS = _style("marks", 7.5, 10)
        self.KIND = _style("kind", 9, 12, style.STRONG, style.QUIET, spaceAfter=3)
        self.TITLE = _style("title", 27, 31, style.STRONG)
        self.TITLE_LONG = _style("long title", 20, 24, style.STRONG)
        self.SUMMARY = _style("summary", 10.5, 15, spaceBefore=7, colour=style.QUIET)
        self.LABEL = _style("label", 8, 10.5, colour=style.QUIET)
        self.VALUE = _style("value", 11, 14.5, style.STRONG)
        self.BOX_LABEL = _style("box label", 8.5, 11, colour=style.QUIET, alignment=TA_CENTER)
        self.CODE = _style("build code", 29, 34, style.STRONG, style.ACCENT, alignment=TA_CENTER)
        self.CAPTION = _style("caption", 9, 12, style.STRONG, spaceBefore=4)
        self.CAPTION_TEXT = _style("caption text", 8.5, 11.5, colour=style.QUIET)
        self.CARD_LIGHT = _style("light card label", 11, 14, style.STRONG)
        self.CARD_DARK = _style("dark card label", 11, 14, style.STRONG, style.PAPER)
        self.CARD_TEXT = _style("card text", 9, 12.5, spaceAfter=5)
        self.CARD_LINK = _style("card link", 7.5, 10, style.MONO, style.ACCENT)
        self.CARD_LINK_LONG = _style("long card link", 6.5, 8, style.MONO, style.ACCENT)
        self.BEFORE = _style("before", 10, 14, style.STRONG, style.ACCENT)
        self.FOOT_SIZE = 8


def _style(name: str, size: float, leading: float, font: str = style.SANS, colour: Color = style.INK, **more: Any) -> ParagraphStyle:
    # Every font is given: the library's default would be one that is not embedded.
    fonts = {"fontName": font, "bulletFontName": style.SANS, "bulletFontSize": size}
    return ParagraphStyle(name, fontSize=size, leading=leading, textColor=colour, allowWidows=0, allowOrphans=0, **fonts, **more)
