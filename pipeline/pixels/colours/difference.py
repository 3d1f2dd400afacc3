"""How different two colours look: CIELAB, CIEDE2000, and figures about the pictures of a whole asset.

``ciede2000`` is for reports. Where a difference decides a colour, ``metric_points`` and ``metric_distance`` replace it:
the same formula from operations that give the same bits on every machine.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pipeline.pixels.colours.light import linear_light
from pipeline.pixels.colours.numbers import unpacked

METRIC_UNIT = 1000  # whole numbers of metric_distance per CIEDE2000 unit
_MICRO = 1_000_000  # differences are summed in millionths, as whole numbers, so that the order of pixels does not matter
_HUES = 1 << 12  # hues distinguished by metric_distance
_NOTHING = np.float32(1e-30)  # added to what may be 0 and divides
_HALF = np.float32(0.5)
_AT_ONCE = 4096  # colours brought to CIELAB at a time, which stay in the processor's cache
_DARK = 216 / 24389  # up to which lightness is a straight line
_THIRD = np.int64(715_094_163 << 32)
_BINS = 10_001  # differences in steps of 0.01 up to 100; what is greater is counted as 100

# Linear sRGB to XYZ and its row sums, the D65 white (0.95047, 1, 1.08883); IEC 61966-2-1 with the digits WCAG 2.2 gives.
_TO_XYZ = (
    (0.4124564, 0.3575761, 0.1804375),
    (0.2126729, 0.7151522, 0.0721750),
    (0.0193339, 0.1191920, 0.9503041),
)
_WHITE = (0.95047, 1.0, 1.08883)


def lab(rgb: np.ndarray) -> np.ndarray:
    """Return colours in CIELAB for a D65 white (CIE 15:2004); the same bits on every machine.

    Args:
        rgb: uint8, shape (..., 3), sRGB.

    Returns:
        float64, shape (..., 3): L 0..100, a about -87..99, b about -108..95.
    """
    flat, light = rgb.reshape(-1, 3), linear_light()
    found = np.empty(flat.shape)
    for start in range(0, len(flat), _AT_ONCE):
        red, green, blue = (light.take(flat[start : start + _AT_ONCE, channel]) for channel in range(3))
        x, y, z = (
            _lightness_curve((r * red + g * green + b * blue) / white)
            for (r, g, b), white in zip(_TO_XYZ, _WHITE, strict=True)
        )  # fmt: skip
        part = found[start : start + _AT_ONCE]
        part[:, 0], part[:, 1], part[:, 2] = 116 * y - 16, 500 * (x - y), 200 * (y - z)
    return found.reshape(rgb.shape)


def _lightness_curve(value: np.ndarray) -> np.ndarray:
    """CIE 15:2004: the cube root, with a straight line near black. Newton's method, because ``cbrt`` may differ by a bit.

    A third of the bits of a number, with the right constant, is its cube root to 5 percent: the exponent is in the upper ones.
    Newton's method then doubles the digits, so four steps do, and one more settles the last bit. The constant is that of the C
    library of FreeBSD, ``s_cbrt.c`` (from memory).
    """
    bright = np.maximum(value, _DARK)
    root = (bright.view(np.int64) // 3 + _THIRD).view(np.float64)
    square = np.empty_like(root)
    for _ in range(5):
        np.multiply(root, root, out=square)
        np.divide(bright, square, out=square)
        root += root
        root += square
        root /= 3
    return np.where(value > _DARK, root, (24389 / 27 * value + 16) / 116)


def ciede2000(lab1: np.ndarray, lab2: np.ndarray) -> np.ndarray:
    """Return CIEDE2000 colour differences, kL = kC = kH = 1 (ISO/CIE 11664-6; numbered as in Sharma, Wu, Dalal 2005).

    Args:
        lab1: float, shape (..., 3), CIELAB.
        lab2: float, the same shape or one that broadcasts.

    Returns:
        float64, the common shape without its last axis. For reports only: the last digits depend on the math library.
    """
    light1, light2 = lab1[..., 0], lab2[..., 0]
    chroma1, chroma2, hue1, hue2 = _chroma_and_hue(lab1, lab2)
    product = chroma1 * chroma2
    turn = np.where(product == 0, 0.0, (hue2 - hue1 + 180) % 360 - 180)
    turn = np.where((turn == -180) & (hue2 > hue1), 180.0, turn)  # (10): 180 stays 180
    d_light, d_chroma = light2 - light1, chroma2 - chroma1
    d_hue = 2 * np.sqrt(product) * np.sin(np.radians(turn / 2))
    light, chroma = (light1 + light2) / 2, (chroma1 + chroma2) / 2
    total = hue1 + hue2
    far = np.abs(hue1 - hue2) > 180
    hue = np.where(product == 0, total, np.where(far, np.where(total < 360, total + 360, total - 360) / 2, total / 2))
    s_light, s_chroma, s_hue, rotation = _weights(light, chroma, hue)
    d_light, d_chroma, d_hue = d_light / s_light, d_chroma / s_chroma, d_hue / s_hue
    return np.sqrt(np.maximum(d_light**2 + d_chroma**2 + d_hue**2 + rotation * d_chroma * d_hue, 0))


def _chroma_and_hue(lab1: np.ndarray, lab2: np.ndarray) -> tuple[np.ndarray, ...]:
    """Equations (2) to (7): chroma and hue in degrees after the stretch of a for greyish colours."""
    chroma = (np.hypot(lab1[..., 1], lab1[..., 2]) + np.hypot(lab2[..., 1], lab2[..., 2])) / 2
    stretch = 1.5 - 0.5 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    found = []
    for one in (lab1, lab2):
        a, b = one[..., 1] * stretch, one[..., 2]
        found.append((np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360))
    (chroma1, hue1), (chroma2, hue2) = found
    return chroma1, chroma2, hue1, hue2


def _weights(light: np.ndarray, chroma: np.ndarray, hue: np.ndarray) -> tuple[np.ndarray, ...]:
    """Equations (15) to (21): how much lightness, chroma and hue count, and how chroma and hue interact among blues."""

    def cosine(degrees):
        return np.cos(np.radians(degrees))

    t = 1 - 0.17 * cosine(hue - 30) + 0.24 * cosine(2 * hue) + 0.32 * cosine(3 * hue + 6) - 0.20 * cosine(4 * hue - 63)
    swing = 30 * np.exp(-(((hue - 275) / 25) ** 2))
    strength = 2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    s_light = 1 + 0.015 * (light - 50) ** 2 / np.sqrt(20 + (light - 50) ** 2)
    return s_light, 1 + 0.045 * chroma, 1 + 0.015 * chroma * t, -np.sin(np.radians(2 * swing)) * strength


def difference_map(wanted: np.ndarray, got: np.ndarray) -> np.ndarray:
    """Return CIEDE2000 of every pixel of two pictures; a pair of colours is reckoned once, however often it occurs.

    Args:
        wanted, got: uint8, shape (..., 3), sRGB.

    Returns:
        float64, shape (...). For reports only, as ``ciede2000``.
    """
    keys = np.zeros(wanted.shape[:-1], dtype=np.uint64)
    for colours in (wanted, got):
        for channel in (2, 1, 0):
            keys = keys << np.uint64(8) | colours[..., channel]
    pairs, back = np.unique(keys, return_inverse=True)
    return ciede2000(lab(unpacked(pairs >> np.uint64(24))), lab(unpacked(pairs)))[back].reshape(keys.shape)


def metric_points(rgb: np.ndarray) -> np.ndarray:
    """Return colours with what ``metric_distance`` needs of each.

    Args:
        rgb: uint8, shape (n, 3), sRGB.

    Returns:
        float32, shape (4, n): L, a, b and chroma of CIELAB.
    """
    place = lab(rgb)
    light, a, b = place[:, 0], place[:, 1], place[:, 2]
    return np.stack([light, a, b, np.sqrt(a * a + b * b)]).astype(np.float32)


def _hue_term(cosine: np.ndarray, sine: np.ndarray) -> np.ndarray:
    """T of CIEDE2000 from a hue's cosine and sine; the constants are those of 30, 6 and 63 degrees."""
    cos2, sin2 = cosine * cosine - sine * sine, 2 * cosine * sine
    cos3, sin3 = cos2 * cosine - sin2 * sine, sin2 * cosine + cos2 * sine
    cos4, sin4 = cos2 * cos2 - sin2 * sin2, 2 * cos2 * sin2
    first = 0.17 * (0.8660254037844386 * cosine + 0.5 * sine)
    third = 0.32 * (0.9945218953682733 * cos3 - 0.10452846326765347 * sin3)
    fourth = 0.20 * (0.45399049973954675 * cos4 + 0.8910065241883679 * sin4)
    return 1 - first + 0.24 * cos2 + third - fourth


def _blue_term(cosine: np.ndarray, sine: np.ndarray) -> np.ndarray:
    """Sine of twice 30 exp(-((h - 275) / 25)^2) degrees, to about 0.002, from additions, products and quotients."""
    along = 0.08715574274765817 * cosine - 0.9961946980917455 * sine  # the cosine of h - 275 degrees
    aside = 0.08715574274765817 * sine + 0.9961946980917455 * cosine  # and its sine
    half = aside / np.maximum(1 + along, 0.5)  # tangent of half the angle
    angle = 2 * half * (15 + 4 * half * half) / (15 + 9 * half * half)  # radians
    square = angle * angle * 5.252473831  # ((180 / pi) / 25)^2
    fall = np.maximum(2 - square / 64, 0) / (2 + square / 64)
    for _ in range(6):
        fall = fall * fall
    swing = np.where(along > -0.5, fall, 0.0) * 1.0471975511965976  # 60 degrees; beyond 120 degrees away nothing is left
    return swing * (1 - swing * swing / 6 * (1 - swing * swing / 20 * (1 - swing * swing / 42)))


def metric_distance(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Return CIEDE2000 differences from exact operations only; hues are distinguished to a tenth of a degree.

    Within 0.3 of ``ciede2000`` for opposite hues and 0.005 on average. Numbers are those of its equations. Every step
    changes an array in place where it can: this is what choosing colours takes most of its time for.

    Args:
        left: float32, shape (4, ...), of ``metric_points``.
        right: the same shape, or one that broadcasts.

    Returns:
        float32 holding whole numbers below 2**24, in 1/``METRIC_UNIT``, the common shape without its first axis.
    """
    stretch = _saturation((left[3] + right[3]) * _HALF)
    stretch *= -_HALF
    stretch += np.float32(1.5)
    a1, a2, b1, b2 = left[1] * stretch, right[1] * stretch, left[2], right[2]
    chroma, other = _length(a1, b1), _length(a2, b2)
    d_chroma = other - chroma
    # (11): twice the root of both chromas times the sine of half the angle, as the sides of a triangle give it
    d_hue = _squared(a2 - a1)
    d_hue += _squared(b2 - b1)
    d_hue -= d_chroma * d_chroma
    np.sqrt(np.maximum(d_hue, 0, out=d_hue), out=d_hue)
    turn = a1 * b2
    turn -= a2 * b1
    a1 *= other
    a1 += np.multiply(a2, chroma, out=a2)
    t, swing = _hue_weights(a1, b1 * other + b2 * chroma)
    chroma += other
    chroma *= _HALF
    d_chroma /= 1 + chroma * np.float32(0.045)
    t *= chroma
    t += 1
    d_hue /= t
    np.copysign(d_hue, turn, out=d_hue)
    swing *= _saturation(chroma)
    swing *= d_chroma
    swing *= d_hue
    square = _squared((right[0] - left[0]) / _light_weight((left[0] + right[0]) * _HALF))
    square += _squared(d_chroma)
    square += _squared(d_hue)
    square -= swing
    np.sqrt(np.maximum(square, 0, out=square), out=square)
    square *= np.float32(METRIC_UNIT)
    return np.rint(square, out=square)


def reach_in_lightness(lightness: np.ndarray, distance: np.ndarray) -> np.ndarray:
    """Return how much darker or lighter a colour can be at most whose ``metric_distance`` is not above some distance.

    Chroma and hue only add to a difference of lightness: the rotation term takes away less than their squares hold.

    Args:
        lightness: L of CIELAB, float32.
        distance: in 1/``METRIC_UNIT``, float32, the same shape.

    Returns:
        float32, in the unit of L, the same shape.
    """
    part = (distance + 2) * np.float32(1 / METRIC_UNIT)  # 2 for all that is rounded
    # S_L of the mean, equation (15), is at most 1 + 0.015 |mean - 50|, where the mean is half as far away as the other colour.
    weight = 1 + np.float32(0.015) * np.abs(lightness - np.float32(50))
    left = 1 - part * np.float32(0.0075)
    return np.where(left > np.float32(0.1), part * weight / np.maximum(left, np.float32(0.1)), np.float32(np.inf))


def _squared(values: np.ndarray) -> np.ndarray:
    return np.multiply(values, values, out=values)


def _length(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    square = a * a
    square += b * b
    return np.sqrt(square, out=square)


def _saturation(chroma: np.ndarray) -> np.ndarray:
    """The root of C^7 / (C^7 + 25^7) with multiplications only."""
    part = chroma * np.float32(1 / 25)
    seventh = part * part
    seventh *= part
    seventh *= seventh
    seventh *= part
    seventh /= seventh + 1
    return np.sqrt(seventh, out=seventh)


def _light_weight(light: np.ndarray) -> np.ndarray:
    """S_L of a mean lightness, which is changed."""
    light -= 50
    light *= light
    light /= np.sqrt(light + 20)
    light *= np.float32(0.015)
    light += 1
    return light


def _hue_weights(along: np.ndarray, aside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return what S_H and R_T need of a hue, given as a vector of any length: 0.015 T, and twice the sine of the turn."""
    size = np.abs(along)
    size += np.abs(aside)
    size += _NOTHING
    part = np.divide(along, size, out=size)
    place = np.where(aside < 0, 3 + part, 1 - part)
    place *= np.float32(_HUES // 4)
    rank = place.astype(np.int32)
    rank &= _HUES - 1
    t, swing = _hue_tables()
    return t[rank], swing[rank]


@functools.cache
def _hue_tables() -> tuple[np.ndarray, np.ndarray]:
    """0.015 T and twice the sine of the turn for ``_HUES`` directions, equal steps along |along| + |aside| = 1."""
    place = (np.arange(_HUES) + 0.5) * (4 / _HUES)
    along = np.where(place < 2, 1 - place, place - 3)
    aside = np.where(place < 2, 1 - np.abs(along), np.abs(along) - 1)
    length = np.sqrt(along * along + aside * aside)
    cosine, sine = along / length, aside / length
    return (0.015 * _hue_term(cosine, sine)).astype(np.float32), (2 * _blue_term(cosine, sine)).astype(np.float32)


def micro_differences(wanted: np.ndarray, got: np.ndarray) -> np.ndarray:
    """Return CIEDE2000 differences of colours, in millionths: int64, shape (n,).

    Args:
        wanted: uint8, shape (n, 3), sRGB.
        got: the same shape.
    """
    return _micro(ciede2000(lab(wanted), lab(got)))


def _micro(found: np.ndarray) -> np.ndarray:
    return np.rint(found * _MICRO).astype(np.int64)


class FrameLoss(NamedTuple):
    """What one frame lost, in the detail that ``ErrorFacts`` needs.

    Attributes:
        pixels: how many were compared.
        total: the sum of their differences, in millionths.
        bins: steps of 0.01 that a difference was rounded to, rising, int64; ``counts``: of pixels in each, int64.
    """

    pixels: int
    total: int
    bins: np.ndarray
    counts: np.ndarray

    @classmethod
    def of(cls, micro: np.ndarray) -> FrameLoss:
        """Sum up the differences of a frame's pixels: integers, shape (n,), in millionths."""
        every = np.bincount(np.minimum((micro + _MICRO // 200) // (_MICRO // 100), _BINS - 1), minlength=1)
        bins = np.flatnonzero(every)
        return cls(len(micro), int(micro.sum(dtype=np.int64)), bins, every[bins])


class ErrorFacts:
    """What all frames of an asset lost, frame by frame, in memory that does not grow with their number.

    Differences are CIEDE2000. The 95th percentile is read from counts in steps of 0.01, so it is right to 0.005.
    """

    def __init__(self) -> None:
        self._frames = 0
        self._sum = self._pixels = 0
        self._counts = np.zeros(_BINS, dtype=np.int64)
        self._worst: tuple[float, int] | None = None

    def add(self, wanted: np.ndarray, got: np.ndarray, opaque: np.ndarray) -> None:
        """Take in the next frame.

        Args:
            wanted: uint8, shape (height, width, 3), sRGB.
            got: the same shape: what the console shows.
            opaque: bool, shape (height, width): the pixels that count. A frame without any has a number, but no mean.
        """
        micro = _micro(difference_map(wanted[opaque], got[opaque]))
        self.add_micro(micro, [len(micro)])

    def add_micro(self, micro: np.ndarray, sizes: Sequence[int]) -> None:
        """Take in the next frames by the differences of their pixels that count.

        Args:
            micro: integers, shape (n,), in millionths, frame after frame.
            sizes: how many of them each frame has; 0 for a frame without any.
        """
        ends = np.cumsum(sizes)
        for start, end in zip(ends - sizes, ends, strict=True):
            self.add_loss(FrameLoss.of(micro[start:end]))

    def add_loss(self, loss: FrameLoss) -> None:
        """Take in the next frame by what is kept of it."""
        if loss.pixels and (self._worst is None or loss.total / loss.pixels > self._worst[0]):
            self._worst = (loss.total / loss.pixels, self._frames)
        self._counts[loss.bins] += loss.counts
        self._frames += 1
        self._sum, self._pixels = self._sum + loss.total, self._pixels + loss.pixels

    def facts(self) -> dict:
        """Return ``frames``, ``pixels``, ``mean``, ``p95``, ``worst_frame`` (from 0, the first of those as bad) and ``worst_mean``.

        The last four are None when no frame had an opaque pixel. Rounded to 3 decimals.
        """
        known: dict = {"frames": self._frames, "pixels": self._pixels}
        if self._worst is None:
            return known | {"mean": None, "p95": None, "worst_frame": None, "worst_mean": None}
        mean, number = self._worst
        step = int(np.searchsorted(np.cumsum(self._counts), -(-self._pixels * 95 // 100)))
        figures = {"mean": round(self._sum / self._pixels / _MICRO, 3), "p95": round(step / 100, 3)}
        return known | figures | {"worst_frame": number, "worst_mean": round(mean / _MICRO, 3)}
