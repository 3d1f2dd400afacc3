"""The strip the couriers run on, in perspective and kept calm."""

import numpy as np
from harbour_layer import HEIGHT, SCALE, WIDTH, Layer, Paint, Point, colour, mix
from harbour_noise import sample

CENTRE = WIDTH / 2


def _down(x: float, edge: float, horizon: float, y: float) -> float:
    """Follow a line that meets the quay edge at x down to height y."""
    return CENTRE + (x - CENTRE) * (y - horizon) / (edge - horizon)


def _rows(edge: float, horizon: float, first: float, count: int) -> list[float]:
    """Return the y of ``count`` equal steps of depth towards the viewer."""
    near, far = 1 / (HEIGHT + 6 - horizon), 1 / (first - horizon)
    return [horizon + 1 / (far + (near - far) * n / count) for n in range(count + 1)]


def surface(
    layer: Layer,
    edge: float,
    horizon: float,
    far: str,
    near: str,
    amount: float = 0.05,
    wide: float = 1.0,
) -> None:
    """Fill the ground below the edge with a grain that grows towards the viewer."""
    start = round(edge * SCALE)
    ys = np.arange(start, HEIGHT * SCALE, dtype=np.float32)[:, None] / SCALE
    xs = np.arange(WIDTH * SCALE, dtype=np.float32)[None, :] / SCALE - CENTRE
    depth = 1 / (ys - horizon)
    rough = sample(
        "mottle", np.broadcast_to(depth * 60000, (ys.size, xs.size)), xs * depth * 260 / wide + 700
    )
    slow = sample("soft", np.broadcast_to(depth * 16000, rough.shape), xs * depth * 80 + 300)
    fall = ((ys - edge) / (HEIGHT - edge))[:, :, None]
    tone = colour(far) + (colour(near) - colour(far)) * fall
    rough = (rough * amount + slow * amount * 0.8)[:, :, None]
    layer.rgb[start:] = np.clip(tone * (1 + rough), 0, 1)
    layer.alpha[start:] = 1


def slabs(
    layer: Layer,
    edge: float,
    horizon: float,
    joint: str,
    light: str,
    size: float,
    rows: int,
    seed: int,
    opacity: float = 0.3,
    first: float = 4.0,
) -> None:
    """Score stone slabs; size is a slab's width at the quay edge in pixels."""
    rng = np.random.default_rng(seed)
    lines = _rows(edge, horizon, edge + first, rows)
    for y0, y1 in zip(lines, lines[1:]):
        layer.line([(0, y0), (WIDTH, y0)], 0.8, joint, opacity)
        layer.line([(0, y0 + 0.9), (WIDTH, y0 + 0.9)], 0.6, light, opacity * 0.5)
        x = -60 - rng.uniform(0, size)
        while x < WIDTH + 60:
            step = size * rng.uniform(0.75, 1.25)
            corners = [
                (_down(x, edge, horizon, y0), y0),
                (_down(x + step, edge, horizon, y0), y0),
                (_down(x + step, edge, horizon, y1), y1),
                (_down(x, edge, horizon, y1), y1),
            ]
            layer.polygon(corners, [joint, light][rng.integers(2)], rng.uniform(0, 0.11))
            layer.line([corners[0], corners[3]], 0.8, joint, opacity)
            x += step


def planks(
    layer: Layer,
    edge: float,
    horizon: float,
    joint: str,
    light: str,
    size: float,
    seed: int,
    opacity: float = 0.4,
) -> None:
    """Score deck boards that run away from the viewer; size is their width at the edge."""
    rng = np.random.default_rng(seed)
    x = -90.0
    while x < WIDTH + 90:
        shape = [
            (x, edge),
            (x + size, edge),
            (_down(x + size, edge, horizon, HEIGHT), HEIGHT),
            (_down(x, edge, horizon, HEIGHT), HEIGHT),
        ]
        layer.polygon(shape, [joint, light][rng.integers(2)], rng.uniform(0.0, 0.14))
        layer.line([shape[0], shape[3]], 0.9, joint, opacity)
        cut = rng.uniform(edge + 6, HEIGHT + 30)
        layer.line(
            [(_down(x, edge, horizon, cut), cut), (_down(x + size, edge, horizon, cut), cut)],
            0.8,
            joint,
            opacity,
        )
        x += size


def coping(
    layer: Layer, edge: float, deep: float, code: str, light: str, dark: str, size: float, seed: int
) -> None:
    """Lay the edge stones along the water: a lit lip and a shaded joint behind."""
    rng = np.random.default_rng(seed)
    layer.box(0, edge, WIDTH, deep, Paint(mix(code, light, 0.2), code, "streak", 0.07))
    layer.box(0, edge, WIDTH, 1.2, light, 0.55)
    layer.box(0, edge + deep - 0.8, WIDTH, 1.0, dark, 0.45)
    x = rng.uniform(0, size)
    while x < WIDTH:
        slant = (x - CENTRE) * deep * 0.012
        layer.line([(x, edge + 0.8), (x + slant, edge + deep)], 0.8, dark, 0.5)
        x += size * rng.uniform(0.7, 1.3)


def rails(layer: Layer, y: float, code: str, light: str) -> None:
    """Sink a tram rail along the quay at height y."""
    layer.box(0, y, WIDTH, 2.2, code, 0.75)
    layer.box(0, y + 0.5, WIDTH, 0.8, light, 0.75)


def puddle(
    layer: Layer, x: float, y: float, half: float, sky: str, opacity: float, seed: int
) -> None:
    """Leave a shallow puddle with an uneven rim that shows the sky colour."""
    rng = np.random.default_rng(seed)
    points: list[Point] = []
    for n in range(24):
        turn = n / 24 * 2 * np.pi
        reach = half * rng.uniform(0.8, 1.05)
        points.append((float(x + reach * np.cos(turn)), float(y + reach * 0.13 * np.sin(turn))))
    layer.polygon(points, Paint(mix(sky, "#000000", 0.25), sky, "streak", 0.05), opacity, blur=0.5)


def calm(layer: Layer, edge: float, code: str, share: float) -> None:
    """Pull the ground towards one tone so that figures read against it."""
    start = round(edge * SCALE)
    layer.rgb[start:] += (colour(code) - layer.rgb[start:]) * np.float32(share)
