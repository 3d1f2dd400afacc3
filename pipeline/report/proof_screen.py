"""A boot notice as the console shows it."""

from __future__ import annotations

from PIL import Image

from pipeline.report.proof_canvas import aspect_size, png, stretched
from pipeline.report.proof_subject import Subject
from pipeline.rom.show import screen_rgb


def screen(subject: Subject) -> bytes:
    """Return the picture at the console's pixel aspect as a PNG."""
    rgb = screen_rgb(subject.decoded)
    size = aspect_size(rgb.shape[1], rgb.shape[0], 1, subject.pixel_aspect)
    return png(Image.fromarray(stretched(rgb, size)))
