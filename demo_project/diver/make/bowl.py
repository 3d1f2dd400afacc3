"""The floor of the bowl, 240 x 160: light from above, weeds, a tin castle, and gravel with the lost key in it."""

from __future__ import annotations

import math
from pathlib import Path

from ground import Ground, chance

WIDTH, HEIGHT, GRAVEL = 240, 160, 128
WATER = ("#9ce0e0", "#5cb4cc", "#2f7cac")
WEED = ("#2f7cac", "#164c48", "#2f8450", "#84c860")
TIN = ("#2f7cac", "#3c3a5c", "#74708c", "#b8b4bc")
SAND = ("#2f7cac", "#7c5c44", "#c4985c", "#f0d890")


def draw_bowl(art: Path) -> None:
    """Write the picture."""
    land = Ground(WIDTH, HEIGHT)
    land.rows(WATER, (24, 64), 24)
    _castle(land, 144)
    for x, high, sway in ((20, 48, 1), (36, 63, -1), (52, 36, 1), (212, 58, -1), (228, 40, 1)):
        _weed(land, x, high, sway)
    _gravel(land)
    _key(land, 96, 148)
    land.image.save(art / "bowl.png")


def _castle(land: Ground, x: int) -> None:
    """Two towers and a gate, square to the tiles."""
    _tower(land, x, 84, 16)
    _tower(land, x + 40, 70, 16)
    land.dot(TIN[2], x + 16, 96, 24, 32)
    for at in range(x + 16, x + 40, 8):
        land.dot(TIN[2], at + 1, 92, 5, 4)
        land.dot(TIN[3], at + 1, 92, 5, 1)
    land.dot(TIN[3], x + 16, 96, 24)
    land.disc(TIN[1], x + 28, 116, 8, 10)
    land.dot(TIN[1], x + 20, 116, 16, 12)
    for y in (104, 112, 120):
        land.dot(TIN[1], x + 16 + (y // 8 % 2) * 3, y, 4)
        land.dot(TIN[1], x + 35 + (y // 8 % 2) * 2, y, 3)


def _tower(land: Ground, x: int, top: int, wide: int) -> None:
    land.dot(TIN[2], x, top, wide, GRAVEL - top)
    land.dot(TIN[3], x + 2, top, 2, GRAVEL - top)
    land.dot(TIN[1], x + wide - 3, top, 3, GRAVEL - top)
    for rank in range(3):
        land.dot(TIN[2], x + rank * 6, top - 5, 4, 5)
        land.dot(TIN[3], x + rank * 6, top - 5, 4, 1)
    land.dot(TIN[1], x, top, wide)
    for y in range(top + 8, GRAVEL, 8):
        land.dot(TIN[1], x + (0, 5)[y // 8 % 2], y, 6)
    land.dot(TIN[1], x + 6, top + 12, 4, 8)
    land.dot(TIN[0], x + 7, top + 13, 2, 6)


def _weed(land: Ground, x: int, high: int, sway: int) -> None:
    """A stalk with leaves to both sides; what is behind it is one blue, as its tiles have four colours."""
    for part in range(high):
        y = GRAVEL - 1 - part
        middle = x + sway * 2.4 * math.sin(part / 9)
        land.dot(WEED[1], middle - 1, y, 3)
        land.dot(WEED[2], middle, y, 1)
    for part in range(6, high, 8):
        y, side = GRAVEL + 4 - part, 1 if part // 8 % 2 else -1
        middle = x + sway * 2.4 * math.sin(part / 9)
        long = 9 if part < high * 0.6 else 6
        for step in range(long):
            thick = 1 + round(2 * math.sin(math.pi * (step + 1) / (long + 1)))
            land.dot(WEED[2], middle + side * step, y - step * 0.5 - thick / 2, 1, thick + 1)
            land.dot(WEED[3], middle + side * step, y - step * 0.5 - thick / 2, 1, 1)


def _gravel(land: Ground) -> None:
    """Pebbles in rows that repeat after 48 pixels, larger in front."""
    for x in range(WIDTH):
        dip = 0 if x < 64 or x >= 144 else 1.5 - 1.5 * math.cos(4 * math.pi * (x - 64) / 80)  # flat where things stand on it
        land.column(SAND[2], x, GRAVEL + dip, SAND[3])
    for row, (top, high, wide) in enumerate(((133, 4, 8), (138, 6, 12), (145, 7, 12), (153, 8, 16))):
        for rank in range(-1, WIDTH // wide + 1):
            here = rank % (48 // wide)
            x, rise = rank * wide + row % 2 * wide // 2, chance("rise", row, here) % 2
            tone = 1 if chance("tone", row, here) < 28 else 2
            land.disc(SAND[1], x + wide / 2, top + high / 2 + rise + 0.8, wide / 2 - 0.4, high / 2)
            land.disc(SAND[tone], x + wide / 2, top + high / 2 + rise, wide / 2 - 0.8, high / 2 - 0.6)
            land.dot(SAND[tone + 1], x + wide / 2 - wide * 0.2, top + 1 + rise, max(2, wide // 4))


def _key(land: Ground, x: int, y: int) -> None:
    """What the diver looks for: the key of its spring, half in the gravel."""
    for ink, more in ((SAND[1], 1.2), (SAND[3], 0)):
        land.disc(ink, x, y - 6, 5.6 + more, 5 + more)
        land.disc(ink, x + 13, y - 6, 5.6 + more, 5 + more)
        land.dot(ink, x + 4 - more, y - 8 - more, 6 + 2 * round(more), 14)
    for at in (x, x + 13):
        land.disc(SAND[1], at, y - 6, 2.4, 2.2)
    land.dot(SAND[2], x + 8, y - 6, 1, 11)
