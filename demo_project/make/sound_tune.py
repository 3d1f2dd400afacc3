"""The finishing fanfare: a short tune of our own for brass, drum and bell."""

import numpy as np
from sound_synth import (
    RATE,
    Signal,
    band,
    clock,
    curve,
    echoes,
    fall,
    finished,
    high,
    modes,
    noise,
    place,
    tone,
)

LENGTH = 2.18

# (start in seconds, length in seconds, half tones above concert A)
TUNE = [
    (0.00, 0.13, 5),
    (0.13, 0.13, 7),
    (0.26, 0.25, 10),
    (0.52, 0.12, 9),
    (0.65, 0.12, 14),
    (0.78, 1.2, 12),
]
UNDER = [
    (0.26, 0.25, 2),
    (0.26, 0.25, 5),
    (0.52, 0.12, 0),
    (0.65, 0.12, 7),
    (0.78, 1.2, 5),
    (0.78, 1.2, 9),
]
BASS = [(0.00, 0.24, -19), (0.26, 0.24, -14), (0.52, 0.24, -12), (0.78, 1.15, -19)]


def _pitch(steps: int) -> float:
    """Return the frequency in Hz of a note counted in half tones from 440 Hz."""
    return 440 * 2 ** (steps / 12)


def _brass(seconds: float, pitch: float, seed: int) -> Signal:
    """Return a brass note: modulation opens with the breath, then relaxes."""
    time = clock(seconds + 0.12)
    total = seconds + 0.12
    late = np.clip((time - 0.35) / 0.4, 0, 1) * 0.005 * np.sin(2 * np.pi * 5.3 * time)
    slide = pitch * (1 - 0.03 * 0.5 ** (time / 0.012)) * (1 + late)
    phase = 2 * np.pi * np.cumsum(slide) / RATE
    level = np.minimum(time / 0.022, 1) * (0.72 + 0.28 * 0.5 ** (time / 0.09))
    level *= np.clip((total - time) / 0.12, 0, 1) ** 1.5
    voice = np.sin(phase + 1.9 * level * np.sin(phase + 0.3)) + 0.35 * np.sin(
        2 * phase + 1.2 * level * np.sin(phase)
    )
    spit = band(noise(total, seed), pitch * 3, 0.8) * fall(total, 0.02, 0.004) * 0.12
    return (voice + spit) * level


def _drum(seconds: float, pitch: float, seed: int) -> Signal:
    """Return a kettle drum stroke."""
    skin = tone(pitch * (1 + 0.35 * 0.5 ** (clock(seconds) / 0.02))) * fall(seconds, 0.12, 0.003)
    return skin + band(noise(seconds, seed), 900, 1.1) * fall(seconds, 0.012) * 0.5


def _roll(seconds: float, seed: int) -> Signal:
    """Return a snare roll that swells."""
    pulse = 0.35 + 0.65 * np.abs(np.sin(np.pi * 15.4 * clock(seconds))) ** 3
    return band(noise(seconds, seed), 2600, 0.9) * pulse * curve(seconds, [(0, 0.15), (1, 1)])


def finish() -> Signal:
    """Play the fanfare; (samples, 2)."""
    left, right = np.zeros(round(LENGTH * RATE)), np.zeros(round(LENGTH * RATE))
    for voices, west, east in ((TUNE, 0.55, 0.5), (UNDER, 0.18, 0.32), (BASS, 0.3, 0.3)):
        for n, (start, seconds, steps) in enumerate(voices):
            note = _brass(seconds, _pitch(steps), 90 + n)
            place(left, note, start, west)
            place(right, note, start + 0.004, east)
    shine = modes(
        1.3,
        [
            (_pitch(24) * r, a, h)
            for r, a, h in ((1, 0.5, 0.25), (2.01, 0.3, 0.14), (2.76, 0.2, 0.08))
        ],
        97,
    )
    for side in (left, right):
        place(side, _roll(0.5, 98), 0.26, 0.22)
        place(side, _drum(0.5, 73.4, 95), 0.0, 0.5)
        place(side, _drum(0.9, 73.4, 96), 0.78, 0.8)
        place(side, shine, 0.78, 0.22)
    taps = [(0.083, 0.16), (0.131, 0.12), (0.197, 0.08)]
    return finished(
        [high(echoes(side, taps, 2800), 55) for side in (left, right)], 0.66, 0.003, 0.35
    )
