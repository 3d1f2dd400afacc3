"""Proofs: pictures decoded from the image's own bytes, shown at the console's pixel aspect."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from pipeline.files import read_json, replacing
from pipeline.rom.decode import Decoded, decode_blob
from pipeline.rom.show import clear_mask, frames_rgb, screen_rgb
from pipeline.rom.unpack import unpack
from pipeline.target import Target

_LIGHT, _DARK = (214, 218, 224), (196, 201, 209)  # the board behind transparent pixels
_GRID = (150, 158, 170)
_SHEET_WIDTH = 1400  # pixels, about what a contact sheet may take on a screen
_WAVE, _WAVE_GROUND, _WAVE_ZERO = (30, 92, 140), (247, 248, 250), (190, 198, 208)


def write_proof(
    image: Path, map_file: Path, out: Path, name: str, palette: str | None, target: Target, pixel_aspect: tuple[int, int]
) -> str:
    """Draw one asset from the image; return one line about the picture.

    Args:
        palette: the palette asset that colours it, also taken from the image; None for direct colour or its own.
        pixel_aspect: width and height of one console pixel.
    """
    entries = {entry["name"]: entry for entry in read_json(map_file)["entries"]}
    decoded = _take(image, entries[name], target)
    colours = _take(image, entries[palette], target) if palette else None
    picture = _DRAW[entries[name]["kind"]](decoded, colours)
    if entries[name]["kind"] not in ("palette", "sound"):
        picture = _at_aspect(picture, pixel_aspect)
    with replacing(out) as file:
        picture.save(file, "PNG")
    return f"{picture.width} x {picture.height} pixels"


def _take(image: Path, entry: dict[str, Any], target: Target) -> Decoded:
    with open(image, "rb") as file:
        file.seek(entry["offset"])
        content = unpack(entry["codec"], file.read(entry["bytes"]), entry["unpacked_bytes"])
    return decode_blob(entry["kind"], content, target)


def _sprite(decoded: Decoded, colours: Decoded | None) -> Image.Image:
    """Return a contact sheet: every stored frame, in order, on a board that shows what is transparent."""
    rgb, clear = _coloured(decoded, colours)
    count, height, width = rgb.shape[:3]
    columns = max(1, min(count, _SHEET_WIDTH // (width + 1), math.ceil(math.sqrt(count * 2 * height / width))))
    rows = -(-count // columns)
    sheet = np.full((rows * (height + 1) + 1, columns * (width + 1) + 1, 3), _GRID, dtype=np.uint8)
    board = _board(height, width)
    for rank in range(count):
        top, left = (rank // columns) * (height + 1) + 1, (rank % columns) * (width + 1) + 1
        sheet[top : top + height, left : left + width] = np.where(clear[rank][..., None], board, rgb[rank])
    for rank in range(count, rows * columns):
        top, left = (rank // columns) * (height + 1) + 1, (rank % columns) * (width + 1) + 1
        sheet[top : top + height, left : left + width] = _WAVE_GROUND
    return Image.fromarray(sheet)


def _coloured(decoded: Decoded, colours: Decoded | None) -> tuple[np.ndarray, np.ndarray]:
    first = colours.head["first"] if colours else 0
    transparent = bool(colours.head["transparent"]) if colours else False
    rgb = frames_rgb(decoded, colours.colours if colours else None, first)
    return rgb, clear_mask(decoded, first, transparent)


def _board(height: int, width: int) -> np.ndarray:
    squares = (np.arange(height)[:, None] // 8 + np.arange(width)[None, :] // 8) % 2
    return np.where(squares[..., None], np.array(_LIGHT, dtype=np.uint8), np.array(_DARK, dtype=np.uint8))


def _background(decoded: Decoded, colours: Decoded | None) -> Image.Image:
    return Image.fromarray(_coloured(decoded, colours)[0][0])


def _screen(decoded: Decoded, _: Decoded | None) -> Image.Image:
    return Image.fromarray(screen_rgb(decoded))


def _palette(decoded: Decoded, _: Decoded | None) -> Image.Image:
    """Return swatches, 16 a row, the transparent entry crossed."""
    side, count = 24, len(decoded.colours)
    sheet = Image.new("RGB", (16 * side + 1, -(-count // 16) * side + 1), _WAVE_GROUND)
    draw = ImageDraw.Draw(sheet)
    for rank, colour in enumerate(decoded.colours.tolist()):
        left, top = rank % 16 * side, rank // 16 * side
        draw.rectangle((left, top, left + side, top + side), fill=tuple(colour), outline=_GRID)
        if rank == 0 and decoded.head["transparent"]:
            draw.rectangle((left, top, left + side, top + side), fill=_LIGHT, outline=_GRID)
            draw.line((left, top, left + side, top + side), fill=_WAVE, width=2)
    return sheet


def _sound(decoded: Decoded, _: Decoded | None) -> Image.Image:
    """Return the outline of the wave, the same width for every sound, full scale at the edges."""
    width, height = 800, 160
    middle = 128 if decoded.head["format"] == 0 else 0
    full = 32768 if decoded.head["format"] == 2 else 128
    parts = np.array_split((decoded.samples - middle) / full, min(width, len(decoded.samples)))
    picture = Image.new("RGB", (width, height), _WAVE_GROUND)
    draw = ImageDraw.Draw(picture)
    draw.line((0, height // 2, width, height // 2), fill=_WAVE_ZERO)
    for rank, part in enumerate(parts):
        x = rank * width // len(parts)
        top, bottom = (int((1 - level) * height / 2) for level in (part.max(), part.min()))
        draw.rectangle((x, min(top, height - 1), max(x, (rank + 1) * width // len(parts) - 1), min(bottom, height - 1)), fill=_WAVE)
    return picture


def _at_aspect(picture: Image.Image, aspect: tuple[int, int]) -> Image.Image:
    """Widen or heighten a picture so that it looks as on the console; never shrinks a side."""
    wide, high = aspect
    if wide == high:
        return picture
    if wide > high:
        return picture.resize((round(picture.width * wide / high), picture.height), Image.Resampling.BILINEAR)
    return picture.resize((picture.width, round(picture.height * high / wide)), Image.Resampling.BILINEAR)


_DRAW = {"sprite": _sprite, "background": _background, "screen": _screen, "palette": _palette, "sound": _sound}
