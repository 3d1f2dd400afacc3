"""Key colours: art without transparency in which a colour means transparent; and where one seems to."""

from __future__ import annotations

from typing import NamedTuple, Protocol

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


class Ground(NamedTuple):
    """What seems to mean transparent: a colour such as ``#ff00ff``, and how far pixels of it are from it in each channel."""

    colour: str
    tolerance: int

    @property
    def keys(self) -> str:
        """The lines of the project file that say so."""
        return f'key = "{self.colour}"' + (f" and tolerance = {self.tolerance}" if self.tolerance else "")


# How far a lossy format moves a channel of a plain ground, mostly and at most; a ground that differs more is a texture. And the steps in
# which tolerances are given.
_NEAR, _FAR, _STEP = 8, 24, 8


def likely_key(pixels: np.ndarray, lossy: bool = False) -> Ground | None:
    """Return the colour that seems to mean transparent in a picture without transparency; None where none does.

    It is the colour of all four corners, of half the border or more, and of a tenth of the picture or more, though not of all of it.

    Args:
        pixels: uint8, shape (height, width, 4): red, green, blue, alpha.
        lossy: the picture's format keeps colours only approximately, so those of a ground differ.
    """
    if min(pixels.shape[:2]) < 3 or not (pixels[..., 3] == 255).all():
        return None
    border = np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]])[:, :3]
    corners = pixels[[0, 0, -1, -1], [0, -1, 0, -1], :3]
    middle = np.median(border, axis=0).astype(np.uint8) if lossy else corners[0]
    tolerance = 0
    if lossy:
        away = np.abs(border.astype(np.int16) - middle).max(axis=1)
        if 2 * np.count_nonzero(away <= _NEAR) < len(away):
            return None
        tolerance = 2 * _STEP + int(away[away <= _FAR].max(initial=0)) // _STEP * _STEP
    colour = (int(middle[0]), int(middle[1]), int(middle[2]))
    if not near(corners[None], colour, tolerance).all() or 2 * np.count_nonzero(near(border[None], colour, tolerance)) < len(border):
        return None
    count, size = np.count_nonzero(near(pixels, colour, tolerance)), pixels.shape[0] * pixels.shape[1]
    return Ground("#" + middle.tobytes().hex(), tolerance) if size > count >= size // 10 else None


def file_notes(picture: Image.Image, name: str) -> dict[str, str]:
    """Return what an author should know of a file that ``open_picture`` has read, by what it is about."""
    notes = {"lossy": _lossy_note(name), "turned": _turned_note(name)}
    return {about: note for about, note in notes.items() if picture.info.get(about)}


def _turned_note(name: str) -> str:
    asked = f"{name} asks viewers to turn it (EXIF orientation), and is taken as its pixels are stored"
    return f"{asked}: if it should be turned, do that in the paint program and save it as PNG"


def _lossy_note(name: str) -> str:
    return f"{name} is in a format that changes colours: export it as PNG if you can; a key needs a tolerance, usually 16 to 32"
