"""Animations as a player may see them: in the middle of the screen, on grounds that bring out their changes, over and over if they loop."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipeline.safety.areas import central_field
from pipeline.safety.flashes import NEAR_AREA, Finding, FlashMeter

Steps = list[tuple[int, int]]  # number of a frame, and the ticks that it is shown
GROUNDS = {"black": 0, "grey": 118, "white": 255}  # 118 has 18 % of white's luminance
_SLOWER = (2, 3, 4, 5, 6, 8, 10)
_LONGEST = 20  # seconds of a loop that is played twice; a longer one goes on for a second after its end


class Measured(NamedTuple):
    """What an animation comes to.

    Attributes:
        ground: of ``GROUNDS``, the worst one.
        findings: on it, one for each limit.
        times: the least factor of all its times, of some, that passes every limit; 1 where it passes as it is, None where none does.
    """

    ground: str
    findings: list[Finding]
    times: int | None


@dataclass(frozen=True)
class Figure:
    """A figure whose animations are measured.

    Attributes:
        frames: uint8 sRGB, shape (frames, height, width, 3); clear: where they are clear, bool, without the last axis.
        screen: its width and height in pixels. What is larger than it is cut off alike on both sides.
        refresh: ticks in a second.
    """

    frames: np.ndarray
    clear: np.ndarray
    screen: tuple[int, int]
    refresh: float

    def measure(self, steps: Steps, loop: bool) -> Measured | None:
        """Measure an animation of at least one step; None where it changes too few pixels to come near any limit."""
        if self._changes(steps) <= NEAR_AREA * central_field(*self.screen).most:
            return None
        found = {ground: self._findings(steps, loop, ground) for ground in GROUNDS}
        ground = max(found, key=lambda name: _weight(found[name]))
        times = 1
        if _weight(found[ground])[0]:
            times = next((times for times in _SLOWER if self._passes([(frame, ticks * times) for frame, ticks in steps], loop)), None)
        return Measured(ground, found[ground], times)

    def _changes(self, steps: Steps) -> int:
        """Return how many pixels do not stay as they are, on any ground."""
        shown = sorted({frame for frame, _ in steps})
        first = shown[0]
        opaque = ~self.clear[shown].all(axis=0)  # what appears and goes away again, with all of the figure
        same = (self.frames[shown] == self.frames[first]).all(axis=(0, 3)) & (self.clear[shown] == self.clear[first]).all(axis=0)
        return int(np.count_nonzero(opaque if len(shown) == 1 else ~same))

    def _passes(self, steps: Steps, loop: bool) -> bool:
        return not any(_weight(self._findings(steps, loop, ground))[0] for ground in GROUNDS)

    def _findings(self, steps: Steps, loop: bool, ground: str) -> list[Finding]:
        meter = FlashMeter(*self.screen, self.refresh)
        pictures = {frame: self._picture(frame, GROUNDS[ground]) for frame in {frame for frame, _ in steps}}
        bare = np.full((self.screen[1], self.screen[0], 3), GROUNDS[ground], np.uint8)
        for frame, ticks in played(steps, loop, self.refresh):
            meter.add(bare if frame is None else pictures[frame], ticks)
        return meter.findings()

    def _picture(self, frame: int, code: int) -> np.ndarray:
        width, height = self.screen
        picture = np.full((height, width, 3), code, np.uint8)
        (top, from_row, rows), (left, from_column, columns) = (
            _middle(inner, outer) for inner, outer in zip(self.clear.shape[1:], (height, width), strict=True)
        )
        pixels = self.frames[frame, from_row : from_row + rows, from_column : from_column + columns]
        opaque = ~self.clear[frame, from_row : from_row + rows, from_column : from_column + columns]
        picture[top : top + rows, left : left + columns][opaque] = pixels[opaque]
        return picture


def played(steps: Steps, loop: bool, refresh: float) -> Iterator[tuple[int | None, int]]:
    """Yield what is shown and for how long, None for the bare ground: a loop until all of it was seen, else once and gone again."""
    second = math.ceil(refresh)
    if not loop:
        yield None, second
        yield from steps
        yield None, second
        return
    long = sum(ticks for _, ticks in steps)
    end, now = long + max(second, long if long <= _LONGEST * refresh else 0), 0
    while now < end:
        for frame, ticks in steps:
            yield frame, ticks
            now += ticks
            if now >= end:
                break


def _middle(inner: int, outer: int) -> tuple[int, int, int]:
    """Return where the middle of a side begins on the screen and in the figure, and how much of it is seen."""
    seen = min(inner, outer)
    return (outer - seen) // 2, (inner - seen) // 2, seen


def _weight(findings: list[Finding]) -> tuple[int, int, float]:
    """Return how bad findings are: 0 where all pass, then how often and over how much they flash."""
    worst = max(("pass", "near", "fail").index(finding.verdict) for finding in findings)
    return worst, max(finding.transitions for finding in findings), max(finding.area for finding in findings)
