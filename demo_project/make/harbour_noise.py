"""Seamless noise fields that give every painted shape its brush texture."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]

FIELD_ROWS = 960
FIELD_COLUMNS = 1920

# name: (seed, slope of the spectrum, vertical stretch, horizontal stretch)
_RECIPES: dict[str, tuple[int, float, float, float]] = {
    "mottle": (11, 1.7, 1.0, 1.0),
    "streak": (23, 1.5, 1.0, 6.0),
    "drip": (37, 1.5, 6.0, 1.0),
    "cloud": (41, 2.3, 1.0, 2.2),
    "soft": (53, 2.6, 1.0, 1.0),
    "grit": (67, 0.7, 1.0, 1.0),
    "warmth": (79, 1.9, 1.0, 1.0),
    "ripple": (83, 1.5, 1.0, 4.0),
}


@cache
def field(name: str) -> Field:
    """Return the named field, shape (960, 1920), mean 0, deviation 1, within +-2.5."""
    seed, slope, tall, wide = _RECIPES[name]
    white = np.random.default_rng(seed).standard_normal((FIELD_ROWS, FIELD_COLUMNS))
    down = np.fft.fftfreq(FIELD_ROWS)[:, None] * FIELD_ROWS * tall
    across = np.fft.rfftfreq(FIELD_COLUMNS)[None, :] * FIELD_ROWS * wide
    radius = np.sqrt(down**2 + across**2)
    # The floor keeps a few huge blobs from drowning the finer texture.
    shaped = np.fft.rfft2(white) / np.maximum(radius, 6.0) ** slope
    shaped[0, 0] = 0.0
    noise = np.fft.irfft2(shaped, s=white.shape)
    noise /= noise.std()
    return np.clip(noise, -2.5, 2.5).astype(np.float32)


def window(name: str, row: int, column: int, rows: int, columns: int) -> Field:
    """Cut a (rows, columns) window from a field, wrapping round its edges."""
    ys = np.arange(row, row + rows) % FIELD_ROWS
    xs = np.arange(column, column + columns) % FIELD_COLUMNS
    return field(name)[np.ix_(ys, xs)]


def sample(name: str, ys: NDArray, xs: NDArray) -> Field:
    """Look a field up, between its cells, at float coordinates (wraps)."""
    grid = field(name)
    y0, x0 = np.floor(ys).astype(int), np.floor(xs).astype(int)
    fy, fx = (ys - y0).astype(np.float32), (xs - x0).astype(np.float32)
    y0, x0 = y0 % FIELD_ROWS, x0 % FIELD_COLUMNS
    y1, x1 = (y0 + 1) % FIELD_ROWS, (x0 + 1) % FIELD_COLUMNS
    top = grid[y0, x0] * (1 - fx) + grid[y0, x1] * fx
    bottom = grid[y1, x0] * (1 - fx) + grid[y1, x1] * fx
    return top * (1 - fy) + bottom * fy
