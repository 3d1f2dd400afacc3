"""Animations as a player may see them: in the middle of the screen, on grounds that bring out their changes, over and over if they loop."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipeline.safety.flashes import STRIPES, Finding, FlashMeter
from pipeline.safety.reach import Reach, passes, reach_of, shares_of
from pipeline.safety.stripes import StripeMeter

Steps = list[tuple[int, int]]  # number of a frame, and the ticks that it is shown
GROUNDS = {"black": 0, "grey": 118, "white": 255}  # 118 has 18 % of white's luminance
_SLOWER = (2, 3, 4, 5, 6, 8, 10)
_TRIED = 600  # steps; what has more is not played again more slowly, which would take long
_LONGEST = 20  # seconds of a loop that is played twice; a longer one goes on for a second after its end


class Measured(NamedTuple):
    """What an animation comes to.

    Attributes:
        ground: of ``GROUNDS``, the worst one; empty where it is shown to pass on any.
        findings: on it, one for each limit; none where it is shown to pass.
        times: the least factor of all its times, of some, that passes every limit; 1 where it passes as it is, None where none does or
            none was tried.
        reach: how much it can flash at most.
    """

    ground: str
    findings: list[Finding]
    times: int | None
    reach: dict[str, Reach]


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

    def measure(self, steps: Steps, loop: bool) -> Measured:
        """Measure an animation of at least one step; it is played only where it could come near a limit."""
        frames, clear = self._seen()
        reach = reach_of(frames, clear, played(steps, loop, self.refresh), self.screen, self.refresh)
        if passes(shares_of([reach], self.screen)):
            return Measured("", [], 1, reach)
        found = {ground: self._findings(steps, loop, ground) for ground in GROUNDS}
        ground = max(found, key=lambda name: _weight(found[name]))
        times = _times(steps, lambda slower: [one for name in GROUNDS for one in self._findings(slower, loop, name)], found[ground])
        return Measured(ground, found[ground], times, reach)

    def picture_at(self, steps: Steps, loop: bool, ground: str, tick: int) -> np.ndarray:
        """Return what the whole screen shows in a tick: uint8, shape (height, width, 3)."""
        width, height = self.screen
        picture, (left, top, columns, rows) = np.full((height, width, 3), GROUNDS[ground], np.uint8), self._part()
        frame = shown_at(played(steps, loop, self.refresh), tick)
        if frame is not None:
            picture[top : top + rows, left : left + columns] = self._picture(frame, GROUNDS[ground])
        return picture

    def _part(self) -> tuple[int, int, int, int]:
        """Return the part of the screen that the figure takes up: left, top, width, height."""
        (width, height), (rows, columns) = self.screen, self.clear.shape[1:]
        rows, columns = min(rows, height), min(columns, width)
        return (width - columns) // 2, (height - rows) // 2, columns, rows

    def _seen(self) -> tuple[np.ndarray, np.ndarray]:
        """Return of frames and of where they are clear what the screen has room for."""
        _, _, columns, rows = self._part()
        top, left = ((inner - seen) // 2 for inner, seen in zip(self.clear.shape[1:], (rows, columns), strict=True))
        inside = (slice(None), slice(top, top + rows), slice(left, left + columns))
        return self.frames[inside], self.clear[inside]

    def _findings(self, steps: Steps, loop: bool, ground: str) -> list[Finding]:
        part = self._part()
        meter = FlashMeter(*self.screen, self.refresh, part)
        pictures = {frame: self._picture(frame, GROUNDS[ground]) for frame in {frame for frame, _ in steps}}
        bare = np.full((part[3], part[2], 3), GROUNDS[ground], np.uint8)
        for frame, ticks in played(steps, loop, self.refresh):
            meter.add(bare if frame is None else pictures[frame], ticks)
        return meter.findings()

    def _picture(self, frame: int, code: int) -> np.ndarray:
        """Return the part of the screen with a frame on a ground."""
        frames, clear = self._seen()
        return np.where(clear[frame][..., None], np.uint8(code), frames[frame])


def measure_shown(
    picture: Callable[[int | None], np.ndarray], steps: Steps, loop: bool, screen: tuple[int, int], refresh: float
) -> tuple[list[Finding], int | None]:
    """Measure pictures of the whole screen.

    Args:
        picture: gives one by its number, and for None what is shown before and after: uint8 sRGB, shape (height, width, 3).
        steps: numbers of pictures, and the ticks that each is shown.
        screen, refresh: as of ``Figure``.

    Returns:
        A finding for each limit, stripes the last, and what ``Measured.times`` says.
    """

    def find(shown: Steps) -> list[Finding]:
        meter, stripes = FlashMeter(*screen, refresh), StripeMeter(*screen, refresh)
        for number, ticks in played(shown, loop, refresh):
            shown_now = picture(number)
            meter.add(shown_now, ticks)
            stripes.add(shown_now, ticks)
        return [*meter.findings(), stripes.finding]

    found = find(steps)
    return found, _times(steps, find, found)


def _times(steps: Steps, find: Callable[[Steps], list[Finding]], found: list[Finding]) -> int | None:
    """Return the least factor of all times, of some, at which every limit is passed; None for none."""
    if not _weight(found)[0]:
        return 1
    if len(steps) > _TRIED:
        return None
    if any(one.limit == STRIPES and one.verdict != "pass" for one in found):
        return None  # stripes are not better for being shown longer
    return next((times for times in _SLOWER if not _weight(find([(one, ticks * times) for one, ticks in steps]))[0]), None)


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


def shown_at(played: Iterable[tuple[int | None, int]], tick: int) -> int | None:
    """Return what is shown in a tick; after the end, what was shown last."""
    now, last = 0, None
    for shown, ticks in played:
        now, last = now + ticks, shown
        if now > tick:
            break
    return last


def _weight(findings: list[Finding]) -> tuple[int, int, float]:
    """Return how bad findings are: 0 where all pass, then how often and over how much they flash."""
    worst = max(("pass", "near", "fail").index(finding.verdict) for finding in findings)
    return worst, max(finding.transitions for finding in findings), max(finding.area for finding in findings)
