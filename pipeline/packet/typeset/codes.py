"""The two codes of the first page, drawn as areas: sharp at any size, each in a card that cannot be taken for the other."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Table

from pipeline.joints.codes import code_matrix
from pipeline.joints.links import QUIET
from pipeline.packet.typeset import style
from pipeline.packet.typeset.style import Look
from pipeline.packet.typeset.tables import grid
from pipeline.packet.typeset.tagged import Figure, Paragraph, tagged
from pipeline.packet.typeset.text import mark

_SIDE = 27 * style.mm  # of a code with its quiet zone, where its modules are then large enough
_LEAST_MODULE = 0.55 * style.mm
_AIR = 6  # points at both sides of the words of a card
# A link may go on in a new line before these; else before other signs; within a word, such as a build code, only where the word alone
# is too long for a line.
_AT_SIGNS, _AT_WORDS = re.compile(r"^\w+://[^/?#&]*|[/?#&]+[^/?#&]*|[^/?#&]+"), re.compile(r"\W*\w+|\W+")


class CodeDrawing(Figure):
    """A QR code with its quiet zone, on white, which is also a link.

    Attributes:
        width: of one side with quiet zone, in points.
    """

    def __init__(self, link: str, alt: str = "") -> None:
        super().__init__()
        self.link, self.alt = link, alt
        self.matrix = code_matrix(link)
        modules = len(self.matrix) + 2 * QUIET
        self.width = self.height = max(_SIDE, modules * _LEAST_MODULE)
        self.module = self.width / modules

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.width, self.height

    def drawOn(self, canvas: Any, x: float, y: float, _sW: float = 0) -> None:  # noqa: N802,N803 - the library's names
        with tagged(canvas, "Link"):
            super().drawOn(canvas, x, y, _sW)

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


def link_markup(link: str, look: ParagraphStyle, width: float) -> str:
    """Return markup of a link that can be clicked, and typed from paper: no build code is parted by the end of a line.

    Args:
        look: style in which it is set.
        width: of a line in points.
    """
    shown = "<br/>".join(map(escape, link_lines(link, look, width)))
    return f'<a href={quoteattr(link)} color="#{style.ACCENT.hexval()[2:]}" underline="1" uwidth="0.5">{shown}</a>'


def link_lines(link: str, look: ParagraphStyle, width: float) -> list[str]:
    """Return a link in lines no wider than ``width`` points."""

    def fits(text: str) -> bool:
        return stringWidth(text, look.fontName, look.fontSize) <= width - 1

    lines = [""]
    for piece in _pieces(link, fits):
        if lines[-1] and not fits(lines[-1] + piece):
            lines.append("")
        lines[-1] += piece
    return lines


def _pieces(link: str, fits: Callable[[str], bool]) -> Iterator[str]:
    for part in _AT_SIGNS.findall(link):
        for word in [part] if fits(part) else _AT_WORDS.findall(part):
            yield from [word] if fits(word) else word


def card(look: Look, label: str, use: str, link: str, alt: str, dark: bool, width: float) -> Table:
    """Return a code with its label, what it is for, and its link in letters.

    Args:
        look: the packet's styles.
        alt: what the code is, in words.
        dark: label as light letters on dark; dark on light otherwise.
        width: of the card in points.
    """
    code = CodeDrawing(link, alt)
    beside = code.width <= width / 2
    room = width - 2 * _AIR - (code.width + 4 if beside else 0)
    words = [Paragraph(mark(use), look.CARD_TEXT), Paragraph(link_markup(link, look.CARD_LINK, room), look.CARD_LINK)]
    bar = Paragraph(mark(label), look.CARD_DARK if dark else look.CARD_LIGHT)
    if not beside:
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
        ("LEFTPADDING", (1, 1), (1, 1), _AIR),
        ("RIGHTPADDING", (1, 1), (1, 1), _AIR),
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
