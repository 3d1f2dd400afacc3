"""How different two colours look: CIELAB, CIEDE2000, and figures about the pictures of a whole asset.

CIEDE2000 is only reported. Where a difference decides a colour, ``metric_points`` and ``metric_distance`` replace
it: close to it for colours near each other, and made of operations that give the same bits on every machine.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pipeline.pixels.colours.light import linear_light
from pipeline.pixels.colours.numbers import unpacked

METRIC_UNIT = 1000  # whole numbers of metric_distance per CIEDE2000 unit
_MICRO = 1_000_000  # differences are summed in millionths, as whole numbers, so that the order of pixels does not matter
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
    light = linear_light()[rgb]
    red, green, blue = light[..., 0], light[..., 1], light[..., 2]
    x, y, z = (
        _lightness_curve((r * red + g * green + b * blue) / white)
        for (r, g, b), white in zip(_TO_XYZ, _WHITE, strict=True)
    )  # fmt: skip
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def _lightness_curve(value: np.ndarray) -> np.ndarray:
    """CIE 15:2004: the cube root, with a straight line near black. Newton's method, because ``cbrt`` may differ by a bit."""
    root = np.ones_like(value)
    bright = np.maximum(value, 216 / 24389)
    for _ in range(12):  # from 1 down to 6/29 takes 5 steps, the rest doubles the digits
        root = (2 * root + bright / (root * root)) / 3
    return np.where(value > 216 / 24389, root, (24389 / 27 * value + 16) / 116)


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
    """Return colours with what CIEDE2000 makes of small steps about each, for ``metric_distance``.

    CIEDE2000 is, for two colours near each other, the length of their CIELAB step under a quadratic form that depends
    on the place (Sharma, Wu, Dalal 2005, equations (2) to (21) with both colours alike). The form has four numbers.

    Args:
        rgb: uint8, shape (n, 3), sRGB.

    Returns:
        float64, shape (7, n): L, a, b; the form's weights of LL, aa, ab, bb, each halved.
    """
    place = lab(rgb)
    light, a, b = place[:, 0], place[:, 1], place[:, 2]
    stretch = 1.5 - 0.5 * _saturation(np.sqrt(a * a + b * b))
    across, chroma = a * stretch, np.sqrt(a * stretch * (a * stretch) + b * b)
    safe = np.where(chroma > 0, chroma, 1.0)
    cosine, sine = np.where(chroma > 0, across / safe, 1.0), np.where(chroma > 0, b / safe, 0.0)
    s_chroma, s_hue = 1 + 0.045 * chroma, 1 + 0.015 * chroma * _hue_term(cosine, sine)
    away = light - 50
    s_light = 1 + 0.015 * away * away / np.sqrt(20 + away * away)
    cc, hh, ch = 1 / (s_chroma * s_chroma), 1 / (s_hue * s_hue), -2 * _saturation(chroma) * _blue_term(cosine, sine) / (s_chroma * s_hue)
    aa = (cc * cosine * cosine + hh * sine * sine - ch * cosine * sine) * stretch * stretch
    bb = cc * sine * sine + hh * cosine * cosine + ch * cosine * sine
    ab = (2 * (cc - hh) * cosine * sine + ch * (cosine * cosine - sine * sine)) * stretch
    return np.stack([light, a, b, 0.5 / (s_light * s_light), aa / 2, ab / 2, bb / 2])


def _saturation(chroma: np.ndarray) -> np.ndarray:
    """The root of C^7 / (C^7 + 25^7) with multiplications only."""
    part = chroma / 25
    seventh = part * part * part * (part * part * part) * part
    return np.sqrt(seventh / (seventh + 1))


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
    """Return differences close to CIEDE2000 for near colours: the mean of both colours' quadratic forms.

    Args:
        left: float64, shape (7, ...), of ``metric_points``.
        right: the same shape, or one that broadcasts.

    Returns:
        float64 holding whole numbers, in 1/``METRIC_UNIT``, the common shape without its first axis.
    """
    light, a, b = left[0] - right[0], left[1] - right[1], left[2] - right[2]
    square = light * light * (left[3] + right[3])
    square += a * a * (left[4] + right[4])
    square += a * b * (left[5] + right[5])
    square += b * b * (left[6] + right[6])
    return np.rint(np.sqrt(np.maximum(square, 0)) * METRIC_UNIT)


def micro_differences(wanted: np.ndarray, got: np.ndarray) -> np.ndarray:
    """Return CIEDE2000 differences of colours, in millionths: int64, shape (n,).

    Args:
        wanted: uint8, shape (n, 3), sRGB.
        got: the same shape.
    """
    return _micro(ciede2000(lab(wanted), lab(got)))


def _micro(found: np.ndarray) -> np.ndarray:
    return np.rint(found * _MICRO).astype(np.int64)


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
        bins = np.minimum((micro + _MICRO // 200) // (_MICRO // 100), _BINS - 1)
        self._counts += np.bincount(bins, minlength=_BINS)
        sums = np.concatenate([[0], np.cumsum(micro, dtype=np.int64)])
        end = 0
        for number, size in enumerate(sizes, start=self._frames):
            start, end = end, end + size
            total = int(sums[end] - sums[start])
            if size and (self._worst is None or total / size > self._worst[0]):
                self._worst = (total / size, number)
        self._frames += len(sizes)
        self._sum, self._pixels = self._sum + int(sums[-1]), self._pixels + end

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
