"""Northpier: a snowy wooden pier at night under northern lights."""

import harbour_boats as boats
import harbour_buildings as houses
import harbour_cranes as iron
import harbour_ground as ground
import harbour_land as land
import harbour_props as props
import harbour_sky as sky
import harbour_water as water
from harbour_finish import paint_over
from harbour_layer import Layer, Paint, mix
from harbour_steamer import steamer

HORIZON = 194.0
CENTRE = (310.0, HORIZON)
EDGE = 272.0
NIGHT = "#1c3150"
LAMP = "#ffcf78"


def _sky(canvas: Layer) -> None:
    """Paint night, stars and the aurora."""
    sky.backdrop(canvas, [(0, "#0a1230"), (80, "#12274f"), (150, "#1f4a6e"), (196, "#3b7384")])
    sky.stars(canvas, 260, 180, 71)
    sky.aurora(canvas, 118, 96, "#5dffb0", "#7a5cff", 0.85, 1.3)
    sky.aurora(canvas, 78, 70, "#48f0c8", "#c04fe0", 0.7, 3.1)


def _far(canvas: Layer) -> None:
    """Paint snowy mountains and the lights of a village."""
    far = Layer()
    line = land.ridge(44, 200, 84, 0.55)
    land.hills(far, line, 206, Paint("#37598a", "#4c7a98", "mottle", 0.08))
    land.snow_faces(far, line, 204, "#a9cfe2", 6)
    canvas.add(far)
    front = Layer()
    line = land.ridge(61, 203, 46, 0.52)
    land.hills(front, line, 207, Paint("#8fb0cc", "#5d86a6", "mottle", 0.08))
    land.snow_faces(front, line, 205, "#cfe6f2", 8)
    canvas.add(front, 0.95)
    land.fog(canvas, 200, 9, "#7fb0b8", 0.4, 3)
    for x, y in (
        (262, 203),
        (270, 201),
        (281, 204),
        (352, 203),
        (366, 204),
        (374, 201),
        (388, 203),
        (401, 204),
    ):
        canvas.box(x, y, 1.6, 1.6, LAMP, 0.9)
        canvas.glow(x + 0.8, y + 0.8, 9, LAMP, 0.5)


def _hut(
    layer: Layer, x: float, base: float, wide: float, high: float, peak: float, wall: str, seed: int
) -> None:
    """Draw a timber hut on stilts with a snow-laden roof."""
    style = houses.Style(
        wall, "#b9cfe6", "#22385a", "#d6dfea", lit=0.62, lamp=LAMP, shade=0.4, light="#eaf4ff"
    )
    for post in range(6):
        px = x + wide * (post + 0.3) / 6
        layer.box(px, base - 1, 2, 15, Paint("#3a3440", "#1a1d2c", "drip", 0.1))
    layer.box(x - 4, base - 2, wide + 8, 2.6, "#5a4f55")
    houses.gable_house(
        layer, x, base - 2, wide, high, peak, CENTRE, style, seed, grid=(1, 2), size=(6, 7)
    )
    ridge = (x + wide / 2, base - 2 - high - peak)
    for end in (x - 3, x + wide + 3):
        layer.polygon(
            [ridge, (end, base - high - 1), (end, base - high - 4), (ridge[0], ridge[1] - 4)],
            Paint("#f0f7ff", "#b4cbe6", "soft", 0.04),
        )
    layer.box(x - 4, base - 4, wide + 8, 1.8, "#e4eefa")


def _middle(canvas: Layer) -> None:
    """Paint the huts on the left shore and the lighthouse on its rock."""
    shore = Layer()
    land.hills(shore, land.ridge(80, 207, 26, 0.5, -10, 250), 208, Paint("#b4cade", "#6f8fb0"))
    _hut(shore, 178, 200, 44, 20, 15, "#8c5a3c", 91)
    _hut(shore, 112, 202, 54, 27, 20, "#7a3a3c", 92)
    _hut(shore, 40, 204, 62, 33, 23, "#8f4238", 93)
    _hut(shore, -22, 204, 54, 28, 21, "#5c5a4c", 94)
    rock = [
        (470, 213),
        (482, 203),
        (497, 201),
        (506, 194),
        (528, 190),
        (556, 191),
        (568, 197),
        (584, 200),
        (600, 207),
        (622, 213),
    ]
    shore.polygon(rock, Paint("#7488a0", "#2c3a54", "mottle", 0.1))
    snow = [
        (484, 203),
        (506, 193),
        (528, 189),
        (556, 190),
        (570, 197),
        (588, 201),
        (574, 202),
        (560, 197),
        (540, 199),
        (522, 196),
        (508, 201),
    ]
    shore.polygon(snow, Paint("#eef6ff", "#b4cbe6", "soft", 0.04))
    style = houses.Style(
        "#9a4a40", "#c9dcf0", "#22385a", "#d6dfea", lit=1.0, lamp=LAMP, shade=0.4, light="#eaf4ff"
    )
    houses.gable_house(shore, 550, 197, 30, 15, 12, CENTRE, style, 95, grid=(1, 2), size=(5, 6))
    shore.tint(NIGHT, 0.18)
    iron.lighthouse(shore, 530, 193, 104, 29, "#dfe6ee", "#b5443c", "#fff0b8", "#1b2a48")
    canvas.add(shore)
    for x in (62, 84, 128, 150):
        canvas.glow(x, 190, 28, LAMP, 0.25)


def _beam(canvas: Layer) -> None:
    """Sweep the lighthouse beam over the bay."""
    lamp = (530.0, 83.0)
    sky.beam(canvas, *lamp, 3.06, 0.042, 230, "#fff2c0", 0.8)
    sky.beam(canvas, *lamp, -0.08, 0.10, 200, "#fff2c0", 0.7)
    canvas.glow(*lamp, 56, "#fff0b0", 0.8)
    canvas.glow(*lamp, 16, "#ffffff", 0.8)


def _floe(layer: Layer, x: float, y: float, half: float) -> None:
    """Draw a flat piece of drifting ice."""
    layer.polygon(
        [
            (x - half, y),
            (x - half * 0.6, y - half * 0.12),
            (x + half * 0.5, y - half * 0.14),
            (x + half, y - 1),
            (x + half * 0.4, y + half * 0.08),
            (x - half * 0.5, y + half * 0.07),
        ],
        Paint("#e9f4ff", "#8fb4d2", "soft", 0.05),
        0.92,
    )


def _boats(canvas: Layer) -> None:
    """Float the fishing boat and the ice."""
    far = Layer()
    boats.sloop(far, 436, 213, 34, 1, "#2c4468", "#7a3a3c", "#9fb6d2", "#5d78a8", "#3a4a66")
    water.float_on(canvas, far, 213, HORIZON, 3, 0.5)
    near = Layer()
    steamer(
        near,
        336,
        240,
        150,
        -1,
        code="#2b5570",
        boot="#8c3b38",
        rail="#e6f0fa",
        house="#c8d4e2",
        funnel="#c0523e",
        glass=LAMP,
        mast="#4c4a58",
    )
    props.snow_cap(near, 342, 196, 13, 4, 2.4)
    props.snow_cap(near, 374, 214.5, 6, 5, 1.6)
    near.tint(NIGHT, 0.16)
    water.float_on(canvas, near, 240, HORIZON, 9, 0.55)
    canvas.glow(324, 212, 34, LAMP, 0.4)
    for x, y, half in (
        (196, 228, 18),
        (232, 236, 11),
        (470, 231, 15),
        (560, 240, 24),
        (120, 250, 27),
        (612, 226, 12),
        (446, 254, 20),
    ):
        _floe(canvas, x, y, half)


def _pier(canvas: Layer) -> None:
    """Lay the snowy deck with posts and lanterns."""
    ground.surface(canvas, EDGE, HORIZON, "#a9bfda", "#7f97bb", 0.045)
    ground.planks(canvas, EDGE, HORIZON, "#40506f", "#e2edf8", 21, 29, 0.26)
    ground.calm(canvas, EDGE, "#93abcb", 0.22)
    ground.coping(canvas, EDGE, 6, "#5d5560", "#e9f2fc", "#2a3048", 88, 7)
    goods = Layer()
    for n, (x, half) in enumerate(
        ((20, 30), (146, 24), (258, 20), (392, 22), (508, 26), (622, 30))
    ):
        props.snow_cap(goods, x, 280, half, n + 60, 4.5)
    wood = ("#6f5444", "#dfeaf6", "#1a1f30")
    for n, x in enumerate((14, 150, 252, 398, 500, 628)):
        goods.box(x - 6, 254, 12, 26, Paint("#76625a", "#2c2c3c", "drip", 0.14, sideways=True))
        props.snow_cap(goods, x, 255, 7.5, n + 20, 5)
    for x0, x1 in ((14, 150), (500, 628)):
        props.rope(goods, (x0, 262), (x1, 262), 6, "#9a8a78", 1.8)
    props.crate(goods, 54, 285, 38, *wood)
    props.snow_cap(goods, 58, 251, 21, 41, 4)
    props.barrel(goods, 96, 285, 34, "#62493c", "#dfeaf6", "#171c2c", "#46556f")
    props.snow_cap(goods, 96, 251, 10, 42, 4)
    props.barrel(goods, 556, 285, 34, "#62493c", "#dfeaf6", "#171c2c", "#46556f")
    props.snow_cap(goods, 556, 251, 10, 43, 4)
    props.coil(goods, 284, 282, 12, "#7f7468")
    iron.lamp_post(goods, 592, 281, 148, "#26304a", LAMP, True, "#b9cfe6")
    props.snow_cap(goods, 592, 117, 9, 44, 4)
    canvas.add(goods)
    canvas.glow(592, 278, 74, LAMP, 0.35)
    canvas.glow(592, 128, 46, LAMP, 0.45)


def paint() -> Layer:
    """Return the finished picture as an opaque layer."""
    canvas = Layer()
    _sky(canvas)
    _far(canvas)
    _middle(canvas)
    _beam(canvas)
    paint_over(canvas, 2, 1.0)
    sky.stars(canvas, 40, 60, 72)
    water.pour(
        canvas,
        213,
        HORIZON,
        "#2c5f78",
        "#10243f",
        mirror=0.7,
        crest="#9ff0d8",
        sparkle=0.24,
        seed=22,
    )
    water.glitter(canvas, 530, 213, HORIZON, "#ffe6a0", 6, 0.8, 31)
    for n, x in enumerate((62, 84, 128, 150)):
        water.glitter(canvas, x, 213, HORIZON, mix(LAMP, "#ff9a40", 0.3), 3, 0.7, n + 40)
    paint_over(canvas, 2, 0.9, top=214)
    _boats(canvas)
    _pier(canvas)
    land.snowfall(canvas, 210, 77)
    return canvas
