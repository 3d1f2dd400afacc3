"""Sounds of the harbour itself: water, ship's horn, bell and gull."""

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
    low,
    modes,
    noise,
    place,
    swept,
    tone,
)


def _drop(pitch: float, seconds: float) -> Signal:
    """Return one bubble: a sine that rises as the bubble closes."""
    rise = pitch * (1 + 0.9 * (clock(seconds) / seconds) ** 2)
    return tone(rise) * fall(seconds, seconds / 4, 0.004)


def splash() -> Signal:
    """Make the splash: a crate hits the water; spray falls back, bubbles rise; (samples, 2)."""
    length = 1.3
    rng = np.random.default_rng(51)
    slap = band(noise(length, 52), 700, 1.3) * fall(length, 0.045, 0.004)
    body = tone(curve(length, [(0, 160), (0.12, 70), (1, 60)])) * fall(length, 0.05, 0.006)
    sides = []
    for side in range(2):
        spray = swept(
            noise(length, 53 + side), curve(length, [(0, 900), (0.12, 2600), (1, 1100)]), 0.9
        )
        spray *= curve(length, [(0, 0), (0.07, 1), (0.3, 0.5), (1, 0.0)])
        patter = 1 + 0.6 * low(noise(length, 56 + side), 22) * 30
        out = slap * 2.2 + body * 0.9 + spray * np.clip(patter, 0.1, 2.4) * 0.42
        for _ in range(34):
            start = float(rng.beta(1.4, 2.2)) * 1.05 + 0.05
            part = _drop(float(rng.uniform(320, 1500)), float(rng.uniform(0.03, 0.09)))
            place(out, part, start, float(rng.uniform(0.08, 0.34)) * (1.2 - start))
        sides.append(low(high(out, 50), 5200))
    return finished(sides, 0.66, 0.003, 0.3)


def _reed(pitch: float, seconds: float, seed: int) -> Signal:
    """Return one horn pipe: rich, breathing, a little unsteady."""
    time = clock(seconds)
    drift = 1 + 0.004 * low(noise(seconds, seed), 5) * 60
    bend = curve(seconds, [(0, 0.93), (0.1, 1.0), (0.86, 1.0), (1, 0.95)])
    phase = 2 * np.pi * np.cumsum(pitch * bend * drift) / RATE
    bright = curve(seconds, [(0, 1.8), (0.16, 0.85), (0.8, 0.95), (1, 2.2)])
    out = np.zeros(time.size)
    for n in range(1, 22):
        throat = (
            1
            + 1.6 * np.exp(-(((n * pitch - 430) / 190) ** 2))
            + 0.8 * np.exp(-(((n * pitch - 1150) / 260) ** 2))
        )
        out += np.sin(n * phase + n * n * 0.6) * throat * n ** (-bright)
    return out


def horn() -> Signal:
    """Blow a ship's horn of two pipes, answered by the quay walls; (samples, 2)."""
    length = 2.15
    blow = 1.62
    swell = curve(blow, [(0, 0), (0.09, 0.85), (0.2, 1), (0.84, 0.94), (1, 0)])
    first, second = _reed(92.5, blow, 61) * swell, _reed(138.0, blow, 62) * swell
    breath = band(noise(blow, 63), 900, 1.2) * swell * 0.25
    sides = []
    for lean in (0.62, 0.38):
        out = np.zeros(round(length * RATE))
        place(out, first * lean + second * (1 - lean) + breath, 0.0)
        taps = [(0.19 + lean * 0.05, 0.22), (0.34 - lean * 0.06, 0.15), (0.52, 0.09)]
        sides.append(high(echoes(low(out, 3400), taps, 900), 55))
    return finished(sides, 0.64, 0.02, 0.4)


def _strike(seconds: float, pitch: float, seed: int) -> Signal:
    """Return one stroke on a small brass bell of the given pitch in Hz."""
    ratios = [
        (0.5, 0.3, 0.5),
        (1.0, 0.9, 0.42),
        (1.003, 0.45, 0.4),
        (1.19, 0.5, 0.3),
        (1.51, 0.32, 0.22),
        (2.0, 0.6, 0.26),
        (2.01, 0.3, 0.24),
        (2.56, 0.28, 0.12),
        (3.02, 0.3, 0.1),
        (4.17, 0.22, 0.06),
        (5.43, 0.16, 0.035),
    ]
    ring = modes(seconds, [(pitch * r, a, h) for r, a, h in ratios], seed)
    clap = band(noise(0.03, seed + 1), 3200, 0.8) * fall(0.03, 0.003, 0.0006)
    place(ring, clap, 0.0, 0.7)
    return ring


def bell() -> Signal:
    """Strike a ship's bell twice, quick; (samples, 2)."""
    length = 1.95
    left, right = np.zeros(round(length * RATE)), np.zeros(round(length * RATE))
    for start, level, seed in ((0.0, 0.75, 71), (0.27, 1.0, 75)):
        place(left, _strike(length - start, 742, seed), start, level)
        place(right, _strike(length - start, 742.7, seed + 2), start, level * 0.95)
    sides = [high(0.7 * a + 0.3 * b, 150) for a, b in ((left, right), (right, left))]
    return finished(
        [echoes(s, [(0.067, 0.09), (0.113, 0.07)], 2600) for s in sides], 0.62, 0.002, 0.5
    )


def _cry(seconds: float, top: float, seed: int) -> Signal:
    """Return one gull cry that leaps up, holds and yelps down; top in Hz."""
    pitch = top * curve(seconds, [(0, 0.55), (0.13, 0.98), (0.45, 1.0), (0.8, 0.74), (1, 0.6)])
    pitch *= 1 + 0.012 * low(noise(seconds, seed), 40) * 14
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    rasp = 1 + 0.35 * np.sin(
        2 * np.pi * 71 * clock(seconds) + 2 * np.sin(2 * np.pi * 13 * clock(seconds))
    )
    voice = np.sin(phase + 1.5 * np.sin(phase) + 0.7 * np.sin(2 * phase)) * rasp
    throat = swept(voice, curve(seconds, [(0, 1000), (0.3, 2000), (1, 1250)]), 0.5)
    breath = swept(noise(seconds, seed + 1), pitch * 2, 0.3) * 0.12
    return (voice * 0.35 + throat * 0.6 + breath) * curve(
        seconds, [(0, 0), (0.12, 1), (0.6, 0.8), (1, 0)]
    )


def gull() -> Signal:
    """Cry like a gull: a long call and two short ones over open water; (samples, 1)."""
    length = 1.35
    out = np.zeros(round(length * RATE))
    for start, seconds, top, level in (
        (0.0, 0.46, 1180, 1.0),
        (0.5, 0.25, 1120, 0.8),
        (0.79, 0.24, 1060, 0.65),
    ):
        place(out, _cry(seconds, top, int(start * 100) + 81), start, level)
    out = echoes(high(out, 350), [(0.09, 0.14), (0.17, 0.1), (0.26, 0.06)], 1800)
    return finished([low(out, 7000)], 0.6, 0.006, 0.2)
