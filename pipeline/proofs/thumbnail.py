"""A small picture of an asset, decoded from the image, for comparing a build with a release that is long gone."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.joints.facts import read_facts
from pipeline.joints.map import read_map
from pipeline.proofs.canvas import SMALL, Small, aspect_size, fitted, on_board, stretched
from pipeline.proofs.subject import Subject, take_both
from pipeline.target.calls import Call
from pipeline.target.records import Target

# Frames shown at most, and in a row; the most one takes. Many are shown small rather than left out, so that one changed is seen.
_SHEETS = ((120, 6, (48, 48)), (960, 12, (24, 24)))
_SWATCH, _SWATCHES = 12, 16  # pixels a side, and in a row
_COLOURS = 64


@dataclass(frozen=True)
class Thumbnail:
    """An asset at a glance.

    Attributes:
        png: the picture.
        look: SHA-256 of every pixel as it is shown, in hex; empty for kinds whose bytes alone decide that.
        frame: width and height in pixels of each frame of the picture, in reading order; None if it is not a sheet of frames.
    """

    png: bytes
    look: str
    frame: tuple[int, int] | None = None


def thumbnails(
    image: Path,
    map_file: Path,
    facts: dict[str, Path],
    palettes: dict[str, str | None],
    small: dict[str, Call],
    decoders: dict[str, Call],
    target: Target,
    aspect: tuple[int, int],
) -> dict[str, Thumbnail]:
    """Return name -> thumbnail of some assets as the image holds them.

    Args:
        facts: of every asset, by name.
        palettes: asset -> the palette that colours it; None for direct colour, or a kind without.
        small, decoders: kind -> what draws it and what decodes it, of all kinds that are needed; see ``target.kinds``.
        target: without header and directory.
        aspect: width and height of one console pixel.
    """
    entries = read_map(map_file).by_name()
    found = {}
    for name, palette in palettes.items():
        decoded, colours = take_both(image, name, palette, entries, target, decoders)
        subject = Subject(name, decoded, colours, read_facts(facts[name]), target, aspect)
        found[name] = thumbnail(small[entries[name].kind], subject)
    return found


def _look(subject: Subject) -> str:
    rgb, clear = subject.coloured()
    shown = hashlib.sha256(np.where(clear[..., None], 0, rgb).astype(np.uint8).tobytes())
    shown.update(clear.tobytes())
    return shown.hexdigest()


def thumbnail(small: Callable[[Subject], Small], subject: Subject) -> Thumbnail:
    """Return what ``small`` draws as a PNG of few colours."""
    picture, frame = small(subject)
    out = io.BytesIO()
    picture.quantize(_COLOURS, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return Thumbnail(out.getvalue(), _look(subject) if subject.decoded.pixels.size else "", frame)


def small_frames(subject: Subject) -> Small:
    """Return frames, evenly chosen where they are many."""
    rgb, clear = subject.coloured()
    most, across, room = next((one for one in _SHEETS if len(rgb) <= one[0]), _SHEETS[-1])
    count = min(len(rgb), most)
    chosen = [rank * len(rgb) // count for rank in range(count)]
    size = aspect_size(rgb.shape[2], rgb.shape[1], 1, subject.pixel_aspect)
    shown = [fitted(Image.fromarray(on_board(rgb[frame], clear[frame], size)), room) for frame in chosen]
    width, height = shown[0].size
    columns = min(count, across)
    sheet = Image.new("RGB", (columns * width, -(-count // columns) * height), (255, 255, 255))
    for rank, frame in enumerate(shown):
        sheet.paste(frame, (rank % columns * width, rank // columns * height))
    return sheet, (width, height)


def small_background(subject: Subject) -> Small:
    """Return a background whole."""
    rgb = subject.coloured()[0][0]
    size = aspect_size(rgb.shape[1], rgb.shape[0], 1, subject.pixel_aspect)
    return fitted(Image.fromarray(stretched(rgb, size)), SMALL), None


def small_palette(subject: Subject) -> Small:
    """Return swatches."""
    colours = subject.decoded.colours
    rows = -(-len(colours) // _SWATCHES)
    table = np.full((rows * _SWATCHES, 3), 255, dtype=np.uint8)
    table[: len(colours)] = colours
    table = table.reshape(rows, _SWATCHES, 3)[:, : min(len(colours), _SWATCHES)]
    return Image.fromarray(np.repeat(np.repeat(table, _SWATCH, axis=0), _SWATCH, axis=1)), None
