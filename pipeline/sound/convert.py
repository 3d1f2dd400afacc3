"""Resampling and sample formats."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator

import numpy as np

from pipeline.sound.shaping import rounded

SAMPLE_TYPES = {"u8": "u1", "s8": "i1", "s16": "i2"}


def resampled(blocks: Iterable[np.ndarray], rate: int, wanted: int) -> Iterator[np.ndarray]:
    """Yield a recording at another rate, a part at a time, so that neither side is held whole.

    Args:
        blocks: float64, shape (n,) each, in -1..1; at least one sample in all.
        rate, wanted: samples a second.

    Yields:
        float64, shape (m,) each, about n * wanted / rate in all and at least one; may overshoot 1 slightly.
    """
    if rate == wanted:
        yield from blocks
        return
    import soxr

    stream, count = soxr.ResampleStream(rate, wanted, 1, dtype="float64", quality="VHQ"), 0
    for block in itertools.chain(blocks, [np.zeros(0)]):
        changed = stream.resample_chunk(block, last=not len(block))
        count += len(changed)
        yield changed
    if not count:
        yield np.zeros(1)


def encode(samples: np.ndarray, sample_format: str, dither: str = "none") -> tuple[np.ndarray, int]:
    """Return samples as stored numbers, and how many had to be clipped.

    Args:
        samples: float64, shape (n,); 1.0 is full scale.
        sample_format: ``u8`` (128 is silence), ``s8`` or ``s16``.
        dither: see ``shaping.rounded``.

    Returns:
        int32, shape (n,), rounded to the nearest, halves to even.
    """
    half = full_scale(sample_format)
    scaled = rounded(samples * half, dither)
    clipped = int(((scaled < -half) | (scaled > half - 1)).sum())
    numbers = np.clip(scaled, -half, half - 1).astype(np.int32)
    return (numbers + 128 if sample_format == "u8" else numbers), clipped


def full_scale(sample_format: str) -> int:
    """Return how many steps of a format full scale is."""
    return 32768 if sample_format == "s16" else 128


def signal_to_noise(samples: np.ndarray, numbers: np.ndarray, sample_format: str) -> float | None:
    """Return the power of a sound over that of the error with which it is stored, in decibels; None where either is nothing.

    Args:
        samples: as of ``encode``; numbers: what it returned for them.
    """
    stored = (numbers - (128 if sample_format == "u8" else 0)) / full_scale(sample_format)
    sound, error = float((samples**2).sum()), float(((stored - samples) ** 2).sum())
    return 10 * math.log10(sound / error) if sound and error else None


def to_bytes(numbers: np.ndarray, sample_format: str, byte_order: str) -> bytes:
    """Return stored numbers as bytes."""
    return numbers.astype(np.dtype(SAMPLE_TYPES[sample_format]).newbyteorder(">" if byte_order == "big" else "<")).tobytes()
