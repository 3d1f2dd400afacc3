"""The two ways a keeper walks: the stone dyke and the boardwalk through the marsh, each 512 x 88, walked on their top rows."""

from __future__ import annotations

import math
from pathlib import Path

from ground import Ground, chance

WIDTH, HEIGHT = 512, 88
STONE = ("#2a2440", "#3c3454", "#524868", "#6c5f7a", "#8a7a8c", "#aa9a9c")
EDGE = ("#4a4058", "#8f8190", "#c2b2a4", "#e0d2b4")
MOSS = ("#2c5046", "#4a7a50", "#7ba65c")
WATER = ("#10203e", "#183058", "#24487a", "#3c6c9c", "#78a8c4")
WARM = ("#a86a3c", "#f0b45c", "#ffe09a")
REED = ("#1c3c3c", "#34644a", "#62904e", "#8a5a34", "#b4803e")
WOOD = ("#2c1c28", "#4a2f30", "#6c4638", "#8e6244", "#b48654")
LILY = ("#245048", "#3e7a54", "#74ac68", "#f0c8d4", "#d884a4")


def draw_near(art: Path) -> None:
    """Write both pictures."""
    _dyke().save(art / "digue.png")
    _marsh().save(art / "marais.png")


def _dyke():
    land = Ground(WIDTH, HEIGHT)
    _cobbles(land)
    _coping(land, 24)
    _wall(land, 32, 64)
    for x in (96, 352):
        _drain(land, x)
    for x in (208, 464):
        _ring(land, x)
    _water(land, 64, warm=(40, 168, 296, 424))
    for x in (8, 72, 136, 240, 264, 392, 488):
        _reeds(land, x, 82, 26)
    return land.image


def _cobbles(land: Ground) -> None:
    """Rows of stones that get taller towards the front; a strip of 128 repeats, so its tiles do."""
    land.dot(MOSS[0], 0, 0, WIDTH, 3)
    for x in range(WIDTH):
        blade = chance("grass", x % 64)
        land.dot(MOSS[1 + (blade > 60)], x, 2 - (blade > 45) - (blade > 80), 1, 2)
    for row, (top, high, wide) in enumerate(((3, 5, 8), (8, 7, 16), (15, 9, 16))):
        land.dot(STONE[0], 0, top, WIDTH, high)
        for rank in range(WIDTH // wide):
            x, tone = rank * wide + (row % 2) * wide // 2, 2 + chance("cobble", row, rank % (128 // wide)) % 3
            land.dot(STONE[tone], x + 1, top + 1, wide - 1, high - 1)
            land.dot(STONE[tone + 1], x + 2, top + 1, wide - 3)
            land.dot(STONE[tone + 1], x + 1, top + 2, 1, high - 4)
            land.dot(STONE[tone - 1], x + 2, top + high - 1, wide - 2)


def _coping(land: Ground, top: int) -> None:
    land.dot(EDGE[0], 0, top, WIDTH, 8)
    for x in range(0, WIDTH, 32):
        land.dot(EDGE[1], x + 1, top + 1, 31, 5)
        land.dot(EDGE[2], x + 1, top, 31, 3)
        land.dot(EDGE[3], x + 2, top, 29)
        land.dot(EDGE[2], x + 6 + chance("chip", x % 128) % 18, top + 4, 3)


def _wall(land: Ground, top: int, end: int) -> None:
    land.dot(STONE[0], 0, top, WIDTH, end - top)
    for row in range((end - top) // 8):
        for rank in range(WIDTH // 16):
            x, y, tone = rank * 16 + (row % 2) * 8, top + row * 8, 1 + chance("wall", row, rank % 8) % 3 - (row == 3)
            land.dot(STONE[max(tone, 1)], x + 1, y + 1, 15, 7)
            land.dot(STONE[max(tone, 1) + 1], x + 2, y + 1, 13)
            land.dot(STONE[max(tone, 1) - 1], x + 2, y + 7, 14)
            if chance("mark", row, rank % 8) < 25:
                land.dot(STONE[max(tone, 1) - 1], x + 5, y + 4, 4)
    for x in range(WIDTH):
        depth = round(3 + 2.5 * math.sin(2 * math.pi * x / 64) + 1.5 * math.sin(2 * math.pi * x / 16 + 1))
        land.dot(MOSS[0], x, top, 1, depth + 1)
        land.dot(MOSS[1], x, top, 1, depth - 1)
        if chance("moss", x % 64) < 22:
            land.dot(MOSS[2], x, top + 1, 1, 2)
        land.dot(MOSS[0], x, end - 2 - (chance("foot", x % 32) < 40), 1, 3)


def _drain(land: Ground, x: int) -> None:
    for wide, colour in ((16, STONE[4]), (14, STONE[2]), (12, WATER[0])):
        land.disc(colour, x, 54, wide, wide - 2)
        land.dot(colour, x - wide, 54, wide * 2, 10)
        land.dot(STONE[0], x - 16, 53, 4, 1)
        land.dot(STONE[0], x + 12, 53, 4, 1)
    land.dot(STONE[4], x - 3, 40, 6, 5)
    land.dot(STONE[5], x - 3, 40, 6, 1)
    for bar in (-6, 0, 6):
        land.dot(STONE[1], x + bar, 44, 2, 20)


def _ring(land: Ground, x: int) -> None:
    land.dot(STONE[0], x - 3, 42, 6, 4)
    land.dot(EDGE[1], x - 2, 42, 4, 2)
    for turn in range(40):
        angle = turn * math.pi / 20
        land.dot(WARM[0] if turn < 20 else WOOD[1], x - 0.5 + 4.4 * math.cos(angle), 50 - 4.4 * math.sin(angle))


def _water(land: Ground, top: int, warm: tuple[int, ...] = ()) -> None:
    for y in range(top, HEIGHT):
        depth = min(2, (HEIGHT - 1 - y) * 3 // (HEIGHT - top))
        land.dot(WATER[depth], 0, y, WIDTH)
    for y in range(top + 1, HEIGHT, 3):
        for rank in range(8):
            x = rank * 64 + chance("ripple", y) * 64 // 100
            land.dot(WATER[min(4, 2 + (y - top < 6))], x, y, 5 + chance("long", y) % 14)
            land.dot(WATER[2], x + 30, y + 1, 4 + chance("long", y, 2) % 8)
    land.dot(WATER[3], 0, top, WIDTH)
    for x in warm:
        for row, wide in enumerate((7, 9, 6, 8, 4, 6, 3, 2)):
            shift = round(1.5 * math.sin(row * 1.9))
            land.dot(WARM[0] if row % 2 or row > 5 else WARM[1], x - wide // 2 + shift, top + 1 + row * 3, wide)
            if row < 3:
                land.dot(WARM[2], x - wide // 4 + shift, top + 1 + row * 3, max(1, wide // 2))


def _reeds(land: Ground, x: int, foot: int, high: int) -> None:
    for blade in range(9):
        lean, tall, colour = (blade - 4) * 1.6, high - chance("blade", blade) % 11, REED[blade % 3]
        for step in range(tall):
            bend = lean * (step / tall) ** 1.6
            land.dot(colour, x + (blade - 4) * 0.9 + bend, foot - step, 2 if step < tall // 2 and colour != REED[0] else 1)
    for stem, tall in ((-3, high + 3), (2, high + 7), (5, high - 1)):
        for step in range(tall):
            land.dot(REED[1], x + stem + step * stem / 60, foot - step)
        left = x + stem + tall * stem / 60
        land.dot(REED[3], left - 1, foot - tall - 6, 3, 8)
        land.dot(REED[4], left - 1, foot - tall - 5, 1, 6)
        land.dot(REED[1], left, foot - tall - 9, 1, 3)
    for ring in (6, 9):
        land.dot(WATER[3], x - ring, foot + (ring == 9), ring * 2)


def _marsh():
    land = Ground(WIDTH, HEIGHT)
    _water(land, 24)
    for x in (48, 112, 200, 304, 376, 456):
        _lilies(land, x, 62 + chance("lily", x) % 18)
    for x in range(16, WIDTH, 64):
        _pile(land, x)
    _planks(land)
    for x in (4, 84, 152, 176, 260, 340, 420, 496):
        _reeds(land, x, 84, 22 + chance("reeds", x) % 10)
    for x, y in ((60, 50), (130, 44), (228, 57), (288, 46), (352, 60), (408, 42), (472, 52)):
        land.dot(WARM[2], x, y, 2, 2)
        land.dot(WARM[1], x - 1, y, 1, 2)
        land.dot(WARM[1], x + 2, y, 1, 2)
        land.dot(WARM[0], x, y - 1, 2)
        land.dot(WARM[0], x, y + 2, 2)
    return land.image


def _planks(land: Ground) -> None:
    """Three long boards, their ends staggered, and the beam that carries them."""
    land.dot(WOOD[0], 0, 0, WIDTH, 32)
    for row, (top, high) in enumerate(((0, 6), (6, 8), (14, 10))):
        for rank in range(WIDTH // 64):
            x, tone = rank * 64 + row * 24, 2 + chance("board", row, rank % 2) % 2
            land.dot(WOOD[tone], x + 1, top + 1, 63, high - 1)
            land.dot(WOOD[tone + 1], x + 1, top + 1, 62)
            for grain in range(5):
                at = chance("grain", row, rank % 2, grain)
                land.dot(WOOD[tone - 1], x + 4 + at % 44, top + 3 + at % max(1, high - 4), 6 + at % 9)
            for nail in (4, 60):
                land.dot(WOOD[0], x + nail, top + high // 2 + 1)
                land.dot(WOOD[4], x + nail, top + high // 2)
    land.dot(WOOD[0], 0, 23, WIDTH)
    land.dot(WOOD[3], 0, 24, WIDTH, 5)
    land.dot(WOOD[4], 0, 24, WIDTH)
    land.dot(WOOD[1], 0, 29, WIDTH, 2)
    for x in range(WIDTH):
        if chance("beam", x % 64) < 30:
            land.dot(WOOD[2], x, 26 + x % 2, 2)


def _pile(land: Ground, x: int) -> None:
    land.dot(WOOD[0], x, 30, 12, 34)
    land.dot(WOOD[1], x + 1, 30, 10, 34)
    land.dot(WOOD[2], x + 4, 30, 6, 34)
    land.dot(WOOD[3], x + 7, 30, 2, 30)
    for y in range(34, 62, 7):
        land.dot(WOOD[1], x + 3 + y % 3, y, 4)
    land.dot(WARM[0], x, 46, 12, 3)
    land.dot(WOOD[4], x + 1, 46, 10)
    land.dot(MOSS[0], x, 58, 12, 6)
    land.dot(MOSS[1], x + 2, 59, 8, 3)
    for wide, y in ((9, 64), (7, 66), (10, 68)):
        land.dot(WATER[0], x + 6 - wide, y, wide * 2)
        land.dot(WATER[3], x + 6 - wide - 3, y, 3)


def _lilies(land: Ground, x: int, y: int) -> None:
    for shift, row, size in ((-13, 3, 7), (0, 0, 9), (14, 4, 6)):
        land.disc(LILY[0], x + shift, y + row + 1, size, size * 0.4)
        land.disc(LILY[1], x + shift, y + row, size, size * 0.36)
        land.disc(LILY[2], x + shift - 1, y + row - 0.6, size * 0.6, size * 0.18)
        land.dot(WATER[1], x + shift + 2, y + row, size - 2)
    for petal in (-4, -2, 0, 2):
        land.disc(LILY[4], x + petal + 1, y - 3, 1.6, 3)
        land.disc(LILY[3], x + petal + 1, y - 4, 1.2, 2.4)
    land.dot(WARM[1], x - 1, y - 3, 2, 2)
