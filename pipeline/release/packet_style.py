"""How the packet looks: paper, fonts, colours and paragraph styles. Lengths in points unless said otherwise."""

from __future__ import annotations

from reportlab import rl_config
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from pipeline import shipped

PAPERS = {"A4": A4, "Letter": LETTER}
MARGIN, TOP, BOTTOM = 20 * mm, 16 * mm, 20 * mm
MEASURE = 160 * mm  # the longest line of running text, about 85 characters

SANS, STRONG, MONO = "Packet", "Packet-Bold", "Packet-Mono"

INK, QUIET, ACCENT = HexColor(0x1B2127), HexColor(0x505A64), HexColor(0x16475A)
PAPER, TINT = HexColor(0xFFFFFF), HexColor(0xEDF1F3)
RULE = HexColor(0xB9C2C9)  # lines only, never text
BLACK = HexColor(0x000000)  # codes
# Every colour of text with what it stands on.
PAIRS = {
    "text": (INK, PAPER),
    "small print": (QUIET, PAPER),
    "headings and links": (ACCENT, PAPER),
    "table heads": (INK, TINT),
    "labels in tinted boxes": (QUIET, TINT),
    "build code and cautions": (ACCENT, TINT),
    "label of the bug code": (PAPER, INK),
    "codes": (BLACK, PAPER),
    "names on a pad's buttons": (PAPER, INK),
    "names on buttons without use": (INK, PAPER),
    "labels around a pad": (QUIET, PAPER),
}


def use_fonts() -> None:
    """Make the shipped fonts known; no other font may be named in a packet, not even as a default."""
    # A standard font is only named in a PDF, not carried by it, and looks different on every machine.
    rl_config.canvas_basefontname = SANS
    rl_config.useA85 = 0  # a fifth smaller; nothing has handled PDF as text for decades
    if SANS in pdfmetrics.getRegisteredFontNames():
        return
    for name, path in ((SANS, shipped.REGULAR), (STRONG, shipped.BOLD), (MONO, shipped.MONO)):
        pdfmetrics.registerFont(TTFont(name, str(path)))
    pdfmetrics.registerFontFamily(SANS, normal=SANS, bold=STRONG, italic=SANS, boldItalic=STRONG)
    pdfmetrics.registerFontFamily(MONO, normal=MONO, bold=MONO, italic=MONO, boldItalic=MONO)


def _style(name: str, size: float, leading: float, font: str = SANS, colour: Color = INK, **more) -> ParagraphStyle:
    # Every font is given: the library's default would be one that is not embedded.
    fonts = {"fontName": font, "bulletFontName": SANS, "bulletFontSize": size}
    return ParagraphStyle(name, fontSize=size, leading=leading, textColor=colour, allowWidows=0, allowOrphans=0, **fonts, **more)


BODY = _style("body", 9.5, 13.5, spaceBefore=4, spaceAfter=5)
NOTE = _style("note", 9.5, 13.5, spaceAfter=6, colour=QUIET)
NOTE_OF_LIST = _style("note of list", 9.5, 13.5, spaceAfter=6, colour=QUIET, keepWithNext=1)
ITEM = _style("item", 9.5, 13.5, spaceAfter=3.5, leftIndent=17, bulletIndent=1)
STEP = _style("step", 9.5, 13.5, spaceAfter=3.5, leftIndent=20, bulletIndent=1)
HEADING = _style("heading", 14, 18, STRONG, ACCENT, spaceBefore=18, spaceAfter=5, keepWithNext=1)
HEADING_OF_TABLE = _style("heading of table", 14, 18, STRONG, ACCENT, spaceBefore=18, spaceAfter=5)
BODY_CELL = _style("body cell", 9.5, 13.5)
BODY_STRONG = _style("body strong", 9.5, 13.5, STRONG)
CELL = _style("cell", 9, 12.5)
CELL_QUIET = _style("cell quiet", 9, 12.5, colour=QUIET)
CELL_STRONG = _style("cell strong", 9, 12.5, STRONG)
CELL_STEP = _style("cell step", 9, 12.5, leftIndent=15, bulletIndent=1)
CELL_MONO = _style("cell mono", 9, 13, MONO)
CELL_HEAD = _style("cell head", 8.5, 11.5, STRONG)
MARKS = _style("marks", 7.5, 10)

KIND = _style("kind", 9, 12, STRONG, QUIET, spaceAfter=3)
TITLE = _style("title", 27, 31, STRONG)
TITLE_LONG = _style("long title", 20, 24, STRONG)
SUMMARY = _style("summary", 10.5, 15, spaceBefore=7, colour=QUIET)
LABEL = _style("label", 8, 10.5, colour=QUIET)
VALUE = _style("value", 11, 14.5, STRONG)
BOX_LABEL = _style("box label", 8.5, 11, colour=QUIET, alignment=TA_CENTER)
CODE = _style("build code", 29, 34, STRONG, ACCENT, alignment=TA_CENTER)
CAPTION = _style("caption", 9, 12, STRONG, spaceBefore=4)
CAPTION_TEXT = _style("caption text", 8.5, 11.5, colour=QUIET)
CARD_LIGHT = _style("light card label", 11, 14, STRONG)
CARD_DARK = _style("dark card label", 11, 14, STRONG, PAPER)
CARD_TEXT = _style("card text", 9, 12.5, spaceAfter=5)
CARD_LINK = _style("card link", 7.5, 10, MONO, ACCENT)
CARD_LINK_LONG = _style("long card link", 6.5, 8, MONO, ACCENT)
BEFORE = _style("before", 10, 14, STRONG, ACCENT)
PAD_BUTTON = _style("pad button", 7.5, 9, STRONG)
PAD_LABEL = _style("pad label", 8.5, 11)
PAD_LABEL_LEFT = _style("left pad label", 8.5, 11, alignment=TA_RIGHT)
FOOT_SIZE = 8
