"""Palmsteps: bright noon, white terraces, palms and turquoise water."""

import harbour_boats as boats
import harbour_buildings as houses
import harbour_ground as ground
import harbour_land as land
import harbour_plants as plants
import harbour_props as props
import harbour_sky as sky
import harbour_water as water
from harbour_finish import paint_over
from harbour_layer import Layer, Paint, mix

HORIZON = 192.0
CENTRE = (330.0, HORIZON)
EDGE = 272.0
CLOUD = 13
LEAF = ("#4d8f3c", "#d6e86a", "#123c34")
AIR = "#cfeaf2"


def _sky(canvas: Layer) -> None:
    """Paint a clear sky with fair-weather clouds and far capes."""
    sky.backdrop(canvas, [(0, "#2f86d6"), (70, "#56aee8"), (140, "#9fd8f2"), (194, "#dff4f2")])
    sky.clouds(
        canvas,
        "#ffffff",
        "#a9c9e2",
        low=176,
        high=28,
        cover=-0.4,
        stretch=1.5,
        opacity=0.95,
        shift=CLOUD,
        edge=0.7,
    )
    capes = Layer()
    land.hills(
        capes, land.ridge(33, 197, 46, 0.48), 198, Paint("#8fb8d0", "#b9dbe2", "soft", 0.025)
    )
    land.hills(capes, land.ridge(35, 198, 20, 0.5), 199, Paint("#84b3b4", "#a9d2c8", "soft", 0.03))
    canvas.add(capes, 0.9)


def _house(
    layer: Layer,
    x: float,
    base: float,
    wide: float,
    high: float,
    tone: str,
    shutter: str,
    seed: int,
    columns: int,
) -> None:
    """Draw a flat-roofed white house with shutters, parapet and side wall in shade."""
    top = base - high
    near = x + wide if CENTRE[0] > x + wide / 2 else x
    back = [houses.recede((near, y), CENTRE, 0.12) for y in (top, base)]
    layer.polygon(
        [(near, base), (near, top), back[0], back[1]],
        Paint(mix(tone, "#7fa0cc", 0.55), mix(tone, "#7f98c0", 0.45)),
    )
    houses.wall(layer, [(x, base), (x, top), (x + wide, top), (x + wide, base)], tone, seed, 6)
    layer.box(x - 1.2, top - 2.4, wide + 2.4, 3, mix(tone, "#ffffff", 0.6))
    layer.box(x, top + 0.6, wide, 1.6, "#5f7fb0", 0.3)
    size = min(5.5, wide / columns * 0.42)
    for n in range(columns):
        px = x + wide * (n + 0.5) / columns - size / 2
        for row in range(max(1, int(high / 19))):
            py = top + 6 + row * 17
            layer.box(px, py, size, 8, Paint("#24455e", "#4f86a0"))
            layer.box(
                px - size * 0.62,
                py - 0.5,
                size * 0.55,
                9,
                Paint(shutter, mix(shutter, "#000000", 0.2), "streak"),
            )
            layer.box(
                px + size * 1.07,
                py - 0.5,
                size * 0.55,
                9,
                Paint(shutter, mix(shutter, "#000000", 0.2), "streak"),
            )
            layer.box(px - size * 0.5, py + 8.6, size * 2, 1.2, "#ffffff")
            layer.box(px - size * 0.3, py + 9.8, size * 2, 1.2, "#5f7fb0", 0.3)


def _arcade(
    layer: Layer, x: float, base: float, wide: float, high: float, tone: str, arches: int
) -> None:
    """Draw a terrace front pierced by shaded arches, with a balustrade on top."""
    layer.box(
        x,
        base - high,
        wide,
        high,
        Paint(mix(tone, "#ffffff", 0.3), mix(tone, "#c8a878", 0.3), "mottle", 0.05),
    )
    step = wide / arches
    for n in range(arches):
        cx, half = x + step * (n + 0.5), step * 0.29
        layer.oval(cx, base - high * 0.5, half, half, "#6a7ea4")
        layer.box(cx - half, base - high * 0.5, half * 2, high * 0.5, Paint("#6a7ea4", "#8f8a9a"))
        layer.oval(cx + half * 0.3, base - high * 0.47, half * 0.72, half * 0.85, "#46587e")
        layer.box(
            cx - half * 0.42,
            base - high * 0.5,
            half * 1.42,
            high * 0.5,
            Paint("#46587e", "#6a6a84"),
        )
    top = base - high
    layer.box(x - 1.5, top - 1, wide + 3, 2.4, "#ffffff")
    layer.box(x, top + 1.6, wide, 1.2, "#5f7fb0", 0.35)
    for n in range(int(wide / 3.2)):
        layer.box(x + n * 3.2 + 0.6, top - 6, 1.3, 5, mix(tone, "#ffffff", 0.4))
    layer.box(x - 1, top - 7, wide + 2, 1.6, "#ffffff")


def _stairs(
    layer: Layer, x: float, base: float, wide: float, high: float, steps: int, lean: float
) -> None:
    """Draw a flight of steps that climbs away, narrowing and leaning a little."""
    for n in range(steps):
        t, u = n / steps, (n + 1) / steps
        left, right = x + lean * t + wide * 0.12 * t, x + wide + lean * t - wide * 0.12 * t
        y = base - high * t
        rise = base - high * u
        layer.polygon(
            [(left, y), (right, y), (right + lean / steps, rise), (left + lean / steps, rise)],
            Paint("#fdf6e6", "#b9b4c4"),
        )
        layer.line([(left, y), (right, y)], 0.6, "#8c94b4", 0.7)


def _left(layer: Layer) -> None:
    """Build the terraces that climb the left bank."""
    land.hills(
        layer,
        [(-10, 84), (40, 92), (96, 118), (150, 146), (206, 172), (262, 194)],
        206,
        Paint("#7fa05a", "#b9b07a", "mottle", 0.14),
    )
    _house(layer, 6, 116, 46, 32, "#fbf3e4", "#3f8fb0", 1, 3)
    _house(layer, 62, 134, 40, 30, "#fdeedd", "#d0704a", 2, 3)
    plants.shrub(layer, 58, 136, 24, 12, *LEAF, None, 3)
    _arcade(layer, -8, 162, 132, 24, "#f6ead2", 8)
    plants.shrub(layer, 112, 139, 30, 9, *LEAF, "#e0408c", 4)
    _house(layer, 132, 172, 42, 32, "#fff8ea", "#3f8fb0", 5, 3)
    _arcade(layer, -8, 204, 196, 30, "#f3e4c8", 10)
    _stairs(layer, 190, 204, 30, 34, 11, -14)
    _house(layer, 222, 203, 36, 26, "#fbeedb", "#4a9a7a", 6, 2)
    plants.shrub(layer, 24, 168, 40, 10, *LEAF, "#e0408c", 7)
    plants.shrub(layer, 96, 168, 34, 9, *LEAF, "#f2a03c", 8)
    for x, base, high, lean, seed in (
        (52, 163, 58, 8, 1),
        (126, 163, 50, -6, 2),
        (216, 180, 48, 7, 3),
    ):
        plants.palm(layer, x, base, high, lean, *LEAF, "#a58a60", seed, 0.36)


def _right(layer: Layer) -> None:
    """Build the smaller terraces on the right bank."""
    land.hills(
        layer,
        [(410, 196), (462, 178), (520, 150), (580, 126), (650, 104)],
        206,
        Paint("#86a660", "#bdb27c", "mottle", 0.14),
    )
    _house(layer, 592, 146, 50, 34, "#fdf3e2", "#d0704a", 11, 3)
    _arcade(layer, 540, 172, 110, 24, "#f6ead2", 7)
    _house(layer, 494, 174, 40, 30, "#fff8ea", "#4a9a7a", 12, 3)
    plants.shrub(layer, 552, 150, 34, 10, *LEAF, "#f2a03c", 13)
    _arcade(layer, 484, 204, 176, 28, "#f3e4c8", 9)
    _stairs(layer, 452, 204, 28, 30, 10, 14)
    _house(layer, 420, 203, 30, 22, "#fbeedb", "#3f8fb0", 14, 2)
    plants.shrub(layer, 612, 178, 44, 10, *LEAF, "#e0408c", 15)
    for x, base, high, lean, seed in (
        (540, 177, 54, -8, 4),
        (480, 178, 44, -5, 5),
        (628, 176, 56, 6, 6),
    ):
        plants.palm(layer, x, base, high, lean, *LEAF, "#a58a60", seed, 0.36)


def _middle(canvas: Layer) -> None:
    """Paint both banks and their low quays."""
    bank = Layer()
    _left(bank)
    _right(bank)
    houses.quay_wall(bank, -10, 204, 276, 7, "#e6d4ae", "#5f9a8a", 23)
    houses.quay_wall(bank, 412, 204, 240, 7, "#e6d4ae", "#5f9a8a", 24)
    bank.tint(AIR, 0.08)
    canvas.add(bank)


def _boats(canvas: Layer) -> None:
    """Float sailing and rowing boats."""
    far = Layer()
    boats.sloop(far, 348, 200, 20, 1, "#f2ead8", "#c9503c", "#ffffff", "#e0704a", "#8a6a44")
    boats.sloop(far, 384, 199, 15, -1, "#f2ead8", "#3f7ab0", "#fff6e0", "#3f9ab0", "#8a6a44")
    water.float_on(canvas, far, 200, HORIZON, 3, 0.5)
    middle = Layer()
    boats.sloop(middle, 300, 222, 56, 1, "#f7efe0", "#c9503c", "#fff9ea", "#e0603c", "#8a6a44")
    boats.rowboat(middle, 494, 222, 44, -1, "#e0a03c", "#fff2d0")
    water.float_on(canvas, middle, 222, HORIZON, 5, 0.5)
    near = Layer()
    boats.rowboat(near, 176, 245, 82, 1, "#2f8fb0", "#fff2d0")
    boats.sloop(near, 432, 244, 84, -1, "#d8503c", "#fff2d0", "#fff4d6", "#2f9ab0", "#8a6a44")
    water.float_on(canvas, near, 245, HORIZON, 8, 0.5)


def _promenade(canvas: Layer) -> None:
    """Lay the sandstone promenade and frame it with palms."""
    ground.surface(canvas, EDGE, HORIZON, "#efdcb4", "#d9bd8c", 0.04)
    ground.slabs(canvas, EDGE, HORIZON, "#a08050", "#fff6dc", 52, 4, 39, 0.24, first=8)
    ground.calm(canvas, EDGE, "#e6d0a4", 0.2)
    ground.coping(canvas, EDGE, 8, "#f4e6c8", "#ffffff", "#a8885c", 58, 9)
    plants.palm_shadow(canvas, (30, 287), (92, 304), 66, 51, "#6a6078")
    plants.palm_shadow(canvas, (618, 286), (668, 302), 60, 52, "#6a6078")
    for x in (30, 618):
        canvas.oval(x, 286.5, 15, 3.4, "#a88a5c")
        canvas.oval(x, 286, 13, 2.6, Paint("#7a5a3a", "#5a4028", "grit", 0.2))
    goods = Layer()
    plants.palm(goods, 30, 286, 228, 26, *LEAF, "#b09468", 51, 0.4)
    plants.palm(goods, 618, 285, 196, -22, *LEAF, "#b09468", 52, 0.42)
    wood = ("#c99a5c", "#fff2d0", "#5a3c24")
    props.crate(goods, 84, 285, 34, *wood)
    props.barrel(goods, 568, 285, 32, "#b07c48", "#fff2d0", "#4a3020", "#5f7f90")
    for x, seed in ((122, 61), (536, 62)):
        plants.pot(goods, x, 284, 17, "#c9683c", "#ffd8a8", "#5a2a20")
        plants.shrub(goods, x, 270, 28, 17, *LEAF, "#e0408c", seed)
    for x in (262, 352):
        props.bollard(goods, x, 281, 17, "#4f6a80", "#ffffff")
    props.rope(goods, (259, 269), (219, 235), 7, "#f2e2b8")
    props.rope(goods, (355, 269), (386, 231), 7, "#f2e2b8")
    props.perched_gull(goods, 262, 264, 14, 1)
    canvas.add(goods)


def paint() -> Layer:
    """Return the finished picture as an opaque layer."""
    canvas = Layer()
    _sky(canvas)
    _middle(canvas)
    paint_over(canvas, 2, 1.1)
    # Open sea reaches the horizon between the banks, beyond the sheltered basin.
    water.pour(
        canvas,
        197,
        HORIZON,
        "#3fa9cc",
        "#12a0a8",
        mirror=0.25,
        crest="#ffffff",
        sparkle=0.4,
        seed=30,
    )
    quay = Layer()
    _left(quay)
    _right(quay)
    houses.quay_wall(quay, -10, 204, 276, 7, "#e6d4ae", "#5f9a8a", 23)
    houses.quay_wall(quay, 412, 204, 240, 7, "#e6d4ae", "#5f9a8a", 24)
    quay.tint(AIR, 0.08)
    canvas.add(quay)
    water.pour(
        canvas,
        211,
        HORIZON,
        "#3fc4cc",
        "#0f9aa6",
        mirror=0.42,
        crest="#f2fffb",
        sparkle=0.45,
        seed=32,
    )
    paint_over(canvas, 2, 1.0, top=198)
    _boats(canvas)
    _promenade(canvas)
    for x, y, span, phase in (
        (246, 66, 24, 0.4),
        (290, 84, 16, 2.0),
        (452, 58, 20, 1.1),
        (372, 112, 13, 2.6),
    ):
        props.gull(canvas, x, y, span, phase, "#ffffff", "#5f7288")
    return canvas
