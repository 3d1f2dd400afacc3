"""Dithering onto a palette, so that what stands still does not crawl.

Light is mixed as the eye mixes it: in linear light, in whole numbers of 1/65535, so that every machine decides alike.

``ordered``: every colour is made of two entries; the 8 x 8 threshold pattern (B. E. Bayer, 1973) says which of them
stands where. A pixel depends on its own colour and place only.

``diffusion``: the error of a pixel goes to neighbours that are decided later. Scanning rows (R. Floyd, L. Steinberg,
1976) would carry a change at the top left through the whole frame, and what stands still would crawl. Here pixels are
decided in the order of a fixed 8 x 8 pattern instead (D. Knuth, "Digital Halftones by Dot Diffusion", 1987), so that
errors travel ``REACH`` pixels at most: farther from a change, not one pixel differs.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np

from pipeline.pixels.difference import linear_light, metric_points
from pipeline.pixels.quantise import nearest_colours

MODES = ("none", "ordered", "diffusion")
_FULL = 65535
_KEPT = 1 << 18  # answers remembered for each palette
_CHUNK = 128  # colours compared with all entries at a time: few, so that they stay in the processor's cache
_WEIGHTS = (2, 7, 1)  # of red, green and blue errors, about as they add to lightness (IEC 61966-2-1: 0.21, 0.72, 0.07)
_GRAIN = 0.125  # how much of its noise a mixture is charged with, as far as the palette could do with less noise, ...
_CONTRAST = 1 / 96  # ... and of its entries' distance, however rare one of them is: no white specks on black

# Knuth 1987, the order of an 8 x 8 cell (from memory; a test checks what matters: each number once, errors stay near).
_ORDER = np.array(
    (
        (34, 48, 40, 32, 29, 15, 23, 31),
        (42, 58, 56, 53, 21, 5, 7, 10),
        (50, 62, 61, 45, 13, 1, 2, 18),
        (38, 46, 54, 37, 25, 17, 9, 26),
        (28, 14, 22, 30, 35, 49, 41, 33),
        (20, 4, 6, 11, 43, 59, 57, 52),
        (12, 0, 3, 19, 51, 63, 60, 44),
        (24, 16, 8, 27, 39, 47, 55, 36),
    )
)
_AROUND = tuple((dy, dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx)


def dither(
    rgb: np.ndarray,
    opaque: np.ndarray,
    palette_rgb: np.ndarray,
    mode: str,
    phase: tuple[int, int] = (0, 0),
    strength: float = 1.0,
) -> np.ndarray:
    """Return the palette entry of every pixel.

    Args:
        rgb: uint8, shape (height, width, 3), sRGB.
        opaque: bool, shape (height, width). Other pixels get 0, take no error and give none.
        palette_rgb: uint8, shape (n, 3), n >= 1: the colours as the console shows them.
        mode: ``none`` (each pixel's nearest entry), ``ordered`` or ``diffusion``.
        phase: x and y of a pixel at which the pattern starts; give a sprite's anchor, so that the pattern stays with
            the figure whatever its frames are cut to. May lie outside the frame.
        strength: 0..1; 0 is ``none``. Used in steps of 1/256.

    Returns:
        int32, shape (height, width).

    Raises:
        ValueError: a mode not known, or a strength outside 0..1.
    """
    if mode not in MODES:
        raise ValueError(f"dither mode {mode!r}; known are {', '.join(MODES)}")
    if not 0 <= strength <= 1:
        raise ValueError(f"dither strength {strength}; 0 to 1 is possible")
    share = round(strength * 256)
    palette = _palette(np.ascontiguousarray(palette_rgb, dtype=np.uint8).tobytes())
    out = np.zeros(opaque.shape, dtype=np.int32)
    if not opaque.any():
        return out
    if mode == "none" or share == 0:
        out[opaque] = palette.nearest(rgb[opaque])
    elif mode == "ordered":
        out[opaque] = _ordered(rgb[opaque], palette, _turned(_bayer(), opaque.shape, phase)[opaque], share)
    else:
        out[opaque] = _diffused(rgb, opaque, palette, phase, share)[opaque]
    return out


class _Palette:
    """A palette, and what was found out about colours so far; a colour is looked for once, however often it occurs."""

    def __init__(self, entries: np.ndarray) -> None:
        self.entries, self.light = entries, _light()[entries]
        self.needless_contrast = _needless_contrast(entries.astype(np.float64))
        self._keys = np.unique(_keys(entries))
        self._nearest, self._pairs = _Memory(self._find_nearest), _Memory(self._find_pairs)
        self._roughly = np.full(1 << 18, -1, dtype=np.int32)  # by 6 bits of each channel; -1 where not asked for yet

    def nearest(self, rgb: np.ndarray) -> np.ndarray:
        """Return the nearest entries: int32, shape (n,)."""
        return self._nearest.answer(_keys(rgb))

    def roughly(self, rgb: np.ndarray) -> np.ndarray:
        """Return the nearest entries for colours with 6 bits a channel, which is enough where the error is passed on."""
        wide = rgb.astype(np.int32) >> 2
        keys = wide[..., 0] << 12 | wide[..., 1] << 6 | wide[..., 2]
        fresh = np.unique(keys[self._roughly[keys] < 0])
        if len(fresh):
            six = np.stack([fresh >> 12, fresh >> 6 & 63, fresh & 63], axis=-1)
            self._roughly[fresh] = nearest_colours((six << 2 | six >> 4).astype(np.uint8), self.entries)
        return self._roughly[keys]

    def pairs(self, rgb: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the entries to mix, the darker first; twice the same where one entry alone is better."""
        # Which two is asked for the colour with 6 bits a channel; how much of each follows from the full colour.
        found = self._pairs.answer(_keys(rgb & 0xFC | rgb >> 6))
        return found >> 16, found & 0xFFFF

    def holds(self, rgb: np.ndarray) -> np.ndarray:
        """Return which colours are entries themselves: bool, shape (n,)."""
        keys = _keys(rgb)
        return self._keys[np.minimum(np.searchsorted(self._keys, keys), len(self._keys) - 1)] == keys

    def _find_nearest(self, keys: np.ndarray) -> np.ndarray:
        return nearest_colours(_colours(keys), self.entries).astype(np.int32)

    def _find_pairs(self, keys: np.ndarray) -> np.ndarray:
        rgb, first = _colours(keys), self._find_nearest(keys)
        starts = range(0, len(rgb), _CHUNK)
        second = np.concatenate([_partners(rgb[one : one + _CHUNK], first[one : one + _CHUNK], self) for one in starts])
        lightness = metric_points(self.entries)[0]
        swap = (lightness[second] < lightness[first]) | ((lightness[second] == lightness[first]) & (second < first))
        return np.where(swap, second << 16 | first, first << 16 | second).astype(np.int32)


@functools.lru_cache(maxsize=8)
def _palette(entries: bytes) -> _Palette:
    return _Palette(np.frombuffer(entries, dtype=np.uint8).reshape(-1, 3))


class _Memory:
    """Answers by key, in rising order of keys; forgets when there are too many. What it says never depends on its past."""

    def __init__(self, find: Callable[[np.ndarray], np.ndarray]) -> None:
        self._find = find
        self._held = np.zeros((2, 0), dtype=np.int32)  # keys, answers: one array, so that threads see both or neither

    def answer(self, keys: np.ndarray) -> np.ndarray:
        """Return the answers for some keys: int32, the same shape."""
        held = self._held
        place = np.searchsorted(held[0], keys)
        missing = np.unique(keys[np.append(held[0], -1)[place] != keys])
        if not len(missing):
            return held[1][place]
        if held.shape[1] + len(missing) > _KEPT:
            held, missing = held[:, :0], np.unique(keys)
        held = np.concatenate([held, np.stack([missing, self._find(missing)])], axis=1)
        self._held = held = held[:, np.argsort(held[0])]
        return held[1][np.searchsorted(held[0], keys)]


def _keys(rgb: np.ndarray) -> np.ndarray:
    wide = rgb.astype(np.int32)
    return wide[..., 0] << 16 | wide[..., 1] << 8 | wide[..., 2]


def _colours(keys: np.ndarray) -> np.ndarray:
    return np.stack([keys >> 16 & 255, keys >> 8 & 255, keys & 255], axis=-1).astype(np.uint8)


@functools.cache
def _light() -> np.ndarray:
    """Linear light of the 8-bit codes in 1/65535: int64, shape (256,)."""
    return np.rint(linear_light() * _FULL).astype(np.int64)


@functools.cache
def _codes() -> np.ndarray:
    """The 8-bit code nearest to each linear light, in linear light: uint8, shape (65536,)."""
    light = _light()
    return np.searchsorted((light[1:] + light[:-1]) // 2, np.arange(_FULL + 1), side="left").astype(np.uint8)


@functools.cache
def _slopes() -> np.ndarray:
    """Codes per linear light at each code: what a small error of light looks like. float64, shape (256,)."""
    light = _light()
    up, down = np.minimum(np.arange(256) + 1, 255), np.maximum(np.arange(256) - 1, 0)
    return (up - down) / (light[up] - light[down])


def _partners(rgb: np.ndarray, first: np.ndarray, palette: _Palette) -> np.ndarray:
    """Return for each colour the entry that, mixed with the first, comes nearest; charged for how grainy it looks."""
    base, target, slope = palette.light[first], _light()[rgb], _slopes()[rgb]
    steps = [(palette.light[:, axis] - base[:, axis, None]).astype(np.float64) for axis in range(3)]
    wishes = [(target[:, axis, None] - base[:, axis, None]).astype(np.float64) for axis in range(3)]
    length = sum(step * step * weight for step, weight in zip(steps, _WEIGHTS, strict=True))
    along = sum(step * wish * weight for step, wish, weight in zip(steps, wishes, _WEIGHTS, strict=True))
    part = np.clip(along / np.maximum(length, 1), 0, 1)
    grain = np.where(part > 0, part * (1 - part) * _GRAIN + _CONTRAST, 0)
    cost = grain * palette.needless_contrast[first]
    for axis, weight in enumerate(_WEIGHTS):
        missed = (wishes[axis] - part * steps[axis]) * slope[:, axis, None]
        cost += weight * missed * missed
    best, row = cost.argmin(axis=1), np.arange(len(rgb))
    return np.where(part[row, best] > 0, best, first).astype(np.int32)


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


def _turned(pattern: np.ndarray, shape: tuple[int, int], phase: tuple[int, int]) -> np.ndarray:
    """Lay a pattern over a frame so that it starts at a pixel."""
    rows, columns = (np.arange(shape[0]) - phase[1]) % 8, (np.arange(shape[1]) - phase[0]) % 8
    return pattern[rows[:, None], columns]


def _ordered(rgb: np.ndarray, palette: _Palette, thresholds: np.ndarray, share: int) -> np.ndarray:
    dark, bright = palette.pairs(rgb)
    step, wish = palette.light[bright] - palette.light[dark], _light()[rgb] - palette.light[dark]
    length = sum(step[:, axis] * step[:, axis] * weight for axis, weight in enumerate(_WEIGHTS))
    along = sum(step[:, axis] * wish[:, axis] * weight for axis, weight in enumerate(_WEIGHTS))
    # along / length is the bright entry's part; thresholds stand at the middle of 64 steps, drawn to a half by strength.
    taken = np.where(along * (128 * 256) > length * (64 * 256 + (2 * thresholds - 63) * share), bright, dark)
    same = palette.holds(rgb)
    taken[same] = palette.nearest(rgb[same])
    return taken


def _diffused(rgb: np.ndarray, opaque: np.ndarray, palette: _Palette, phase: tuple[int, int], share: int) -> np.ndarray:
    height, width = opaque.shape
    light = np.pad(_light()[rgb], ((1, 1), (1, 1), (0, 0)))
    solid = np.pad(opaque, 1)
    out = np.zeros(solid.shape, dtype=np.int32)
    order = np.pad(_turned(_ORDER, opaque.shape, phase), 1, constant_values=-1)
    order[~solid] = -1
    ranked = np.argsort(order, axis=None, kind="stable")
    bounds = np.searchsorted(order.ravel()[ranked], np.arange(65))
    flat, later = light.reshape(-1, 3), order.ravel()
    steps = [(dy * (width + 2) + dx, 1 if dy and dx else 2) for dy, dx in _AROUND]
    for rank in range(64):
        places = ranked[bounds[rank] : bounds[rank + 1]]
        if len(places):
            wanted = flat[places]
            taken = palette.roughly(_codes()[np.clip(wanted, 0, _FULL)])
            out.ravel()[places] = taken
            _pass_on((wanted - palette.light[taken]) * share // 256, places, flat, later, rank, steps)
    return out[1 : height + 1, 1 : width + 1]


def _pass_on(error: np.ndarray, places: np.ndarray, light: np.ndarray, order: np.ndarray, rank: int, steps: list[tuple[int, int]]) -> None:
    """Give errors to the neighbours still to be decided, twice as much to those beside as to those across a corner."""
    parts = [np.where(order[places + step] > rank, weight, 0) for step, weight in steps]
    total = np.maximum(sum(parts), 1)
    for (step, _), part in zip(steps, parts, strict=True):
        if part.any():
            light[places + step] += error * part[:, None] // total[:, None]


def _reach() -> int:
    """Return how far an error can travel: the longest way, in columns or rows, over rising numbers of the order."""
    spans: dict[tuple[int, int], tuple[int, int, int, int]] = {}
    for rank in range(64):
        y, x = (int(place[0]) for place in np.nonzero(rank == _ORDER))
        reach = [(0, 0, 0, 0)]
        for dy, dx in _AROUND:
            before = ((y + dy) % 8, (x + dx) % 8)
            if _ORDER[before] < rank:
                top, bottom, left, right = spans[before]
                reach.append((top + dy, bottom + dy, left + dx, right + dx))
        lows, highs = np.min(reach, axis=0), np.max(reach, axis=0)
        spans[y, x] = (int(lows[0]), int(highs[1]), int(lows[2]), int(highs[3]))
    return max(abs(value) for span in spans.values() for value in span)


REACH = _reach()
