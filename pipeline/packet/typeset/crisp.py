"""A picture of pixels, set so that their edges stay square."""

from __future__ import annotations

from PIL import Image as Picture
from reportlab.lib.utils import ImageReader

from pipeline.packet.typeset.tagged import Image

_SHARP = 900  # pixels of a picture's longer side, from which its edges stay crisp in every reader


def crisp(picture: Picture.Image, scale: float, alt: str) -> Image:
    """Return a picture at ``scale`` points a pixel, enlarged before so that no reader blurs it; ``alt`` says what it shows."""
    return _Crisp(picture, (picture.width * scale, picture.height * scale), alt)


class _Crisp(Image):
    """A picture that is enlarged where it is drawn: most of them are laid out several times, and through a file it takes long."""

    def __init__(self, picture: Picture.Image, size: tuple[float, float], alt: str) -> None:
        super().__init__("", *size, hAlign="LEFT")
        self.drawWidth, self.drawHeight = size
        self._picture, self.alt = picture, alt

    @property
    def _img(self) -> ImageReader:  # which the library draws
        times = max(1, -(-_SHARP // max(self._picture.size)))
        size = self._picture.width * times, self._picture.height * times
        return ImageReader(self._picture.resize(size, Picture.Resampling.NEAREST))
