"""The animations of a sprite, played one after another at the game's own pace, with name and frame number beneath."""

from __future__ import annotations

from collections.abc import Callable

from PIL import Image, ImageDraw

from pipeline.proofs.animated_png import animated_png, tick_seconds
from pipeline.proofs.canvas import GAP, PAPER, SOFT, aspect_size, indexed, largest, on_board, write
from pipeline.proofs.subject import Subject

_LARGE = (320, 256)  # screen pixels up to which frames are magnified
_NARROW, _CAPTION = 220, 44  # least width; height of the line beneath
_TWICE = 200  # steps in all up to which a loop is played twice, so that its seam is seen
HELD = 30  # ticks for which the end of what plays once is held, as the game holds it


# Draws over a figure: the picture of a frame at its size on the screen, and the frame's number.
Over = Callable[[Image.Image, int], None]


def animation(subject: Subject, over: Over | None = None, below: Image.Image | None = None) -> bytes:
    """Return an animated PNG of all animations, in their order, which starts again at the end.

    Args:
        over: draws over each figure.
        below: is shown under all of it, at the left.
    """
    rgb, clear = subject.coloured()
    height, width = clear.shape[1:]
    times = largest(width, height, _LARGE, subject.pixel_aspect)
    size = aspect_size(width, height, times, subject.pixel_aspect)
    played = play(subject.animations()) or [("no steps", 0, 1)]
    pictures: dict[tuple[str, int], Image.Image] = {}
    for name, frame, _ in played:
        if (name, frame) not in pictures:
            figure = Image.fromarray(on_board(rgb[frame], clear[frame], size, subject.anchor()))
            if over:
                over(figure, frame)
            pictures[name, frame] = _picture(figure, name, frame, len(rgb), below)
    few = dict(zip(pictures, indexed(list(pictures.values())), strict=True))
    shown = [(few[name, frame], ticks) for name, frame, ticks in played]
    return animated_png(shown, tick_seconds(subject.target.screen.refresh))


def play(animations: list[tuple[str, bool, list[tuple[int, int]]]]) -> list[tuple[str, int, int]]:
    """Return (name, frame, ticks) in the order shown.

    A loop is played twice; what plays once holds its last step for ``HELD`` ticks more. With very many steps a loop is
    played once, to keep the file small.
    """
    twice = 2 if sum(len(steps) for _, _, steps in animations) <= _TWICE else 1
    found = []
    for name, loop, steps in animations:
        found += [(name, frame, ticks) for frame, ticks in steps * (twice if loop else 1)]
        if not loop:
            found.append((name, steps[-1][0], HELD))
    return found


def place(subject: Subject) -> tuple[int, int, int, int]:
    """Return left, top, width and height of the figure in the animation's picture, in screen pixels."""
    height, width = subject.decoded.pixels.shape[1:]
    times = largest(width, height, _LARGE, subject.pixel_aspect)
    size = aspect_size(width, height, times, subject.pixel_aspect)
    return (max(size[0], _NARROW) - size[0]) // 2, 0, *size


def _picture(figure: Image.Image, name: str, frame: int, count: int, below: Image.Image | None) -> Image.Image:
    width = max(figure.width, _NARROW, below.width if below else 0)
    picture = Image.new("RGB", (width, figure.height + _CAPTION + (below.height if below else 0)), PAPER)
    if below:
        picture.paste(below, (0, figure.height + _CAPTION))
    picture.paste(figure, ((width - figure.width) // 2, 0))
    draw = ImageDraw.Draw(picture)
    write(draw, (GAP // 2, figure.height + 8), name, 15, width - GAP, bold=True)
    write(draw, (GAP // 2, figure.height + 27), f"frame {frame} of 0–{count - 1}", 11, width - GAP, fill=SOFT)
    return picture
