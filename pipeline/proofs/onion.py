"""Onion skins of a sprite: the frames of each animation laid over one another, pale, with a cross at the anchor.

What stays in place is strong, what moves is pale, and a figure that jumps is seen twice.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from PIL import Image, ImageDraw

from pipeline.pixels.feet import feet, wander
from pipeline.proofs.canvas import (
    ALARM,
    GAP,
    PAPER,
    SOFT,
    WIDE,
    aspect_size,
    blended,
    largest,
    png,
    text_width,
    write,
)
from pipeline.proofs.subject import Subject

_LARGE = (240, 240)  # screen pixels up to which a figure is magnified
_HEAD = 40  # height of the two lines above a figure
_FAINT, _STRONG = 70, 230  # alpha of what one frame of many shows, and of what all show
_ARM = 9  # screen pixels of each arm of the cross


class _Skin(NamedTuple):
    """One animation: its name, what is said of it, and its picture."""

    name: str
    note: str
    picture: Image.Image


def onion_skins(subject: Subject) -> bytes:
    """Return the onion skins of all animations, side by side, as a PNG."""
    rgb, clear = subject.coloured()
    height, width = clear.shape[1:]
    times = largest(width, height, _LARGE, subject.pixel_aspect)
    size = aspect_size(width, height, times, subject.pixel_aspect)
    played = [(name, list(dict.fromkeys(frame for frame, _ in steps))) for name, _, steps in subject.animations()]
    skins = [_skin(subject, rgb, clear, size, name, frames) for name, frames in played]
    return png(_side_by_side(skins, size))


def _skin(
    subject: Subject, rgb: np.ndarray, clear: np.ndarray, size: tuple[int, int], name: str, frames: list[int]
) -> _Skin:
    anchor = subject.anchor()
    picture = Image.fromarray(blended(_laid_over(rgb[frames], clear[frames]), size, anchor))
    if anchor:
        height, width = clear.shape[1:]
        _cross(picture, (anchor[0] * size[0] // width, anchor[1] * size[1] // height))
    across, down = wander([feet(~clear[frame]) for frame in frames if not clear[frame].all()])
    note = f"{len(frames)} frame{'s' if len(frames) > 1 else ''}, feet within {across} × {down}"
    return _Skin(name, note, picture)


def _laid_over(rgb: np.ndarray, clear: np.ndarray) -> np.ndarray:
    """Return frames over one another: the mean colour of those that draw a pixel, as opaque as they are many.

    Args:
        rgb, clear: uint8, shape (frames, height, width, 3), and bool without the last axis.

    Returns:
        uint8, shape (height, width, 4).
    """
    drawn = ~clear
    count = drawn.sum(axis=0)
    total = np.zeros(rgb.shape[1:], dtype=np.int64)
    for picture, shown in zip(rgb, drawn, strict=True):  # one at a time: a long animation of large frames is many bytes
        total += picture * shown[..., None]
    mean = total // np.maximum(count, 1)[..., None]
    alpha = np.where(count > 0, _FAINT + (_STRONG - _FAINT) * (count - 1) // max(1, len(rgb) - 1), 0)
    return np.concatenate([mean, alpha[..., None]], axis=-1).astype(np.uint8)


def _cross(picture: Image.Image, at: tuple[int, int]) -> None:
    """Draw a cross at a point, just inside where the point is on the lower or right edge; nothing for a point outside."""
    x, y = min(at[0], picture.width - 1), min(at[1], picture.height - 1)
    if not (0 <= at[0] <= picture.width and 0 <= at[1] <= picture.height):
        return
    draw = ImageDraw.Draw(picture)
    for colour, thick in ((PAPER, 3), (ALARM, 1)):
        draw.line((x - _ARM, y, x + _ARM, y), fill=colour, width=thick)
        draw.line((x, y - _ARM, x, y + _ARM), fill=colour, width=thick)


def _side_by_side(skins: list[_Skin], size: tuple[int, int]) -> Image.Image:
    widest = max(max(text_width(skin.name, 14, bold=True), text_width(skin.note, 12)) for skin in skins)
    across, down = max(size[0], min(widest + 4, _LARGE[0])) + GAP, _HEAD + size[1] + GAP
    columns = max(1, min(len(skins), (WIDE - GAP) // across))
    rows = -(-len(skins) // columns)
    sheet = Image.new("RGB", (GAP + columns * across, GAP + rows * down), PAPER)
    draw = ImageDraw.Draw(sheet)
    for rank, skin in enumerate(skins):
        left, top = GAP + rank % columns * across, GAP + rank // columns * down
        write(draw, (left, top), skin.name, 14, across - GAP, bold=True)
        write(draw, (left, top + 19), skin.note, 12, across - GAP, fill=SOFT)
        sheet.paste(skin.picture, (left, top + _HEAD))
    return sheet
