"""Marks over figures: 16 kinds of boxes and of points, which differ in the pattern of a line or the shape of a sign, and in colour.

Source of the colours: M. Okabe and K. Ito, Color Universal Design (2008), chosen to differ for people who see fewer colours.
"""

from __future__ import annotations

import functools

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from pipeline.proofs.canvas import PAPER

_COLOURS = ((213, 94, 0), (0, 114, 178), (0, 120, 90), (204, 60, 140), (0, 0, 0), (150, 90, 0), (40, 150, 220), (110, 60, 170))
# Screen pixels of line and gap by turns, of the first eight kinds; the other eight have a second line inside.
_PATTERNS = ((1, 0), (6, 4), (2, 3), (10, 3, 2, 3), (3, 8), (12, 6), (2, 2, 2, 6), (8, 2, 2, 2, 2, 2))
_LINE = 2  # screen pixels that a line is wide
_SIGN = 15  # screen pixels a side of a point's sign
_MIDDLE = _SIGN // 2


def line_of(kind: int) -> tuple[tuple[int, int, int], tuple[int, ...], bool]:
    """Return the colour of a kind, the screen pixels of line and gap by turns, and whether a box has a second line inside."""
    return _COLOURS[kind % len(_COLOURS)], _PATTERNS[kind % len(_PATTERNS)], kind >= len(_PATTERNS)


def draw_box(picture: Image.Image, box: tuple[int, int, int, int], kind: int) -> None:
    """Draw the outline of a box along the inside of its edges.

    Args:
        box: left, top, width and height in screen pixels.
        kind: 0 to 15.
    """
    left, top, width, height = box
    paper, line = _outline(width, height, kind)
    picture.paste(PAPER, (left, top), paper)
    picture.paste(_COLOURS[kind % len(_COLOURS)], (left, top), line)


def draw_sign(picture: Image.Image, middle: tuple[int, int], kind: int) -> None:
    """Draw the sign of a point, its middle at a screen pixel. ``kind``: 0 to 15."""
    paper, sign = _sign(kind)
    place = (middle[0] - _MIDDLE, middle[1] - _MIDDLE)
    picture.paste(PAPER, place, paper)
    picture.paste(_COLOURS[kind % len(_COLOURS)], place, sign)


@functools.lru_cache(maxsize=4096)
def _outline(width: int, height: int, kind: int) -> tuple[Image.Image, Image.Image]:
    """Return where paper and where colour of an outline go; the gaps of its line are paper."""
    across, down = np.arange(width), np.arange(height)[:, None]
    inset = np.minimum(np.minimum(across, width - 1 - across), np.minimum(down, height - 1 - down))  # from the nearest edge
    second = kind >= len(_PATTERNS)
    dashes = np.repeat(np.arange(len(_PATTERNS[kind % 8])) % 2 == 0, _PATTERNS[kind % 8])
    # Along upper and lower edges a line goes on with x, along the others with y, so that lines one inside the other have equal gaps.
    flat = np.minimum(down, height - 1 - down) <= np.minimum(across, width - 1 - across)
    shown = np.where(flat, dashes[across % len(dashes)], dashes[down % len(dashes)])
    drawn = (inset < _LINE) | (second & (inset > _LINE) & (inset <= 2 * _LINE))
    paper = inset <= (2 * _LINE if second else _LINE)
    return Image.fromarray(paper.astype(np.uint8) * 255), Image.fromarray((drawn & shown).astype(np.uint8) * 255)


@functools.cache
def _sign(kind: int) -> tuple[Image.Image, Image.Image]:
    sign = Image.new("L", (_SIGN, _SIGN))
    draw, filled = ImageDraw.Draw(sign), 255 if kind >= 8 else None
    near, far, middle = 2, _SIGN - 3, _MIDDLE
    shape = kind % 8
    if shape == 0:
        draw.line((near, middle, far, middle), fill=255, width=5 if filled else 3)
        draw.line((middle, near, middle, far), fill=255, width=5 if filled else 3)
    elif shape == 1:
        draw.line((near, near, far, far), fill=255, width=5 if filled else 2)
        draw.line((near, far, far, near), fill=255, width=5 if filled else 2)
    elif shape == 2:
        draw.ellipse((near, near, far, far), outline=255, fill=filled, width=2)
    elif shape == 3:
        draw.rectangle((near + 1, near + 1, far - 1, far - 1), outline=255, fill=filled, width=2)
    else:
        corners = {
            4: ((middle, near), (far, middle), (middle, far), (near, middle)),
            5: ((middle, near), (far, far), (near, far)),
            6: ((near, near), (far, near), (middle, far)),
            7: ((near, near), (far, near), (near, far), (far, far)) if filled else ((near, near), (far, far), (far, near), (near, far)),
        }[shape]
        draw.polygon(corners, outline=255, fill=filled, width=2)
    if not filled:
        draw.point((middle, middle), fill=255)
    return sign.filter(ImageFilter.MaxFilter(3)), sign
