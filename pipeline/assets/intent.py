"""What conversion meant to store, kept as a hash in the facts."""

from __future__ import annotations

import hashlib

import numpy as np

from pipeline.joints.facts import IntentFacts


class Intent:
    """The pixels that conversion meant to store, as a hash; ``verify`` compares it with what the image decodes to.

    Hashed are the pixel values (indices or words) of all frames in order, as unsigned 32-bit little-endian numbers.
    """

    def __init__(self) -> None:
        self._hash = hashlib.sha256()
        self.shape: list[int] = [0, 0, 0]

    def add(self, pixels: np.ndarray) -> None:
        """Add one frame: unsigned integers, shape (height, width)."""
        self._hash.update(pixels.astype("<u4").tobytes())
        self.shape = [self.shape[0] + 1, *pixels.shape]

    def facts(self) -> IntentFacts:
        """Return shape (frames, height, width) and the hash, for the facts."""
        return IntentFacts(shape=self.shape, sha256=self._hash.hexdigest())
