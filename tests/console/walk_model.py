"""What the demo's program must show, composed on the host from what the image's reader decodes.

Written from demo_project/program/README.md, not from the program: positions in half pixels, one step a picture.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field

import numpy as np

from pipeline.reading.decoded import Decoded

WIDTH, HEIGHT = 320, 240
APART, MARGIN, GROUND, AHEAD, FASTEST = 84, 60, 20, 20, 4


@dataclass
class Figure:
    """One courier and its animation; ``clock`` counts pictures since the animation began."""

    sprite: Decoded
    clock: int = 0
    steps: list[tuple[int, int]] = field(default_factory=list)
    loops: bool = True

    def begin(self, name: str, ahead: int) -> None:
        """Start an animation, or the walk where there is not one of that name."""
        known = {number: (steps, loops) for number, loops, steps in self.sprite.animations}
        chosen = known.get(zlib.crc32(name.encode())) or known.get(zlib.crc32(b"walk")) or ([], True)
        self.steps, self.loops = chosen
        self.clock = ahead

    def frame(self) -> np.ndarray:
        """Return the pixels shown now."""
        shown = [frame for frame, ticks in self.steps for _ in range(ticks)]
        if not shown:
            return self.sprite.pixels[0]
        rank = self.clock % len(shown) if self.loops else min(self.clock, len(shown) - 1)
        return self.sprite.pixels[shown[rank]]


class Scene:
    """A pair (the leader first; may be fewer) in a harbour (may be None)."""

    def __init__(self, harbour: Decoded | None, couriers: list[Decoded]) -> None:
        self.paused = False
        self.pair: list[Figure] = []
        self.speed = 2
        self.enter(harbour)
        self.cast(couriers)

    def enter(self, harbour: Decoded | None) -> None:
        """Begin at the left end of a harbour."""
        self.ground = None if harbour is None else harbour.pixels[0]
        self.x, self.speed, self.mirrored = 2 * (MARGIN + APART), 2, False
        self._begin()

    def cast(self, couriers: list[Decoded]) -> None:
        """Take other couriers."""
        self.pair = [Figure(sprite) for sprite in couriers]
        self._begin()

    def change(self, step: int) -> None:
        """Walk faster to the right (1) or the left (-1)."""
        if abs(self.speed + step) <= FASTEST:
            self._set_speed(self.speed + step)

    def advance(self, pictures: int) -> None:
        """Let time pass."""
        for _ in range(0 if self.paused else pictures):
            for figure in self.pair:
                figure.clock += 1
            self._move()

    def picture(self) -> np.ndarray:
        """Return the 320 x 240 indices to be seen."""
        height, width = self.ground.shape if self.ground is not None else (HEIGHT, WIDTH)
        top = max(height - HEIGHT, 0)
        left = max(min(self.x // 2 - APART // 2 - WIDTH // 2, width - WIDTH), 0)
        canvas = np.zeros((HEIGHT, WIDTH), dtype=np.uint32)
        if self.ground is not None:
            window = self.ground[top : top + HEIGHT, left : left + WIDTH]
            canvas[: window.shape[0], : window.shape[1]] = window
        places = [self.x // 2 - left, self.x // 2 - left - APART]
        for figure, x in reversed(list(zip(self.pair, places, strict=False))):
            self._put(canvas, figure, x, height - top - GROUND)
        return canvas

    def _gait(self) -> str:
        return ("idle", "walk", "walk", "run", "run")[abs(self.speed)]

    def _begin(self) -> None:
        for figure, ahead in zip(self.pair, (0, AHEAD), strict=False):
            figure.begin(self._gait(), ahead)

    def _set_speed(self, speed: int) -> None:
        before = self._gait()
        self.speed = speed
        if speed:
            self.mirrored = speed < 0
        if self._gait() != before:
            self._begin()

    def _move(self) -> None:
        width = WIDTH if self.ground is None else self.ground.shape[1]
        low = 2 * (MARGIN + APART)
        high = max(2 * (width - MARGIN), low)
        self.x += self.speed
        if self.speed > 0 and self.x >= high:
            self.x = high
            self._set_speed(-self.speed)
        elif self.speed < 0 and self.x <= low:
            self.x = low
            self._set_speed(-self.speed)

    def _put(self, canvas: np.ndarray, figure: Figure, x: int, y: int) -> None:
        frame, head = figure.frame(), figure.sprite.head
        anchor = head["anchor_x"]
        if self.mirrored:
            frame, anchor = frame[:, ::-1], frame.shape[1] - 1 - anchor
        rows, columns = np.nonzero(frame != head["clear"])
        down, across = rows + y - head["anchor_y"], columns + x - anchor
        seen = (down >= 0) & (down < HEIGHT) & (across >= 0) & (across < WIDTH)
        canvas[down[seen], across[seen]] = frame[rows[seen], columns[seen]]
