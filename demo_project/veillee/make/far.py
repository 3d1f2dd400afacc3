"""What lies behind both ways: dusk over the village of Vasebrune, 512 x 104, in the colours of ``ciel.gpl`` only."""

from __future__ import annotations

import math
from pathlib import Path

from ground import Ground, chance
from inks import write_palette

WIDTH, HEIGHT = 512, 104
SKY = ("#12163a", "#1d2558", "#333c7c", "#57508f", "#8c6496", "#cb8587", "#f0b67c")
MOON, MOON_SHADE, STAR = "#fff4d2", "#e6d3a0", "#a9b3e0"
FAR, MIDDLE, NEAR, TREES, ROOF, WINDOW = "#4d4a86", "#323567", "#20234b", "#151836", "#463a6c", "#ffcf70"
COLOURS = (*SKY, MOON, MOON_SHADE, STAR, FAR, MIDDLE, NEAR, TREES, ROOF, WINDOW)


def draw_far(art: Path) -> None:
    """Write picture and palette."""
    land = Ground(WIDTH, HEIGHT)
    land.rows(SKY, (14, 28, 41, 52, 62, 72), 8)
    _stars(land)
    _clouds(land)
    for x in range(WIDTH):
        turn = 2 * math.pi * x / WIDTH
        land.column(FAR, x, 66 - 7 * math.sin(2 * turn + 1) - 4 * math.sin(5 * turn) - 1.6 * math.sin(11 * turn), SKY[3])
    for x in range(WIDTH):
        land.column(MIDDLE, x, _middle(x), FAR)
    _village(land)
    for x in range(WIDTH):
        turn = 2 * math.pi * x / WIDTH
        land.column(NEAR, x, 90 - 3 * math.sin(3 * turn + 2) - 1.5 * math.sin(8 * turn), MIDDLE)
    _trees(land)
    land.image.save(art / "lointain.png")
    write_palette(art / "ciel.gpl", COLOURS)


def _middle(x: int) -> float:
    turn = 2 * math.pi * x / WIDTH
    return 80 - 5 * math.sin(2 * turn + 4) - 3 * math.sin(3 * turn) - math.sin(13 * turn)


def _stars(land: Ground) -> None:
    land.disc(MOON_SHADE, 356, 25, 13)
    land.disc(MOON, 355, 24, 11.6)
    for x, y, size in ((350, 20, 2.4), (359, 28, 3.2), (352, 30, 1.5)):
        land.disc(MOON_SHADE, x, y, size)
    for rank in range(70):
        x, y = chance("star", rank) * 5 + chance("more", rank) % 5, chance("height", rank) * 46 // 100
        if math.hypot(x - 356, y - 25) > 18:
            land.dot(STAR if rank % 4 else MOON, x, y)
            if rank % 11 == 0:
                for i, j in ((-1, 0), (1, 0), (0, -1), (0, 1)):
                    land.dot(STAR, x + i, y + j)


def _clouds(land: Ground) -> None:
    streaks = ((40, 44, 70), (66, 47, 90), (210, 37, 54), (196, 40, 84), (330, 46, 76), (352, 49, 50), (452, 33, 46), (440, 36, 80))
    for x, y, length in streaks:
        for part in range(length):
            thick = round(2.6 * math.sin(math.pi * part / length) + 0.4 * math.sin(part / 3.1))
            if thick > 0:
                land.dot(SKY[3] if y < 42 else SKY[4], x + part, y - thick, 1, thick)
                land.dot(SKY[4] if y < 42 else SKY[5], x + part, y)


def _village(land: Ground) -> None:
    x = 118
    for rank in range(13):
        wide, high = 9 + chance("wide", rank) % 6, 6 + chance("high", rank) % 6
        foot = max(_middle(x), _middle(x + wide)) + 4
        _house(land, x, round(foot), wide, high, rank)
        x += wide + (1, 3, 2, 6)[rank % 4]
    tower = 196
    foot = round(_middle(tower))
    land.dot(NEAR, tower, foot - 24, 9, 30)
    for row in range(11):
        land.dot(ROOF, tower + 4 - row * 0.5, foot - 35 + row, max(1, row + 1))
    land.dot(WINDOW, tower + 3, foot - 21, 3, 4)
    land.dot(ROOF, tower + 4, foot - 21, 1, 4)
    land.dot(ROOF, tower, foot - 14, 9, 1)
    for x in (30, 37, 46, 330, 338, 420, 427, 433):
        top, foot = 56 + chance("poplar", x) % 9, _middle(x) + 5
        for y in range(top, round(foot)):
            half = 2.6 * math.sin(math.pi * min(1, (y - top + 1) / (foot - top) * 0.9))
            land.dot(NEAR, x - half, y, max(1, round(half * 2)))


def _house(land: Ground, x: int, foot: int, wide: int, high: int, rank: int) -> None:
    land.dot(NEAR, x, foot - high, wide, high + 3)
    for row in range(wide // 2 + 1):
        land.dot(ROOF, x - 1 + row, foot - high - row, wide + 2 - row * 2)
    if rank % 3 == 1:
        land.dot(NEAR, x + wide - 4, foot - high - wide // 2 - 1, 2, 4)
    for window in range(2, wide - 2, 4):
        if chance("window", rank, window) < 62:
            land.dot(WINDOW, x + window, foot - high + 3, 2, 2)


def _trees(land: Ground) -> None:
    for rank in range(64):
        x, size = rank * 8 + chance("tree", rank) % 5, 3 + chance("size", rank) % 4
        land.disc(TREES, x, 101 - chance("up", rank) % 5, size + 1.5, size)
    land.dot(TREES, 0, 101, WIDTH, 3)
