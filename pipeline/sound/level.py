"""How loud a sound is once it is stored, and what an author should know of that."""

from __future__ import annotations

import math

import numpy as np

from pipeline.sound.convert import full_scale, silence

_QUIET = 10  # times below full scale, which is -20 dBFS: 8 bits leave 12 steps. Common practice, no source.
_LOUD = 1.122  # 1 dB above full scale; resampling alone may overshoot by less


class Level:
    """The peak of a sound, gathered a block at a time.

    Args:
        sample_format: see ``convert.stored``.
    """

    def __init__(self, sample_format: str) -> None:
        self._half, self._silence = full_scale(sample_format), silence(sample_format)
        self._peak, self._recorded = 0, 0.0

    def add(self, samples: np.ndarray, numbers: np.ndarray) -> None:
        """Take in a block: float64 samples, 1.0 is full scale, and the numbers that are stored for them."""
        if len(numbers):
            self._peak = max(self._peak, int(np.abs(numbers - self._silence).max()))
            self._recorded = max(self._recorded, float(np.abs(samples).max()))

    def remark(self) -> str:
        """Return what is odd about the level; empty where nothing is."""
        if not self._peak:
            under = f": its peak of {_dbfs(self._recorded)} is less than one step" if self._recorded else ""
            return f"it is silent{under}"
        if self._peak * _QUIET < self._half:
            steps = f"{self._peak:,} of {self._half:,} steps"
            return f"it is quiet: its peak is {_dbfs(self._peak / self._half)}, {steps}; amplify it before you export it"
        if self._recorded > _LOUD:
            return f"it is too loud: its peak is {_dbfs(self._recorded)}, and what is above 0 dBFS is clipped; export it quieter"
        return ""


def _dbfs(share: float) -> str:
    """Return a share of full scale in decibels (AES17 takes a sine wave's level; here a sample's)."""
    return f"{20 * math.log10(share):+.1f} dBFS"
