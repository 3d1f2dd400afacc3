"""The steam trawler seen from the side; sizes are in pixels."""

import math
from collections.abc import Callable

from harbour_boats import cabin, hull
from harbour_layer import Layer, Paint, mix


def steamer(
    layer: Layer,
    x: float,
    y: float,
    length: float,
    face: int,
    *,
    code: str,
    boot: str,
    rail: str,
    house: str,
    funnel: str,
    glass: str,
    mast: str,
) -> None:
    """Draw a stubby steam trawler with wheelhouse, funnel, derrick and rigging."""
    height = length * 0.115
    deck = y - height * 0.62

    def at(share: float) -> float:
        return x + face * share * length

    masts = [(at(0.27), deck - length * 0.5), (at(-0.38), deck - length * 0.3)]
    for px, top in masts:
        layer.line([(px, deck), (px, top)], max(1.0, length * 0.012), mast)
    layer.line([(at(0.26), deck - length * 0.1), (at(0.02), deck - length * 0.33)], 1.0, mast)
    layer.line([masts[0], (at(0.02), deck - length * 0.33)], 0.5, mast, 0.8)
    layer.line([masts[0], (at(0.54), deck - height * 0.9)], 0.5, mast, 0.8)
    layer.line([masts[0], (at(0.2), deck)], 0.5, mast, 0.7)
    layer.line([masts[0], (at(0.34), deck)], 0.5, mast, 0.7)
    layer.line([masts[1], (at(-0.5), deck - height * 0.3)], 0.5, mast, 0.8)
    wide = length * 0.085
    px = at(-0.2) - wide / 2
    layer.box(
        px,
        deck - length * 0.3,
        wide,
        length * 0.3,
        Paint(
            mix(funnel, "#ffffff", 0.15), mix(funnel, "#000000", 0.35), "drip", 0.06, sideways=True
        ),
    )
    layer.box(
        px - 0.6, deck - length * 0.3, wide + 1.2, length * 0.045, mix(funnel, "#000000", 0.75)
    )
    layer.box(px, deck - length * 0.22, wide, length * 0.025, house)
    _deck_gear(layer, at, deck, length, house, mast)
    low = min(at(-0.37), at(-0.02))
    layer.box(
        low,
        deck - length * 0.1,
        length * 0.35,
        length * 0.13,
        Paint(house, mix(house, "#000000", 0.25)),
    )
    left = min(at(-0.12), at(0.04))
    cabin(layer, left, deck - length * 0.09, length * 0.16, length * 0.12, house, mast, glass, 3)
    layer.box(
        min(at(0.08), at(0.2)),
        deck - length * 0.035,
        length * 0.12,
        length * 0.06,
        Paint(mast, mix(mast, "#000000", 0.3)),
    )
    edge = hull(layer, x, y, length, face, code, boot, rail, height)
    size = max(0.6, length * 0.008)
    for step in (3, 5, 12, 14, 16):
        px, py = edge[step]
        layer.oval(px, py + height * 0.36, size * 1.5, size * 1.5, rail, 0.8)
        layer.oval(px, py + height * 0.36, size, size, mix(glass, "#000000", 0.45))
    px, py = edge[18]
    layer.line([(px, py + height * 0.3), (px, py + height * 0.75)], size, "#15181c", 0.8)
    layer.line(
        [
            (px - size * 2, py + height * 0.66),
            (px, py + height * 0.8),
            (px + size * 2, py + height * 0.66),
        ],
        size,
        "#15181c",
        0.8,
    )


def _deck_gear(
    layer: Layer, at: Callable[[float], float], deck: float, length: float, house: str, iron: str
) -> None:
    """Fit winch, hatch, fish boxes and a lifeboat; ``at`` maps a share of length to x."""
    for share, wide, high, tone in (
        (0.12, 0.09, 0.045, iron),
        (0.21, 0.05, 0.065, mix(iron, "#000000", 0.3)),
        (0.34, 0.04, 0.06, "#a8793e"),
        (0.375, 0.04, 0.085, "#8f6636"),
    ):
        layer.box(
            at(share) - length * wide / 2,
            deck - length * high,
            length * wide,
            length * (high + 0.05),
            Paint(mix(tone, "#ffffff", 0.15), mix(tone, "#000000", 0.2), "streak", 0.1),
        )
    x, y = at(-0.305), deck - length * 0.1
    wide = length * 0.055
    for side in (-0.7, 0.7):
        layer.line(
            [
                (x + wide * side, y),
                (x + wide * side, y - wide * 1.1),
                (x + wide * side * 0.8, y - wide * 1.25),
            ],
            0.8,
            iron,
        )
    keel = [
        (x + wide * math.cos(a), y - wide * 0.6 + wide * 0.66 * math.sin(a))
        for a in [n * math.pi / 10 for n in range(11)]
    ]
    layer.polygon(keel, Paint("#b9793c", "#7a4a28", "streak", 0.08))
    layer.line([keel[0], keel[-1]], max(0.8, length * 0.008), mix(house, "#ffffff", 0.4))
    for n in range(5):
        post = at(-0.39 - 0.025 * n)
        layer.line([(post, deck - length * 0.01), (post, deck - length * 0.055)], 0.5, house, 0.8)
