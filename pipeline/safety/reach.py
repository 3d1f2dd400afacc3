"""How much an animation can flash at most, wherever it is on the screen and whatever is behind it; and several of them together.

A bound, not a measurement: it counts pixels that change, and that can flash at all. It holds on any still ground, so a pixel that is clear
at times counts always. From the definition that ``flashes`` measures by:

- a pixel flashes too often only if it changes more than six times in a second;
- a field flashes as one only if more than the allowed area of it changes in one tick;
- neither happens where nothing changes more than six times in a second.

The first two are areas, and areas of figures that do not cover each other add up, as do changes. So where the sums of some figures stay
within the allowed area or number, the figures together cannot exceed a limit, whatever their places and whenever each begins. It says
nothing of a figure that moves across the screen, that is shown over another one, or whose program changes its animation more often than
its frames change.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from pipeline.safety.areas import Field, central_field, whole_screen
from pipeline.safety.flashes import LIMITS, MOST, NEAR_AREA, Second
from pipeline.safety.swings import CHANGE, DARK, SLACK, colour_codes, seen_as

_CLEAR = 1 << 24  # no colour's code


class Reach(NamedTuple):
    """Pixels at most, by one limit.

    Attributes:
        at_once: that change in one tick within a field.
        often: within a field that change more than six times in any second.
        changes: no pixels, but in how many ticks of any second some change.
    """

    at_once: int
    often: int
    changes: int


def reach_of(
    frames: np.ndarray, clear: np.ndarray, shown: Iterable[tuple[int | None, int]], screen: tuple[int, int], refresh: float
) -> dict[str, Reach]:
    """Return how much an animation can flash at most, by each of ``flashes.LIMITS``.

    Args:
        frames: uint8 sRGB, shape (frames, height, width, 3); clear: where they are clear, bool, without the last axis.
        shown: number of a frame, None for nothing, and the ticks that it is shown.
        screen: its width and height in pixels.
        refresh: ticks in a second.
    """
    played = [*shown]
    codes, light, red = _states(frames, clear, {frame for frame, _ in played})
    near, whole = central_field(*screen).within(*clear.shape[1:]), whole_screen(*screen)
    kinds = {"general": (light, near), "red": (red, near), "broadcast": (light, whole), "broadcast red": (red, whole)}
    at_once: dict[str, int] = dict.fromkeys(LIMITS, 0)
    rows, columns = clear.shape[1:]
    often = np.zeros((rows, columns), bool)
    changes: dict[tuple[int | None, int | None], np.ndarray] = {}
    second, every = Second((rows, columns), refresh), Second((1, 1), refresh)
    changed, tick, before = 0, 0, played[0][0]
    for frame, ticks in played:
        if frame != before:
            pair = (before, frame)
            if pair not in changes:
                changes[pair] = codes[before] != codes[frame]
                for limit, (able, field) in kinds.items():
                    at_once[limit] = max(at_once[limit], _within(field, changes[pair] & able))
            second.add(tick, changes[pair])
            every.add(tick, np.ones((1, 1), bool))
            changed = max(changed, every.highest())
            often |= second.counts > MOST
        before, tick = frame, tick + ticks
    return {limit: Reach(at_once[limit], _within(field, often & able), changed) for limit, (able, field) in kinds.items()}


def shares_of(parts: Iterable[dict[str, Reach]], screen: tuple[int, int]) -> dict[str, float]:
    """Return by each limit what share of the allowed area figures can flash over at most, together; up to ``NEAR_AREA`` they pass."""
    every = [*parts]
    most = {limit: (whole_screen if limit.startswith("broadcast") else central_field)(*screen).most for limit in LIMITS}
    if any(sum(one[limit].changes for one in every) <= MOST for limit in LIMITS):
        return dict.fromkeys(LIMITS, 0.0)
    return {
        limit: max(sum(one[limit].at_once for one in every), sum(one[limit].often for one in every)) / most[limit] for limit in LIMITS
    }


def passes(shares: dict[str, float]) -> bool:
    """Return whether shares of ``shares_of`` show that no limit can be exceeded."""
    return all(share <= NEAR_AREA for share in shares.values())


def _within(field: Field, mask: np.ndarray) -> int:
    """Return the most pixels of a mask within a field."""
    count = int(np.count_nonzero(mask))
    if count == 0 or field.rows >= mask.shape[0] and field.columns >= mask.shape[1]:
        return count
    return field.largest(mask)[0]


def _states(frames: np.ndarray, clear: np.ndarray, wanted: set[int | None]) -> tuple[dict[int | None, np.ndarray], np.ndarray, np.ndarray]:
    """Return the codes of each frame, and which pixels can flash: by brightness, and by red."""
    shape = clear.shape[1:]
    codes: dict[int | None, np.ndarray] = {None: np.full(shape, _CLEAR, np.uint32)}
    low, high = np.full(shape, np.float32(2)), np.full(shape, np.float32(-1))
    red, ever, always = np.zeros(shape, bool), np.zeros(shape, bool), np.full(shape, None not in wanted)
    for frame in sorted(one for one in wanted if one is not None):
        pixels, opaque = frames[frame].reshape(-1, 3), ~clear[frame]
        seen = seen_as(pixels)
        codes[frame] = np.where(opaque, colour_codes(pixels).reshape(shape), np.uint32(_CLEAR))
        light = seen.light.reshape(shape)
        low, high = np.where(opaque, np.minimum(low, light), low), np.where(opaque, np.maximum(high, light), high)
        red |= seen.saturated.reshape(shape) & opaque
        ever, always = ever | opaque, always & opaque
    sometimes = ever & ~always
    return codes, (high - low >= CHANGE - SLACK) & (low < DARK) | sometimes, red | sometimes
