"""What else moves: the toad Grouf, the moths, a bank of fog, the lamps of the dyke."""

from __future__ import annotations

import math
from pathlib import Path

from inks import Canvas, rgb, write_palette
from PIL import Image

TOAD = (64, 48)  # drawn at twice its size; the project file halves it
MOTH_MILLISECONDS = 90
FOG_SKY = ("#1d2558", "#333c7c")  # of the sky behind it, so that its palette can show both


def draw_creatures(art: Path) -> None:
    """Write all of them."""
    _toads().save(art / "grouf.png")
    moths = [_moth(spread, rise) for spread, rise in ((10.5, -4.5), (8, -1), (9.5, 3.5), (7, 0.5))]
    moths[0].save(art / "phalene.png", save_all=True, append_images=moths[1:], duration=MOTH_MILLISECONDS, loop=0)
    (art / "lampe").mkdir(exist_ok=True)
    for name, flame in (("eteinte", None), ("allumee_0", 0), ("allumee_1", 1)):
        _lamp(flame).save(art / "lampe" / f"{name}.png")
    _fog().save(art / "brume.png")
    write_palette(art / "brume.gpl", FOG_SKY)


def _toads() -> Image.Image:
    """Five frames on a grid of three columns: sits, puffs, crouches, leaps, lands."""
    sheet = Image.new("RGBA", (TOAD[0] * 3, TOAD[1] * 2))
    poses = ((0, 0, 4), (0, 1, 9), (4, 0, 5), (-9, -2, 5), (3, 1, 4))
    for rank, (drop, squash, throat) in enumerate(poses):
        sheet.paste(_toad(drop, squash, throat), (rank % 3 * TOAD[0], rank // 3 * TOAD[1]))
    return sheet


def _toad(drop: float, squash: float, throat: float) -> Image.Image:
    canvas, y, leaping = Canvas(*TOAD), 31 + drop, drop < 0
    feet = 44.5 if not leaping else 41 + drop * 0.4
    for x, ink in ((11, "leaf_dark"), (51, "leaf")):
        canvas.limb(ink, (x + (5 if x < 30 else -5), y + 4), (x + (-1 if leaping and x < 30 else 0), feet - 2), 7)
        canvas.blob(ink, x + (-1 if leaping and x < 30 else 1), feet - 1, 6.5, 2.6)
    canvas.blob("leaf_dark", 31, y, 21 + squash, 14 - squash)
    canvas.blob("leaf", 33.5, y - 1.5, 18 + squash, 12 - squash)
    canvas.blob("straw_dark", 36, y + 6.5, 13, 6.8)
    canvas.blob("straw", 37.5, y + 6.5, 11.5, 5.8)
    canvas.blob("glow", 39, y + 6, throat, throat * 0.62)
    for x in (25, 43):
        canvas.blob("leaf", x, y - 12 + squash, 6.4, 6.2)
        canvas.blob("glow", x + 1.2, y - 12.4 + squash, 4.2, 4.2)
        canvas.blob("line", x + 2.2, y - 12 + squash, 2.1, 2.7)
    canvas.limb("line", (22, y - 1.5), (37, y + 0.4), 1.6)
    canvas.limb("line", (37, y + 0.4), (51, y - 2.5), 1.6)
    for x, rise, size in ((17, -1, 2.4), (21.5, -6, 1.8), (14.5, 5, 1.7), (33, -9.5, 1.8)):
        canvas.blob("leaf_dark", x, y + rise, size, size * 0.8)
    canvas.blob("coat", 32, y + 13.5 - squash, 6, 1.8)
    return canvas.picture(outline=2)


def _moth(spread: float, rise: float) -> Image.Image:
    """Wings to both sides alike, so that half of its cells are the mirrored other half."""
    canvas = Canvas(24, 16)
    for side in (-1, 1):
        tip, below = (12 + side * spread, 7 + rise), (12 + side * (spread - 2), 10 + rise * 0.6)
        canvas.shape("blue", (12 + side * 0.5, 8), tip, below, (12 + side, 10))
        canvas.shape("pale", (12 + side * 0.5, 7), tip, (12 + side * (spread - 3.4), 9 + rise * 0.7))
        canvas.shape("blue", (12 + side * 0.8, 9), (12 + side * (spread * 0.66), 12.6 + rise * 0.3), (12 + side * 1.4, 13))
        canvas.blob("flame", 12 + side * (spread - 3.4), 7.6 + rise * 0.75, 1.1, 1.1)
        canvas.limb("line", (12 + side * 0.6, 5.5), (12 + side * 2.8, 3), 0.8)
    canvas.blob("straw_dark", 12, 9, 1.5, 4)
    canvas.blob("straw", 12, 6.4, 1.5, 1.6)
    made = canvas.picture()
    made.paste(made.crop((0, 0, 12, 16)).transpose(Image.Transpose.FLIP_LEFT_RIGHT), (12, 0))
    return made


def _lamp(flame: int | None) -> Image.Image:
    """A lamp of bent reed on its foot, 16 x 40, dark or burning."""
    canvas = Canvas(16, 40)
    canvas.shape("leather", (3, 38.5), (13, 38.5), (10.4, 34), (5.6, 34))
    canvas.limb("leather", (8, 36), (8, 14), 2.4)
    canvas.limb("straw_dark", (8.6, 34), (8.6, 15), 1)
    for y in (20, 27):
        canvas.limb("straw", (6.8, y), (9.4, y), 1.2)
    canvas.blob("leather", 8, 8.5, 5.4, 6)
    canvas.blob("blue" if flame is None else "flame", 8, 8.5, 4.2, 4.9)
    if flame is None:
        canvas.blob("pale", 6.6, 6.4, 1, 1.5)
    else:
        canvas.blob("glow", 8, 9 - flame * 0.6, 2.6 + flame * 0.7, 3 + flame * 0.7)
    canvas.limb("leather", (8, 3.4), (8, 13.4), 0.9)
    canvas.shape("leather", (3.6, 4.4), (8, 1.2), (12.4, 4.4))
    canvas.limb("leather", (4, 13.4), (12, 13.4), 1.6)
    return canvas.picture()


def _fog() -> Image.Image:
    """A bank of fog that gets thinner and bluer below; the console's few colours are dithered, thin fog is left out."""
    width, height = 64, 32
    light, deep, made = rgb("#ccd8ea"), rgb("#5878bc"), Image.new("RGBA", (width, height))
    puffs = ((14, 20, 13, 9), (30, 14, 15, 11), (47, 18, 14, 10), (32, 23, 27, 7))
    for y in range(height):
        for x in range(width):
            depth = max(1 - math.hypot((x + 0.5 - left) / across, (y + 0.5 - top) / down) for left, top, across, down in puffs)
            shade = min(1.0, max(0.0, (y - 8) / 20 - depth * 0.35))
            colour = tuple(round(a + (b - a) * shade) for a, b in zip(light, deep))
            made.putpixel((x, y), (*colour, max(0, min(255, round(depth * 900)))))
    return made
