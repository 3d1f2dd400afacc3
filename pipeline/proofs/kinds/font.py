"""The proof of a font: every glyph with its character and its baseline, and lines set with the widths in the image."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from pipeline.plain.shipped import REGULAR
from pipeline.proofs.canvas import aspect_size, png, show_code
from pipeline.proofs.subject import Subject
from pipeline.reading.decoded import Decoded
from pipeline.reading.show import clear_mask, frames_rgb

_WIDTH = 900  # pixels, about what a sheet may take on a screen
_PAPER, _INK, _SOFT = (247, 248, 250), (29, 36, 48), (84, 95, 112)
_BOARDS = {"dark": ((44, 52, 66), (52, 61, 77)), "light": ((222, 226, 232), (208, 213, 221))}
_BASELINE = {"dark": (214, 120, 66), "light": (190, 84, 40)}
_GAP, _CAPTION = 8, 11
_SAMPLES = ("The quick brown fox jumps over the lazy dog.", "THE QUICK BROWN FOX JUMPS OVER THE LAZY DOG", "0123456789")


def font_sheet(subject: Subject) -> bytes:
    """Return the sheet of a font as on the console's tube, as a PNG."""
    sheet = draw_font(subject.decoded, subject.colours)
    return png(sheet.resize(aspect_size(sheet.width, sheet.height, 1, subject.pixel_aspect), Image.Resampling.BILINEAR))


def draw_font(decoded: Decoded, colours: Decoded | None) -> Image.Image:
    """Return the sheet of a font: its glyphs, enlarged, in the order of the table; below them lines of text.

    Args:
        decoded: the font, from the image.
        colours: its palette, from the image; None for direct colour.
    """
    first = colours.head["first"] if colours else 0
    rgb = frames_rgb(decoded, colours.colours if colours else None, first)
    clear = clear_mask(decoded, first, bool(colours and colours.head["transparent"]))
    shade = _shade(rgb[~clear])
    glyphs = _sheet(decoded, rgb, clear, shade)
    lines = _lines(decoded, rgb, clear, shade)
    sheet = Image.new("RGB", (max(glyphs.width, lines.width + 2 * _GAP), glyphs.height + lines.height + 3 * _GAP), _PAPER)
    sheet.paste(glyphs, (0, 0))
    sheet.paste(lines, (_GAP, glyphs.height + _GAP))
    return sheet


def _shade(opaque: np.ndarray) -> str:
    """Return the board for the letters: dark for light ones."""
    levels = opaque.astype(np.int64) @ np.array([299, 587, 114])
    return "dark" if levels.size and levels.mean() > 128_000 else "light"


def _zoom(decoded: Decoded) -> int:
    """Return how much glyphs are enlarged in the sheet: small ones three times, none to more than 96 pixels."""
    return max(1, min(3, 96 // max(decoded.head["width"], decoded.head["height"])))


def _sheet(decoded: Decoded, rgb: np.ndarray, clear: np.ndarray, shade: str) -> Image.Image:
    zoom, font = _zoom(decoded), ImageFont.truetype(REGULAR, _CAPTION)
    width, height = decoded.head["width"] * zoom, decoded.head["height"] * zoom
    captions = [show_code(code) for code, _ in decoded.glyphs]
    reach = max(decoded.head["left"] + advance for _, advance in decoded.glyphs) * zoom
    across = max(width, reach, *(round(font.getlength(one)) for one in captions)) + 2 * _GAP
    down = height + _CAPTION + 3 * _GAP
    columns = max(1, (_WIDTH - _GAP) // across)
    rows = -(-len(decoded.glyphs) // columns)
    sheet = Image.new("RGB", (max(_WIDTH, across), rows * down + _GAP), _PAPER)
    draw = ImageDraw.Draw(sheet)
    for rank, caption in enumerate(captions):
        left, top = _GAP + rank % columns * across, _GAP + rank // columns * down
        glyph = np.where(clear[rank][..., None], _board(clear.shape[1], clear.shape[2], shade), rgb[rank])
        at = left + (across - _GAP - width) // 2
        sheet.paste(Image.fromarray(glyph).resize((width, height), Image.Resampling.NEAREST), (at, top))
        _mark(draw, decoded, rank, at, top, zoom, shade)
        middle = left + (across - _GAP) // 2
        draw.text((middle, top + height + _CAPTION + 5), caption, fill=_SOFT, font=font, anchor="ms")
    return sheet


def _mark(draw: ImageDraw.ImageDraw, decoded: Decoded, rank: int, at: int, top: int, zoom: int, shade: str) -> None:
    """Draw beside a glyph's box where the baseline is, and under it how far the pen moves."""
    base, bottom = top + decoded.head["baseline"] * zoom, top + decoded.head["height"] * zoom
    for start in (at - 4, at + decoded.head["width"] * zoom):
        draw.line((start, base, start + 3, base), fill=_BASELINE[shade])
    pen = at + decoded.head["left"] * zoom
    draw.line((pen, bottom + 1, pen + max(0, decoded.glyphs[rank][1] * zoom - 1), bottom + 1), fill=_BASELINE[shade])


def _board(height: int, width: int, shade: str) -> np.ndarray:
    squares = (np.arange(height)[:, None] // 4 + np.arange(width)[None, :] // 4) % 2
    one, other = (np.array(colour, dtype=np.uint8) for colour in _BOARDS[shade])
    return np.where(squares[..., None], one, other)


def _lines(decoded: Decoded, rgb: np.ndarray, clear: np.ndarray, shade: str) -> Image.Image:
    """Set the samples whose characters the font has, then its whole set, twice the size of the console's pixels."""
    ranks = {code: rank for rank, (code, _) in enumerate(decoded.glyphs)}
    room = max((_WIDTH - 2 * _GAP) // 2, decoded.head["width"] + 8)
    whole = "".join(map(chr, ranks))
    wanted = [[ranks[ord(one)] for one in words] for words in _SAMPLES if set(words) <= set(whole) and words != whole]
    lines = [line for words in wanted for line in _broken(decoded, words, room, ranks.get(ord(" ")))]
    lines += _broken(decoded, list(range(len(ranks))), room, None)
    head = decoded.head
    step = max(head["line_height"], 1)
    canvas = np.full((step * (len(lines) - 1) + head["height"] + 8, room, 3), _BOARDS[shade][0], dtype=np.uint8)
    for rank, line in enumerate(lines):
        _set(canvas, decoded, rgb, clear, line, head["baseline"] + 4 + step * rank)
    picture = Image.fromarray(canvas)
    return picture.resize((picture.width * 2, picture.height * 2), Image.Resampling.NEAREST)


def _broken(decoded: Decoded, ranks: list[int], room: int, space: int | None) -> list[list[int]]:
    """Break glyphs into lines that fit, each with at least one glyph, after the last glyph that is a space if there is one."""
    lines = [[]]
    for rank in ranks:
        line, reach = lines[-1], max(decoded.glyphs[rank][1], decoded.head["width"] - decoded.head["left"])
        if line and sum(decoded.glyphs[one][1] for one in line) + reach + 8 > room:
            kept = len(line) - line[::-1].index(space) if space in line else len(line)
            lines[-1], rest = line[:kept], line[kept:]
            lines.append(rest)
        lines[-1].append(rank)
    return lines


def _set(canvas: np.ndarray, decoded: Decoded, rgb: np.ndarray, clear: np.ndarray, line: list[int], base: int) -> None:
    """Draw one line as a program would: the box at the pen, clear pixels left out, the pen moved by the width."""
    pen, top = 4 + decoded.head["left"], base - decoded.head["baseline"]
    for rank in line:
        left = pen - decoded.head["left"]
        inside = canvas[top : top + decoded.head["height"], left : left + decoded.head["width"]]
        shown, hidden = rgb[rank][: inside.shape[0], : inside.shape[1]], clear[rank][: inside.shape[0], : inside.shape[1]]
        inside[~hidden] = shown[~hidden]
        pen += decoded.glyphs[rank][1]
