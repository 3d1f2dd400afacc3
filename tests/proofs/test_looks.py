"""What the report's script draws and plays: read back by Pillow, and by libsndfile through soundfile. Built ones: ``test_pictures``."""

from __future__ import annotations

import io
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import soundfile
from PIL import Image

from pipeline.joints.layouts import SOUND_FORMATS
from pipeline.joints.shown import Frames
from pipeline.proofs.looks.frames import sprite_frames
from pipeline.proofs.looks.recording import recording


def drawn(look: Frames, data: bytes, colours: str = "") -> np.ndarray:
    """Return the frames that a page cuts from a picture: uint8, shape (count, height, width, 4), in other colours where some are given."""
    with Image.open(io.BytesIO(data)) as picture:
        if colours:
            assert picture.mode == "P"
            picture.putpalette(bytes.fromhex(colours))
        sheet = np.asarray(picture.convert("RGBA"))
    width, height = look.frame
    assert sheet.shape[1] == width * look.columns
    places = [divmod(frame, look.columns) for frame in range(look.count)]
    return np.stack([sheet[row * height :, column * width :][:height, :width] for row, column in places])


def test_colours_beyond_a_palette_are_held_whole():
    """300 words of direct colour with a bit of alpha, more than a PNG's palette has entries (PNG specification, 11.2.2: 256)."""
    pixels = np.arange(300, dtype=np.uint32).reshape(1, 15, 20)
    rgb = np.stack([pixels % 256, pixels // 256, pixels * 0], axis=-1).astype(np.uint8)
    clear = pixels % 7 == 0
    given: Any = SimpleNamespace(
        decoded=SimpleNamespace(pixels=pixels), colours=None, pixel_aspect=(1, 1), cell_size=lambda: (8, 8), coloured=lambda: (rgb, clear),
        target=SimpleNamespace(screen=SimpleNamespace(refresh=60.0)), anchor=lambda: None, animations=lambda: [],
    )  # fmt: skip
    look, data = sprite_frames(given, {})
    shown = drawn(look, data)
    assert np.array_equal(shown[..., 3] == 0, clear)
    assert np.array_equal(shown[..., :3], rgb)


@pytest.mark.parametrize("form", SOUND_FORMATS)
def test_recording_has_the_samples_and_the_rate(form):
    """Full scale, silence and between, from least to most, in each format; 8 bits stay 8 bits."""
    eight = form in ("u8", "s8")
    full = 128 if eight else 32768
    signed = np.array([-full, 0, full // 2, full - 1], dtype=np.int32)
    stored = signed + (128 if form == "u8" else 0)
    given: Any = SimpleNamespace(decoded=SimpleNamespace(head={"format": SOUND_FORMATS.index(form), "rate": 11025}, samples=stored))
    look, data = recording(given, {})
    read, rate = soundfile.read(io.BytesIO(data), dtype="float64")
    assert (rate, soundfile.info(io.BytesIO(data)).subtype) == (11025, "PCM_U8" if eight else "PCM_16")
    assert read.tolist() == (signed / full).tolist()
    assert look.seconds == 0.0
