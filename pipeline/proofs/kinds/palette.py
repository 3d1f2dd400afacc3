"""A palette as swatches."""

from __future__ import annotations

from PIL import Image, ImageDraw

from pipeline.proofs.canvas import BOARD_LIGHT, DEEP, LINE, PAPER, png
from pipeline.proofs.subject import Subject

_SIDE = 24


def palette(subject: Subject) -> bytes:
    """Return swatches, 16 a row, the transparent entry crossed, as a PNG."""
    decoded = subject.decoded
    sheet = Image.new("RGB", (16 * _SIDE + 1, -(-len(decoded.colours) // 16) * _SIDE + 1), PAPER)
    draw = ImageDraw.Draw(sheet)
    for rank, colour in enumerate(decoded.colours.tolist()):
        left, top = rank % 16 * _SIDE, rank // 16 * _SIDE
        draw.rectangle((left, top, left + _SIDE, top + _SIDE), fill=tuple(colour), outline=LINE)
        if rank % (decoded.head["line_entries"] or len(decoded.colours)) == 0 and decoded.head["transparent"]:
            draw.rectangle((left, top, left + _SIDE, top + _SIDE), fill=BOARD_LIGHT, outline=LINE)
            draw.line((left, top, left + _SIDE, top + _SIDE), fill=DEEP, width=2)
    return png(sheet)
