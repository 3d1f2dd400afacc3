"""Iron things that stand tall: quay cranes, chimneys, lighthouse, lamp posts."""

import math

from harbour_layer import Layer, Paint, Point, mix


def lattice(
    layer: Layer,
    start: Point,
    end: Point,
    foot: float,
    tip: float,
    code: str,
    bays: int,
    thick: float = 1.0,
) -> None:
    """Draw a braced girder that tapers from ``foot`` to ``tip`` pixels wide."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    nx, ny = -dy / length, dx / length

    def at(share: float, side: int) -> Point:
        half = (foot + (tip - foot) * share) / 2 * side
        return (start[0] + dx * share + nx * half, start[1] + dy * share + ny * half)

    for bay in range(bays):
        low, high = bay / bays, (bay + 1) / bays
        layer.line([at(low, -1), at(high, 1)], thick * 0.6, code, 0.9)
        layer.line([at(low, 1), at(high, -1)], thick * 0.6, code, 0.9)
        layer.line([at(high, -1), at(high, 1)], thick * 0.6, code, 0.9)
    layer.line([at(0, -1), at(1, -1)], thick, code)
    layer.line([at(0, 1), at(1, 1)], thick, mix(code, "#ffffff", 0.12))


def crane(
    layer: Layer,
    x: float,
    base: float,
    size: float,
    code: str,
    face: int = 1,
    lift: float = 0.75,
    load: bool = True,
    glass: str = "#9db4bb",
) -> None:
    """Draw a portal crane; size is its height to the cab in pixels, face its side."""
    dark = mix(code, "#000000", 0.35)
    deck = base - size * 0.42
    for leg in (-1, 1):
        lattice(
            layer,
            (x + leg * size * 0.26, base),
            (x + leg * size * 0.16, deck),
            size * 0.07,
            size * 0.06,
            code,
            4,
            1.1,
        )
        layer.box(x + leg * size * 0.26 - size * 0.07, base - 3, size * 0.14, 3, dark)
    layer.box(x - size * 0.24, deck - size * 0.06, size * 0.48, size * 0.06, Paint(code, dark))
    layer.box(x - size * 0.08, deck - size * 0.14, size * 0.16, size * 0.08, dark)
    cab = deck - size * 0.14
    rear = -face * size * 0.26
    house = [
        (x + rear, cab),
        (x + rear, cab - size * 0.2),
        (x + face * size * 0.02, cab - size * 0.26),
        (x + face * size * 0.15, cab - size * 0.2),
        (x + face * size * 0.15, cab),
    ]
    layer.polygon(house, Paint(mix(code, "#ffffff", 0.14), dark, "drip", 0.1))
    pane_x = x + face * size * 0.09 - size * 0.04
    layer.box(pane_x, cab - size * 0.16, size * 0.08, size * 0.08, glass)
    heel = (x + face * size * 0.1, cab - size * 0.12)
    reach = size * 0.95
    tip = (heel[0] + face * reach * math.cos(lift), heel[1] - reach * math.sin(lift))
    mast = (x - face * size * 0.1, cab - size * 0.55)
    lattice(
        layer,
        (x - face * size * 0.08, cab - size * 0.2),
        mast,
        size * 0.08,
        size * 0.03,
        code,
        4,
        0.9,
    )
    lattice(layer, heel, tip, size * 0.09, size * 0.03, code, 10, 1.0)
    for point in (tip, (heel[0] + (tip[0] - heel[0]) * 0.6, heel[1] + (tip[1] - heel[1]) * 0.6)):
        layer.line([mast, point], 0.6, dark, 0.9)
    layer.line([mast, (x + rear * 0.9, cab - size * 0.2)], 0.7, dark)
    drop = tip[1] + (deck - tip[1]) * 0.72
    layer.line([tip, (tip[0], drop)], 0.6, dark)
    layer.box(tip[0] - 1.2, drop, 2.4, 3, dark)
    if load:
        wide = size * 0.17
        layer.line([(tip[0], drop + 3), (tip[0] - wide / 2, drop + 9)], 0.5, dark)
        layer.line([(tip[0], drop + 3), (tip[0] + wide / 2, drop + 9)], 0.5, dark)
        layer.box(
            tip[0] - wide / 2,
            drop + 9,
            wide,
            wide * 0.55,
            Paint(mix("#a87c48", code, 0.3), mix("#6a4a2a", code, 0.3), "streak", 0.1),
        )


def chimney(
    layer: Layer,
    x: float,
    base: float,
    high: float,
    wide: float,
    code: str,
    lit: str,
    face: int = 1,
) -> None:
    """Draw a tapering works chimney, lit from one side; sizes in pixels."""
    top = base - high
    shape = [
        (x - wide / 2, base),
        (x - wide * 0.3, top),
        (x + wide * 0.3, top),
        (x + wide / 2, base),
    ]
    ends = (code, lit) if face > 0 else (lit, code)
    layer.polygon(shape, Paint(*ends, grain="drip", amount=0.1, sideways=True))
    for share in (0.0, 0.06, 0.5):
        y = top + high * share
        half = wide * (0.3 + 0.2 * share) + 0.8
        layer.box(x - half, y, half * 2, 1.6, Paint(*ends, sideways=True))


def lighthouse(
    layer: Layer,
    x: float,
    base: float,
    high: float,
    wide: float,
    wall: str,
    band: str,
    lamp: str,
    shade: str,
) -> None:
    """Draw a banded lighthouse with gallery and lamp room; sizes in pixels."""
    top = base - high

    def half(y: float) -> float:
        return wide / 2 * (0.62 + 0.38 * ((y - top) / high) ** 1.5)

    for step in range(5):
        y0, y1 = top + high * step / 5, top + high * (step + 1) / 5
        tone = band if step % 2 else wall
        shape = [(x - half(y0), y0), (x + half(y0), y0), (x + half(y1), y1), (x - half(y1), y1)]
        layer.polygon(
            shape,
            Paint(mix(tone, "#ffffff", 0.1), mix(tone, shade, 0.7), "mottle", 0.06, sideways=True),
        )
    for share in (0.25, 0.6):
        layer.box(x - 1.3, top + high * share, 2.6, 4.5, mix(lamp, "#805020", 0.3))
    layer.box(x - wide * 0.42, top - 2, wide * 0.84, 2.6, mix(wall, shade, 0.55))
    room = wide * 0.24
    layer.box(x - room, top - wide * 0.42, room * 2, wide * 0.42 - 2, lamp)
    for share in (-1.0, -0.35, 0.35, 1.0):
        layer.box(x + room * share - 0.4, top - wide * 0.42, 0.8, wide * 0.42 - 2, shade)
    for post in range(9):
        layer.box(x - wide * 0.4 + wide * 0.1 * post - 0.2, top - 6, 0.5, 4, shade)
    layer.box(x - wide * 0.4, top - 6, wide * 0.8, 0.6, shade)
    dome = top - wide * 0.42
    layer.polygon(
        [(x - room - 1.5, dome + 0.5), (x, dome - wide * 0.3), (x + room + 1.5, dome + 0.5)],
        Paint(mix(band, "#ffffff", 0.1), mix(band, shade, 0.7), sideways=True),
    )
    layer.line([(x, dome - wide * 0.3), (x, dome - wide * 0.5)], 0.7, shade)


def lamp_post(
    layer: Layer, x: float, base: float, high: float, iron: str, lamp: str, lit: bool, light: str
) -> None:
    """Draw a street lamp on an iron post; sizes in pixels."""
    edge = mix(iron, light, 0.4)
    layer.oval(x, base, 9, 2.2, "#000000", 0.3, blur=0.8)
    for half, foot, tall in ((5.5, 0, 4), (4, 4, 10), (2.6, 14, 4)):
        layer.box(x - half, base - foot - tall, half * 2, tall, Paint(iron, edge, sideways=True))
    layer.box(x - 1.7, base - high, 3.4, high - 16, Paint(iron, edge, "drip", 0.06, sideways=True))
    layer.box(x - 10, base - high + 9, 20, 1.6, iron)
    top = base - high
    glass = [(x - 4.5, top), (x + 4.5, top), (x + 6.5, top - 13), (x - 6.5, top - 13)]
    layer.polygon(
        glass, Paint(mix(lamp, "#ffffff", 0.4), lamp, "soft", 0.04), 0.95 if lit else 0.75
    )
    for dx, up in ((-4.5, -6.5), (0, 0), (4.5, 6.5)):
        layer.line([(x + dx, top), (x + up, top - 13)], 0.9, iron)
    layer.box(x - 5.5, top - 1, 11, 2.4, iron)
    layer.polygon(
        [(x - 8.5, top - 12.5), (x, top - 20), (x + 8.5, top - 12.5)],
        Paint(iron, edge, sideways=True),
    )
    layer.oval(x, top - 21, 1.5, 1.8, iron)
    if lit:
        layer.glow(x, top - 6, 24, lamp, 0.8)
