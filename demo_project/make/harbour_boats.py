"""Boats seen from the side; the waterline lies at y, sizes are in pixels."""

import math

from harbour_layer import Layer, Paint, Point, mix


def sheer(
    x: float,
    y: float,
    length: float,
    face: int,
    stern: float,
    waist: float,
    bow: float,
    rake: float,
) -> list[Point]:
    """Return the deck edge from stern to bow of a hull centred on x."""
    points = []
    for step in range(21):
        t = step / 20
        high = stern * (1 - t) ** 2 + 2 * (2 * waist - (stern + bow) / 2) * t * (1 - t) + bow * t**2
        across = (t - 0.5) * length + rake * t**3
        points.append((x + face * across, y - high))
    return points


def hull(
    layer: Layer,
    x: float,
    y: float,
    length: float,
    face: int,
    code: str,
    boot: str,
    rail: str,
    height: float,
) -> list[Point]:
    """Draw a hull with boot topping, planking and rail; returns the deck edge."""
    edge = sheer(x, y, length, face, height * 0.95, height * 0.7, height * 1.5, height * 0.6)
    stem = (x + face * (length * 0.5 - height * 0.15), y)
    heel = (x - face * (length * 0.5 - height * 0.3), y)
    layer.polygon(
        [*edge, stem, heel],
        Paint(mix(code, "#ffffff", 0.1), mix(code, "#000000", 0.3), "streak", 0.1),
    )
    layer.polygon(
        [
            stem,
            heel,
            (heel[0] - face * height * 0.12, y - height * 0.25),
            (stem[0] + face * height * 0.14, y - height * 0.25),
        ],
        boot,
        0.9,
    )
    for share in (0.3, 0.55):
        plank = [(px, py + (y - py) * share) for px, py in edge[1:-1]]
        layer.line(plank, 0.5, "#000000", 0.22)
    layer.line(edge, max(1.2, height * 0.11), rail)
    under = [(px, py + height * 0.1) for px, py in edge]
    layer.line(under, 0.7, "#000000", 0.3)
    return edge


def cabin(
    layer: Layer,
    x: float,
    base: float,
    wide: float,
    high: float,
    wall: str,
    roof: str,
    glass: str,
    panes: int,
) -> None:
    """Draw a wheelhouse standing on the deck at ``base``."""
    layer.box(
        x,
        base - high,
        wide,
        high,
        Paint(mix(wall, "#ffffff", 0.12), mix(wall, "#000000", 0.2), "drip", 0.07),
    )
    layer.box(x - wide * 0.06, base - high - 2, wide * 1.12, 2.6, roof)
    layer.box(x, base - high + 0.6, wide, 1.2, "#000000", 0.3)
    step = wide / panes
    for n in range(panes):
        layer.box(
            x + n * step + step * 0.16,
            base - high * 0.82,
            step * 0.68,
            high * 0.36,
            Paint(mix(glass, "#000000", 0.25), mix(glass, "#ffffff", 0.25), "soft", 0.06),
        )


def sloop(
    layer: Layer,
    x: float,
    y: float,
    length: float,
    face: int,
    code: str,
    boot: str,
    sail: str,
    stripe: str,
    mast: str,
) -> None:
    """Draw a small sailing boat with main sail and jib set."""
    height = length * 0.13
    foot = y - height
    top = (x + face * length * 0.06, y - length * 1.25)
    layer.line([(top[0], foot), top], max(0.9, length * 0.02), mast)
    main = [(top[0] - face, foot - length * 0.1), (top[0] - face * 0.6, top[1] + 1)]
    for step in range(1, 11):
        t = step / 10
        belly = math.sin(t * math.pi) * length * 0.05
        main.append(
            (
                top[0] - face * (length * 0.5 * t + belly),
                top[1] + (foot - length * 0.1 - top[1]) * t,
            )
        )
    layer.polygon(
        main,
        Paint(mix(sail, "#ffffff", 0.2), mix(sail, "#203040", 0.16), "drip", 0.04, sideways=True),
    )
    band = [
        (top[0] - face * 0.8, top[1] + length * 0.5),
        (top[0] - face * 0.8, top[1] + length * 0.64),
        (top[0] - face * length * 0.31, top[1] + length * 0.64),
        (top[0] - face * length * 0.25, top[1] + length * 0.5),
    ]
    layer.polygon(band, stripe, 0.85)
    bow = (x + face * length * 0.55, y - height * 1.3)
    jib = [
        (top[0] + face * 0.8, top[1] + length * 0.22),
        (top[0] + face * length * 0.12, foot - length * 0.08),
        bow,
    ]
    layer.polygon(jib, Paint(mix(sail, "#ffffff", 0.1), mix(sail, "#203040", 0.22), sideways=True))
    layer.line(
        [(top[0], foot - length * 0.09), (top[0] - face * length * 0.54, foot - length * 0.09)],
        1.0,
        mast,
    )
    hull(layer, x, y, length, face, code, boot, mix(code, "#ffffff", 0.5), height)


def rowboat(
    layer: Layer, x: float, y: float, length: float, face: int, code: str, rail: str
) -> None:
    """Draw an open boat with thwarts and shipped oars."""
    height = length * 0.14
    back = [
        (px, py - height * 0.22)
        for px, py in sheer(
            x, y, length * 0.96, face, height, height * 0.75, height * 1.3, height * 0.3
        )
    ]
    front = sheer(x, y, length, face, height * 0.95, height * 0.7, height * 1.5, height * 0.6)
    layer.polygon([*back, *front[::-1]], mix(code, "#000000", 0.55))
    for share in (0.35, 0.6):
        px = x + face * (share - 0.5) * length
        layer.box(px - length * 0.03, y - height * 1.0, length * 0.06, height * 0.4, rail)
    oar = [
        (x - face * length * 0.42, y - height * 1.35),
        (x + face * length * 0.3, y - height * 1.05),
    ]
    layer.line(oar, 1.1, mix(rail, "#ffffff", 0.2))
    hull(layer, x, y, length, face, code, mix(code, "#000000", 0.4), rail, height)


def barge(
    layer: Layer,
    x: float,
    y: float,
    length: float,
    face: int,
    code: str,
    boot: str,
    heap: str,
    rim: str,
) -> None:
    """Draw a flat barge loaded with a heap of coal."""
    height = length * 0.085
    left = x - length * 0.36
    mound = [
        (
            left + length * 0.72 * n / 24,
            y
            - height * 0.8
            - length
            * 0.04
            * math.sin(math.pi * n / 24) ** 0.5
            * (1.1 + 0.35 * math.sin(n * 0.8 + 1)),
        )
        for n in range(25)
    ]
    layer.polygon(
        [*mound, (left + length * 0.72, y - height * 0.4), (left, y - height * 0.4)],
        Paint(mix(heap, rim, 0.2), heap, "grit", 0.22),
    )
    layer.line(mound, 0.9, rim, 0.7)
    hull(layer, x, y, length, face, code, boot, mix(code, rim, 0.4), height)
    cabin(
        layer,
        x - face * length * 0.43 - length * 0.05,
        y - height * 0.8,
        length * 0.1,
        length * 0.07,
        mix(code, rim, 0.25),
        code,
        rim,
        2,
    )


def buoy(layer: Layer, x: float, y: float, size: float, code: str, light: str) -> None:
    """Draw a cage buoy leaning a little."""
    layer.polygon(
        [
            (x - size * 0.5, y),
            (x - size * 0.4, y - size * 0.45),
            (x + size * 0.45, y - size * 0.4),
            (x + size * 0.5, y),
        ],
        Paint(mix(code, light, 0.35), mix(code, "#000000", 0.35), sideways=True),
    )
    tip = (x + size * 0.12, y - size * 1.5)
    for dx in (-0.3, 0.0, 0.35):
        layer.line([(x + size * dx, y - size * 0.4), tip], 0.9, mix(code, "#000000", 0.3))
    layer.oval(tip[0], tip[1], size * 0.16, size * 0.2, light)
