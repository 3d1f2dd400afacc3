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
from pipeline.safety.swings import RED_CHANGE, HueSwings, Swings, hues, luminance

LIMITS = ("general", "red", "broadcast", "broadcast red")
MOST = 6  # transitions in a second: three flashes
NEAR_AREA = 0.8  # of the allowed area
Verdict = Literal["pass", "near", "fail"]


@dataclass
class Finding:
    """The worst second of a sequence by one limit.

    Attributes:
        limit: one of ``LIMITS``.
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
        if self.transitions > MOST + 1:
            return "fail"
        return "near" if self.transitions > MOST or self.area > NEAR_AREA else "pass"


class FlashMeter:
    """Finds flashing in pictures that are shown one after another.

    Args:
        width, height: of the screen, in pixels.
        refresh: ticks in a second, such as 60 or 59.94.
    """

    def __init__(self, width: int, height: int, refresh: float) -> None:
        self._shape, self._tick, self._fine = (height, width), 0, is_fine(width)
        near, screen = central_field(width, height), whole_screen(width, height)
        self._general, self._red = _Counter(LIMITS[0], near, self._shape, refresh), _Counter(LIMITS[1], near, self._shape, refresh)
        self._wide, self._wide_red = _Counter(LIMITS[2], screen, self._shape, refresh), _Counter(LIMITS[3], screen, self._shape, refresh)
        self._shown: np.ndarray | None = None

    def add(self, picture: np.ndarray, ticks: int) -> None:
        """Show a picture.

        Args:
            picture: sRGB, uint8, shape (height, width, 3).
            ticks: how long, at least 1.
        """
        pixels = np.asarray(picture, np.uint8).reshape(-1, 3)
        codes = _codes(pixels)
        if self._shown is None:
            hue, redness, saturated = hues(pixels)
            self._light, self._hue = Swings(luminance(pixels)), HueSwings(hue, saturated)
            self._redness = Swings(redness, RED_CHANGE, np.inf, saturated)
        else:
            at = np.flatnonzero(codes != self._shown)
            if len(at):
                self._change(at, pixels[at])
                for finding in self.findings():
                    if finding.tick == self._tick:
                        finding.picture = picture
        self._shown = codes
        self._tick += ticks

    def _change(self, at: np.ndarray, pixels: np.ndarray) -> None:
        complete, size = self._light.step(at, luminance(pixels))
        up, down = self._mask(at, complete & (size > 0)), self._mask(at, complete & (size < 0))
        if self._fine and up.any() and down.any():
            changes = np.zeros(self._shape, np.float32)
            changes.reshape(-1)[at] = np.where(complete, size, 0)
            seen = uncancelled(changes)
            up, down = up & seen, down & seen
        self._general.add(self._tick, up, down)
        self._wide.add(self._tick, up, down)
        hue, redness, saturated = hues(pixels)
        complete, reddens = self._hue.step(at, hue, saturated)
        self._red.add(self._tick, self._mask(at, complete & reddens), self._mask(at, complete & ~reddens))
        complete, size = self._redness.step(at, redness, saturated)
        self._wide_red.add(self._tick, self._mask(at, complete & (size > 0)), self._mask(at, complete & (size < 0)))

    def _mask(self, at: np.ndarray, where: np.ndarray) -> np.ndarray:
        mask = np.zeros(self._shape, bool)
        mask.reshape(-1)[at[where]] = True
        return mask

    def findings(self) -> list[Finding]:
        """Return the worst of what was shown, by each limit."""
        return [counter.finding for counter in (self._general, self._red, self._wide, self._wide_red)]


def _codes(pixels: np.ndarray) -> np.ndarray:
    """Return a number for each colour, which are compared faster: uint32, shape (n,)."""
    whole = np.zeros((len(pixels), 4), np.uint8)
    whole[:, :3] = pixels
    return whole.view(np.uint32)[:, 0]


class _Counter:
    """Counts transitions of one kind in the last second, of each pixel and of each field as a whole."""

    def __init__(self, limit: str, area: Field, shape: tuple[int, int], refresh: float) -> None:
        self.finding = Finding(limit)
        self._area, self._refresh = area, refresh
        self._pixels = _Second(shape)
        self._fields = _Second((shape[0] - area.rows + 1, shape[1] - area.columns + 1))
        self._last = np.zeros(self._fields.counts.shape, np.int8)  # whether each field brightened (1) or darkened (-1) last
        self._flashing = 0  # the most pixels so far that flash too often, anywhere on the screen

    def add(self, tick: int, up: np.ndarray, down: np.ndarray) -> None:
        """Count where pixels brightened and darkened (or reddened and paled) in a picture: bool, shape (height, width)."""
        since = tick - self._refresh
        changed = up | down
        many = np.count_nonzero(changed)
        if not many:
            return
        self._pixels.add(tick, changed, since)
        if many > self._area.most:
            self._add_fields(tick, up, down, since)
        self._rate(tick)

    def _add_fields(self, tick: int, up: np.ndarray, down: np.ndarray, since: float) -> None:
        brighter, darker = self._area.areas(up), self._area.areas(down)
        sign = np.where(brighter >= darker, np.int8(1), np.int8(-1))
        larger = np.maximum(brighter, darker)
        turned = (larger > self._area.most) & (sign != self._last)
        if turned.any():
            self._last = np.where(turned, sign, self._last)
            self._fields.add(tick, turned, since)
            worst = int(self._fields.counts.max())
            if worst > self.finding.transitions:
                # Of the fields that flash as often, the one that most of it is in.
                most = np.where(self._fields.counts == worst, larger, -1)
                row, column = np.unravel_index(int(most.argmax()), most.shape)
                self._note(worst, tick, (int(column), int(row)))

    def _rate(self, tick: int) -> None:
        """Find how often pixels of too large an area flash, and the area of those that flash too often."""
        while np.count_nonzero(often := self._pixels.counts > self.finding.transitions) > self._area.most:
            area, place = self._area.largest(often)
            if area <= self._area.most:
                break
            self._note(self.finding.transitions + 1, tick, place)
        often = self._pixels.counts > MOST + 1
        count = np.count_nonzero(often)
        if count > self._flashing:
            self._flashing = count
            area, place = self._area.largest(often)
            if area / self._area.most > self.finding.area:
                self.finding.area = area / self._area.most
                if self.finding.transitions <= MOST:
                    self._note(self.finding.transitions, tick, place)

    def _note(self, transitions: int, tick: int, place: tuple[int, int]) -> None:
        self.finding.transitions, self.finding.tick = transitions, tick
        self.finding.box = (*place, self._area.columns, self._area.rows)


class _Second:
    """How often each place was set in the last second."""

    def __init__(self, shape: tuple[int, int]) -> None:
        self.counts = np.zeros(shape, np.int16)
        self._masks: deque[tuple[int, np.ndarray]] = deque()

    def add(self, tick: int, mask: np.ndarray, since: float) -> None:
        """Add a mask, and drop those of ticks up to ``since``."""
        while self._masks and self._masks[0][0] <= since:
            self.counts -= self._masks.popleft()[1]
        self._masks.append((tick, mask))
        self.counts += mask
