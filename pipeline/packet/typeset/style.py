"""What all packets have in common, paper, fonts and colours, and the paragraph styles of one. Lengths in points unless said otherwise."""

from __future__ import annotations

import functools
from typing import Any

from reportlab import rl_config
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from pipeline.plain.shipped import BOLD, REGULAR
from pipeline.plain.shipped import MONO as MONO_FILE

PAPERS = {"A4": A4, "Letter": LETTER}
MARGIN, TOP, BOTTOM = 20 * mm, 16 * mm, 20 * mm
MEASURE = 160 * mm  # the longest line of running text, about 85 characters

SANS, STRONG, MONO = "Packet", "Packet-Bold", "Packet-Mono"

INK, QUIET, ACCENT = HexColor(0x1B2127), HexColor(0x505A64), HexColor(0x16475A)
PAPER, TINT = HexColor(0xFFFFFF), HexColor(0xEDF1F3)
RULE = HexColor(0xB9C2C9)  # lines only, never text
BLACK = HexColor(0x000000)  # codes
_DISPLAY = 20  # points from which text is large already and stays as it is
# Text of tables, set in 9 points, becomes 14: what is called large print begins at 14 to 16 points (from memory of the clear-print
# advice of sight-loss charities and of WCAG 2.2, which calls text large from 18 points, or 14 where it is bold).
_SIZES = {"normal": (1.0, 8.0), "large": (14 / 9, 12.0)}  # factor; points that small print, such as links to be typed, has at least


class _Font(TTFont):
    """A font that remembers how wide texts are: each pass over a packet asks about the same words again."""

    def __init__(self, name: str, path: str) -> None:
        super().__init__(name, path)
        self.stringWidth = functools.lru_cache(maxsize=1 << 14)(self.stringWidth)


def use_fonts() -> None:
    """Make the shipped fonts known; no other font may be named in a packet, not even as a default."""
    # A standard font is only named in a PDF, not carried by it, and looks different on every machine.
    rl_config.canvas_basefontname = SANS
    rl_config.useA85 = 0  # a fifth smaller; nothing has handled PDF as text for decades
    if SANS in pdfmetrics.getRegisteredFontNames():
        return
    for name, path in ((SANS, REGULAR), (STRONG, BOLD), (MONO, MONO_FILE)):
        pdfmetrics.registerFont(_Font(name, str(path)))
    pdfmetrics.registerFontFamily(SANS, normal=SANS, bold=STRONG, italic=SANS, boldItalic=STRONG)
    pdfmetrics.registerFontFamily(MONO, normal=MONO, bold=MONO, italic=MONO, boldItalic=MONO)


def shown_by(name: str) -> frozenset[int]:
    """Return the code points of the letters that a font of ``use_fonts`` has: a font is read once, for this and for setting."""
    use_fonts()
    font = pdfmetrics.getFont(name)
    assert isinstance(font, TTFont)
    return frozenset(font.face.charToGlyph)


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
        self.NOTE = self._style("note", 9.5, 13.5, spaceAfter=6, colour=QUIET)
        self.NOTE_OF_LIST = self._style("note of list", 9.5, 13.5, spaceAfter=6, colour=QUIET, keepWithNext=1)
        self.ITEM = self._style("item", 9.5, 13.5, spaceAfter=3.5, leftIndent=17, bulletIndent=1)
        self.STEP = self._style("step", 9.5, 13.5, spaceAfter=3.5, leftIndent=20, bulletIndent=1)
        self.HEADING = self._style("heading", 14, 18, STRONG, ACCENT, spaceBefore=18, spaceAfter=5, keepWithNext=1)
        self.HEADING_OF_TABLE = self._style("heading of table", 14, 18, STRONG, ACCENT, spaceBefore=18, spaceAfter=5)
        self.BODY_CELL = self._style("body cell", 9.5, 13.5)
        self.BODY_STRONG_LINE = self._style("body strong line", 9.5, 13.5, STRONG, spaceAfter=6, keepWithNext=1)
        self.BODY_STRONG = self._style("body strong", 9.5, 13.5, STRONG)
        self.CELL = self._style("cell", 9, 12.5)
        self.CELL_QUIET = self._style("cell quiet", 9, 12.5, colour=QUIET)
        self.CELL_STRONG = self._style("cell strong", 9, 12.5, STRONG)
        self.CELL_STEP = self._style("cell step", 9, 12.5, leftIndent=15, bulletIndent=1)
        self.CELL_MONO = self._style("cell mono", 9, 13, MONO)
        self.CELL_HEAD = self._style("cell head", 8.5, 11.5, STRONG)
        self.MARKS = self._style("marks", 8, 10)
        self.KIND = self._style("kind", 9, 12, STRONG, QUIET, spaceAfter=3)
        self.TITLE = self._style("title", 27, 31, STRONG)
        self.TITLE_LONG = self._style("long title", 20, 24, STRONG)
        self.SUMMARY = self._style("summary", 10.5, 15, spaceBefore=7, colour=QUIET)
        self.LABEL = self._style("label", 8, 10.5, colour=QUIET)
        self.VALUE = self._style("value", 11, 14.5, STRONG)
        self.BOX_LABEL = self._style("box label", 8.5, 11, colour=QUIET, alignment=TA_CENTER)
        self.CODE = self._style("build code", 29, 34, STRONG, ACCENT, alignment=TA_CENTER)
        self.CAPTION = self._style("caption", 9, 12, STRONG, spaceBefore=4)
        self.CAPTION_TEXT = self._style("caption text", 8.5, 11.5, colour=QUIET)
        self.CARD_LIGHT = self._style("light card label", 11, 14, STRONG)
        self.CARD_DARK = self._style("dark card label", 11, 14, STRONG, PAPER)
        self.CARD_TEXT = self._style("card text", 9, 12.5, spaceAfter=5)
        self.CARD_LINK = self._style("card link", 8, 10.5, MONO, ACCENT)
        self.BEFORE = self._style("before", 10, 14, STRONG, ACCENT)
        self.PAD_BUTTON = self._style("pad button", 8, 9.5, STRONG)
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
        font: str = SANS,
        colour: Color = INK,
        alignment: int = TA_LEFT,
        **lengths: float,
    ) -> ParagraphStyle:
        own = self._size(size)
        times = own / size
        # Every font is given: the library's default would be one that is not embedded.
        fonts = {"fontName": font, "fontSize": own, "bulletFontName": SANS, "bulletFontSize": own, "textColor": colour}
        more = {key: value if key == "keepWithNext" else value * times for key, value in lengths.items()}
        rules: dict[str, Any] = {"alignment": alignment, "allowWidows": 0, "allowOrphans": 0, **fonts, **more}
        return ParagraphStyle(name, leading=leading * times, **rules)
