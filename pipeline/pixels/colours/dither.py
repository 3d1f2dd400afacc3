"""Dithering onto a palette, so that what does not move does not crawl.

Light is mixed as the eye mixes it: in linear light, in whole numbers of 1/65535, so that every machine decides alike.

``ordered``: every colour is made of two entries; the 8 x 8 threshold pattern (B. E. Bayer, 1973) says which of them
is used where. A pixel depends on its own colour and place only.

``diffusion``: the error of a pixel goes to neighbours that are decided later. Scanning rows (R. Floyd, L. Steinberg,
1976) would carry a change at the top left through the whole frame, and what does not move would crawl. Here pixels are
decided in the order of a fixed 8 x 8 pattern instead (see ``dot_diffusion``).

Each class here is a rule that ``apply.Converter`` follows: it learns every colour once, and then chooses for all pixels.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np

from pipeline.pixels.colours.difference import metric_points
from pipeline.pixels.colours.dot_diffusion import diffuse, turned
from pipeline.pixels.colours.light import codes, light
from pipeline.pixels.colours.numbers import Column
from pipeline.pixels.colours.quantise import nearest_colours, nearest_places

MODES = ("none", "ordered", "diffusion")
_CHUNK = 128  # colours compared with all entries at a time: few, so that they stay in the processor's cache
_WEIGHTS = (2, 7, 1)  # of red, green and blue errors, about as they add to lightness (IEC 61966-2-1: 0.21, 0.72, 0.07)
_GRAIN = 0.125  # how much of its noise a mixture is charged with, as far as the palette could do with less noise, ...
_CONTRAST = 1 / 96  # ... and of its entries' distance, however rare one of them is: no white specks on black


def dithered(entries: np.ndarray, mode: str, phase: tuple[int, int] = (0, 0)) -> Plain | Ordered | Diffused:
    """Return the rule that sends pixels to the entries of a palette.

    Args:
        entries: uint8, shape (n, 3), n >= 1: the colours as the console shows them.
        mode: ``none`` (each pixel's nearest entry), ``ordered`` or ``diffusion``.
        phase: x and y of a pixel at which the pattern starts; give a sprite's anchor, so that the pattern stays with
            the figure whatever its frames are cut to. May lie outside the frame.

    Raises:
        ValueError: a mode not known.
    """
    if mode not in MODES:
        raise ValueError(f"dither mode {mode!r}; known are {', '.join(MODES)}")
    entries = np.ascontiguousarray(entries, dtype=np.uint8)
    if mode == "none":
        places = metric_points(entries)
        return Plain(lambda rgb: nearest_places(rgb, places), lambda found: entries[found])
    return (Ordered if mode == "ordered" else Diffused)(entries, phase)


class Plain:
    """A pixel depends on its own colour only.

    Attributes:
        choices: how many ways to show one colour there are.
        hands_on: a pixel takes up errors of others, so that none may take another colour than was chosen for it.

    Args:
        find: from colours, uint8, shape (n, 3), to what pixels of them hold, integers of shape (n,).
        show: from what pixels hold to the colours that the console shows.
    """

    choices = 1
    hands_on = False

    def __init__(self, find: Callable[[np.ndarray], np.ndarray], show: Callable[[np.ndarray], np.ndarray]) -> None:
        self._find, self.show = find, show
        self._held = Column(np.int64)

    def learn(self, rgb: np.ndarray) -> None:
        """Take in the colours of the next numbers."""
        self._held.extend(self._find(rgb))

    def choose(self, numbers: np.ndarray, rgba: np.ndarray, opaque: np.ndarray) -> tuple[np.ndarray | int, np.ndarray]:
        """Return which of its choices each opaque pixel takes, and what it holds."""
        return 0, self._held[numbers]


class Ordered:
    """A pixel depends on its own colour and place: one of two entries, by the threshold pattern."""

    choices = 2
    hands_on = False

    def __init__(self, entries: np.ndarray, phase: tuple[int, int]) -> None:
        self._entries, self._phase = entries, phase
        self._needless = _needless_contrast(entries.astype(np.float64))
        self._own, self._first = np.unique(_keys(entries), return_index=True)  # a colour that is an entry is not mixed
        self._pair = Column(np.int64), Column(np.int64)
        self._bright = Column(np.uint8)  # thresholds, from the lowest, at which the brighter entry is used

    def show(self, held: np.ndarray) -> np.ndarray:
        """Return the colours of entries."""
        return self._entries[held]

    def learn(self, rgb: np.ndarray) -> None:
        """Take in the colours of the next numbers."""
        # Which two is asked for the colour with 6 bits a channel; how much of each follows from the full colour.
        rough, place = np.unique(rgb & 0xFC | rgb >> 6, axis=0, return_inverse=True)
        dark, bright = (side[place.ravel()] for side in _pairs(rough, self._entries, self._needless))
        steps = _bright_steps(rgb, dark, bright, self._entries)
        keys = _keys(rgb)
        place = np.minimum(np.searchsorted(self._own, keys), len(self._own) - 1)
        same, entry = self._own[place] == keys, self._first[place]
        self._pair[0].extend(np.where(same, entry, dark))
        self._pair[1].extend(np.where(same, entry, bright))
        self._bright.extend(steps)

    def choose(self, numbers: np.ndarray, rgba: np.ndarray, opaque: np.ndarray) -> tuple[np.ndarray | int, np.ndarray]:
        """Return which of its choices each opaque pixel takes, and what it holds."""
        thresholds = np.broadcast_to(turned(_bayer(), opaque.shape[1:], self._phase), opaque.shape)[opaque]
        bright = self._bright[numbers] > thresholds
        return bright, np.where(bright, self._pair[1][numbers], self._pair[0][numbers])


class Diffused:
    """A pixel depends on pixels around it, too, and may become any entry."""

    hands_on = True

    def __init__(self, entries: np.ndarray, phase: tuple[int, int]) -> None:
        self._entries, self._light, self._phase = entries, light()[entries], phase
        self.choices = len(entries)
        self._places = metric_points(entries)
        self._known = np.full(1 << 18, -1, dtype=np.int32)  # nearest entry by 6 bits of each channel; -1: not asked for yet

    def show(self, held: np.ndarray) -> np.ndarray:
        """Return the colours of entries."""
        return self._entries[held]

    def learn(self, rgb: np.ndarray) -> None:
        """Take in the colours of the next numbers; nothing follows from a colour alone."""

    def choose(self, numbers: np.ndarray, rgba: np.ndarray, opaque: np.ndarray) -> tuple[np.ndarray | int, np.ndarray]:
        """Return which of its choices each opaque pixel takes, and what it holds."""
        found = diffuse(rgba[..., :3], opaque, self._light, self._nearest, self._phase)[opaque]
        return found, found

    def _nearest(self, lit: np.ndarray) -> np.ndarray:
        """Return the nearest entries of the colours with 6 bits a channel, which is enough where the error is passed on."""
        six = _sixes()[lit]
        keys = six[:, 0] << 12 | six[:, 1] << 6 | six[:, 2]
        found = self._known[keys]
        fresh = np.unique(keys[found < 0])
        if not len(fresh):
            return found
        rgb = np.stack([fresh >> 12, fresh >> 6 & 63, fresh & 63], axis=-1)
        self._known[fresh] = nearest_places((rgb << 2 | rgb >> 4).astype(np.uint8), self._places)
        return self._known[keys]


def _keys(rgb: np.ndarray) -> np.ndarray:
    """Return colours as one number each: int32, shape (n,)."""
    return rgb[:, 0].astype(np.int32) << 16 | rgb[:, 1].astype(np.int32) << 8 | rgb[:, 2]


@functools.cache
def _sixes() -> np.ndarray:
    """The upper 6 bits of the code nearest to each linear light: int32, shape (65536,)."""
    return codes().astype(np.int32) >> 2


@functools.cache
def _slopes() -> np.ndarray:
    """Codes per linear light at each code: what a small error of light looks like. float64, shape (256,)."""
    lit = light()
    up, down = np.minimum(np.arange(256) + 1, 255), np.maximum(np.arange(256) - 1, 0)
    return (up - down) / (lit[up] - lit[down])


def _pairs(rgb: np.ndarray, entries: np.ndarray, needless: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the entries to mix, the darker first; twice the same where one entry alone is better."""
    first = nearest_colours(rgb, entries)
    starts = range(0, len(rgb), _CHUNK)
    parts = [_partners(rgb[one : one + _CHUNK], first[one : one + _CHUNK], entries, needless) for one in starts]
    second = np.concatenate(parts)
    lightness = metric_points(entries)[0]
    swap = (lightness[second] < lightness[first]) | ((lightness[second] == lightness[first]) & (second < first))
    return np.where(swap, second, first), np.where(swap, first, second)


def _partners(rgb: np.ndarray, first: np.ndarray, entries: np.ndarray, needless: np.ndarray) -> np.ndarray:
    """Return for each colour the entry that, mixed with the first, comes nearest; charged for how grainy it looks."""
    lit = light()[entries]
    base, target, slope = lit[first], light()[rgb], _slopes()[rgb]
    steps = [(lit[:, axis] - base[:, axis, None]).astype(np.float64) for axis in range(3)]
    wishes = [(target[:, axis, None] - base[:, axis, None]).astype(np.float64) for axis in range(3)]
    length = sum(step * step * weight for step, weight in zip(steps, _WEIGHTS, strict=True))
    along = sum(step * wish * weight for step, wish, weight in zip(steps, wishes, _WEIGHTS, strict=True))
    part = np.clip(along / np.maximum(length, 1), 0, 1)
    grain = np.where(part > 0, part * (1 - part) * _GRAIN + _CONTRAST, 0)
    cost = grain * needless[first]
    for axis, weight in enumerate(_WEIGHTS):
        missed = (wishes[axis] - part * steps[axis]) * slope[:, axis, None]
        cost += weight * missed * missed
    best, row = cost.argmin(axis=1), np.arange(len(rgb))
    return np.where(part[row, best] > 0, best, first)


def _needless_contrast(codes: np.ndarray) -> np.ndarray:
    """Return how much farther each entry is from each than its nearest other one is: squared codes, shape (n, n)."""
    apart = np.zeros((len(codes), len(codes)))
    for axis, weight in enumerate(_WEIGHTS):
        gap = codes[:, None, axis] - codes[None, :, axis]
        apart += weight * gap * gap
    nearest = np.where(apart > 0, apart, np.inf).min(axis=1, keepdims=True)
    return np.maximum(apart - nearest, 0)


@functools.cache
def _bayer() -> np.ndarray:
    """The 8 x 8 threshold pattern, 0..63 (Bayer 1973)."""
    pattern = np.zeros((1, 1), dtype=np.int64)
    for _ in range(3):
        pattern = np.block([[4 * pattern, 4 * pattern + 2], [4 * pattern + 3, 4 * pattern + 1]])
    return pattern


def _bright_steps(rgb: np.ndarray, dark: np.ndarray, bright: np.ndarray, entries: np.ndarray) -> np.ndarray:
    """Return at how many thresholds, from the lowest on, colours take the brighter of two entries: uint8, 0..64."""
    lit = light()[entries]
    step, wish = lit[bright] - lit[dark], light()[rgb] - lit[dark]
    length = sum(step[:, axis] * step[:, axis] * weight for axis, weight in enumerate(_WEIGHTS))
    along = sum(step[:, axis] * wish[:, axis] * weight for axis, weight in enumerate(_WEIGHTS))
    # along / length is the bright entry's part; thresholds are at the middle of 64 steps.
    count = np.zeros(len(rgb), dtype=np.uint8)
    for threshold in range(64):
        count += along * 128 > length * (2 * threshold + 1)
    return count
