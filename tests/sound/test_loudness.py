"""Loudness against published readings and another implementation.

Sources: ITU-R BS.1770-4 (a 997 Hz sine at full scale in one channel reads -3.01 LKFS); EBU Tech 3341, table 1, signals 1 to 5, which are in
both channels of stereo and so read 3.01 LU lower in one (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pyloudnorm
import pytest

from pipeline.sound.loudness import loudness

ONE = 10 * math.log10(2)  # of two equal channels


def tone(rate: int, *parts: tuple[float, float], hertz: float = 1000) -> np.ndarray:
    """Return a sine in parts: level in dBFS, and seconds."""
    levels = np.concatenate([np.full(round(rate * seconds), 10 ** (level / 20)) for level, seconds in parts])
    return levels * np.sin(2 * np.pi * hertz * np.arange(len(levels)) / rate)


@pytest.mark.parametrize("rate", [48000, 44100, 32000, 22050, 11025, 8000])
def test_a_sine_at_full_scale(rate):
    """At every rate, since a frequency is weighted as it is heard."""
    assert loudness(tone(rate, (0, 5), hertz=997), rate) == pytest.approx(-3.01, abs=0.01)


@pytest.mark.parametrize(
    ("parts", "reading"),
    [
        ([(-23, 20)], -23),
        ([(-33, 20)], -33),
        ([(-36, 10), (-23, 60), (-36, 10)], -23),
        ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23),
        ([(-26, 20), (-20, 20.1), (-26, 20)], -23),
    ],
)
def test_published_signals(parts, reading):
    """Both gates: what is far quieter than the rest, and what is nearly silent, does not count."""
    assert loudness(tone(48000, *parts), 48000) == pytest.approx(reading - ONE, abs=0.1)


def test_noise_and_pulses_by_another_implementation():
    """pyloudnorm, which filters in time: pink-like noise, bursts, low and high tones; within 0.05 LU."""
    rng = np.random.default_rng(7)
    noise = np.cumsum(rng.normal(size=48000 * 4))
    noise -= np.linspace(noise[0], noise[-1], len(noise))
    bursts = rng.normal(size=48000 * 4) * (np.arange(48000 * 4) // 9000 % 3 == 0)
    for samples in (noise / np.abs(noise).max(), bursts / 8, tone(48000, (-12, 3), hertz=45), tone(48000, (-9, 3), hertz=9000)):
        expected = pyloudnorm.Meter(48000).integrated_loudness(samples)
        assert loudness(samples, 48000) == pytest.approx(expected, abs=0.05)


def test_parts_make_no_difference(monkeypatch):
    """A long sound is weighted in parts; as one it reads the same."""
    samples = np.random.default_rng(3).normal(size=30000) * np.linspace(0.01, 0.3, 30000)
    whole = loudness(samples, 8000)
    monkeypatch.setattr("pipeline.sound.loudness._PART", 4000)
    assert loudness(samples, 8000) == pytest.approx(whole, abs=1e-4)


def test_short_and_silent_sounds():
    """A sound of 100 ms is a quarter of a block of 400 ms: 6.02 dB below the same for longer. Silence has no loudness."""
    long, short = tone(48000, (-20, 2)), tone(48000, (-20, 0.1))
    assert loudness(short, 48000) == pytest.approx(loudness(long, 48000) - 20 * math.log10(2), abs=0.1)
    assert loudness(np.zeros(9000), 8000) is None
    assert loudness(tone(8000, (-80, 1)), 8000) is None
    assert loudness(np.zeros(1), 8000) is None
