"""The tin diver, 24 x 32 pixels in three inks, feet at (12, 31): walks, waits, winds down."""

from __future__ import annotations

import math
from pathlib import Path

from inks import Canvas, swing

TIN = {"line": "#2c1810", "brass": "#cc8430", "shine": "#ffe6a0"}
WIDTH, HEIGHT = 24, 32
WALK, WAIT, SAG = 4, 4, 3


def draw_diver(art: Path) -> None:
    """Write every frame."""
    folder = art / "diver"
    folder.mkdir(exist_ok=True)
    for rank in range(WALK):
        _frame(bob=rank % 2, stride=rank / WALK, key=rank).save(folder / f"walk_{rank}.png")
    for rank in range(WAIT):
        _frame(bob=(0, 0, 1, 1)[rank], key=rank // 2, arm=swing(rank, WAIT)).save(folder / f"wait_{rank}.png")
    for rank in range(SAG):
        _frame(bob=rank * 2, key=0, arm=-2.0 - rank, lean=rank * 0.8, dark=rank == SAG - 1).save(folder / f"sag_{rank}.png")


def _frame(bob: float, stride: float | None = None, key: int = 0, arm: float = 0.0, lean: float = 0.0, dark: bool = False):
    canvas = Canvas(WIDTH, HEIGHT, TIN)
    _boots(canvas, stride)
    _key(canvas, bob, key)
    _suit(canvas, bob, arm)
    _helmet(canvas, bob, lean, dark)
    return canvas.picture()


def _boots(canvas: Canvas, stride: float | None) -> None:
    for side in (0.5, 0.0):
        turn = 2 * math.pi * ((stride or 0) + side)
        foot = (8.5 if side else 15.5) if stride is None else 12 + 4.2 * math.cos(turn)
        up = 0.0 if stride is None else max(0.0, math.sin(turn)) * 2.4
        canvas.limb("brass", (12, 22), (foot, 26 - up), 4)
        canvas.shape("brass", (foot - 3, 27 - up), (foot + 2, 26 - up), (foot + 4, 29 - up), (foot + 4, 31 - up), (foot - 3, 31 - up))
        canvas.dot("line", round(foot - 3), round(29.4 - up), 7, 1)
        canvas.dot("shine", round(foot - 1), round(27.6 - up), 2, 1)


def _key(canvas: Canvas, bob: float, key: int) -> None:
    """What winds it up, at its back: two wings that turn."""
    y, wing = 18 + bob, (3.2, 2.2, 0.8, 2.2)[key % 4]
    canvas.limb("shine", (3, y), (7, y), 1.2)
    canvas.blob("brass", 2.4, y - wing, 1.7, max(1.2, wing * 0.8))
    canvas.blob("brass", 2.4, y + wing, 1.7, max(1.2, wing * 0.8))


def _suit(canvas: Canvas, bob: float, arm: float) -> None:
    canvas.shape("brass", (7, 15 + bob), (17, 15 + bob), (17.6, 24), (6.4, 24))
    canvas.shape("shine", (14.4, 16 + bob), (16, 16 + bob), (16.4, 21), (14.8, 21))
    canvas.limb("line", (6.4, 22.4), (17.6, 22.4), 1.1)
    canvas.dot("shine", 11, 22, 2, 1)
    for y in (17.6, 20):
        canvas.dot("line", 11, round(y + bob * 0.5), 1, 1)
    canvas.limb("line", (9.6, 17.4 + bob), (12.6, 21.6 + bob - arm), 3.8)
    canvas.limb("brass", (9.6, 17 + bob), (13, 21 + bob - arm), 2.8)
    canvas.blob("shine", 14.4, 21 + bob - arm, 1.6, 1.6)


def _helmet(canvas: Canvas, bob: float, lean: float, dark: bool) -> None:
    x, y = 12 + lean, 8.6 + bob
    canvas.blob("brass", x, y, 7.4, 7.2)
    canvas.shape("brass", (5.6 + lean, 14 + bob), (18.4 + lean, 14 + bob), (18.8, 16.4 + bob), (5.2, 16.4 + bob))
    canvas.limb("line", (5.8, 14 + bob), (18.4, 14 + bob), 1)
    canvas.blob("line", x + 2.2, y + 0.4, 4.8, 4.6)
    canvas.blob("line" if dark else "shine", x + 2.4, y + 0.4, 3.5, 3.4)
    if not dark:
        for across in (1.4, 3.6):
            canvas.dot("line", round(x + across), round(y - 1), 1, 2)
        canvas.dot("brass", round(x + 2), round(y + 2), 2, 1)
    canvas.limb("shine", (x - 4.8, y - 2.8), (x - 1.6, y - 5.6), 1.1)
    canvas.dot("shine", round(x - 5), round(15 + bob), 1, 1)
    canvas.dot("shine", round(x + 4), round(15 + bob), 1, 1)
    canvas.blob("brass", x - 0.5, y - 7, 2, 1.2)
