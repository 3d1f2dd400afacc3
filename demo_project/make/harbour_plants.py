"""Palms, shrubs and flowers for the warm harbour."""

import math

import numpy as np
from harbour_layer import Layer, Paint, Point, mix


def _frond(
    layer: Layer, root: Point, turn: float, length: float, leaf: str, light: str, dark: str
) -> None:
    """Draw one feathered frond that arches out and hangs down; turn in radians."""
    spine: list[Point] = []
    for step in range(15):
        t = step / 14
        px = root[0] + math.cos(turn) * length * t * (1 - 0.12 * t)
        py = root[1] - math.sin(turn) * length * t + length * 0.62 * t**2.1
        spine.append((px, py))
    for step in range(1, 14):
        (x0, y0), (x1, y1) = spine[step], spine[step + 1]
        along = math.atan2(y1 - y0, x1 - x0)
        reach = length * 0.3 * math.sin(math.pi * (0.1 + 0.86 * step / 14)) ** 0.8
        for side in (-1, 1):
            fan = along + side * 0.75
            tip = (x0 + math.cos(fan) * reach, y0 + math.sin(fan) * reach + reach * 0.3)
            mid = (
                (x0 + tip[0]) / 2 + math.cos(along) * reach * 0.14,
                (y0 + tip[1]) / 2 + math.sin(along) * reach * 0.14,
            )
            upper = (side < 0) == (math.cos(turn) > 0)
            tone = mix(leaf, light, 0.5) if upper else mix(leaf, dark, 0.4)
            layer.polygon(
                [(x0, y0), mid, tip, (x1, y1)], Paint(tone, mix(tone, dark, 0.2), amount=0.08)
            )
    layer.line(spine, max(0.8, length * 0.022), mix(leaf, light, 0.6))


def palm(
    layer: Layer,
    x: float,
    base: float,
    high: float,
    lean: float,
    leaf: str,
    light: str,
    dark: str,
    bark: str,
    seed: int,
    spread: float = 0.42,
) -> None:
    """Draw a palm of the given height, its trunk bending by ``lean`` pixels."""
    rng = np.random.default_rng(seed)
    wide = high * 0.045
    trunk: list[tuple[float, float, float]] = []
    for step in range(31):
        t = step / 30
        trunk.append(
            (x + lean * t**1.7, base - high * t, wide * (1 - 0.45 * t) + wide * 0.5 * (1 - t) ** 6)
        )
    for (x0, y0, w0), (x1, y1, w1) in zip(trunk, trunk[1:]):
        layer.polygon(
            [
                (x0 - w0 / 2, y0 + 0.5),
                (x0 + w0 / 2, y0 + 0.5),
                (x1 + w1 / 2 * 0.9, y1),
                (x1 - w1 / 2 * 0.9, y1),
            ],
            Paint(mix(bark, light, 0.3), mix(bark, dark, 0.55), "streak", 0.12, sideways=True),
        )
        layer.line([(x0 - w0 / 2, y0), (x0 + w0 / 2, y0 - 0.4)], max(0.5, high * 0.005), dark, 0.4)
    head = (trunk[-1][0], trunk[-1][1])
    turns = [(n + rng.uniform(-0.3, 0.3)) / 12 * 3.9 - 0.38 for n in range(13)]
    # Side fronds first: the ones that point up and at us lie over them.
    for turn in sorted(turns, key=lambda a: -abs(a - math.pi / 2)):
        _frond(layer, head, turn, high * spread * rng.uniform(0.85, 1.1), leaf, light, dark)
    for _ in range(5):
        layer.oval(
            head[0] + rng.uniform(-1, 1) * wide,
            head[1] + rng.uniform(0.2, 1.4) * wide,
            wide * 0.42,
            wide * 0.46,
            Paint("#8a6a34", "#4a3418", amount=0.1),
        )


def shrub(
    layer: Layer,
    x: float,
    base: float,
    wide: float,
    high: float,
    leaf: str,
    light: str,
    dark: str,
    bloom: str | None,
    seed: int,
) -> None:
    """Heap leaf clumps from dark to light and dot them with blossom."""
    rng = np.random.default_rng(seed)
    for layer_no, tone in enumerate((mix(leaf, dark, 0.5), leaf, mix(leaf, light, 0.35))):
        for _ in range(int(10 + wide * 0.5)):
            u = rng.uniform(-1, 1)
            tall = high * (1 - u * u * 0.7) * (0.75 + 0.1 * layer_no)
            size = rng.uniform(0.08, 0.17) * min(wide, high * 1.4)
            layer.oval(
                x + u * wide / 2 - layer_no,
                base - rng.uniform(0.1, 0.95) * tall - layer_no * 0.6,
                size,
                size * 0.75,
                Paint(tone, amount=0.12),
                0.9,
            )
    if bloom is None:
        return
    for _ in range(int(wide * 1.3)):
        u = rng.uniform(-0.95, 0.95)
        y = base - rng.uniform(0.15, 0.98) * high * (1 - u * u * 0.7)
        size = rng.uniform(0.6, 1.3)
        layer.oval(
            x + u * wide / 2,
            y,
            size,
            size * 0.85,
            mix(bloom, "#ffffff", float(rng.uniform(0, 0.35))),
        )


def pot(layer: Layer, x: float, base: float, size: float, clay: str, light: str, dark: str) -> None:
    """Draw a clay planter; size is its height in pixels."""
    layer.oval(x + 1, base - 0.4, size * 0.5, size * 0.08, "#000000", 0.3, blur=1)
    shape = [(-0.3, 0), (-0.44, 0.75), (0.44, 0.75), (0.3, 0)]
    layer.polygon(
        [(x + size * u, base - size * v) for u, v in shape],
        Paint(mix(clay, light, 0.3), mix(clay, dark, 0.5), "mottle", 0.08, sideways=True),
    )
    layer.box(
        x - size * 0.5,
        base - size,
        size,
        size * 0.26,
        Paint(mix(clay, light, 0.4), mix(clay, dark, 0.4), sideways=True),
    )


def palm_shadow(layer: Layer, root: Point, head: Point, reach: float, seed: int, code: str) -> None:
    """Lay a palm's shadow on the ground: trunk from root to head, then a flat crown."""
    rng = np.random.default_rng(seed)
    shade = Layer()
    shade.line([root, head], 5, code, blur=0.4)
    for n in range(15):
        turn = (n + rng.uniform(-0.35, 0.35)) / 15 * 2 * math.pi
        long = reach * rng.uniform(0.7, 1.05)
        for step in range(3, 13):
            t = step / 12
            x, y = head[0] + math.cos(turn) * long * t, head[1] + math.sin(turn) * long * t * 0.17
            leaf = long * 0.2 * math.sin(math.pi * (0.1 + 0.85 * t))
            for side in (-0.9, 0.9):
                tip = (x + math.cos(turn + side) * leaf, y + math.sin(turn + side) * leaf * 0.3)
                shade.line([(x, y), tip], 1.5, code, 0.85, blur=0.5)
        shade.line(
            [head, (head[0] + math.cos(turn) * long, head[1] + math.sin(turn) * long * 0.17)],
            1.8,
            code,
            blur=0.4,
        )
    # One even shade: overlapping leaves must not darken the ground twice.
    layer.add(shade, 0.3)
