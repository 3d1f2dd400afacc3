"""A boot notice as the console shows it, and as a photo of a television may show it."""

from __future__ import annotations

from PIL import Image

from pipeline.pixels.composite import SYSTEMS, sent
from pipeline.pixels.tube_photo import photographed
from pipeline.proofs.animated_png import FEW_BYTES
from pipeline.proofs.canvas import aspect_size, png, stretched
from pipeline.proofs.subject import Subject
from pipeline.reading.show import screen_rgb

_PHOTO = 640  # pixels across the screen in the photo shown


def screen(subject: Subject) -> bytes:
    """Return the picture at the console's pixel aspect as a PNG."""
    rgb = screen_rgb(subject.decoded)
    size = aspect_size(rgb.shape[1], rgb.shape[0], 1, subject.pixel_aspect)
    return png(Image.fromarray(stretched(rgb, size)))


def television(subject: Subject) -> bytes:
    """Return what the model of a television and a phone makes of the picture, on the system of the lower bandwidth, as a PNG."""
    rgb = screen_rgb(subject.decoded)
    high, wide = rgb.shape[:2]
    across, down = subject.pixel_aspect
    photo = photographed(sent(rgb, SYSTEMS[0]), high, (_PHOTO, max(1, high * _PHOTO * down // (wide * across))), for_eyes=True)
    return png(Image.fromarray(photo), FEW_BYTES)
