"""Quay-side things near the viewer: crates, barrels, bollards, ropes, gulls."""

import math

import numpy as np
from harbour_layer import Layer, Paint, Point, mix


def shadow(layer: Layer, x: float, base: float, half: float, opacity: float = 0.35) -> None:
    """Seat a thing on the ground with a soft contact shadow."""
    layer.oval(x, base - 0.5, half * 1.12, max(1.8, half * 0.13), "#05070c", opacity, blur=1.2)


def crate(
    layer: Layer,
    x: float,
    base: float,
    size: float,
    wood: str,
    light: str,
    dark: str,
    turn: int = 1,
) -> None:
    """Draw a planked crate: front face, narrow side face and lid; size in pixels."""
    high, side, lid = size * 0.86, size * 0.2 * turn, size * 0.11
    left, right, top = x - size / 2, x + size / 2, base - high
    shadow(layer, x + side * 0.6, base, size * 0.62)
    edge = right if turn > 0 else left
    layer.polygon(
        [(edge, base), (edge, top), (edge + side, top - lid), (edge + side, base - lid)],
        Paint(mix(wood, dark, 0.45), mix(wood, dark, 0.65), "streak", 0.14),
    )
    layer.polygon(
        [(left, top), (right, top), (right + side, top - lid), (left + side, top - lid)],
        Paint(mix(wood, light, 0.45), mix(wood, light, 0.25), "streak", 0.1),
    )
    planks = 5
    for n in range(planks):
        tone = mix(wood, [light, dark][n % 2], 0.08 + 0.05 * (n % 3))
        layer.box(
            left,
            top + high * n / planks,
            size,
            high / planks,
            Paint(tone, mix(tone, dark, 0.12), "streak", 0.14),
        )
        layer.box(left, top + high * (n + 1) / planks - 0.7, size, 0.7, dark, 0.5)
    beam = size * 0.12
    layer.polygon(
        [
            (left + beam, base - beam),
            (left + beam * 1.9, base - beam),
            (right - beam, top + beam),
            (right - beam * 1.9, top + beam),
        ],
        Paint(mix(wood, light, 0.12), grain="streak", amount=0.12),
    )
    for bx, by, bw, bh in (
        (left, top, size, beam),
        (left, base - beam, size, beam),
        (left, top, beam, high),
        (right - beam, top, beam, high),
    ):
        layer.box(
            bx, by, bw, bh, Paint(mix(wood, light, 0.24), mix(wood, dark, 0.08), "streak", 0.12)
        )
    for nx in (left + beam / 2, right - beam / 2):
        for ny in (top + beam / 2, base - beam / 2):
            layer.oval(nx, ny, 0.7, 0.7, dark, 0.8)
    layer.box(left, top + beam, size, 0.8, dark, 0.45)
    layer.line([(left, top), (right, top)], 0.9, mix(wood, light, 0.65))


def barrel(
    layer: Layer, x: float, base: float, size: float, wood: str, light: str, dark: str, hoop: str
) -> None:
    """Draw a standing barrel; size is its height in pixels."""
    shadow(layer, x + 1, base, size * 0.4)

    def half(share: float) -> float:
        return size * (0.29 + 0.085 * math.sin(math.pi * share))

    steps = [n / 12 for n in range(13)]
    outline = [(x - half(t), base - size * t) for t in steps]
    outline += [(x + half(t), base - size * t) for t in reversed(steps)]
    layer.polygon(
        outline, Paint(mix(wood, light, 0.35), mix(wood, dark, 0.6), "drip", 0.12, sideways=True)
    )
    for stave in (-0.7, -0.38, 0.0, 0.36, 0.68):
        layer.line([(x + half(t) * stave, base - size * t) for t in steps], 0.6, dark, 0.4)
    for share in (0.1, 0.32, 0.68, 0.9):
        y = base - size * share
        layer.box(
            x - half(share) - 0.3,
            y - size * 0.03,
            half(share) * 2 + 0.6,
            size * 0.06,
            Paint(mix(hoop, light, 0.4), mix(hoop, dark, 0.6), sideways=True),
        )
    layer.oval(x, base - size, half(1), size * 0.06, mix(wood, dark, 0.3))
    layer.oval(x, base - size + 0.8, half(1) * 0.82, size * 0.038, mix(wood, light, 0.2))


def bollard(layer: Layer, x: float, base: float, size: float, iron: str, light: str) -> None:
    """Draw an iron mooring bollard with a waisted neck; size is its height in pixels."""
    shadow(layer, x, base, size * 0.45)
    dark = mix(iron, "#000000", 0.5)
    shape = [
        (-0.42, 0),
        (-0.36, 0.1),
        (-0.24, 0.25),
        (-0.22, 0.6),
        (-0.38, 0.74),
        (-0.4, 0.9),
        (-0.24, 1.0),
    ]
    outline = [(x + size * u, base - size * v) for u, v in shape]
    outline += [(x - size * u, base - size * v) for u, v in reversed(shape)]
    layer.polygon(outline, Paint(mix(iron, light, 0.3), dark, "mottle", 0.1, sideways=True))
    layer.oval(x, base - size * 0.94, size * 0.27, size * 0.06, mix(iron, light, 0.45))


def rope(layer: Layer, start: Point, end: Point, sag: float, code: str, width: float = 1.4) -> None:
    """Hang a rope between two points, sagging by some pixels at its middle."""
    points = []
    for step in range(25):
        t = step / 24
        points.append(
            (
                start[0] + (end[0] - start[0]) * t,
                start[1] + (end[1] - start[1]) * t + sag * 4 * t * (1 - t),
            )
        )
    layer.line([(px, py + width * 0.4) for px, py in points], width, mix(code, "#000000", 0.5))
    layer.line(points, width * 0.7, code)


def coil(layer: Layer, x: float, base: float, size: float, code: str) -> None:
    """Draw a flat coil of rope lying on the ground; size is its half width."""
    shadow(layer, x, base + 0.5, size)
    for ring in range(4):
        y = base - size * 0.16 - ring * size * 0.12
        reach = size * (1 - ring * 0.07)
        layer.oval(x, y, reach, reach * 0.24, mix(code, "#000000", 0.5))
        layer.oval(
            x,
            y - size * 0.045,
            reach * 0.97,
            reach * 0.22,
            Paint(mix(code, "#ffffff", 0.12), code, "streak", 0.2),
        )
    layer.oval(x, base - size * 0.55, size * 0.45, size * 0.1, mix(code, "#000000", 0.65))


def gull(layer: Layer, x: float, y: float, span: float, phase: float, body: str, tip: str) -> None:
    """Draw a gliding gull from two curved wings; span in pixels, phase lifts them."""
    for side in (-1, 1):
        lift = 0.2 + 0.12 * math.sin(phase + side * 0.4)
        upper, lower = [], []
        for step in range(11):
            t = step / 10
            px = x + side * span / 2 * t
            py = y - span * lift * math.sin(min(t * 1.25, 1) * math.pi * 0.62) + span * 0.16 * t**3
            thick = span * 0.055 * (1 - t) ** 0.7
            upper.append((px, py - thick * 0.5))
            lower.append((px, py + thick * 0.7))
        layer.polygon([*upper, *lower[::-1]], Paint(body, mix(body, tip, 0.25), amount=0.02))
        layer.line(upper[7:], max(0.7, span * 0.03), tip)
    layer.oval(x, y + span * 0.01, span * 0.12, span * 0.042, body)
    layer.oval(x + span * 0.12, y, span * 0.035, span * 0.032, body)


def perched_gull(layer: Layer, x: float, base: float, size: float, face: int) -> None:
    """Draw a gull standing; size is its height in pixels, base its feet."""
    for dx in (-0.06, 0.08):
        layer.line([(x + size * dx, base), (x + size * dx, base - size * 0.3)], 0.8, "#c98f3a")
    layer.oval(
        x, base - size * 0.5, size * 0.4, size * 0.24, Paint("#f4f6f6", "#b9c2c8", amount=0.03)
    )
    wing = [
        (x + face * size * 0.28, base - size * 0.62),
        (x - face * size * 0.1, base - size * 0.72),
        (x - face * size * 0.62, base - size * 0.4),
        (x - face * size * 0.2, base - size * 0.38),
    ]
    layer.polygon(wing, Paint("#93a0aa", "#6d7a85", amount=0.05))
    layer.polygon(
        [
            wing[2],
            (x - face * size * 0.4, base - size * 0.55),
            (x - face * size * 0.34, base - size * 0.42),
        ],
        "#2c3138",
    )
    layer.oval(x + face * size * 0.3, base - size * 0.82, size * 0.17, size * 0.16, "#f6f8f8")
    layer.polygon(
        [
            (x + face * size * 0.44, base - size * 0.87),
            (x + face * size * 0.68, base - size * 0.77),
            (x + face * size * 0.44, base - size * 0.76),
        ],
        "#e0a02c",
    )
    layer.oval(x + face * size * 0.35, base - size * 0.85, 0.6, 0.6, "#15181c")


def sacks(
    layer: Layer, x: float, base: float, size: float, cloth: str, dark: str, light: str = "#ffffff"
) -> None:
    """Draw a small heap of tied sacks; size is one sack's width in pixels."""
    shadow(layer, x, base, size * 1.1)
    for dx, dy in ((-0.5, 0.0), (0.5, 0.0), (0.0, 0.52)):
        cx, cy = x + dx * size, base - dy * size - size * 0.3
        layer.oval(
            cx,
            cy,
            size * 0.53,
            size * 0.33,
            Paint(mix(cloth, light, 0.3), mix(cloth, dark, 0.55), "mottle", 0.1),
        )
        layer.line(
            [(cx - size * 0.1, cy - size * 0.2), (cx + size * 0.2, cy + size * 0.1)], 0.8, dark, 0.3
        )
        layer.oval(
            cx + size * 0.47, cy - size * 0.14, size * 0.09, size * 0.12, mix(cloth, dark, 0.25)
        )


def snow_cap(layer: Layer, x: float, top: float, half: float, seed: int, deep: float = 3.0) -> None:
    """Heap snow on a flat top; half width and depth in pixels."""
    rng = np.random.default_rng(seed)
    upper, lower = [], []
    for step in range(13):
        t = step / 12 * 2 - 1
        upper.append((x + half * t, top - deep * (1 - t**4) * rng.uniform(0.8, 1.05)))
        lower.append((x + half * t, top + rng.uniform(0.2, 1.0) + (1.2 if step % 4 == 2 else 0)))
    layer.polygon([*upper, *lower[::-1]], Paint("#e9f1fb", "#a9bddb", "soft", 0.04))
