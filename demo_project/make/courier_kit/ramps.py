"""Colour ramps: five steps from line colour to light for every material."""

from __future__ import annotations

Ramp = tuple[tuple[int, int, int], ...]

LINE, DEEP, SHADE, BASE, LIGHT = range(5)
OUTLINE = (27, 22, 38)


def _mix(a: tuple[float, ...], b: tuple[float, ...], t: float) -> tuple[int, int, int]:
    """Blend two 0..255 colours with weight t of the second."""
    r, g, bl = (round(x * (1 - t) + y * t) for x, y in zip(a, b, strict=True))
    return r, g, bl


def ramp(code: str, contrast: float = 1.0) -> Ramp:
    """Build a ramp from an ``rrggbb`` base colour.

    Shadows lean to violet and lights to warm cream, so flat bands stay lively.
    """
    base = tuple(int(code[i : i + 2], 16) for i in (0, 2, 4))
    shade = tuple(v * m for v, m in zip(base, (0.70, 0.66, 0.78), strict=True))
    deep = tuple(v * m for v, m in zip(base, (0.45, 0.40, 0.56), strict=True))
    return (
        _mix(OUTLINE, base, 0.16),
        _mix(base, deep, contrast),
        _mix(base, shade, contrast),
        _mix(base, base, 0.0),
        _mix(base, (255, 244, 214), 0.34 * contrast),
    )


def flat(code: str) -> Ramp:
    """Build a ramp with hardly any shading, for eyes and glowing glass."""
    return ramp(code, 0.35)


WHITE = flat("f7f2ea")
INK = flat("241c2e")
KRAFT = ramp("d6a869")
STRING = ramp("b8453c")
WOOD = ramp("8d623c")
LEATHER = ramp("7b4a2e")
BRASS = ramp("d19f3c")
IRON = ramp("5b6172")
