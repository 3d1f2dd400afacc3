"""The foundry of the sunset harbour; sizes are in pixels."""

from harbour_buildings import wall
from harbour_layer import Layer, Paint


def works(layer: Layer, x: float, base: float, wide: float, high: float, teeth: int) -> None:
    """Draw a saw-tooth works shed with glowing roof lights."""
    brick = "#622c30"
    wall(
        layer,
        [(x, base), (x, base - high), (x + wide, base - high), (x + wide, base)],
        brick,
        int(x) + 9,
        26,
    )
    _brickwork(layer, x, base, wide, high)
    step = wide / teeth
    for n in range(teeth):
        left = x + n * step
        top = base - high
        layer.polygon(
            [(left, top), (left, top - high * 0.42), (left + step, top)],
            Paint("#3a1f30", "#5a2b34", "drip", 0.1),
        )
        layer.polygon(
            [
                (left + 1, top - 1),
                (left + 1, top - high * 0.36),
                (left + step * 0.3, top - high * 0.25),
                (left + step * 0.3, top - 1),
            ],
            Paint("#ffb04a", "#e0642c", "soft", 0.1),
        )
        layer.line([(left, top - high * 0.42), (left + step, top)], 0.9, "#d0663e", 0.8)


def _brickwork(layer: Layer, x: float, base: float, wide: float, high: float) -> None:
    """Give the works wall its piers, cornices, small windows and a steam pipe."""
    for n in range(7):
        px = x + 9 + n * 30
        if px < x + wide:
            layer.box(px - 2.5, base - high, 5, high, Paint("#8c4438", "#572830", "drip", 0.1))
            layer.box(px + 2.5, base - high, 1.2, high, "#1c0f1a", 0.3)
    for share, tall in ((1.0, 2.6), (0.56, 1.8)):
        layer.box(x, base - high * share, wide, tall, Paint("#c0603f", "#8c4438", "streak"))
        layer.box(x, base - high * share + tall, wide, 1.4, "#1c0f1a", 0.35)
    for n in range(18):
        px = x + 14 + n * 10 - n % 3
        if px < x + wide - 6:
            layer.box(px - 0.6, base - high * 0.88, 6.2, 8.6, "#2c1420")
            layer.box(
                px,
                base - high * 0.87,
                5,
                7.4,
                Paint("#e8742c" if n % 5 else "#5a2a30", "#ffb04a" if n % 5 else "#3a1c28"),
            )
            layer.box(px + 2.2, base - high * 0.87, 0.6, 7.4, "#2c1420")
    layer.line(
        [
            (x + wide + 3, base),
            (x + wide + 3, base - high * 0.7),
            (x + wide - 8, base - high * 0.7),
        ],
        2.6,
        "#3a1e2a",
    )
    layer.line([(x + wide + 3.6, base), (x + wide + 3.6, base - high * 0.7)], 0.8, "#d0663e", 0.8)
