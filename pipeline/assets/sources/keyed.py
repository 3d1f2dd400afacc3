"""Key colours: art without transparency in which a colour means transparent; and where one seems to."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from PIL import Image

Rgb = tuple[int, int, int]


class Keyed(Protocol):
    """What has a key: a record of art in the project file."""

    @property
    def key(self) -> tuple[str, ...] | None: ...

    @property
    def tolerance(self) -> int: ...


def rgb_of(colour: str) -> Rgb:
    """Return red, green and blue of a colour such as ``#ff8800``."""
    value = int(colour[1:], 16)
    return value >> 16, value >> 8 & 255, value & 255


def cleared(picture: Image.Image, spec: Keyed) -> Image.Image:
    """Return an RGBA picture whose pixels of a key colour are transparent and black; without a key as it is."""
    if not spec.key:
        return picture
    pixels = np.array(picture)
    clear = np.zeros(pixels.shape[:2], dtype=bool)
    for colour in spec.key:
        clear |= near(pixels, rgb_of(colour), spec.tolerance)
    pixels[clear] = 0
    return Image.fromarray(pixels)


def near(pixels: np.ndarray, colour: Rgb, tolerance: int = 0) -> np.ndarray:
    """Return which pixels are a colour, each channel at most ``tolerance`` away: bool, shape (height, width).

    Args:
        pixels: uint8, shape (height, width, 3 or more).
    """
    found = np.ones(pixels.shape[:2], dtype=bool)
    for channel, value in enumerate(colour):
        found &= (pixels[..., channel] >= max(0, value - tolerance)) & (pixels[..., channel] <= min(255, value + tolerance))
    return found


def likely_key(picture: Image.Image) -> str | None:
    """Return the colour that seems to mean transparent, such as ``#ff00ff``.

    It is the only colour of the border of a picture that has other colours too, and no transparency. None without one.
    """
    if picture.getchannel("A").getextrema() != (255, 255):
        return None
    pixels = np.asarray(picture)[..., :3]
    corner = pixels[0, 0]
    edges = (pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1])
    if not all((edge == corner).all() for edge in edges) or (pixels == corner).all():
        return None
    return "#" + bytes(corner.tolist()).hex()
