"""Sounds a courier makes: steps, jumps, landings, throws and broken crates."""

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


def _thump(seconds: float, start: float, end: float, half: float) -> Signal:
    """Return a body thump whose pitch drops from start to end in Hz."""
    pitch = end + (start - end) * 0.5 ** (clock(seconds) / 0.018)
    return tone(pitch) * fall(seconds, half, 0.002)


def footstep() -> Signal:
    """Set a boot on stone: heel, then a gritty toe; (samples, 1)."""
    length = 0.2
    out = _thump(length, 190, 82, 0.022) * 0.9
    heel = band(noise(0.06, 1), 1500, 0.9) * fall(0.06, 0.007)
    toe = band(noise(0.14, 2), 2700, 0.7) * fall(0.14, 0.014, 0.006)
    knock = modes(0.08, [(430, 0.4, 0.008), (910, 0.3, 0.006), (1540, 0.2, 0.004)], 3)
    place(out, heel, 0.001, 1.6)
    place(out, knock, 0.001, 0.9)
    place(out, toe, 0.055, 0.9)
    return finished([high(out, 45)], 0.55, 0.002, 0.04)


def jump() -> Signal:
    """Make a push-off and a springy rise of cloth and air; (samples, 1)."""
    length = 0.36
    pitch = curve(length, [(0, 150), (0.25, 230), (1, 560)])
    wobble = tone(pitch * 2.01) * curve(length, [(0, 2.4), (1, 0.5)])
    spring = np.sin(2 * np.pi * np.cumsum(pitch) / RATE + wobble)
    spring *= curve(length, [(0, 0.0), (0.08, 1), (0.5, 0.5), (1, 0)])
    air = swept(noise(length, 11), curve(length, [(0, 500), (0.5, 1500), (1, 2900)]), 0.5)
    air *= curve(length, [(0, 0.2), (0.3, 1), (1, 0)])
    out = spring * 0.5 + air * 0.5
    place(out, band(noise(0.05, 12), 1300, 1.0) * fall(0.05, 0.008), 0.0, 1.0)
    return finished([high(out, 70)], 0.6, 0.003, 0.06)


def land() -> Signal:
    """Land on both boots; grit scatters; (samples, 1)."""
    length = 0.42
    out = _thump(length, 170, 56, 0.05) * 1.3
    place(out, _thump(0.25, 150, 66, 0.03), 0.028, 0.6)
    for start, seed in ((0.0, 21), (0.028, 22)):
        place(out, band(noise(0.09, seed), 1100, 1.0) * fall(0.09, 0.011), start, 1.5)
    rng = np.random.default_rng(23)
    for _ in range(16):
        grain = modes(0.03, [(float(rng.uniform(1700, 4300)), 1, 0.003)], int(rng.integers(999)))
        place(out, grain, float(rng.uniform(0.04, 0.3)), float(rng.uniform(0.04, 0.2)))
    return finished([high(out, 38)], 0.66, 0.002, 0.09)


def throw() -> Signal:
    """Make a whoosh that flutters as it passes from left to right; (samples, 2)."""
    length = 0.46
    path = curve(length, [(0, 420), (0.38, 2300), (1, 620)])
    breath = swept(noise(length, 31), path, 0.28) + 0.5 * swept(noise(length, 32), path * 1.9, 0.4)
    flutter = 1 + 0.45 * np.sin(2 * np.pi * np.cumsum(curve(length, [(0, 17), (1, 31)])) / RATE)
    out = breath * flutter * curve(length, [(0, 0), (0.36, 1), (1, 0)])
    out = low(high(out, 120), 3600)
    pan = curve(length, [(0, 0.15), (1, 0.85)]) * np.pi / 2
    return finished([out * np.cos(pan), out * np.sin(pan)], 0.6, 0.01, 0.08)


def crate() -> Signal:
    """Burst a crate: blow, cracking boards, falling splinters; (samples, 2)."""
    length = 0.72
    rng = np.random.default_rng(41)
    sides = []
    for _ in range(2):
        out = _thump(length, 210, 92, 0.035) * 1.1
        for start, level in (
            (0.0, 1.0),
            (0.022, 0.7),
            (0.06, 0.75),
            (0.115, 0.6),
            (0.2, 0.42),
            (0.31, 0.3),
            (0.43, 0.2),
        ):
            scale = float(rng.uniform(0.8, 1.35))
            board = [
                (f * scale, a, h)
                for f, a, h in (
                    (176, 0.7, 0.04),
                    (312, 0.8, 0.032),
                    (473, 0.7, 0.025),
                    (791, 0.5, 0.016),
                    (1134, 0.4, 0.012),
                    (1760, 0.3, 0.008),
                )
            ]
            place(out, modes(0.3, board, int(rng.integers(9999))), start, level * 0.55)
            crack = band(
                noise(0.07, int(rng.integers(9999))), float(rng.uniform(1500, 3200)), 0.9
            ) * fall(0.07, 0.006, 0.0008)
            place(out, crack, start, level * 2.0)
        sides.append(low(high(out, 60), 9000))
    middle = (sides[0] + sides[1]) / 2
    block = [
        echoes(0.55 * part + 0.45 * middle, [(0.041, 0.16), (0.073, 0.1)], 2500) for part in sides
    ]
    return finished(block, 0.68, 0.002, 0.15)
