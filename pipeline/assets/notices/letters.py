"""Letters of the boot notice: one line of text as a mask, and single letters in boxes of one size."""

from __future__ import annotations

import functools
import unicodedata

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from pipeline.joints.notice import LINE
from pipeline.notices.tile_plan import CAPITALS, LETTER
from pipeline.plain.errors import refuse
from pipeline.plain.shipped import BOLD, MONO

_SIZES = (10, 9, 8, 7, 6)  # of a letter in a box, the first that fits
_BELOW_MARKS = 7  # size of a capital whose marks are above it, in a box as high as capitals
_BASELINE = {CAPITALS: 7, LINE: 9}  # rows of a box above the baseline, by the box's height
_ROOM = 16  # pixels around the pen, on every side, in which a letter is drawn


def text_mask(words: str) -> Image.Image:
    """Return one line of text as a mask, 11 pixels high: 6 pixels a letter in ASCII, else as wide as the letters are."""
    plain = all(32 <= ord(char) < 127 for char in words)
    # The basic layout is there on every machine; the other one may not be, and sets letters elsewhere.
    font = ImageFont.truetype(*((MONO, 10) if plain else (BOLD, 9)), layout_engine=ImageFont.Layout.BASIC)
    if not plain:
        _check_letters(words, font)
    mask = Image.new("1", (max(1, int(font.getlength(words))), LINE))
    draw = ImageDraw.Draw(mask)
    draw.fontmode = "1"
    draw.text((0, 9), words, fill=1, font=font, anchor="ls")  # room for marks above and below
    return mask


def _mask(font: ImageFont.FreeTypeFont, text: str) -> bytes:
    # Pillow's own picture, which its declared type does not say can be turned into bytes.
    return bytes(font.getmask(text))  # pyright: ignore[reportArgumentType]


def _check_letters(words: str, font: ImageFont.FreeTypeFont) -> None:
    """Refuse letters that the font draws as the sign for a missing one."""
    missing = _mask(font, "\U0010ffff")
    for char in words:
        if not char.isspace() and _mask(font, char) == missing:
            wrong = f"the boot notice's font has no {char!r} (U+{ord(char):04X}), which {words!r} needs"
            raise refuse("project.toml", "[game] title or [screen]", wrong, "use other letters there")


def letter_box(letter: str, height: int, words: str) -> np.ndarray:
    """Return a letter in its box, as large as fits: bool, shape (height, 8).

    Args:
        height: of the box in pixels, 7 or 11.
        words: where the letter is from, for what is refused.

    Raises:
        ProjectError: the font has no such letter, or it is too wide for a box.
    """
    drawn = np.zeros((height, LETTER), dtype=bool)
    mask, left, above = _fitting(letter, height)
    mask = mask[:height]
    high, wide = mask.shape
    if wide > LETTER:
        raise refuse("project.toml", "[game] title or [screen]", f"{letter!r} of {words!r} is too wide for tiles", "use another letter")
    top = max(0, min(_BASELINE[height] - above, height - high))
    column = max(0, min(1 + left, LETTER - wide))
    drawn[top : top + high, column : column + wide] = mask
    return drawn


def _fitting(letter: str, height: int) -> tuple[np.ndarray, int, int]:
    """Return a letter that is as large as fits, as ``_letter`` does; low boxes have a small capital with the marks of a large one."""
    mask, left, above = _letter(letter, _SIZES[0])
    if len(mask) <= height:
        return mask, left, above
    small, small_left, small_above = _letter(unicodedata.normalize("NFD", letter)[0], _BELOW_MARKS)
    marks = mask[: above - _BASELINE[CAPITALS]] if above == len(mask) else mask[:0]
    if len(marks) and len(marks) + len(small) <= height and small_above == len(small):
        return _stacked(marks, left, small, small_left), min(left, small_left), len(marks) + len(small)
    smaller = (_letter(letter, size) for size in _SIZES[1:])
    return next((one for one in smaller if len(one[0]) <= height), None) or _letter(letter, _SIZES[-1])


def _stacked(marks: np.ndarray, left: int, small: np.ndarray, small_left: int) -> np.ndarray:
    """Return marks above a letter, each at its column from the pen."""
    first = min(left, small_left)
    drawn = np.zeros((len(marks) + len(small), max(left + marks.shape[1], small_left + small.shape[1]) - first), dtype=bool)
    drawn[: len(marks), left - first : left - first + marks.shape[1]] = marks
    drawn[len(marks) :, small_left - first : small_left - first + small.shape[1]] = small
    return drawn


@functools.lru_cache(maxsize=1024)  # a notice has the same letters again and again
def _letter(letter: str, size: int) -> tuple[np.ndarray, int, int]:
    """Return a letter's own pixels: bool, shape (height, width), columns from the pen to the first, rows of it above the baseline."""
    font = ImageFont.truetype(MONO, size, layout_engine=ImageFont.Layout.BASIC)
    _check_letters(letter, font)
    picture = Image.new("1", (2 * _ROOM + LETTER, 2 * _ROOM))
    draw = ImageDraw.Draw(picture)
    draw.fontmode = "1"
    draw.text((_ROOM, _ROOM), letter, fill=1, font=font, anchor="ls")
    left, top, right, bottom = picture.getbbox() or (0, 0, 0, 0)
    return np.asarray(picture)[top:bottom, left:right], left - _ROOM, _ROOM - top
