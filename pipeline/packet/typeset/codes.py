"""The two codes of the first page, drawn as areas: sharp at any size, each in a card that cannot be taken for the other."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from reportlab.platypus import Flowable, Paragraph, Table

from pipeline.joints.codes import code_matrix
from pipeline.joints.links import QUIET
from pipeline.packet.typeset import style
from pipeline.packet.typeset.style import Look
from pipeline.packet.typeset.tables import grid
from pipeline.packet.typeset.text import mark

_SIDE = 27 * style.mm  # of a code with its quiet zone, where its modules are then large enough
_LEAST_MODULE = 0.55 * style.mm
_LONG_LINK = 120  # characters from which a link is set smaller


class CodeDrawing(Flowable):
    """A QR code with its quiet zone, on white, which is also a link.

    Attributes:
        width: of one side with quiet zone, in points.
    """

    def __init__(self, link: str) -> None:
        super().__init__()
        self.link = link
        self.matrix = code_matrix(link)
        modules = len(self.matrix) + 2 * QUIET
        self.width = self.height = max(_SIDE, modules * _LEAST_MODULE)
        self.module = self.width / modules

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas, side = self.canv, self.width
        canvas.setFillColor(style.PAPER)
        canvas.rect(0, 0, side, side, stroke=0, fill=1)
        path = canvas.beginPath()
        # One path, so that no light seam shows between modules.
        for row, cells in enumerate(self.matrix):
            for start, count in _runs(cells):
                left, bottom = (start + QUIET) * self.module, side - (row + 1 + QUIET) * self.module
                path.rect(left, bottom, count * self.module, self.module)
        canvas.setFillColor(style.BLACK)
        canvas.drawPath(path, stroke=0, fill=1)
        canvas.linkURL(self.link, (0, 0, side, side), relative=1)


def link_markup(link: str) -> str:
    """Return markup of a link that can be clicked, and typed from paper."""
    return f'<a href={quoteattr(link)} color="#{style.ACCENT.hexval()[2:]}" underline="1" uwidth="0.5">{escape(link)}</a>'


def card(look: Look, label: str, use: str, link: str, dark: bool, width: float) -> Table:
    """Return a code with its label, what it is for, and its link in letters.

    Args:
        look: the packet's styles.
        dark: label as light letters on dark; dark on light otherwise.
        width: of the card in points.
    """
    code = CodeDrawing(link)
    small = look.CARD_LINK if len(link) <= _LONG_LINK else look.CARD_LINK_LONG
    words = [Paragraph(mark(use), look.CARD_TEXT), Paragraph(link_markup(link), small)]
    bar = Paragraph(mark(label), look.CARD_DARK if dark else look.CARD_LIGHT)
    if code.width > width / 2:
        return _frame([[bar, []], [[code, *words], []]], [width, 0], dark)
    return _frame([[bar, []], [code, words]], [code.width + 4, width - code.width - 4], dark)


def _frame(rows: list, widths: list[float], dark: bool) -> Table:
    look = [
        ("SPAN", (0, 0), (1, 0)),
        ("BACKGROUND", (0, 0), (1, 0), style.INK if dark else style.TINT),
        ("BOX", (0, 0), (-1, -1), 1, style.INK),
        ("VALIGN", (0, 1), (-1, 1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (1, 0), 8),
        ("TOPPADDING", (0, 0), (1, 0), 3),
        ("BOTTOMPADDING", (0, 0), (1, 0), 5),
        ("LEFTPADDING", (0, 1), (0, 1), 4),
        ("LEFTPADDING", (1, 1), (1, 1), 6),
        ("RIGHTPADDING", (1, 1), (1, 1), 6),
    ]
    return grid(rows, widths, look, (0, 0, 2, 2))


def _runs(cells: list[bool]) -> list[tuple[int, int]]:
    """Return (start, count) of the dark runs of a row."""
    runs, start = [], None
    for place, dark in enumerate([*cells, False]):
        if dark and start is None:
            start = place
        elif not dark and start is not None:
            runs.append((start, place - start))
            start = None
    return runs
