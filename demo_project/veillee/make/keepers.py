"""The two lamp keepers, Mielle and Tobin: one guild coat, two heads. 32 x 48 pixels, feet at (15, 46)."""

from __future__ import annotations

import math
from pathlib import Path

from inks import Canvas, swing

WIDTH, HEIGHT = 32, 48
WALK, IDLE, RAISE = 6, 4, 3


def draw_keepers(art: Path) -> None:
    """Write every frame of both."""
    for name, head in (("mielle", _mielle), ("tobin", _tobin)):
        folder = art / name
        folder.mkdir(exist_ok=True)
        for rank in range(WALK):
            _frame(head, bob=abs(swing(rank, WALK)) * 1.2, stride=rank / WALK, sway=swing(rank, WALK)).save(folder / f"marche_{rank}.png")
        for rank in range(IDLE):
            _frame(head, bob=(0, 0, 1, 1)[rank], sway=swing(rank, IDLE) * 0.7).save(folder / f"attente_{rank}.png")
        for rank in range(RAISE):
            _frame(head, bob=-rank * 0.4, lift=(2, 6, 8)[rank], bright=rank == RAISE - 1).save(folder / f"leve_{rank}.png")


def mielle_painted():
    """Return Mielle in full detail, for the title picture."""
    return _drawn(_mielle, 0, stride=0.02, sway=0.4, bright=True).painted()


def _frame(head, bob: float, **pose):
    return _drawn(head, bob, **pose).picture()


def _drawn(head, bob: float, stride: float | None = None, sway: float = 0.0, lift: float = 0.0, bright: bool = False) -> Canvas:
    canvas = Canvas(WIDTH, HEIGHT)
    down = round(bob)
    _legs(canvas, stride)
    _coat(canvas, down, sway)
    head(canvas, down)
    _lantern(canvas, down, sway, lift, bright)
    return canvas


def _legs(canvas: Canvas, stride: float | None) -> None:
    for side, ink in ((0.5, "line"), (0.0, "leather")):
        if stride is None:
            foot, raised = (12.0 if side else 17.5), 0.0
        else:
            turn = 2 * math.pi * (stride + side)
            foot, raised = 14.8 + 5.2 * math.cos(turn), max(0.0, math.sin(turn)) * 3.2
        canvas.limb(ink, (14.5, 35), (foot - 0.5, 43 - raised), 4)
        canvas.shape(ink, (foot - 2.5, 42 - raised), (foot + 1, 42 - raised), (foot + 3.8, 44.5 - raised), (foot + 3.8, 46 - raised),
                     (foot - 2.5, 46 - raised))  # fmt: skip
        if ink == "leather":
            canvas.dot("straw_dark", round(foot - 2), round(42 - raised), 3, 1)


def _coat(canvas: Canvas, down: int, sway: float) -> None:
    top, hem = 24 + down, 39 + down * 0.5
    canvas.shape("coat_dark", (10, top), (19, top), (22.5 - sway, hem), (6 - sway * 1.6, hem))
    canvas.shape("coat", (12.2, top), (19, top), (22.5 - sway, hem), (10.4 - sway * 1.3, hem))
    canvas.shape("coat_light", (17, top + 2), (19, top + 1), (22.5 - sway, hem - 0.4), (19.6 - sway, hem - 0.4))
    canvas.limb("straw_dark", (7.2 - sway * 1.2, hem - 1), (21.6 - sway, hem - 1), 1.2)
    canvas.limb("leather", (9.4, top + 8), (20.6, top + 8), 1.5)
    canvas.dot("straw", 15, top + 7, 2, 2)
    canvas.blob("leaf_dark", 14.5, top + 0.8, 5.4, 2.2)
    canvas.blob("leaf", 15.6, top + 0.2, 4.4, 1.5)
    canvas.shape("leaf_dark", (9.8, top + 0.5), (11.5, top + 2), (6.4 - sway * 2, top + 7), (5 - sway * 2, top + 4.6))


def _face(canvas: Canvas, y: float) -> None:
    canvas.blob("skin_dark", 14.6, y, 6.2, 6)
    canvas.blob("skin", 15.8, y, 5.6, 5.6)
    row = round(y)
    canvas.dot("line", 17, row - 1, 1, 3)
    canvas.dot("line", 20, row - 1, 1, 3)
    canvas.dot("skin_dark", 18, row + 3, 2, 1)
    canvas.dot("coat_light", 15, row + 2, 2, 1)


def _mielle(canvas: Canvas, down: int) -> None:
    y = 17.5 + down
    canvas.blob("leather", 11.5, y + 2, 4.6, 6.4)
    canvas.blob("leather", 9.4, y + 7.2, 2.2, 2.6)
    canvas.dot("coat_light", 9, round(y + 4), 2, 1)
    _face(canvas, y)
    canvas.shape("leather", (9.4, y - 4), (18, y - 5.4), (14.4, y - 0.6), (10.4, y + 3))
    canvas.blob("straw_dark", 14.8, y - 4.2, 12, 2.9)
    canvas.blob("straw", 15.2, y - 5, 11.2, 2.1)
    canvas.shape("straw_dark", (8.6, y - 5), (20.6, y - 5), (16.4, y - 13.4), (12.6, y - 13.2))
    canvas.shape("straw", (12.4, y - 5.6), (20.4, y - 5.2), (16.6, y - 13.2), (14, y - 13.2))
    canvas.shape("coat", (9.2, y - 5.2), (20.2, y - 5.2), (19.2, y - 7.4), (10.4, y - 7.4))
    canvas.shape("leaf", (11.6, y - 6), (8.2, y - 12.6), (13.2, y - 8.4))
    canvas.shape("leaf_dark", (11.6, y - 6), (8.2, y - 12.6), (10.4, y - 8))


def _tobin(canvas: Canvas, down: int) -> None:
    y = 17.5 + down
    _face(canvas, y)
    canvas.blob("pale", 15.8, y + 5.2, 5.6, 3.4)
    canvas.shape("pale", (11.6, y + 4), (20.6, y + 4), (17.4, y + 11), (14.8, y + 10.6))
    canvas.dot("skin_dark", 17, round(y + 4), 3, 1)
    canvas.blob("skin", 20.6, y + 1.6, 1.7, 1.5)
    canvas.blob("pale", 10.4, y + 1, 2.4, 4)
    canvas.blob("blue", 14.4, y - 5.6, 7.2, 4)
    canvas.shape("blue", (7.4, y - 4.4), (13, y - 8.6), (9.4, y - 10.6), (5, y - 6.2))
    canvas.blob("pale", 5.6, y - 5.6, 1.9, 1.9)
    canvas.limb("coat_light", (8.4, y - 1.9), (20.6, y - 2.6), 2.6)


def _lantern(canvas: Canvas, down: int, sway: float, lift: float, bright: bool) -> None:
    hand, tip = (20.6, 30 + down - lift), (22.4, 7.5 + down - lift * 0.6)
    canvas.limb("straw_dark", (hand[0] - 1.2, hand[1] + 9 - lift * 0.2), tip, 1.3)
    canvas.limb("leather", tip, (tip[0] + 3.4, tip[1] + 0.6), 1.2)
    canvas.limb("coat_dark", (13.6, 27.5 + down), (17.4, 31.6 + down - lift * 0.7), 3.6)
    canvas.limb("coat_light", (17.2, 31.4 + down - lift * 0.7), hand, 3)
    canvas.blob("skin", hand[0] + 0.3, hand[1], 1.7, 1.7)
    x, y = tip[0] + 3.4 - sway, tip[1] + 4.6
    canvas.limb("leather", (tip[0] + 3.4, tip[1] + 0.6), (x, y - 2), 1)
    canvas.blob("flame", x, y + 1.8, 3.2, 3.6)
    canvas.blob("glow", x, y + 2, *((2.9, 3.2) if bright else (1.7, 2.2)))
    canvas.shape("leather", (x - 2.6, y - 0.8), (x, y - 3), (x + 2.6, y - 0.8))
    canvas.shape("leather", (x - 2.2, y + 4.4), (x + 2.2, y + 4.4), (x + 1.6, y + 5.8), (x - 1.6, y + 5.8))
