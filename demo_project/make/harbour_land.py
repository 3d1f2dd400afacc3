"""Distant land and weather: hills, mountains, fog, smoke and snowfall."""

import numpy as np
from harbour_layer import HEIGHT, SCALE, WIDTH, Fill, Layer, Paint, Point, colour
from harbour_noise import field


def ridge(
    seed: int,
    base: float,
    height: float,
    rough: float = 0.5,
    left: float = -10,
    right: float = WIDTH + 10,
) -> list[Point]:
    """Return a skyline from left to right by splitting midpoints; y in pixels."""
    rng = np.random.default_rng(seed)
    heights = rng.uniform(0.3, 1.0, 5)
    spread = 0.35
    while heights.size < 257:
        middle = (heights[:-1] + heights[1:]) / 2 + rng.normal(0, spread, heights.size - 1) * 0.6
        joined = np.empty(heights.size * 2 - 1)
        joined[0::2], joined[1::2] = heights, middle
        heights, spread = joined, spread * rough
    xs = np.linspace(left, right, heights.size)
    return [(float(x), float(base - height * max(h, 0.02))) for x, h in zip(xs, heights)]


def hills(layer: Layer, skyline: list[Point], base: float, fill: Fill, opacity: float = 1) -> None:
    """Fill the land below a skyline down to the base."""
    closed = [*skyline, (skyline[-1][0], base), (skyline[0][0], base)]
    layer.polygon(closed, fill, opacity)


def snow_faces(layer: Layer, skyline: list[Point], base: float, lit: str, seed: int) -> None:
    """Light the left flank of each peak with ragged strips of snow."""
    rng = np.random.default_rng(seed)
    for (x0, y0), (x1, y1) in zip(skyline[::3], skyline[3::3]):
        drop = (base - min(y0, y1)) * rng.uniform(0.35, 0.9)
        slope = rng.uniform(0.25, 0.6)
        if y1 < y0:
            face = [
                (x0, y0),
                (x1, y1),
                (x1 - drop * slope * 0.2, y1 + drop),
                (x0 - drop * slope, y0 + drop * 0.8),
            ]
            layer.polygon(face, lit, rng.uniform(0.25, 0.7), blur=0.6)


def fog(
    canvas: Layer, centre: float, depth: float, code: str, strength: float, shift: int = 0
) -> None:
    """Lay a drifting bank of fog about a height; depth in pixels."""
    rows = np.arange(HEIGHT * SCALE, dtype=np.float32)[:, None] / SCALE
    drift = np.roll(field("cloud"), shift * 211, axis=1)
    bank = np.exp(-(((rows - centre + drift * depth * 0.25) / depth) ** 2))
    share = np.clip(bank * strength * (1 + 0.25 * drift), 0, 1)[:, :, None]
    canvas.rgb += (colour(code) - canvas.rgb) * share


def smoke(
    layer: Layer,
    x: float,
    y: float,
    length: float,
    dark: str,
    lit: str,
    lean: float,
    seed: int,
    opacity: float = 0.35,
) -> None:
    """Trail a plume up from a chimney mouth; it widens and leans sideways."""
    rng = np.random.default_rng(seed)
    puffs = 34
    for step in range(puffs):
        part = step / puffs
        radius = 2 + part * length * 0.14
        px = x + lean * length * part**1.4 + rng.normal(0, radius * 0.4)
        py = y - length * part**0.85 + rng.normal(0, radius * 0.25)
        fade = opacity * (1 - part) ** 0.8
        layer.oval(
            px,
            py,
            radius * 1.25,
            radius,
            Paint(lit, dark, "mottle", 0.08),
            fade,
            blur=radius * 0.28,
        )


def snowfall(canvas: Layer, count: int, seed: int) -> None:
    """Scatter falling flakes, smaller and fainter ones being farther away."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        near = rng.uniform(0, 1) ** 2.2
        x, y = rng.uniform(0, WIDTH), rng.uniform(0, HEIGHT)
        size = 0.45 + near * 1.1
        canvas.oval(x, y, size, size * 1.15, "#eef4ff", 0.3 + 0.35 * near, blur=0.15 + near * 0.35)
