"""How many hardware sprites a frame takes, and on which line of the screen most of them meet. Pure."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class Lines(NamedTuple):
    """What a frame asks of hardware that draws sprites line by line.

    Attributes:
        sprites: hardware sprites of the frame.
        line_sprites: most of them that are on one line, and ``line`` the first such line, counted from the frame's top.
        line_pixels: most pixels, transparent ones too, that they have on one line.
    """

    sprites: int
    line_sprites: int
    line: int
    line_pixels: int


def count_lines(places: np.ndarray, unit: tuple[int, int]) -> Lines:
    """Return what rectangles ask of the hardware.

    Args:
        places: x, y, width and height in pixels of what a frame draws, integers of shape (n, 4).
        unit: width and height of the largest picture that one hardware sprite shows; what is larger takes several.
    """
    shown = places[(places[:, 2] > 0) & (places[:, 3] > 0)].astype(np.int64)
    if not len(shown):
        return Lines(0, 0, 0, 0)
    across, down = -(-shown[:, 2] // unit[0]), -(-shown[:, 3] // unit[1])
    first, end = shown[:, 1], shown[:, 1] + shown[:, 3]
    top = int(first.min())
    # A sprite begins to count on its first line and ceases to after its last, so sums of these changes are the counts of each line.
    sprites, pixels = (np.zeros(int(end.max()) - top + 1, dtype=np.int64) for _ in range(2))
    for changes, amount in ((sprites, across), (pixels, shown[:, 2])):
        np.add.at(changes, first - top, amount)
        np.add.at(changes, end - top, -amount)
    on_line = np.cumsum(sprites)
    worst = int(on_line.argmax())
    return Lines(int((across * down).sum()), int(on_line[worst]), worst + top, int(np.cumsum(pixels).max()))
