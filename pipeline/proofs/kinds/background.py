"""A background as it is, and again with the lines of its cells and the outline of one screen."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from pipeline.joints.facts import BackgroundFacts
from pipeline.proofs.canvas import GAP, INK, PAPER, SOFT, aspect_size, largest, png, stretched, text_width, write
from pipeline.proofs.subject import Subject

_COMFORTABLE = (512, 480)  # screen pixels up to which a small picture is magnified
_ABREAST = 1400  # screen pixels up to which both are side by side
_CAPTION = 28
_VEIL = 44  # how much a grid line is lighter, or on light ground darker, than what it crosses, of 255


def background(subject: Subject) -> bytes:
    """Return both pictures side by side, or one above the other where they are wide, as a PNG with a caption each."""
    rgb = subject.coloured()[0][0]
    size, second, whole = placed(subject)
    sheet = Image.new("RGB", whole, PAPER)
    draw = ImageDraw.Draw(sheet)
    plain, window = stretched(rgb, size), (subject.target.screen.width, subject.target.screen.height)
    lined = _outlined(_gridded(plain, rgb.shape, subject.cell_size()), rgb.shape, window)
    for (left, top), pixels, caption in zip(((0, 0), second), (plain, lined), _captions(subject), strict=True):
        sheet.paste(Image.fromarray(pixels), (left, top))
        write(draw, (left + 2, top + size[1] + 9), caption, 12, whole[0] - left, fill=SOFT)
    return png(sheet)


def placed(subject: Subject) -> tuple[tuple[int, int], tuple[int, int], tuple[int, int]]:
    """Return the shown size of one picture, the place of the second, and the size of the whole, in screen pixels."""
    height, width = subject.decoded.pixels.shape[1:]
    times = largest(width, height, _COMFORTABLE, subject.pixel_aspect, limit=4)
    size = aspect_size(width, height, times, subject.pixel_aspect)
    first, second = (max(size[0], text_width(caption, 12) + 4) for caption in _captions(subject))
    if first + GAP + second <= _ABREAST:
        return size, (first + GAP, 0), (first + GAP + second, size[1] + _CAPTION)
    return size, (0, size[1] + _CAPTION), (max(first, second), 2 * (size[1] + _CAPTION))


def _captions(subject: Subject) -> tuple[str, str]:
    """Return what is written under the picture and under the one with lines."""
    height, width = subject.decoded.pixels.shape[1:]
    cell, window = subject.cell_size(), (subject.target.screen.width, subject.target.screen.height)
    what = "tiles" if isinstance(subject.facts, BackgroundFacts) and subject.facts.arrangement == "tiles" else "cells"
    text = f"{-(-width // cell[0])} × {-(-height // cell[1])} {what} of {cell[0]} × {cell[1]}"
    if width > window[0] or height > window[1]:
        said = f"outlined: one screen, {window[0]} × {window[1]}"
    else:
        said = "one screen" if (width, height) == window else f"smaller than the screen of {window[0]} × {window[1]}"
    return f"{width} × {height} pixels", f"{text}; {said}"


def _gridded(shown: np.ndarray, shape: tuple[int, ...], cell: tuple[int, int]) -> np.ndarray:
    lines = np.zeros(shown.shape[:2], dtype=bool)
    for along, length, count in ((lines, shape[0], cell[1]), (lines.swapaxes(0, 1), shape[1], cell[0])):
        along[np.arange(count, length, count) * len(along) // length] = True
    veil = np.where(_bright(shown, shape, cell)[lines], -_VEIL, _VEIL)[:, None]
    gridded = shown.copy()
    gridded[lines] = np.clip(shown[lines] + veil, 0, 255)
    return gridded


def _bright(shown: np.ndarray, shape: tuple[int, ...], cell: tuple[int, int]) -> np.ndarray:
    """Return where a cell is bright on the whole, so that its lines are darker: bool, shape (height, width)."""
    red, green, blue = (shown[..., channel].astype(np.int64) for channel in range(3))
    luma = 299 * red + 587 * green + 114 * blue  # the usual weights, BT.601
    starts = [np.arange(0, shape[axis], cell[1 - axis]) * luma.shape[axis] // shape[axis] for axis in (0, 1)]
    spans = [np.diff(start, append=luma.shape[axis]) for axis, start in enumerate(starts)]
    total = np.add.reduceat(np.add.reduceat(luma, starts[0], axis=0), starts[1], axis=1)
    bright = total >= 128_000 * spans[0][:, None] * spans[1]
    return np.repeat(np.repeat(bright, spans[0], axis=0), spans[1], axis=1)


def _outlined(shown: np.ndarray, shape: tuple[int, ...], window: tuple[int, int]) -> np.ndarray:
    """Outline the part that one screen shows, from the top left: dark and white, to be seen on any ground."""
    if shape[1] <= window[0] and shape[0] <= window[1]:
        return shown
    picture = Image.fromarray(shown)
    right = min(window[0], shape[1]) * shown.shape[1] // shape[1] - 1
    bottom = min(window[1], shape[0]) * shown.shape[0] // shape[0] - 1
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, right, bottom), outline=INK)
    draw.rectangle((1, 1, right - 1, bottom - 1), outline=(255, 255, 255))
    draw.rectangle((2, 2, right - 2, bottom - 2), outline=INK)
    return np.asarray(picture)
