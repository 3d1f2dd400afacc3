"""What all packets have in common: paper, fonts and colours. Lengths in points unless said otherwise."""

from __future__ import annotations

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
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
