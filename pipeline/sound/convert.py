"""Resampling and sample formats."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator

import numpy as np

from pipeline.sound.adpcm import encode_adpcm
from pipeline.sound.companding import compand, levels
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
        sample_format: ``u8`` (128 is silence), ``s8``, or any other for steps of 16 bits.
        dither: see ``shaping.rounded``.

    Returns:
        int32, shape (n,), rounded to the nearest, halves to even.
    """
    half = full_scale(sample_format)
    scaled = rounded(samples * half, dither)
    clipped = int(((scaled < -half) | (scaled > half - 1)).sum())
    numbers = np.clip(scaled, -half, half - 1).astype(np.int32)
    return numbers + silence(sample_format), clipped


def full_scale(sample_format: str) -> int:
    """Return how many steps of a format full scale is."""
    return 128 if sample_format in ("u8", "s8") else 32768


def silence(sample_format: str) -> int:
    """Return the number that a format stores for silence."""
    return 128 if sample_format == "u8" else 0


def signal_to_noise(samples: np.ndarray, numbers: np.ndarray, sample_format: str) -> float | None:
    """Return the power of a sound over that of the error with which it is stored, in decibels; None where either is nothing.

    Args:
        samples: as of ``encode``; numbers: what it returned for them.
    """
    stored = (numbers - silence(sample_format)) / full_scale(sample_format)
    sound, error = float((samples**2).sum()), float(((stored - samples) ** 2).sum())
    return 10 * math.log10(sound / error) if sound and error else None


def stored(
    numbers: np.ndarray, sample_format: str, byte_order: str, block: int | None = None, first: str = "low"
) -> tuple[bytes, np.ndarray]:
    """Return a sound's bytes, and the numbers that they decode to.

    Args:
        numbers: as ``encode`` returns them, for the formats that are not plain numbers as for ``s16``.
        sample_format: ``u8``, ``s8``, ``s16``, ``ulaw``, ``alaw`` or ``adpcm``.
        byte_order: of 16-bit numbers.
        block, first: of ADPCM: see ``adpcm.encode_adpcm``, and the half of a byte with the first sample.
    """
    if sample_format in SAMPLE_TYPES:
        return to_bytes(numbers, sample_format, byte_order), numbers
    if sample_format == "adpcm":
        return encode_adpcm(numbers, block, first == "high", byte_order == "big")
    codes = compand(numbers, sample_format)
    return codes.tobytes(), levels(sample_format)[codes]


def to_bytes(numbers: np.ndarray, sample_format: str, byte_order: str) -> bytes:
    """Return plain numbers as bytes."""
    return numbers.astype(np.dtype(SAMPLE_TYPES[sample_format]).newbyteorder(">" if byte_order == "big" else "<")).tobytes()
