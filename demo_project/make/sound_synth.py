"""Building blocks of synthesis; every signal is a float array at 44100 Hz."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

RATE = 44100

Signal = NDArray[np.float64]


def clock(seconds: float) -> Signal:
    """Return the time of every sample in seconds, shape (samples,)."""
    return np.arange(round(seconds * RATE)) / RATE


def noise(seconds: float, seed: int) -> Signal:
    """Return white noise of unit deviation; the same seed gives the same noise."""
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE))


def shaped(signal: Signal, response: Callable[[Signal], Signal]) -> Signal:
    """Filter with a gain given as a function of frequency in Hz."""
    size = signal.size + RATE // 10
    bins = np.fft.rfft(signal, size)
    gains = response(np.fft.rfftfreq(size, 1 / RATE))
    return np.fft.irfft(bins * gains, size)[: signal.size]


def low(signal: Signal, corner: float, order: float = 2) -> Signal:
    """Keep what lies below a corner frequency in Hz."""
    return shaped(signal, lambda f: 1 / np.sqrt(1 + (f / corner) ** (2 * order)))


def high(signal: Signal, corner: float, order: float = 2) -> Signal:
    """Keep what lies above a corner frequency in Hz."""
    return shaped(signal, lambda f: 1 / np.sqrt(1 + (corner / np.maximum(f, 1e-3)) ** (2 * order)))


def band(signal: Signal, centre: float, octaves: float) -> Signal:
    """Keep a bell of frequencies about a centre in Hz, its half width in octaves."""
    return shaped(signal, lambda f: np.exp(-((np.log2(np.maximum(f, 1) / centre) / octaves) ** 2)))


def swept(signal: Signal, corner: Signal, damping: float) -> Signal:
    """Band-pass with a corner in Hz that moves; a small damping rings longer."""
    out = np.empty_like(signal)
    tune = 2 * np.sin(np.pi * np.minimum(corner, RATE / 7) / RATE)
    slow = ring = 0.0
    for n, (x, f) in enumerate(zip(signal.tolist(), tune.tolist())):
        slow += f * ring
        ring += f * (x - slow - damping * ring)
        out[n] = ring
    return out


def tone(pitch: Signal, shape: Callable[[Signal], Signal] = np.sin) -> Signal:
    """Run an oscillator over a pitch curve in Hz; ``shape`` maps phase to value."""
    return shape(2 * np.pi * np.cumsum(pitch) / RATE)


def fall(seconds: float, half: float, attack: float = 0.002) -> Signal:
    """Return an envelope with a quick attack that halves every ``half`` seconds."""
    time = clock(seconds)
    return np.minimum(time / attack, 1) * 0.5 ** (time / half)


def curve(seconds: float, points: Sequence[tuple[float, float]]) -> Signal:
    """Join (share of the time, value) points by smooth steps."""
    share = clock(seconds) / seconds
    xs, ys = np.array([p[0] for p in points]), np.array([p[1] for p in points])
    index = np.clip(np.searchsorted(xs, share, side="right") - 1, 0, xs.size - 2)
    part = np.clip((share - xs[index]) / (xs[index + 1] - xs[index]), 0, 1)
    return ys[index] + (ys[index + 1] - ys[index]) * part * part * (3 - 2 * part)


def modes(seconds: float, partials: Sequence[tuple[float, float, float]], seed: int) -> Signal:
    """Sum decaying sines given as (Hz, level, half-life in seconds)."""
    rng = np.random.default_rng(seed)
    time = clock(seconds)
    total = np.zeros(time.size)
    for pitch, level, half in partials:
        turn = rng.uniform(0, 2 * np.pi)
        total += level * np.sin(2 * np.pi * pitch * time + turn) * fall(seconds, half, 0.001)
    return total


def place(target: Signal, part: Signal, start: float, level: float = 1) -> None:
    """Mix a part into a longer signal from ``start`` seconds on, cutting the rest."""
    first = round(start * RATE)
    length = min(part.size, target.size - first)
    if length > 0:
        target[first : first + length] += part[:length] * level


def echoes(signal: Signal, taps: Sequence[tuple[float, float]], corner: float) -> Signal:
    """Add dulled echoes given as (delay in seconds, level)."""
    out, dull = signal.copy(), low(signal, corner)
    for delay, level in taps:
        place(out, dull, delay, level)
    return out


def edges(length: int, first: float, last: float) -> Signal:
    """Return a window that rises and falls over the given seconds, zero at both ends."""
    window = np.ones(length)
    rise, drop = round(first * RATE), round(last * RATE)
    window[:rise] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)
    window[length - drop :] *= 0.5 + 0.5 * np.cos(np.pi * (np.arange(drop) + 1) / drop)
    return window


def finished(
    channels: Sequence[Signal], peak: float, first: float = 0.003, last: float = 0.03
) -> Signal:
    """Fade, remove DC and scale to a peak; returns shape (samples, channels)."""
    window = edges(channels[0].size, first, last)
    done = []
    for channel in channels:
        faded = channel * window
        # Weighting the correction with the fades keeps the ends at zero.
        done.append(faded - window * (faded.sum() / window.sum()))
    block = np.stack(done, axis=1)
    return block * (peak / np.abs(block).max())
