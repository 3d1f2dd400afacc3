"""Frames of a sprite that show the same, or almost the same, found in the prepared frames."""

from __future__ import annotations

import hashlib
from typing import NamedTuple

import numpy as np

from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import FrameFiles


def like_earlier(files: FrameFiles, most_different: float) -> list[int]:
    """Return for each frame the earlier kept frame that it can be replaced by, or itself.

    A frame is compared with kept frames only, so that small differences do not add up.

    Args:
        files: its prepared frames.
        most_different: share of the pixels opaque in either frame that may differ at all, 0 to 1; 0 for equal frames.
    """
    kept: list[_Frame] = []
    found: dict[bytes, int] = {}  # of equal frames the first says it
    stands_for = []
    for rank, frame in enumerate(PreparedFrames(files)):
        digest = hashlib.sha256(frame.data).digest()
        if digest not in found:
            pixels = np.ascontiguousarray(frame).view(np.uint32)[..., 0].ravel()
            one = _Frame(rank, pixels, int(np.count_nonzero(pixels)))
            others = kept if most_different else []
            found[digest] = next((other.rank for other in others if _alike(one, other, most_different)), rank)
            if found[digest] == rank:
                kept.append(one)
        stands_for.append(found[digest])
    return stands_for


def opaque_pixels(files: FrameFiles) -> list[int]:
    """Return how many pixels of each frame are opaque."""
    return [int(np.count_nonzero(frame[..., 3])) for frame in PreparedFrames(files)]


class _Frame(NamedTuple):
    """A frame: its number, its pixels as one number each, uint32, shape (pixels,), and how many of them are opaque."""

    rank: int
    pixels: np.ndarray
    opaque: int


def _alike(one: _Frame, other: _Frame, most_different: float) -> bool:
    if abs(one.opaque - other.opaque) > most_different * (one.opaque + other.opaque):
        return False  # pixels that only one of the two has differ, and in either are at most those of both
    different = int(np.count_nonzero(one.pixels != other.pixels))
    return different <= most_different * int(np.count_nonzero(one.pixels | other.pixels))
