"""Emberdock: sunset over furnaces, brick warehouses and coal barges."""

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
from harbour_works import works

HORIZON = 196.0
CENTRE = (352.0, HORIZON)
EDGE = 273.0
SUN = (372.0, 172.0)
HAZE = "#f08a45"


def _sky(canvas: Layer) -> None:
    """Paint the burning sky with its low sun."""
    sky.backdrop(
        canvas,
        [
            (0, "#3d2450"),
            (50, "#7c2f58"),
            (98, "#c9473f"),
            (145, "#f27f36"),
            (186, "#ffc25e"),
            (200, "#ffd277"),
        ],
    )
    sky.clouds(
        canvas, "#ff9a4a", "#5e2850", low=150, high=0, cover=0.0, stretch=2.6, opacity=0.8, shift=8
    )
    sky.clouds(
        canvas,
        "#ffd98a",
        "#c9503c",
        low=185,
        high=110,
        cover=-0.35,
        stretch=4.0,
        opacity=0.7,
        shift=2,
    )
    sky.sun(canvas, *SUN, 19, "#fff3c0", "#ffb347", 190, 0.75)


def _far(canvas: Layer) -> None:
    """Paint the distant town of chimneys as glowing silhouettes."""
    far = Layer()
    land.hills(far, land.ridge(27, 204, 46, 0.5), 210, Paint("#a44a44", "#d06a40"))
    for x, high, wide in (
        (238, 62, 8),
        (262, 78, 8),
        (286, 50, 7),
        (438, 70, 8),
        (462, 54, 7),
        (486, 84, 9),
    ):
        iron.chimney(far, x, 206, high, wide, "#8a3c40", "#c9583e", 1 if x < SUN[0] else -1)
    style = houses.Style("#8c4040", "#6e3440", "#e58a44", "#8c4a40", lit=0.0)
    for n, x in enumerate(range(200, 540, 34)):
        houses.long_house(
            far,
            x,
            206,
            30,
            12 + n * 5 % 9,
            8,
            CENTRE,
            style,
            n,
            grid=(1, 4),
            size=(2.4, 3),
            chimneys=n % 2,
        )
    far.tint(HAZE, 0.25)
    plume = Layer()
    for n, (x, y) in enumerate(((262, 126), (486, 120), (238, 142))):
        land.smoke(plume, x, y, 76, "#6a3048", "#e8784a", 0.75, n + 4, 0.3)
    canvas.add(plume, 0.8)
    canvas.add(far)
    canvas.glow(*SUN, 80, "#ffb347", 0.55)


def _middle(canvas: Layer) -> None:
    """Paint the two banks: foundry on the left, warehouses on the right."""
    bank = Layer()
    smoke = Layer()
    iron.chimney(bank, 40, 204, 146, 15, "#4a2230", "#c0503a")
    iron.chimney(bank, 138, 204, 118, 13, "#4a2230", "#c0503a")
    land.smoke(smoke, 40, 58, 92, "#4c2744", "#e8805a", 0.9, 21, 0.6)
    land.smoke(smoke, 138, 86, 80, "#4c2744", "#f0905a", 0.8, 22, 0.5)
    canvas.add(smoke)
    works(bank, -6, 205, 178, 50, 6)
    for n, x in enumerate((10, 40, 70, 100, 130)):
        houses.door(
            bank, x, 205, 14, 13, "#3a1a1c", arch=True, glow="#f0641c" if n % 4 else "#ff9a34"
        )
    style = houses.Style(
        "#68302f",
        "#3a2036",
        "#3b2134",
        "#a85c46",
        lit=0.42,
        lamp="#ffb650",
        light="#ff9a58",
        side="#964434",
    )
    plain = houses.Style(
        "#7a3a33",
        "#3f2238",
        "#3b2134",
        "#b46a4c",
        lit=0.3,
        lamp="#ffb650",
        light="#ff9a58",
        side="#964434",
    )
    houses.long_house(
        bank, 176, 205, 56, 34, 16, CENTRE, plain, 15, grid=(2, 4), size=(4.5, 6.5), chimneys=1
    )
    houses.gable_house(
        bank, 632, 205, 50, 64, 28, CENTRE, plain, 57, grid=(3, 3), size=(5, 7), depth=0.06
    )
    houses.gable_house(
        bank, 560, 205, 56, 78, 30, CENTRE, style, 56, grid=(4, 3), size=(5.5, 7), depth=0.08
    )
    houses.gable_house(
        bank, 492, 205, 52, 58, 26, CENTRE, plain, 55, grid=(3, 3), size=(5, 7), depth=0.1
    )
    for x in (511, 581):
        houses.door(bank, x, 205, 14, 14, "#3a2028", arch=True)
    for x, top in ((518, 138), (588, 118)):
        bank.line([(x, top), (x - 12, top - 2)], 1.6, "#2a1626")
        bank.line([(x - 11, top - 2), (x - 11, 186)], 0.6, "#2a1626")
    houses.quay_wall(bank, -10, 205, 250, 11, "#5a2e34", "#3a2a2c", 13)
    houses.quay_wall(bank, 484, 205, 180, 11, "#5a2e34", "#3a2a2c", 14)
    bank.tint(HAZE, 0.05)
    canvas.add(bank)
    for x in (17, 47, 77, 107, 137):
        canvas.glow(x, 200, 26, "#ff5a1a", 0.3)
    land.fog(canvas, 204, 7, "#ff9c50", 0.16, 4)
    paint_over(canvas, 2, 1.2)
    iron.crane(canvas, 222, 206, 96, "#3a2030", 1, 0.55, glass="#ffb45c")


def _boats(canvas: Layer) -> None:
    """Float the coal barges and a tug."""
    tug = Layer()
    steamer(
        tug,
        330,
        222,
        76,
        1,
        code="#2c1a2c",
        boot="#6b2a2a",
        rail="#d87445",
        house="#7a3f3c",
        funnel="#8c2f2a",
        glass="#ffc66a",
        mast="#2c1a26",
    )
    water.float_on(canvas, tug, 222, HORIZON, 5, 0.6)
    smoke = Layer()
    land.smoke(smoke, 316, 194, 46, "#5a2c48", "#d9694a", -0.9, 61, 0.3)
    canvas.add(smoke)
    near = Layer()
    boats.barge(near, 462, 241, 168, -1, "#42242f", "#7a302c", "#221620", "#e07a48")
    water.float_on(canvas, near, 241, HORIZON, 8, 0.6)
    small = Layer()
    boats.rowboat(small, 196, 247, 66, 1, "#5a2c34", "#d9845a")
    water.float_on(canvas, small, 247, HORIZON, 9, 0.6)


def _dock(canvas: Layer) -> None:
    """Lay the brick dock with its rail and goods lit from behind."""
    ground.surface(canvas, EDGE, HORIZON, "#8a4a3c", "#4d2b33", 0.06)
    ground.slabs(canvas, EDGE, HORIZON, "#2c1722", "#d8835a", 30, 6, 19, 0.2, first=8)
    ground.calm(canvas, EDGE, "#643840", 0.22)
    ground.rails(canvas, 289, "#2c1722", "#e09a6a")
    ground.rails(canvas, 311, "#2c1722", "#c98560")
    ground.coping(canvas, EDGE, 7, "#8c5040", "#ffb070", "#2c1722", 62, 5)
    for x in (40, 110):
        canvas.glow(x, 276, 60, "#ff7a2a", 0.12)
    canvas.glow(SUN[0], 274, 120, "#ffb060", 0.28)
    goods = Layer()
    wood = ("#6e3f30", "#ffae68", "#1e1018")
    props.barrel(goods, 30, 284, 36, "#5d3530", "#ffa060", "#1c0f18", "#3c2a34")
    props.barrel(goods, 55, 285, 35, "#6a3a30", "#ffa060", "#1c0f18", "#3c2a34")
    props.sacks(goods, 98, 285, 21, "#8a6048", "#2a1620", "#ffb070")
    props.crate(goods, 566, 285, 40, *wood, turn=-1)
    props.crate(goods, 612, 284, 36, *wood, turn=-1)
    props.crate(goods, 590, 250, 32, *wood, turn=-1)
    props.bollard(goods, 274, 281, 19, "#2c1c28", "#ff9c5c")
    props.bollard(goods, 352, 281, 19, "#2c1c28", "#ff9c5c")
    props.rope(goods, (355, 267), (376, 231), 5, "#8a5a40")
    props.rope(goods, (271, 267), (232, 239), 6, "#8a5a40")
    props.coil(goods, 306, 283, 13, "#7a4a38")
    iron.lamp_post(goods, 148, 281, 150, "#2a1822", "#ffc868", True, "#ff9c5c")
    canvas.add(goods)


def paint() -> Layer:
    """Return the finished picture as an opaque layer."""
    canvas = Layer()
    _sky(canvas)
    _far(canvas)
    _middle(canvas)
    water.pour(
        canvas,
        216,
        HORIZON,
        "#c9603c",
        "#43233c",
        mirror=0.72,
        crest="#ffcf86",
        sparkle=0.3,
        seed=12,
    )
    water.glitter(canvas, SUN[0], 216, HORIZON, "#ffc860", 17, 0.9, 3)
    for n, x in enumerate((47, 77, 107)):
        water.glitter(canvas, x, 216, HORIZON, "#ff7a2a", 5, 0.6, n + 20)
    paint_over(canvas, 2, 1.0, top=217)
    _boats(canvas)
    _dock(canvas)
    for x, y, span, phase in (
        (300, 78, 18, 0.4),
        (330, 66, 13, 2.0),
        (438, 88, 16, 1.1),
        (196, 104, 12, 0.9),
    ):
        props.gull(canvas, x, y, span, phase, mix("#3a1a30", "#c95a48", 0.15), "#2a1424")
    return canvas
