"""A picture drawn pixel by pixel, for backgrounds that are cut into tiles: ordered shading, and chance that repeats."""

from __future__ import annotations

import zlib

from inks import rgb
from PIL import Image

BAYER = ((0, 8, 2, 10), (12, 4, 14, 6), (3, 11, 1, 9), (15, 7, 13, 5))


class Ground:
    """A picture that goes round: what leaves it on the right comes in on the left."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.image = Image.new("RGB", (width, height))
        self._pixels = self.image.load()

    def dot(self, colour: str, x: float, y: float, width: int = 1, height: int = 1) -> None:
        """Fill whole pixels; rows outside are left out."""
        for j in range(round(y), round(y) + height):
            if 0 <= j < self.height:
                for i in range(round(x), round(x) + width):
                    self._pixels[i % self.width, j] = rgb(colour)

    def rows(self, colours: tuple[str, ...], edges: tuple[int, ...], soft: int) -> None:
        """Bands from top to bottom, the last rows of each mixed with the next in a pattern of 4 x 4."""
        for y in range(self.height):
            band = sum(y >= edge for edge in edges)
            into = 1 - (edges[band] - y) / soft if band < len(edges) else 0
            for x in range(self.width):
                mixed = into > 0 and BAYER[y % 4][x % 4] < into * 16
                self._pixels[x, y] = rgb(colours[band + mixed])

    def disc(self, colour: str, x: float, y: float, across: float, down: float | None = None) -> None:
        """Fill an ellipse."""
        down = across if down is None else down
        for j in range(int(y - down), int(y + down) + 2):
            reach = 1 - ((j + 0.5 - y) / down) ** 2
            if reach > 0:
                half = across * reach**0.5
                left = round(x - half)
                self.dot(colour, left, j, max(1, round(x + half) - left))

    def column(self, colour: str, x: int, top: float, rim: str = "") -> None:
        """Fill a column down to the lower edge, its first pixel in another colour."""
        self.dot(colour, x, top, 1, self.height)
        if rim:
            self.dot(rim, x, top)


def chance(*what: object) -> int:
    """Return a number from 0 to 99 that is always the same for the same words."""
    return zlib.crc32(repr(what).encode()) % 100
