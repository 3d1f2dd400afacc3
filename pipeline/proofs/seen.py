"""Whether someone could see that two small pictures differ."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from pipeline.pixels.colours.difference import METRIC_UNIT, metric_distance, metric_points

# Common practice, no source: from about 5 a difference of two colours is seen at a glance. What is less, or smaller, is in the pictures
# of the ledger alone, which have few colours: those of a build whose palette moved differ by up to 4.5 over such a square.
_SEEN = 5  # CIEDE2000
_SIDE = 8  # pixels of the small picture


def differs_visibly(before: bytes, now: bytes) -> bool:
    """Return whether somewhere in two pictures a square of 8 by 8 pixels differs by more than 5 on average.

    The difference is CIEDE2000 from exact operations (``metric_distance``), so that every machine decides alike. Of a picture that is
    narrower or lower than the square, its whole width or height counts. Pictures of unlike size differ.

    Args:
        before, now: PNG.
    """
    first, second = _pixels(before), _pixels(now)
    if first.shape != second.shape:
        return True
    height, width = min(_SIDE, first.shape[0]), min(_SIDE, first.shape[1])
    sums = np.pad(_apart(first, second), ((1, 0), (1, 0))).cumsum(0).cumsum(1)
    squares = sums[height:, width:] - sums[:-height, width:] - sums[height:, :-width] + sums[:-height, :-width]
    return bool(squares.max() > _SEEN * METRIC_UNIT * height * width)


def _pixels(png: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(png), formats=["PNG"]) as opened:
        return np.asarray(opened.convert("RGB"))


def _apart(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Return the difference of every pixel: int64, shape (height, width), in 1/METRIC_UNIT. A pair of colours is reckoned once."""
    both = np.concatenate([first, second], axis=2).reshape(-1, 6)
    pairs, back = np.unique(both, axis=0, return_inverse=True)
    found = metric_distance(metric_points(pairs[:, :3]), metric_points(pairs[:, 3:])).astype(np.int64)
    return found[back.ravel()].reshape(first.shape[:2])
