"""Frames of a sprite, a background or the glyphs of a font as one picture, each pixel once, its palette in the order of pixel values."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from PIL import Image

from pipeline.joints.facts import BackgroundFacts
from pipeline.joints.shown import FORMAT, Played, ShownBackground, ShownFont, ShownSprite
from pipeline.plain.sizes import counted
from pipeline.proofs.animated_png import FEW_BYTES, tick_seconds
from pipeline.proofs.subject import Subject
from pipeline.proofs.subject import coloured as coloured_as
from pipeline.reading.decoded import Decoded

_WIDE = 1240  # pixels across that a picture of frames keeps to, as far as one frame does
_FEW = 256  # entries of a PNG's palette


@dataclass(frozen=True)
class _Laid:
    """A picture as PNG, and what its record says of it."""

    data: bytes
    said: dict[str, Any]


def sprite_frames(subject: Subject, variants: Mapping[str, Decoded]) -> tuple[ShownSprite, bytes]:
    """Return all frames of a sprite, with its animations."""
    laid, count = _laid(subject, variants), len(subject.decoded.pixels)
    played = [Played(name=name, loop=loop, steps=steps) for name, loop, steps in subject.animations()]
    words = f"All {counted(count, 'frame')}, in rows of {laid.said['columns']}, numbered from 0" if count > 1 else "1 frame"
    tick, anchor = _tick(subject), subject.anchor()
    return ShownSprite(version=FORMAT, words=words, anchor=anchor, animations=played, tick=tick, **laid.said), laid.data


def background_picture(subject: Subject, variants: Mapping[str, Decoded]) -> tuple[ShownBackground, bytes]:
    """Return a background, with what the screen shows of it at once."""
    laid, tick, facts = _laid(subject, variants), _tick(subject), subject.facts
    assert isinstance(facts, BackgroundFacts)
    width, height = laid.said["frame"]
    words, pan = f"{width} × {height} pixels", facts.forms.pan
    return ShownBackground(version=FORMAT, words=words, tick=tick, window=facts.window, pan=pan, **laid.said), laid.data


def font_glyphs(subject: Subject, variants: Mapping[str, Decoded]) -> tuple[ShownFont, bytes]:
    """Return the glyphs of a font, in the order of its table."""
    laid, head = _laid(subject, variants), subject.decoded.head
    shown = ShownFont(
        version=FORMAT,
        words=counted(len(subject.decoded.glyphs), "glyph"),
        glyphs=subject.decoded.glyphs,
        ground=_ground(*subject.coloured()),
        left=head["left"],
        baseline=head["baseline"],
        line_height=head["line_height"],
        **laid.said,
    )
    return shown, laid.data


def _tick(subject: Subject) -> tuple[int, int]:
    tick = tick_seconds(subject.target.screen.refresh)
    return tick.numerator, tick.denominator


def _ground(rgb: np.ndarray, clear: np.ndarray) -> Literal["light", "dark"]:
    """Return the ground for letters, by the mean of their luma (weights of BT.601)."""
    luma = rgb[~clear].astype(np.int64) @ np.array([299, 587, 114])
    return "dark" if luma.size and int(luma.sum()) > 128_000 * luma.size else "light"


def _laid(subject: Subject, variants: Mapping[str, Decoded]) -> _Laid:
    pixels = subject.decoded.pixels
    count, height, width = pixels.shape
    columns = min(count, max(1, _WIDE // width))
    rgb, clear = subject.coloured()
    own = {"frame": (width, height), "count": count, "columns": columns, "aspect": subject.pixel_aspect, "cell": subject.cell_size()}
    values, first, ranks = np.unique(pixels, return_index=True, return_inverse=True)
    if len(values) > _FEW:
        alpha = np.where(clear, 0, 255).astype(np.uint8)[..., None]
        picture = Image.fromarray(_rows(np.concatenate([rgb, alpha], axis=-1), columns))
        return _Laid(_png(picture), {**own, "colours": "", "variants": {}})
    picture = Image.fromarray(_rows(ranks.reshape(pixels.shape).astype(np.uint8), columns))
    picture.putpalette(_table(rgb, first).tobytes())
    opaque = np.where(clear.reshape(-1)[first], 0, 255).astype(np.uint8).tobytes()
    tables = {}
    if subject.colours is not None:
        for name, other in variants.items():
            # Numbers count from the place of the palette that the art was made for.
            worn = coloured_as(subject.decoded, replace(other, head=subject.colours.head))[0]
            tables[name] = _table(worn, first).tobytes().hex()
    return _Laid(_png(picture, opaque), {**own, "colours": _palette_name(subject), "variants": tables})


def _palette_name(subject: Subject) -> str:
    return getattr(subject.facts, "palette", None) or ""


def _table(rgb: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Return the colour of each value, from the first pixel that has it: uint8, shape (values, 3)."""
    return np.ascontiguousarray(rgb.reshape(-1, 3)[first])


def _rows(frames: np.ndarray, columns: int) -> np.ndarray:
    """Return frames in reading order as one picture.

    Args:
        frames: shape (count, height, width) or (count, height, width, channels). Places after the last frame repeat its first pixel.
    """
    count, height, width = frames.shape[:3]
    rows = -(-count // columns)
    sheet = np.empty((rows * columns, *frames.shape[1:]), dtype=frames.dtype)
    sheet[:count], sheet[count:] = frames, frames[-1, 0, 0]
    laid = sheet.reshape(rows, columns, height, width, -1).swapaxes(1, 2).reshape(rows * height, columns * width, -1)
    return np.ascontiguousarray(laid[..., 0] if frames.ndim == 3 else laid)


def _png(picture: Image.Image, opaque: bytes | None = None) -> bytes:
    out = io.BytesIO()
    clear = {"transparency": opaque} if opaque and 0 in opaque else {}
    picture.save(out, "PNG", compress_level=FEW_BYTES, **clear)
    return out.getvalue()
