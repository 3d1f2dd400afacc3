"""A level as a picture: each cell a square in the colour of its number, with the number where it can be read."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from pipeline.proofs.canvas import INK, LINE, PAPER, SMALL, SOFT, WIDE, Small, fitted, png, text_width, write
from pipeline.proofs.subject import Subject

_SIDE, _READABLE = 26, 22  # screen pixels of a cell at most, and from which its number is written
_TALL = 2400  # screen pixels down that a level keeps to
_CAPTION, _LETTER = 28, 9


def level(subject: Subject) -> bytes:
    """Return the grid as a PNG, its sizes and the numbers that are in it below."""
    cells = subject.decoded.cells
    height, width = cells.shape
    side = max(1, min(_SIDE, WIDE // width, _TALL // height))
    text = f"{width} × {height} cells, numbers from {cells.min()} to {cells.max()}"
    sheet = Image.new("RGB", (max(width * side + 1, text_width(text, 12) + 4), height * side + 1 + _CAPTION), PAPER)
    if side < _READABLE:
        sheet.paste(Image.fromarray(_enlarged(cells, side)), (0, 0))
    else:
        _write_cells(sheet, cells, side)
    write(ImageDraw.Draw(sheet), (2, height * side + 9), text, 12, sheet.width, fill=SOFT)
    return png(sheet)


def small_level(subject: Subject) -> Small:
    """Return the grid for the ledger, enlarged where it is small."""
    cells = subject.decoded.cells
    side = max(1, min(8, SMALL[0] // cells.shape[1], SMALL[1] // cells.shape[0]))
    return fitted(Image.fromarray(_enlarged(cells, side)), SMALL), None


def _write_cells(sheet: Image.Image, cells: np.ndarray, side: int) -> None:
    squares = {int(number): _square(int(number), side) for number in np.unique(cells)}
    for (row, column), number in np.ndenumerate(cells):
        sheet.paste(squares[int(number)], (column * side, row * side))


def _square(number: int, side: int) -> Image.Image:
    """Return a cell with its number, framed by lines that it shares with the next."""
    colour = tuple(int(part) for part in _colours(np.array(number)))
    square = Image.new("RGB", (side + 1, side + 1), colour)
    draw, text = ImageDraw.Draw(square), f"{number}"
    draw.rectangle((0, 0, side, side), outline=LINE)
    size = _LETTER if text_width(text, _LETTER) < side else _LETTER - 2
    write(draw, ((side + 1 - text_width(text, size)) // 2, (side - size) // 2 + 1), text, size, side, fill=INK)
    return square


def _enlarged(cells: np.ndarray, side: int) -> np.ndarray:
    """Return uint8, shape (height * side, width * side, 3)."""
    return np.repeat(np.repeat(_colours(cells), side, axis=0), side, axis=1)


def _colours(cells: np.ndarray) -> np.ndarray:
    """Return a light colour for each number, 0 the lightest and neighbours far apart: uint8, with a last axis of 3."""
    numbers = cells.astype(np.int64)
    shades = [255 - (numbers * step + (numbers > 0) * 40) % 144 for step in (89, 55, 34)]
    return np.stack(shades, axis=-1).astype(np.uint8)
