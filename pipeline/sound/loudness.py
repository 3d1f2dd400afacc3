"""How loud a sound is to the ear.

Source: ITU-R BS.1770-4, annex 1: the two filters by their coefficients at 48 kHz, blocks of 400 ms that overlap by 75 %, gates at -70 LKFS
and 10 LU below the mean of what passes it. Coefficients from memory of the text.
"""

from __future__ import annotations

import functools
import math

import numpy as np

_RATE = 48000  # of the published coefficients
_FILTERS = (
    ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585)),
    ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
)
_OFFSET = -0.691
_GATE, _RELATIVE = -70.0, -10.0
_AROUND = 0.5  # seconds over which a sample is spread by the weighting
_PART = 1 << 18  # samples that are looked at together


def loudness(samples: np.ndarray, rate: int) -> float | None:
    """Return the loudness of one channel in LKFS (the same as LUFS), or None where it is silent: all of it is below -70.

    A sound of less than 400 ms is measured with the silence after it, as it is heard.

    Args:
        samples: float64, shape (n,), 1.0 is full scale.
        rate: samples a second. Whatever it is, each frequency is weighted as the published filters do at 48 kHz.
    """
    heard = np.concatenate([samples, np.zeros(max(0, round(0.4 * rate) - len(samples)))])
    power = np.concatenate([_weighted(heard, at, rate) ** 2 for at in range(0, len(heard), _PART)])
    long, step = round(0.4 * rate), max(1, round(0.1 * rate))
    sums = np.concatenate([[0.0], np.cumsum(power)])
    starts = np.arange(0, len(heard) - long + 1, step)
    blocks = (sums[starts + long] - sums[starts]) / long
    loud = blocks[blocks > _power(_GATE)]
    if not len(loud):
        return None
    return _level(loud[loud > loud.mean() * 10 ** (_RELATIVE / 10)].mean())


def _weighted(samples: np.ndarray, start: int, rate: int) -> np.ndarray:
    """Return a part of a sound as the ear weights it, by the spectrum of the part and what is around it."""
    around = math.ceil(_AROUND * rate)
    before = min(start, around)
    part = samples[start - before : start + _PART + around]
    size = 1 << math.ceil(math.log2(len(part) + around))
    weighted = np.fft.irfft(np.fft.rfft(part, size) * _response(size, rate), size)
    return weighted[before : min(before + _PART, len(part))]


@functools.lru_cache(maxsize=4)
def _response(size: int, rate: int) -> np.ndarray:
    """Return how much of each frequency of a spectrum the filters leave: float64, shape (size // 2 + 1,).

    Without their phase, which moves what is heard by less than a millisecond and changes no power: at another rate than that of the
    coefficients, frequencies keep their weight only so.
    """
    turns = np.minimum(np.fft.rfftfreq(size, 1 / rate), _RATE / 2) / _RATE
    z = np.exp(-2j * np.pi * turns)
    response = np.ones(len(z))
    for over, under in _FILTERS:
        response *= np.abs((over[0] + over[1] * z + over[2] * z**2) / (under[0] + under[1] * z + under[2] * z**2))
    return response


def _level(power: float) -> float:
    return _OFFSET + 10 * math.log10(power)


def _power(level: float) -> float:
    return 10 ** ((level - _OFFSET) / 10)
