"""Slatequay: a grey, foggy morning on a stone quay with cranes."""

import harbour_boats as boats
import harbour_buildings as houses
import harbour_cranes as iron
import harbour_ground as ground
import harbour_land as land
import harbour_props as props
import harbour_sky as sky
import harbour_water as water
from harbour_finish import paint_over
from harbour_layer import Layer
from harbour_steamer import steamer

HORIZON = 196.0
CENTRE = (330.0, HORIZON)
EDGE = 272.0
FOG = "#c9d0cf"


def _far(canvas: Layer) -> None:
    """Paint the sky and a town that fades into the fog."""
    sky.backdrop(canvas, [(0, "#8796a3"), (90, "#b3bcc0"), (150, "#d6d5c8"), (200, "#d3d4cb")])
    sky.clouds(
        canvas,
        "#d9dcda",
        "#7f8d9a",
        low=150,
        high=0,
        cover=0.25,
        stretch=1.6,
        opacity=0.75,
        shift=3,
    )
    sky.sun(canvas, 386, 98, 12, "#fbf3dc", "#fff0cc", 150, 0.42)
    hills = Layer()
    land.hills(hills, land.ridge(5, 204, 74, 0.5), 210, "#a3afb4")
    land.hills(hills, land.ridge(19, 206, 42, 0.52), 210, "#929fa5")
    canvas.add(hills, 0.8)
    town = Layer()
    grey = houses.Style("#8f989b", "#6e7a82", "#79868c", "#a5adae")
    for n, x in enumerate(range(214, 480, 26)):
        high = 14 + (n * 7) % 13
        houses.gable_house(
            town,
            x,
            205,
            21 + n % 3 * 3,
            high,
            8 + n % 2 * 4,
            CENTRE,
            grey,
            n,
            grid=(2, 2),
            size=(2.2, 2.8),
            chimney=n % 2 == 0,
        )
    town.polygon([(300, 205), (300, 148), (307, 120), (314, 148), (314, 205)], "#7b878d")
    for x, face in ((262, 1), (438, -1)):
        iron.crane(town, x, 206, 62, "#7f8b91", face, 0.8, False)
    town.tint(FOG, 0.38)
    canvas.add(town)
    land.fog(canvas, 198, 17, FOG, 0.55, 2)


def _middle(canvas: Layer) -> None:
    """Paint the two arms of the inner quay with warehouses and cranes."""
    quay = Layer()
    stone = houses.Style(
        "#8a8b88", "#4c5a68", "#39464f", "#b4b6b1", lit=0.14, lamp="#f2c979", light="#dfe6ea"
    )
    brick = houses.Style(
        "#8b7468", "#4a5663", "#35424b", "#c0b9ae", lit=0.1, lamp="#f2c979", light="#dfe6ea"
    )
    pale = houses.Style(
        "#a8a799", "#57646f", "#3d4a53", "#d0d0c6", lit=0.1, lamp="#f2c979", light="#dfe6ea"
    )
    houses.gable_house(
        quay, -28, 205, 66, 70, 32, CENTRE, stone, 8, grid=(3, 4), size=(5.5, 8), depth=0.08
    )
    houses.gable_house(
        quay, 60, 205, 56, 60, 28, CENTRE, brick, 7, grid=(3, 4), size=(5, 7.5), depth=0.08
    )
    houses.long_house(
        quay, 130, 205, 78, 38, 18, CENTRE, pale, 31, grid=(2, 6), size=(4.5, 6), depth=0.1
    )
    houses.door(quay, 12, 205, 13, 14, "#4b5a55", arch=True)
    houses.door(quay, 81, 205, 13, 14, "#5a4438")
    houses.door(quay, 163, 205, 10, 12, "#4b5a55")
    houses.gable_house(
        quay, 606, 205, 62, 66, 30, CENTRE, brick, 13, grid=(3, 4), size=(5, 7.5), depth=0.08
    )
    houses.gable_house(
        quay, 524, 205, 62, 74, 32, CENTRE, stone, 12, grid=(3, 4), size=(5, 8), depth=0.08
    )
    houses.long_house(
        quay, 446, 205, 64, 36, 18, CENTRE, pale, 41, grid=(2, 5), size=(4.5, 6), depth=0.1
    )
    houses.door(quay, 548, 205, 14, 14, "#5a4438")
    houses.quay_wall(quay, -10, 205, 228, 10, "#77797a", "#4c5a44", 3)
    houses.quay_wall(quay, 432, 205, 226, 10, "#77797a", "#4c5a44", 4)
    quay.tint(FOG, 0.1)
    canvas.add(quay)
    land.fog(canvas, 205, 8, FOG, 0.26, 5)
    paint_over(canvas, 2, 1.2)
    cranes = Layer()
    iron.crane(cranes, 184, 206, 104, "#56646a", 1, 0.72)
    iron.crane(cranes, 480, 206, 112, "#74594a", -1, 0.62)
    cranes.tint(FOG, 0.1)
    canvas.add(cranes)


def _boats(canvas: Layer) -> None:
    """Float the trawler, a cutter and a rowing boat."""
    cutter = Layer()
    steamer(
        cutter,
        318,
        216,
        62,
        -1,
        code="#6d7f7d",
        boot="#84594c",
        rail="#c9cdc8",
        house="#cfd0c8",
        funnel="#6f7f86",
        glass="#5f737c",
        mast="#5d5a55",
    )
    cutter.tint(FOG, 0.3)
    water.float_on(canvas, cutter, 216, HORIZON, 4)
    trawler = Layer()
    steamer(
        trawler,
        474,
        239,
        168,
        -1,
        code="#2f4a4d",
        boot="#8e4334",
        rail="#d9d3bf",
        house="#d8d2c0",
        funnel="#b5562f",
        glass="#4f6a78",
        mast="#6b5a46",
    )
    trawler.tint(FOG, 0.07)
    water.float_on(canvas, trawler, 239, HORIZON, 6)
    small = Layer()
    boats.rowboat(small, 158, 250, 78, 1, "#5d7a86", "#c5b48c")
    water.float_on(canvas, small, 250, HORIZON, 7)
    mark = Layer()
    boats.buoy(mark, 276, 232, 13, "#a44632", "#e9d9a8")
    water.float_on(canvas, mark, 232, HORIZON, 8)


def _quay(canvas: Layer) -> None:
    """Lay the near quay and set its goods along the edge."""
    ground.surface(canvas, EDGE, HORIZON, "#8f9190", "#6f7274", 0.05)
    ground.slabs(canvas, EDGE, HORIZON, "#3f464c", "#c5cacb", 46, 5, 9, 0.22, first=8)
    ground.puddle(canvas, 214, 303, 46, "#dde2e2", 0.6, 1)
    ground.puddle(canvas, 468, 291, 30, "#dde2e2", 0.5, 2)
    ground.calm(canvas, EDGE, "#85888a", 0.18)
    ground.coping(canvas, EDGE, 8, "#a3a5a1", "#d8dbd8", "#3f464c", 54, 3)
    goods = Layer()
    wood = ("#8d7350", "#e4dcc6", "#2b2a2c")
    props.crate(goods, 40, 284, 38, *wood)
    props.crate(goods, 84, 283, 32, *wood)
    props.crate(goods, 52, 251, 30, *wood)
    props.barrel(goods, 113, 284, 32, "#7a6248", "#d8d6cc", "#26282b", "#59636a")
    props.bollard(goods, 206, 281, 20, "#3c464c", "#b9c4c8")
    props.bollard(goods, 420, 281, 20, "#3c464c", "#b9c4c8")
    props.rope(goods, (203, 266), (122, 242), 5, "#a8987a")
    props.rope(goods, (417, 266), (398, 222), 7, "#a8987a")
    props.coil(goods, 452, 283, 14, "#a3916e")
    props.perched_gull(goods, 207, 261, 15, 1)
    iron.lamp_post(goods, 602, 281, 150, "#3a454b", "#f3e3b4", True, "#b9c4c8")
    props.barrel(goods, 556, 284, 34, "#6f6150", "#d8d6cc", "#26282b", "#59636a")
    props.barrel(goods, 580, 285, 32, "#7a6248", "#d8d6cc", "#26282b", "#59636a")
    props.perched_gull(goods, 96, 255, 14, -1)
    canvas.add(goods)


def paint() -> Layer:
    """Return the finished picture as an opaque layer."""
    canvas = Layer()
    _far(canvas)
    _middle(canvas)
    water.pour(
        canvas,
        215,
        HORIZON,
        "#a9b4b2",
        "#5f7474",
        mirror=0.62,
        crest="#e6e8e0",
        sparkle=0.3,
        seed=2,
    )
    paint_over(canvas, 2, 1.0, top=216)
    land.fog(canvas, 214, 7, FOG, 0.28, 1)
    _boats(canvas)
    _quay(canvas)
    for x, y, span, phase in (
        (140, 62, 26, 0.4),
        (232, 46, 18, 2.0),
        (402, 50, 20, 1.1),
        (524, 74, 24, 2.8),
        (300, 92, 13, 0.2),
    ):
        props.gull(canvas, x, y, span, phase, "#eef0ee", "#4a5258")
    return canvas
