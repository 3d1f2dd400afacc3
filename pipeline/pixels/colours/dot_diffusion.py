"""Dot diffusion: the error of a pixel goes to neighbours that are decided later, in the order of a fixed 8 x 8 pattern.

After D. Knuth, "Digital Halftones by Dot Diffusion" (1987). Errors travel ``REACH`` pixels at most: farther from a change,
not one pixel differs. Frames of one size are decided together; they do not touch each other.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pipeline.pixels.colours.light import FULL, light

# Knuth 1987, the order of an 8 x 8 cell (from memory; a test checks what matters: each number once, errors stay near).
_ORDER = np.array(
    (
        (34, 48, 40, 32, 29, 15, 23, 31),
        (42, 58, 56, 53, 21, 5, 7, 10),
        (50, 62, 61, 45, 13, 1, 2, 18),
        (38, 46, 54, 37, 25, 17, 9, 26),
        (28, 14, 22, 30, 35, 49, 41, 33),
        (20, 4, 6, 11, 43, 59, 57, 52),
        (12, 0, 3, 19, 51, 63, 60, 44),
        (24, 16, 8, 27, 39, 47, 55, 36),
    )
)
_AROUND = tuple((dy, dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx)


def turned(pattern: np.ndarray, shape: tuple[int, int], phase: tuple[int, int]) -> np.ndarray:
    """Return an 8 x 8 pattern laid over a frame (height, width) so that it starts at a pixel (x, y)."""
    rows, columns = (np.arange(shape[0]) - phase[1]) % 8, (np.arange(shape[1]) - phase[0]) % 8
    return pattern[rows[:, None], columns]


def diffuse(
    rgb: np.ndarray,
    opaque: np.ndarray,
    entries: np.ndarray,
    nearest: Callable[[np.ndarray], np.ndarray],
    phase: tuple[int, int],
) -> np.ndarray:
    """Return the entry of every pixel; errors are in linear light.

    Args:
        rgb: uint8, shape (count, height, width, 3), sRGB.
        opaque: bool, shape (count, height, width). Other pixels get 0, take no error and give none.
        entries: linear light of the palette's entries, int64, shape (n, 3), in 1/65535.
        nearest: from linear light, int64, shape (m, 3), 0..65535, to entries, shape (m,).
        phase: x and y of a pixel at which the pattern starts.

    Returns:
        int32, shape (count, height, width).
    """
    wanted = light()[np.pad(rgb, ((0, 0), (1, 1), (1, 1), (0, 0)))].reshape(-1, 3)
    solid = np.pad(opaque, ((0, 0), (1, 1), (1, 1)))
    ranks = np.pad(turned(_ORDER, opaque.shape[1:], phase), 1).astype(np.int8)
    places = np.flatnonzero(solid)
    order = ranks.ravel()[places % ranks.size]
    places = places[np.argsort(order, kind="stable")]
    bounds = np.concatenate([[0], np.cumsum(np.bincount(order, minlength=64))])
    out = np.zeros(solid.shape, dtype=np.int32)
    for rank, steps in enumerate(_later_steps(solid.shape[2])):
        here = places[bounds[rank] : bounds[rank + 1]]
        if len(here):
            lit = wanted.take(here, axis=0)
            taken = nearest(np.clip(lit, 0, FULL))
            out.ravel()[here] = taken
            _pass_on(lit - entries[taken], here, wanted, solid.ravel(), steps)
    return out[:, 1:-1, 1:-1]


def _later_steps(width: int) -> list[list[tuple[int, int]]]:
    """Return for each rank of the order the ways, in a frame of some width, to neighbours of a later rank, and their weights."""
    steps = []
    for rank in range(64):
        y, x = (int(place[0]) for place in np.nonzero(np.equal(_ORDER, rank)))
        later = [(dy, dx) for dy, dx in _AROUND if _ORDER[(y + dy) % 8, (x + dx) % 8] > rank]
        steps.append([(dy * width + dx, 1 if dy and dx else 2) for dy, dx in later])
    return steps


def _pass_on(error: np.ndarray, places: np.ndarray, wanted: np.ndarray, solid: np.ndarray, steps: list[tuple[int, int]]) -> None:
    """Give errors to the neighbours still to be decided, twice as much to those beside as to those across a corner."""
    takers = [(step, weight, solid[places + step]) for step, weight in steps]
    total = np.maximum(sum((weight * takes for _, weight, takes in takers), np.zeros(len(places), dtype=np.int64)), 1)
    parts = {weight: error * weight // total[:, None] for weight in (1, 2)}
    for step, weight, takes in takers:
        wanted[places[takes] + step] += parts[weight][takes]


def _reach() -> int:
    """Return how far an error can travel: the longest way, in columns or rows, over rising numbers of the order."""
    spans: dict[tuple[int, int], tuple[int, int, int, int]] = {}
    for rank in range(64):
        y, x = (int(place[0]) for place in np.nonzero(np.equal(_ORDER, rank)))
        reach = [(0, 0, 0, 0)]
        for dy, dx in _AROUND:
            before = ((y + dy) % 8, (x + dx) % 8)
            if _ORDER[before] < rank:
                top, bottom, left, right = spans[before]
                reach.append((top + dy, bottom + dy, left + dx, right + dx))
        lows, highs = np.min(reach, axis=0), np.max(reach, axis=0)
        spans[y, x] = (int(lows[0]), int(highs[1]), int(lows[2]), int(highs[3]))
    return max(abs(value) for span in spans.values() for value in span)


REACH = _reach()
