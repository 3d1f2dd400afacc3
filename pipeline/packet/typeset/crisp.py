"""A picture of pixels, set so that their edges stay square."""

from __future__ import annotations

import functools
from io import BytesIO

from PIL import Image as Picture

from pipeline.packet.typeset.tagged import Image

_SHARP = 900  # pixels of a picture's longer side, from which its edges stay crisp in every reader


def crisp(picture: Picture.Image, scale: float, alt: str) -> Image:
    """Return a picture at ``scale`` points a pixel, enlarged before so that no reader blurs it; ``alt`` says what it shows."""
    file = BytesIO(_enlarged(picture.tobytes(), picture.mode, picture.size))
    image = Image(file, picture.width * scale, picture.height * scale, hAlign="LEFT")
    image.alt = alt
    return image


@functools.lru_cache(16)  # a packet is set twice, and the author's has the same pictures
def _enlarged(pixels: bytes, mode: str, size: tuple[int, int]) -> bytes:
    times = max(1, -(-_SHARP // max(size)))
    picture, file = Picture.frombytes(mode, size, pixels), BytesIO()
    sharp = picture.resize((size[0] * times, size[1] * times), Picture.Resampling.NEAREST)
    sharp.save(file, "PNG", compress_level=1)  # it is unpacked again at once
    return file.getvalue()
