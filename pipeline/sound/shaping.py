"""What is done to a sound before it is stored: offset removed, silence cut off, ends faded, gain; and dither while it is rounded."""

from __future__ import annotations

import math

import numpy as np

_SEED = 1770  # any number: the noise must be the same on every machine and in every build


def without_offset(samples: np.ndarray) -> np.ndarray:
    """Return a sound moved so that its mean is silence; see ``trimmed`` for the arrays."""
    return samples - samples.mean()


def trimmed(samples: np.ndarray, threshold: float) -> np.ndarray:
    """Return a sound without what is quieter than a threshold before its first and after its last louder sample.

    Args:
        samples: float64, shape (n,), at least one, 1.0 is full scale.
        threshold: in dBFS.

    Returns:
        At least one sample: of a sound that is quieter throughout, the first.
    """
    loud = np.flatnonzero(np.abs(samples) > 10 ** (threshold / 20))
    return samples[loud[0] : loud[-1] + 1] if len(loud) else samples[:1]


def faded(samples: np.ndarray, count: int) -> np.ndarray:
    """Return a sound whose first and last samples rise from silence and fall to it in half a cosine.

    Args:
        samples: as of ``trimmed``.
        count: samples at each end, at most half of all.
    """
    count = min(count, len(samples) // 2)
    if not count:
        return samples
    rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / count)
    return np.concatenate([samples[:count] * rise, samples[count : len(samples) - count], samples[len(samples) - count :] * rise[::-1]])


def amplified(samples: np.ndarray, gain: float) -> np.ndarray:
    """Return a sound made louder (or quieter) by some decibels."""
    return samples * 10 ** (gain / 20) if gain else samples


def peak_of(samples: np.ndarray) -> float | None:
    """Return the largest sample of a sound in dBFS; None where all are silence."""
    peak = float(np.abs(samples).max())
    return 20 * math.log10(peak) if peak else None


def rounded(steps: np.ndarray, dither: str) -> np.ndarray:
    """Return a sound in whole steps.

    Noise of about a step makes of distortion that goes with the sound a hiss that does not.

    Args:
        steps: float64, shape (n,), in steps of the format: 1.0 is one step.
        dither: ``none``; ``plain``: even noise of one step; ``triangular``: the sum of two, after which neither the mean nor the power of
            the error depends on the sound; ``shaped``: triangular, and each sample takes back the error of the one before, so that less
            of it is at low frequencies.

    Source: Lipshitz, Wannamaker and Vanderkooy, "Quantization and Dither", J. Audio Eng. Soc. 40 (1992), from memory.
    """
    if dither == "none":
        return np.rint(steps)
    noise = _even(2, len(steps))
    if dither == "plain":
        return np.rint(steps + noise[0])
    triangular = noise.sum(axis=0)
    if dither == "triangular":
        return np.rint(steps + triangular)
    # Rounding the running sum, of which a sample is the step from one value to the next, leaves the difference of two errors in each.
    return np.diff(np.rint(np.cumsum(steps) + triangular), prepend=0.0)


def _even(rows: int, count: int) -> np.ndarray:
    """Return noise from -0.5 up to 0.5: float64, shape (rows, count). Of a generator whose numbers numpy promises not to change."""
    numbers = np.random.PCG64(_SEED).random_raw(rows * count)
    return ((numbers >> np.uint64(11)) * 2.0**-53 - 0.5).reshape(rows, count)
