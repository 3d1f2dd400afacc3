"""A recording read whole, as tests look at it; the tool reads it in blocks."""

from __future__ import annotations

import numpy as np

from pipeline.sound.recording import Recording


def read_wav(data: bytes, name: str) -> tuple[np.ndarray, int]:
    """Return all samples of a recording, float64 of shape (n,) in -1..1 (the mean of the channels), and samples a second."""
    recording = Recording(data, name)
    return np.concatenate(list(recording.blocks())), recording.rate
