"""Harbour houses drawn in one-point perspective."""

from dataclasses import dataclass

import numpy as np
from harbour_layer import Layer, Paint, Point, mix


@dataclass(frozen=True)
class Style:
    """Colours of a house; ``lit`` is the share of windows with a lamp behind."""

    wall: str
    roof: str
    pane: str
    frame: str
    lamp: str = "#ffd27a"
    lit: float = 0.0
    shade: float = 0.28
    light: str = "#ffffff"
    side: str | None = None


def recede(point: Point, centre: Point, share: float) -> Point:
    """Move a point towards the vanishing point by a share of the distance."""
    return (point[0] + (centre[0] - point[0]) * share, point[1] + (centre[1] - point[1]) * share)


def pane(
    layer: Layer, x: float, y: float, wide: float, high: float, style: Style, glowing: bool
) -> None:
    """Draw one window with reveal, glass, bars and sill; sizes in pixels."""
    layer.box(x - 0.7, y - 0.7, wide + 1.4, high + 1.4, style.frame)
    glass = style.lamp if glowing else style.pane
    top = mix(glass, "#ffffff", 0.12 if glowing else 0.2)
    layer.box(x, y, wide, high, Paint(mix(glass, "#000000", 0.25), top, "soft", 0.08))
    if wide > 3.4:
        layer.box(x + wide / 2 - 0.35, y, 0.7, high, style.frame, 0.85)
        layer.box(x, y + high * 0.45, wide, 0.7, style.frame, 0.85)
    layer.box(x - 1.2, y + high + 0.6, wide + 2.4, 1.1, mix(style.frame, style.light, 0.25))
    layer.box(x - 1.2, y + high + 1.7, wide + 2.4, 0.9, "#000000", 0.18)
    if glowing:
        layer.glow(x + wide / 2, y + high / 2, wide * 2.6, style.lamp, 0.45)


def windows(
    layer: Layer,
    x: float,
    top: float,
    wide: float,
    high: float,
    grid: tuple[int, int],
    size: tuple[float, float],
    style: Style,
    seed: int,
) -> None:
    """Spread a (rows, columns) grid of windows over a wall."""
    rng = np.random.default_rng(seed)
    rows, columns = grid
    for row in range(rows):
        for column in range(columns):
            px = x + wide * (column + 0.5) / columns - size[0] / 2
            py = top + high * (row + 0.5) / rows - size[1] / 2
            pane(layer, px, py, *size, style, bool(rng.uniform() < style.lit))


def wall(layer: Layer, corners: list[Point], code: str, seed: int, patches: int = 10) -> None:
    """Fill a wall and weather it with odd patches and a damp foot."""
    rng = np.random.default_rng(seed)
    layer.polygon(
        corners, Paint(mix(code, "#ffffff", 0.06), mix(code, "#000000", 0.12), "mottle", 0.08)
    )
    xs, ys = [p[0] for p in corners], [p[1] for p in corners]
    left, right, top, foot = min(xs), max(xs), min(ys), max(ys)
    for _ in range(patches):
        wide, high = rng.uniform(2, 6), rng.uniform(0.8, 1.8)
        if right - left < wide + 2:
            continue
        px = rng.uniform(left + 1, right - wide - 1)
        py = rng.uniform(top + (foot - top) * 0.35, foot - 2)
        layer.box(px, py, wide, high, mix(code, ["#000000", "#ffffff"][rng.integers(2)], 0.3), 0.35)


def gable_house(
    layer: Layer,
    x: float,
    base: float,
    wide: float,
    high: float,
    peak: float,
    centre: Point,
    style: Style,
    seed: int,
    *,
    depth: float = 0.12,
    grid: tuple[int, int] = (2, 3),
    size: tuple[float, float] = (5, 7),
    chimney: bool = True,
) -> None:
    """Draw a house with its gable to the viewer; peak is the gable's height in pixels."""
    top = base - high
    ridge = (x + wide / 2, top - peak)
    near = x + wide if centre[0] > x + wide / 2 else x
    side = style.side or mix(style.wall, "#101420", style.shade)
    flank = [
        (near, base),
        (near, top),
        recede((near, top), centre, depth),
        recede((near, base), centre, depth),
    ]
    if chimney:
        stack(layer, x + wide * 0.32, top - peak * 0.35, wide * 0.09, peak * 0.75, style)
    wall(layer, flank, side, seed + 1, 4)
    slope = [(near, top), ridge, recede(ridge, centre, depth), recede((near, top), centre, depth)]
    layer.polygon(slope, Paint(mix(style.roof, style.light, 0.1), style.roof, "drip", 0.12))
    wall(
        layer, [(x, base), (x, top), ridge, (x + wide, top), (x + wide, base)], style.wall, seed, 14
    )
    for end in (x - 1.5, x + wide + 1.5):
        layer.line([(end, top + 1), (ridge[0], ridge[1] - 0.6)], 1.8, style.roof)
    layer.line(
        [(x - 1.5, top + 0.4), (ridge[0], ridge[1] - 1.4)], 0.7, mix(style.roof, style.light, 0.5)
    )
    windows(layer, x + 2, top + 2, wide - 4, high * 0.78, grid, size, style, seed)
    layer.oval(ridge[0], top - peak * 0.32, size[0] * 0.42, size[0] * 0.42, style.frame)
    layer.oval(ridge[0], top - peak * 0.32, size[0] * 0.3, size[0] * 0.3, style.pane)


def long_house(
    layer: Layer,
    x: float,
    base: float,
    wide: float,
    high: float,
    rise: float,
    centre: Point,
    style: Style,
    seed: int,
    *,
    depth: float = 0.14,
    grid: tuple[int, int] = (2, 6),
    size: tuple[float, float] = (5, 7),
    chimneys: int = 2,
) -> None:
    """Draw a house with its eaves to the viewer; rise is the roof height in pixels."""
    top = base - high
    corners = [(x, top), (x + wide, top)]
    ridge = [recede((px, top - rise * 1.15), centre, depth / 2) for px, _ in corners]
    near = 1 if centre[0] > x + wide / 2 else 0
    back = recede(corners[near], centre, depth)
    foot = recede((corners[near][0], base), centre, depth)
    side = style.side or mix(style.wall, "#101420", style.shade)
    wall(layer, [(corners[near][0], base), corners[near], ridge[near], back, foot], side, seed, 4)
    for n in range(chimneys):
        px = ridge[0][0] + (ridge[1][0] - ridge[0][0]) * (n + 0.6) / (chimneys + 0.2)
        stack(layer, px, ridge[0][1] + 2, wide * 0.035 + 2, rise * 0.55, style)
    layer.polygon(
        [corners[0], ridge[0], ridge[1], corners[1]],
        Paint(mix(style.roof, style.light, 0.16), style.roof, "drip", 0.10),
    )
    for row in range(1, int(rise / 3.2)):
        share = row / (rise / 3.2)
        ends = [recede_line(corners[n], ridge[n], share) for n in (0, 1)]
        layer.line(ends, 0.6, mix(style.roof, "#000000", 0.35), 0.4)
    layer.line(ridge, 1.2, mix(style.roof, style.light, 0.35))
    wall(layer, [(x, base), (x, top), (x + wide, top), (x + wide, base)], style.wall, seed + 2, 18)
    layer.box(x - 1, top, wide + 2, 2.4, "#000000", 0.28)
    layer.box(x - 1, top - 1, wide + 2, 1.5, mix(style.roof, style.light, 0.25))
    windows(layer, x + 2, top + 3, wide - 4, high * 0.74, grid, size, style, seed)


def recede_line(start: Point, end: Point, share: float) -> Point:
    """Return the point a share of the way from start to end."""
    return (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)


def stack(layer: Layer, x: float, base: float, wide: float, high: float, style: Style) -> None:
    """Draw a chimney stack with a capping course and two pots."""
    brick = mix(style.wall, style.roof, 0.5)
    layer.box(
        x,
        base - high,
        wide,
        high + 2,
        Paint(mix(brick, style.light, 0.15), mix(brick, "#000000", 0.3), sideways=True),
    )
    layer.box(x - 0.8, base - high, wide + 1.6, 1.5, mix(brick, "#000000", 0.25))
    for share in (0.15, 0.6):
        layer.box(x + wide * share, base - high - 2.2, wide * 0.25, 2.4, mix(brick, "#5a2a18", 0.4))


def door(
    layer: Layer,
    x: float,
    base: float,
    wide: float,
    high: float,
    code: str,
    arch: bool = False,
    glow: str | None = None,
) -> None:
    """Draw a plank door or an arched opening; with a glow it is a furnace mouth."""
    rim = mix(code, "#000000", 0.5)
    if arch:
        layer.oval(x + wide / 2, base - high, wide / 2 + 1, wide / 2 + 1, rim)
    layer.box(x - 1, base - high, wide + 2, high, rim)
    fill = (
        Paint(glow, mix(glow, "#ffd27a", 0.5), "soft", 0.1) if glow else Paint(code, grain="drip")
    )
    if arch:
        layer.oval(x + wide / 2, base - high, wide / 2, wide / 2, glow or code)
    layer.box(x, base - high, wide, high, fill)
    if glow:
        layer.glow(x + wide / 2, base - high / 2, wide * 2.6, glow, 0.3)
        return
    layer.box(x + wide / 2 - 0.3, base - high, 0.6, high, rim, 0.8)


def quay_wall(
    layer: Layer, x: float, top: float, wide: float, high: float, code: str, weed: str, seed: int
) -> None:
    """Draw the stone face of a quay across the water, with coping and weed."""
    rng = np.random.default_rng(seed)
    layer.box(x, top, wide, high, Paint(code, mix(code, "#000000", 0.35), "streak", 0.10))
    rows = max(2, int(high / 3.2))
    for row in range(rows):
        y = top + high * row / rows
        layer.box(x, y, wide, 0.5, "#000000", 0.25)
        px = x + rng.uniform(0, 8)
        while px < x + wide:
            layer.box(px, y, 0.5, high / rows, "#000000", 0.22)
            px += rng.uniform(6, 12)
    layer.box(x, top + high * 0.66, wide, high * 0.34, Paint(weed, grain="drip", amount=0.2), 0.55)
    layer.box(x - 1, top - 1.6, wide + 2, 2.2, mix(code, "#ffffff", 0.22))
    px = x + rng.uniform(10, 30)
    while px < x + wide - 6:
        layer.box(px, top + 1, 0.6, high - 1, "#1a1a1a", 0.6)
        layer.box(px + 2.2, top + 1, 0.6, high - 1, "#1a1a1a", 0.6)
        for rung in range(int(high / 2)):
            layer.box(px, top + 2 + rung * 2, 2.6, 0.5, "#1a1a1a", 0.6)
        px += rng.uniform(90, 160)
