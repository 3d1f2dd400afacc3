"""What all proofs are drawn with: colours, letters, the board under clear pixels, and pixels at the console's aspect.

A console pixel becomes a rectangle of whole screen pixels wherever it is shown large enough for the eye not to see that
some are one wider than others (from 3 screen pixels); below that, screen pixels between two console pixels mix them.
"""

from __future__ import annotations

import functools
import io
import itertools

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from pipeline.plain.shipped import BOLD, REGULAR

PAPER, INK, SOFT, LINE = (247, 248, 250), (29, 36, 48), (84, 95, 112), (150, 158, 170)
DEEP, ALARM = (30, 92, 140), (255, 0, 255)
BOARD_LIGHT, BOARD_DARK = (214, 218, 224), (196, 201, 209)
ANCHOR_LIGHT, ANCHOR_DARK = (150, 190, 222), (138, 180, 214)  # the anchor's lines on the board's two greys
WIDE = 1240  # pixels across that a proof keeps to; the report shows it nearly one to one in a window of 1280
GAP = 12
SMALL = (192, 144)  # what a small picture of a whole asset keeps to
# A small picture, and width and height of its frames where it is a sheet of them.
Small = tuple[Image.Image, tuple[int, int] | None]
# Letters in five shades, so that a picture keeps few enough colours for a palette.
_FEW = [min(255, (level + 32) // 64 * 64) for level in range(256)]
_SPARE = np.uint32(16)  # bits of a product that do not find a colour's rank
# Of zlib's 1 to 9: on the demo's proofs 6 percent more bytes than its 6, which Pillow takes by itself, in six tenths of the time.
_QUICK = 4
_CRISP = 3  # screen pixels a side from which unequal console pixels do not show


@functools.cache
def letters(size: int, bold: bool = False) -> ImageFont.FreeTypeFont:
    """Return the project's font at a size in pixels."""
    return ImageFont.truetype(str(BOLD if bold else REGULAR), size, layout_engine=ImageFont.Layout.BASIC)


def write(draw: ImageDraw.ImageDraw, place: tuple[int, int], text: str, size: int, most: int, bold: bool = False, fill=INK) -> int:
    """Draw a line of text from its left end and the top of its capitals; return where it ends.

    What is wider than ``most`` pixels is cut and ends in an ellipsis.
    """
    font = letters(size, bold)
    if font.getlength(text) > most:
        while text and font.getlength(text + "…") > most:
            text = text[:-1]
        text = text.rstrip() + "…"
    mask, above = _written(text, size, bold)
    draw.bitmap((place[0], place[1] - above), mask, fill=fill)
    return place[0] + mask.width - 2


@functools.lru_cache(maxsize=256)
def _written(text: str, size: int, bold: bool) -> tuple[Image.Image, int]:
    """Return a line of text as a mask, two pixels wider than the text, and how many of its rows are above capitals."""
    font = letters(size, bold)
    width, rise = round(font.getlength(text)), -int(font.getbbox("H", anchor="ls")[1])
    above = font.getmetrics()[0] - rise  # some small letters and accents are higher than capitals
    mask = Image.new("L", (width + 2, above + rise + size))
    ImageDraw.Draw(mask).text((0, above + rise), text, fill=255, font=font, anchor="ls")
    return mask.point(_FEW), above


def text_width(text: str, size: int, bold: bool = False) -> int:
    """Return the width of a line of text in pixels."""
    return round(letters(size, bold).getlength(text))


def aspect_size(width: int, height: int, times: int, aspect: tuple[int, int]) -> tuple[int, int]:
    """Return the screen pixels a picture takes at ``times``; the longer side of a console pixel is stretched, none shrinks."""
    wide, high = aspect
    across, down = (wide, high) if wide > high else (1, 1)
    if wide > high:
        return (width * times * across * 2 + down) // (2 * down), height * times
    if high > wide:
        return width * times, (height * times * high * 2 + wide) // (2 * wide)
    return width * times, height * times


def largest(width: int, height: int, most: tuple[int, int], aspect: tuple[int, int], limit: int = 8) -> int:
    """Return the greatest whole magnification, 1 to ``limit``, at which a picture fits into ``most``; 1 if none does."""
    for times in range(limit, 1, -1):
        size = aspect_size(width, height, times, aspect)
        if size[0] <= most[0] and size[1] <= most[1]:
            return times
    return 1


def stretched(values: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Return pixels brought to a size in screen pixels, not smaller than they are.

    Args:
        values: uint8, shape (height, width, 3), colours; or (height, width, 4), colours with alpha.
        size: width and height.

    Returns:
        uint8, the same channels. Exact copies of console pixels where they are shown large or a whole number of times.
    """
    width, height = size
    return _along(_along(values, height, 0), width, 1)


def _along(values: np.ndarray, count: int, axis: int) -> np.ndarray:
    length = values.shape[axis]
    if count % length == 0:
        return values if count == length else np.repeat(values, count // length, axis=axis)
    if count >= _CRISP * length:
        return np.take(values, (2 * np.arange(count) + 1) * length // (2 * count), axis=axis)
    return _mixed(np.moveaxis(values, axis, 0), count).swapaxes(0, axis)


def _mixed(values: np.ndarray, count: int) -> np.ndarray:
    """Mean over what each screen pixel covers, along the first axis; at most two console pixels, in whole numbers."""
    length = len(values)
    start = np.arange(count) * length  # in parts of 1/count of a console pixel
    first = start // count
    second = np.minimum(first + 1, length - 1)
    share = np.minimum((first + 1) * count - start, length).reshape(-1, *[1] * (values.ndim - 1))
    weights = [share, length - share]
    parts = [values[first].astype(np.int64), values[second].astype(np.int64)]
    if values.shape[-1] < 4:
        return _quotient(parts[0] * weights[0] + parts[1] * weights[1], length).astype(np.uint8)
    # A pixel's colour counts as much as it is opaque, so that a clear one lends none.
    weights = [part[..., 3:] * weight for part, weight in zip(parts, weights, strict=True)]
    cover = weights[0] + weights[1]
    colour = parts[0][..., :3] * weights[0] + parts[1][..., :3] * weights[1]
    return np.concatenate([_quotient(colour, np.maximum(cover, 1)), _quotient(cover, length)], axis=-1).astype(np.uint8)


def _quotient(total: np.ndarray, count: np.ndarray | int) -> np.ndarray:
    """Return a mean rounded to the nearest whole number, halves up."""
    return (2 * total + count) // (2 * count)


@functools.lru_cache(maxsize=64)
def board(height: int, width: int, anchor: tuple[int, int] | None = None) -> np.ndarray:
    """Return the board that shows what is clear: uint8, shape (height, width, 3); lines cross at the anchor where one is given."""
    dark = ((np.arange(height)[:, None] // 8 + np.arange(width)[None, :] // 8) % 2).astype(bool)[..., None]
    ground = np.where(dark, np.array(BOARD_DARK, dtype=np.uint8), np.array(BOARD_LIGHT, dtype=np.uint8))
    if anchor:
        lines = np.zeros((height, width, 1), dtype=bool)
        for place, length, along in ((anchor[0], width, lines.swapaxes(0, 1)), (anchor[1], height, lines)):
            if 0 <= place <= length:  # the lower and right edges are drawn just inside
                along[min(place, length - 1)] = True
        marked = np.where(dark, np.array(ANCHOR_DARK, dtype=np.uint8), np.array(ANCHOR_LIGHT, dtype=np.uint8))
        ground = np.where(lines, marked, ground)
    return ground


def on_board(rgb: np.ndarray, clear: np.ndarray, size: tuple[int, int], anchor: tuple[int, int] | None = None) -> np.ndarray:
    """Return a frame at a size in screen pixels, on the board where it is clear.

    Args:
        rgb, clear: uint8, shape (height, width, 3), and bool, shape (height, width).
        anchor: in the frame's own pixels; its lines show on the board only, never on the figure.
    """
    alpha = np.where(clear, 0, 255).astype(np.uint8)[..., None]
    return blended(np.concatenate([rgb, alpha], axis=-1), size, anchor)


def blended(rgba: np.ndarray, size: tuple[int, int], anchor: tuple[int, int] | None = None) -> np.ndarray:
    """Return a picture at a size in screen pixels over the board, each pixel as much as it is opaque.

    Args:
        rgba: uint8, shape (height, width, 4), any alpha.
        anchor: as of ``on_board``.
    """
    height, width = rgba.shape[:2]
    shown = stretched(rgba, size)
    place = (anchor[0] * size[0] // width, anchor[1] * size[1] // height) if anchor else None
    ground, alpha = board(size[1], size[0], place), shown[..., 3:]
    if not ((alpha > 0) & (alpha < 255)).any():
        found, drawn = np.empty_like(ground), alpha[..., 0] > 0
        for channel in range(3):  # one by one: numpy is slow along an axis of three
            found[..., channel] = np.where(drawn, shown[..., channel], ground[..., channel])
        return found
    ground, cover = ground.astype(np.int64), alpha.astype(np.int64)
    return ((shown[..., :3] * cover + ground * (255 - cover) + 127) // 255).astype(np.uint8)


def indexed(pictures: list[Image.Image]) -> list[Image.Image]:
    """Return RGB pictures with one palette for all where they have at most 256 colours together; else as they are."""
    seen: set[tuple[int, ...]] = set()
    for picture in pictures:
        colours = picture.getcolors(256)
        if colours is None:
            return pictures
        seen |= {colour for _, colour in colours if isinstance(colour, tuple)}  # of an RGB picture all are
        if len(seen) > 256:
            return pictures
    table = sorted(seen)
    words = np.array([red | green << 8 | blue << 16 for red, green, blue in table], dtype=np.uint32)
    factor, ranks = _scattered(words)
    found = []
    for picture in pictures:
        four = np.frombuffer(picture.convert("RGBX").tobytes(), dtype="<u4") & 0xFFFFFF
        entries = Image.fromarray(ranks.take(four * factor >> _SPARE).reshape(picture.height, picture.width))
        entries.putpalette([channel for colour in table for channel in colour])
        found.append(entries)
    return found


def _scattered(words: np.ndarray) -> tuple[np.uint32, np.ndarray]:
    """Return a factor whose products with some words all differ in their upper bits, and the words' ranks by these bits.

    Args:
        words: uint32, at most 256, all different.

    Returns:
        The factor, and uint8, shape (65536,). About every second factor will do.
    """
    for number in itertools.count(0x9E3779B1, 2):
        factor = np.uint32(number & 0xFFFFFFFF)
        places = words * factor >> _SPARE
        if len(np.unique(places)) == len(words):
            ranks = np.zeros(1 << 32 - int(_SPARE), dtype=np.uint8)
            ranks[places] = np.arange(len(words))
            return factor, ranks
    raise AssertionError("there are always more factors")


def fitted(picture: Image.Image, most: tuple[int, int]) -> Image.Image:
    """Return a picture made smaller until it fits; one that fits stays as it is."""
    share = max(picture.width / most[0], picture.height / most[1])
    if share <= 1:
        return picture
    return picture.resize((max(1, int(picture.width / share)), max(1, int(picture.height / share))), Image.Resampling.BOX)


def png(picture: Image.Image, level: int = _QUICK) -> bytes:
    """Return a picture as a PNG file, with a palette where its colours allow; ``level``: of zlib's 1 to 9."""
    out = io.BytesIO()
    indexed([picture])[0].save(out, "PNG", compress_level=level)
    return out.getvalue()


def show_code(code: int) -> str:
    """Return how a code point is named under its glyph: the character where the label's own font is sure to show it."""
    shown = chr(code)
    return f"{shown} {code:04X}" if 0x20 < code < 0x7F or 0xA0 < code < 0x180 else f"{code:04X}"
