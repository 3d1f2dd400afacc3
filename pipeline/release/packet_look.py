"""The paragraph styles of one packet. Lengths in points unless said otherwise."""

from __future__ import annotations

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle

from pipeline.release import packet_style as style

# Text of tables, set in 9 points, becomes 14: what is called large print begins at 14 to 16 points (from memory of the clear-print
# advice of sight-loss charities and of WCAG 2.2, which calls text large from 18 points, or 14 where it is bold).
_SIZES = {"normal": (1.0, 0.0), "large": (14 / 9, 12.0)}  # factor; points that small print, such as links to be typed, has at least
_DISPLAY = 20  # points from which text is large already and stays as it is


class Look:
    """Every paragraph style by its name; made for one packet and not changed afterwards.

    Args:
        text: "normal" or "large".

    Attributes:
        large: the packet is set in large print.
    """

    def __init__(self, text: str = "normal") -> None:
        self.large = text == "large"
        self._scale, self._least = _SIZES[text]
        self.BODY = self._style("body", 9.5, 13.5, spaceBefore=4, spaceAfter=5)
        self.NOTE = self._style("note", 9.5, 13.5, spaceAfter=6, colour=style.QUIET)
        self.NOTE_OF_LIST = self._style("note of list", 9.5, 13.5, spaceAfter=6, colour=style.QUIET, keepWithNext=1)
        self.ITEM = self._style("item", 9.5, 13.5, spaceAfter=3.5, leftIndent=17, bulletIndent=1)
        self.STEP = self._style("step", 9.5, 13.5, spaceAfter=3.5, leftIndent=20, bulletIndent=1)
        self.HEADING = self._style("heading", 14, 18, style.STRONG, style.ACCENT, spaceBefore=18, spaceAfter=5, keepWithNext=1)
        self.HEADING_OF_TABLE = self._style("heading of table", 14, 18, style.STRONG, style.ACCENT, spaceBefore=18, spaceAfter=5)
        self.BODY_CELL = self._style("body cell", 9.5, 13.5)
        self.BODY_STRONG = self._style("body strong", 9.5, 13.5, style.STRONG)
        self.CELL = self._style("cell", 9, 12.5)
        self.CELL_QUIET = self._style("cell quiet", 9, 12.5, colour=style.QUIET)
        self.CELL_STRONG = self._style("cell strong", 9, 12.5, style.STRONG)
        self.CELL_STEP = self._style("cell step", 9, 12.5, leftIndent=15, bulletIndent=1)
        self.CELL_MONO = self._style("cell mono", 9, 13, style.MONO)
        self.CELL_HEAD = self._style("cell head", 8.5, 11.5, style.STRONG)
        self.MARKS = self._style("marks", 7.5, 10)
        self.KIND = self._style("kind", 9, 12, style.STRONG, style.QUIET, spaceAfter=3)
        self.TITLE = self._style("title", 27, 31, style.STRONG)
        self.TITLE_LONG = self._style("long title", 20, 24, style.STRONG)
        self.SUMMARY = self._style("summary", 10.5, 15, spaceBefore=7, colour=style.QUIET)
        self.LABEL = self._style("label", 8, 10.5, colour=style.QUIET)
        self.VALUE = self._style("value", 11, 14.5, style.STRONG)
        self.BOX_LABEL = self._style("box label", 8.5, 11, colour=style.QUIET, alignment=TA_CENTER)
        self.CODE = self._style("build code", 29, 34, style.STRONG, style.ACCENT, alignment=TA_CENTER)
        self.CAPTION = self._style("caption", 9, 12, style.STRONG, spaceBefore=4)
        self.CAPTION_TEXT = self._style("caption text", 8.5, 11.5, colour=style.QUIET)
        self.CARD_LIGHT = self._style("light card label", 11, 14, style.STRONG)
        self.CARD_DARK = self._style("dark card label", 11, 14, style.STRONG, style.PAPER)
        self.CARD_TEXT = self._style("card text", 9, 12.5, spaceAfter=5)
        self.CARD_LINK = self._style("card link", 7.5, 10, style.MONO, style.ACCENT)
        self.CARD_LINK_LONG = self._style("long card link", 6.5, 8, style.MONO, style.ACCENT)
        self.BEFORE = self._style("before", 10, 14, style.STRONG, style.ACCENT)
        self.PAD_BUTTON = self._style("pad button", 7.5, 9, style.STRONG)
        self.PAD_LABEL = self._style("pad label", 8.5, 11)
        self.PAD_LABEL_LEFT = self._style("left pad label", 8.5, 11, alignment=TA_RIGHT)
        self.FOOT_SIZE = self._size(8)

    def grown(self, length: float) -> float:
        """Return a length that belongs to text, such as a column's width or the room for a few lines, as it is in this packet."""
        return length * self._scale

    def _size(self, size: float) -> float:
        return size if size >= _DISPLAY else max(self.grown(size), self._least)

    def _style(
        self,
        name: str,
        size: float,
        leading: float,
        font: str = style.SANS,
        colour: Color = style.INK,
        alignment: int = TA_LEFT,
        **lengths: float,
    ) -> ParagraphStyle:
        own = self._size(size)
        times = own / size
        # Every font is given: the library's default would be one that is not embedded.
        fonts = {"fontName": font, "fontSize": own, "bulletFontName": style.SANS, "bulletFontSize": own, "textColor": colour}
        more = {key: value if key == "keepWithNext" else value * times for key, value in lengths.items()}
        return ParagraphStyle(name, leading=leading * times, alignment=alignment, allowWidows=0, allowOrphans=0, **fonts, **more)
