"""Frames of a sprite that show the same, or almost the same, found in the prepared frames."""

from __future__ import annotations

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
    kept: list[tuple[int, np.ndarray]] = []
    stands_for = []
    for rank, frame in enumerate(PreparedFrames(files)):
        pixels = np.ascontiguousarray(frame).view(np.uint32)[..., 0].ravel()
        found = next((number for number, other in kept if _alike(pixels, other, most_different)), rank)
        stands_for.append(found)
        if found == rank:
            kept.append((rank, pixels))
    return stands_for


def _alike(one: np.ndarray, other: np.ndarray, most_different: float) -> bool:
    different = int(np.count_nonzero(one != other))
    return different == 0 or different <= most_different * int(np.count_nonzero(one | other))
