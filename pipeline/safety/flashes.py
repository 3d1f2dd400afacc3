"""The meter of flashing light: pictures in, what is too much of it out.

A flash is a pair of opposing transitions (see ``swings``). More than three in any second over more than the allowed area fail. Two ways of
going together are counted: pixels that each flash too often, and an area that grows bright and dark as one although other pixels do it
each time. The limits are kept apart:

- ``general`` and ``red``: Web Content Accessibility Guidelines 2.2 (W3C), area in 10 degrees of the field of view.
- ``broadcast`` and ``broadcast red``: ITU-R BT.1702, area of the whole screen; there 20 of 200 cd/m2 are a transition and the darker state
  is below 160, which are the same tenth and eight tenths of a screen's white. Its red is the older working definition.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pipeline.safety.areas import Field, central_field, is_fine, uncancelled, whole_screen
from pipeline.safety.swings import RED_CHANGE, HueSwings, Seen, Swings, colour_codes, known_colours, worth_taking_all

LIMITS = ("general", "red", "broadcast", "broadcast red")
STRIPES = "stripes"  # the limit that ``stripes`` measures: its area alone decides
MOST = 6  # transitions in a second: three flashes
NEAR_AREA = 0.8  # of the allowed area
Verdict = Literal["pass", "near", "fail"]


@dataclass
class Finding:
    """The worst second of a sequence by one limit.

    Attributes:
        limit: one of ``LIMITS``, or ``STRIPES``.
        transitions: the most in any second over more than the allowed area; two are a flash.
        area: the largest area that flashes more than three times in a second, as a share of the allowed one.
        tick: when the worst was reached, in ticks from the start; None where nothing was.
        box: the field where it was reached: left, top, width, height, in pixels of the screen.
        picture: what was shown then.
    """

    limit: str
    transitions: int = 0
    area: float = 0.0
    tick: int | None = None
    box: tuple[int, int, int, int] | None = None
    picture: np.ndarray | None = None

    @property
    def verdict(self) -> Verdict:
        """Half a flash more than three is near, as is nearly too large an area: nobody should build on the last pixel."""
        if self.limit == STRIPES and self.area > 1:
            return "fail"
        if self.transitions > MOST + 1:
            return "fail"
        return "near" if self.transitions > MOST or self.area > NEAR_AREA else "pass"


class FlashMeter:
    """Finds flashing in pictures that are shown one after another.

    Args:
        width, height: of the screen, in pixels.
        refresh: ticks in a second, such as 60 or 59.94.
        part: left, top, width and height of the part of the screen that pictures show, and outside which nothing changes; None for all.
    """

    def __init__(self, width: int, height: int, refresh: float, part: tuple[int, int, int, int] | None = None) -> None:
        left, top, columns, rows = part or (0, 0, width, height)
        self._shape, self._tick, self._fine = (rows, columns), 0, is_fine(width)
        near, screen = (field.within(rows, columns) for field in (central_field(width, height), whole_screen(width, height)))
        light, hue, redness = (Second((rows, columns), refresh) for _ in range(3))
        self._general, self._wide = _Counter(LIMITS[0], near, light, (left, top)), _Counter(LIMITS[2], screen, light, (left, top))
        self._red, self._wide_red = _Counter(LIMITS[1], near, hue, (left, top)), _Counter(LIMITS[3], screen, redness, (left, top))
        self._shown: np.ndarray | None = None

    def add(self, picture: np.ndarray, ticks: int) -> None:
        """Show a picture.

        Args:
            picture: sRGB, uint8, shape (height, width, 3).
            ticks: how long, at least 1.
        """
        codes = colour_codes(np.asarray(picture, np.uint8).reshape(-1, 3))
        if self._shown is None:
            seen = known_colours().look_up(codes)
            self._light, self._hue = Swings(seen.light), HueSwings(seen)
            self._redness = Swings(seen.redness, RED_CHANGE, np.inf, seen.saturated)
            self._now = (seen.u.copy(), seen.v.copy(), seen.redness.copy())
        else:
            at = np.flatnonzero(codes != self._shown)
            if len(at):
                self._change(np.arange(len(codes)) if worth_taking_all(len(at), len(codes)) else at, codes)
                for finding in self.findings():
                    if finding.tick == self._tick:
                        finding.picture = picture
        self._shown = codes
        self._tick += ticks

    def _change(self, at: np.ndarray, codes: np.ndarray) -> None:
        seen = known_colours().look_up(codes if len(at) == len(codes) else codes[at])
        complete, size = self._light.step(at, seen.light)
        up, down = self._masks(at, complete, size > 0)
        if self._fine and up.any() and down.any():
            changes = np.zeros(self._shape, np.float32)
            changes.reshape(-1)[at] = size * complete
            seen_changes = uncancelled(changes)
            up, down = up & seen_changes, down & seen_changes
        self._count((self._general, self._wide), up, down)
        self._change_red(at, seen)

    def _change_red(self, at: np.ndarray, seen: Seen) -> None:
        """Follow hue and redness, which most pixels keep when they change: only where they do not."""
        whole = len(at) == len(self._now[0])
        was_u, was_v, was_red = self._now if whole else [part.take(at) for part in self._now]
        turned, reddened = (was_u != seen.u) | (was_v != seen.v), was_red != seen.redness
        if turned.any():
            there = _some(turned)
            complete, reddens = self._hue.step(at[there], seen.u[there], seen.v[there], seen.saturated[there])
            self._count((self._red,), *self._masks(at[there], complete, reddens))
        if reddened.any():
            there = _some(reddened)
            complete, size = self._redness.step(at[there], seen.redness[there], seen.saturated[there])
            self._count((self._wide_red,), *self._masks(at[there], complete, size > 0))
        if whole:
            self._now = (seen.u, seen.v, seen.redness)
        else:
            for kept, new in zip(self._now, (seen.u, seen.v, seen.redness), strict=True):
                kept[at] = new

    def _masks(self, at: np.ndarray, complete: np.ndarray, upwards: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return where transitions are complete upwards, and where downwards: bool, shape (height, width)."""
        up, down = complete & upwards, complete & ~upwards
        if up.size == self._shape[0] * self._shape[1]:
            return up.reshape(self._shape), down.reshape(self._shape)
        masks = np.zeros((2, *self._shape), bool)
        for mask, where in zip(masks, (up, down), strict=True):
            mask.reshape(-1)[at[where]] = True
        return masks[0], masks[1]

    def _count(self, counters: tuple[_Counter, ...], up: np.ndarray, down: np.ndarray) -> None:
        changed = up | down
        many = int(np.count_nonzero(changed))
        if many:
            counters[0].pixels.add(self._tick, changed)
            for counter in counters:
                counter.add(self._tick, up, down, many)

    def findings(self) -> list[Finding]:
        """Return the worst of what was shown, by each limit."""
        return [counter.finding for counter in (self._general, self._red, self._wide, self._wide_red)]


def _some(which: np.ndarray) -> np.ndarray | slice:
    """Return the numbers of those that are set, or all where that costs less."""
    many = worth_taking_all(int(np.count_nonzero(which)), len(which))
    return slice(None) if many else np.flatnonzero(which)


class _Counter:
    """Counts transitions of one kind in the last second, of each pixel and of each field as a whole."""

    def __init__(self, limit: str, area: Field, pixels: Second, corner: tuple[int, int]) -> None:
        self.finding = Finding(limit)
        self.pixels = pixels
        self._area, self._corner = area, corner
        self._fields = Second((pixels.counts.shape[0] - area.rows + 1, pixels.counts.shape[1] - area.columns + 1), pixels.refresh)
        self._last = np.zeros(self._fields.counts.shape, np.int8)  # whether each field brightened (1) or darkened (-1) last
        self._flashing = 0  # the most pixels so far that flash too often, anywhere on the screen

    def add(self, tick: int, up: np.ndarray, down: np.ndarray, many: int) -> None:
        """Count where pixels brightened and darkened (or reddened and paled) in a picture, which ``pixels`` has counted already.

        Args:
            up, down: bool, shape (height, width); many: pixels of both.
        """
        if many > self._area.most:
            self._add_fields(tick, up, down)
        if self.pixels.highest() > self.finding.transitions:
            self._rate(tick)
        self._flashing_area(tick)

    def _add_fields(self, tick: int, up: np.ndarray, down: np.ndarray) -> None:
        brighter, darker = self._area.both_areas(up, down)
        larger = np.maximum(brighter, darker)
        sign = np.where(brighter >= darker, np.int8(1), np.int8(-1))
        turned = (larger > self._area.most) & (sign != self._last)
        if turned.any():
            self._last = np.where(turned, sign, self._last)
            self._fields.add(tick, turned)
            worst = self._fields.highest()
            if worst > self.finding.transitions:
                # Of the fields that flash as often, the one that most of it is in.
                most = np.where(self._fields.counts == worst, larger, -1)
                row, column = np.unravel_index(int(most.argmax()), most.shape)
                self._note(worst, tick, (int(column), int(row)))

    def _rate(self, tick: int) -> None:
        """Find how often pixels of too large an area flash."""
        while np.count_nonzero(often := self.pixels.counts > self.finding.transitions) > self._area.most:
            area, place = self._area.largest(often)
            if area <= self._area.most:
                break
            self._note(self.finding.transitions + 1, tick, place)

    def _flashing_area(self, tick: int) -> None:
        """Find the area of pixels that flash too often."""
        whole = self._area.rows * self._area.columns
        if self.pixels.highest() <= MOST + 1 or self.finding.area * self._area.most >= whole:
            return
        often = self.pixels.counts > MOST + 1
        count = int(np.count_nonzero(often))
        if count > self._flashing:
            self._flashing = count
            area, place = self._area.largest(often)
            if area / self._area.most > self.finding.area:
                self.finding.area = area / self._area.most
                if self.finding.transitions <= MOST:
                    self._note(self.finding.transitions, tick, place)

    def _note(self, transitions: int, tick: int, place: tuple[int, int]) -> None:
        self.finding.transitions, self.finding.tick = transitions, tick
        self.finding.box = (place[0] + self._corner[0], place[1] + self._corner[1], self._area.columns, self._area.rows)


class Second:
    """How often each place was set in the last second."""

    def __init__(self, shape: tuple[int, int], refresh: float) -> None:
        self.counts, self.refresh = np.zeros(shape, np.uint16), refresh
        self._masks: deque[tuple[int, np.ndarray]] = deque()
        self._highest: int | None = 0

    def add(self, tick: int, mask: np.ndarray) -> None:
        """Add a mask, and drop those a second old or older."""
        while self._masks and self._masks[0][0] <= tick - self.refresh:
            self.counts -= self._masks.popleft()[1]
        self._masks.append((tick, mask))
        self.counts += mask
        self._highest = None

    def highest(self) -> int:
        """Return the highest count."""
        if self._highest is None:
            self._highest = int(self.counts.max())
        return self._highest
