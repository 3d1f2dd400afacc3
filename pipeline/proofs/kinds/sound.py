"""A sound as the outline of its wave."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, ImageDraw

from pipeline.proofs.canvas import DEEP, PAPER, Small, png
from pipeline.proofs.subject import Subject

_WIDTH, _HEIGHT = 800, 160
_SMALL_WAVE = (240, 48)
_ZERO = (190, 198, 208)


def sound(subject: Subject) -> bytes:
    """Return the outline of the wave as a PNG, the same width for every sound, full scale at the edges."""
    decoded = subject.decoded
    middle = 128 if decoded.head["format"] == 0 else 0
    full = 128 if decoded.head["format"] < 2 else 32768
    parts = np.array_split((decoded.samples - middle) / full, min(_WIDTH, len(decoded.samples)))
    picture = Image.new("RGB", (_WIDTH, _HEIGHT), PAPER)
    draw = ImageDraw.Draw(picture)
    draw.line((0, _HEIGHT // 2, _WIDTH, _HEIGHT // 2), fill=_ZERO)
    for rank, part in enumerate(parts):
        x = rank * _WIDTH // len(parts)
        top, bottom = (int((1 - level) * _HEIGHT / 2) for level in (part.max(), part.min()))
        right = max(x, (rank + 1) * _WIDTH // len(parts) - 1)
        draw.rectangle((x, min(top, _HEIGHT - 1), right, min(bottom, _HEIGHT - 1)), fill=DEEP)
    return png(picture)


def small_sound(subject: Subject) -> Small:
    """Return a wave for the ledger and the packet."""
    with Image.open(io.BytesIO(sound(subject)), formats=["PNG"]) as opened:
        return opened.convert("RGB").resize(_SMALL_WAVE, Image.Resampling.BOX), None
