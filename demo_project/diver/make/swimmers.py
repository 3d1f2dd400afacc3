"""Who lives in the bowl: guppy and snail in the same three inks, a crab that also walks the other way, a bubble, each in three inks."""

from __future__ import annotations

from pathlib import Path

from inks import Canvas, swing
from PIL import Image

CORAL = {"line": "#38122c", "coral": "#e8643c", "pale": "#ffdcb0"}
SHELL = {"line": "#40141c", "shell": "#c83838", "pale": "#ffa884"}
GLASS = {"line": "#1c5088", "glass": "#6cb8e4", "light": "#f4ffff"}


def draw_swimmers(art: Path) -> None:
    """Write every frame of all four; the bubble's on a sheet."""
    for name, frames in (("guppy", _guppy()), ("snail", _snail()), ("crab", _crab())):
        (art / name).mkdir(exist_ok=True)
        for label, picture in frames:
            picture.save(art / name / f"{label}.png")
    bubbles = [_bubble(rank) for rank in range(5)]
    sheet = Image.new("RGBA", (16 * len(bubbles), 16))
    for rank, picture in enumerate(bubbles):
        sheet.paste(picture, (16 * rank, 0))
    sheet.save(art / "bubble.png")


def _guppy():
    for rank in range(4):
        canvas, wave = Canvas(24, 16, CORAL), swing(rank, 4)
        canvas.shape("coral", (9, 8), (2, 3.4 + wave), (1.6, 8 + wave * 2), (2, 13 + wave))
        canvas.shape("pale", (7, 8), (3, 6 + wave), (3, 10.4 + wave))
        canvas.shape("coral", (10, 4.6), (14.4, 1.4 - wave * 0.4), (16.4, 4.8))
        canvas.blob("coral", 14, 8, 7.4, 4.4)
        canvas.blob("pale", 15, 10, 5.4, 2)
        canvas.shape("pale", (12, 8.4), (9.4, 10.6 + wave), (13.6, 10.4))
        canvas.dot("pale", 17, 5, 3, 3)
        canvas.dot("line", 18, 6, 1, 2)
        canvas.dot("line", 20, 9, 1, 1)
        for x in (11, 14):
            canvas.dot("line", x, 6, 1, 2)
        yield f"swim_{rank}", canvas.picture()


def _snail():
    for rank in range(4):
        canvas, reach = Canvas(24, 16, CORAL), (0, 1, 2, 1)[rank]
        canvas.shape("pale", (2, 14.6), (4, 12), (17, 11.4), (20 + reach, 8), (22 + reach * 0.4, 10), (19 + reach, 14.6))
        canvas.limb("pale", (19.4 + reach, 9), (19 + reach, 5.4), 1.3)
        canvas.limb("pale", (21 + reach * 0.6, 9), (22 + reach * 0.3, 6), 1.3)
        canvas.dot("line", 20 + round(reach * 0.6), 10, 1, 1)
        canvas.blob("coral", 10.4, 7.6, 6.6, 6.2)
        canvas.blob("line", 10.8, 8, 4.6, 4.2)
        canvas.blob("coral", 10.8, 8.2, 3.7, 3.4)
        canvas.blob("line", 11.2, 8.4, 1.9, 1.7)
        canvas.blob("pale", 11.4, 8.6, 1.1, 1)
        canvas.limb("pale", (6, 4.8), (8.6, 2.9), 1.2)
        yield f"crawl_{rank}", canvas.picture()


def _crab():
    """Scuttles in three frames; then the same mirrored, which cost nothing more."""
    right = []
    for rank in range(3):
        canvas, step = Canvas(24, 16, SHELL), (-1, 0, 1)[rank]
        for x, turn in ((5, 1), (8.4, -1), (15.6, 1), (19, -1)):
            lift = max(0, step * turn)
            canvas.limb("shell", (12 + (x - 12) * 0.5, 11), (x, 12.4 - lift), 1.4)
            canvas.limb("shell", (x, 12.4 - lift), (x + (-1.4 if x < 12 else 1.4) + step * 0.5, 14.6 - lift), 1.4)
        canvas.limb("shell", (6, 9), (3.4, 7 - step * 0.4), 1.8)
        canvas.blob("shell", 3.4, 4.8 - step * 0.5, 2.5, 2.3)
        canvas.shape("line", (3.4, 4.4), (2.7, 1), (4.1, 1))
        canvas.limb("shell", (18, 9), (20.4, 6.6 + step * 0.6), 1.8)
        canvas.blob("shell", 20.2, 4.2 + step * 0.8, 3, 2.8)
        canvas.shape("line", (20.2, 4 + step), (19.4, 0.4 + step), (21, 0.4 + step))
        canvas.blob("shell", 12, 9.6, 7, 4)
        canvas.limb("pale", (8, 7.6), (13, 7), 1.2)
        canvas.dot("pale", 15, 9, 2, 1)
        for x in (10, 14):
            canvas.dot("pale", x - 1, 3, 3, 3)
            canvas.dot("line", x, 4, 1, 2)
        canvas.dot("line", 10, 11, 4, 1)
        right.append(canvas.picture())
    for way, frames in (("right", right), ("left", [one.transpose(Image.Transpose.FLIP_LEFT_RIGHT) for one in right])):
        for rank, picture in enumerate(frames):
            yield f"{way}_{rank}", picture


def _bubble(rank: int):
    """Grows for four frames, bursts in the last."""
    canvas = Canvas(16, 16, GLASS)
    if rank == 4:
        for x, y in ((3, 4), (8, 1.6), (13, 4), (14.4, 9), (11.4, 13.6), (5, 13.6), (1.8, 9)):
            canvas.blob("light", x, y, 0.9, 0.9)
        return canvas.picture(outline=0)
    size = (2.4, 3.6, 5, 6)[rank]
    canvas.blob("glass", 8, 8, size, size)
    canvas.blob("light", 8 - size * 0.35, 8 - size * 0.35, max(0.8, size * 0.34), max(0.8, size * 0.3))
    canvas.dot("light", round(8 + size * 0.4), round(8 + size * 0.45), 1, 1)
    return canvas.picture()
