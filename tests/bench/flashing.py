"""How fast flashing is measured: ``python -m tests.bench.flashing [--seconds 4]``.

Prints for each kind of play how many times faster than real time it is measured, at 60 pictures a second of 320 x 240 on one core, by
processor time, the best of three. The target is 5 times, for play as a console shows it.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable

import numpy as np

from pipeline.safety.flashes import FlashMeter
from pipeline.safety.stripes import StripeMeter

WIDTH, HEIGHT, RATE = 320, 240, 60
TARGET = 5


def _tiles(rng: np.random.Generator, colours: np.ndarray, size: int) -> np.ndarray:
    """Return a level four screens wide, of tiles of one colour each: as harsh as a level can be."""
    numbers = rng.integers(0, len(colours), (HEIGHT // size, 4 * WIDTH // size))
    return colours[numbers].repeat(size, 0).repeat(size, 1)


def _drawn(rng: np.random.Generator) -> np.ndarray:
    """Return a level as art is: 16 shades of four hues, in patches with a little texture."""
    hues = np.array([(60, 90, 140), (80, 120, 70), (150, 120, 80), (40, 40, 60)], float)
    shades = np.linspace(0.4, 1.3, 4)
    colours = np.clip(hues[:, None] * shades[None, :, None], 0, 255).astype(np.uint8)
    hue = rng.integers(0, 4, (HEIGHT // 40, 4 * WIDTH // 40)).repeat(40, 0).repeat(40, 1)
    shade = np.clip(rng.integers(0, 3, (HEIGHT // 2, 2 * WIDTH)).repeat(2, 0).repeat(2, 1) + (rng.random(hue.shape) < 0.1), 0, 3)
    return colours[hue, shade]


def _kinds() -> dict[str, Callable[[int], np.ndarray]]:
    rng = np.random.default_rng(7)
    primaries = (np.array([[number >> bit & 1 for bit in range(3)] for number in range(8)]) * 255).astype(np.uint8)
    greys = np.array([(0, 0, 0), (255, 255, 255)], np.uint8)
    drawn, harsh, grey = _drawn(rng), _tiles(rng, primaries, 8), _tiles(rng, greys, 8)
    flash = [np.full((HEIGHT, WIDTH, 3), code, np.uint8) for code in (0, 255)]
    bars = np.where((np.arange(4 * WIDTH) // 8 % 2)[None, :, None], np.uint8(255), np.uint8(0)).repeat(HEIGHT, 0).repeat(3, 2)
    noise = rng.integers(0, 256, (8, HEIGHT, WIDTH, 3), np.uint8)

    def scroll(level: np.ndarray, speed: int) -> Callable[[int], np.ndarray]:
        return lambda tick: level[:, (speed * tick) % (3 * WIDTH) :][:, :WIDTH]

    return {
        "drawn level, scrolling": scroll(drawn, 2),
        "black and white tiles, scrolling": scroll(grey, 4),
        "tiles of eight pure colours, scrolling": scroll(harsh, 4),
        "the whole screen flashing": lambda tick: flash[tick // 3 % 2],
        "stripes, scrolling": scroll(bars, 1),
        "noise of all colours": lambda tick: noise[tick % 8],
    }


def measure(show: Callable[[int], np.ndarray], seconds: int) -> float:
    """Return how many times faster than real time some play is measured."""
    pictures = [np.ascontiguousarray(show(tick)) for tick in range(seconds * RATE)]
    best = 0.0
    for _ in range(3):
        begin = time.process_time()
        meters = (FlashMeter(WIDTH, HEIGHT, RATE), StripeMeter(WIDTH, HEIGHT, RATE))
        for picture in pictures:
            for meter in meters:
                meter.add(picture, 1)
        best = max(best, seconds / (time.process_time() - begin))
    return best


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=4)
    seconds = parser.parse_args().seconds
    for name, show in _kinds().items():
        times = measure(show, seconds)
        below = "" if times >= TARGET else "  (below the target)"
        print(f"{name:<42} {times:5.1f} times real time, {times * RATE:5.0f} pictures a second{below}")


if __name__ == "__main__":
    main()
