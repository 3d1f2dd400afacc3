"""Mixtures only where an eye sees a gain. Differences are measured with scikit-image, the blur with SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from skimage.color import deltaE_ciede2000, rgb2lab

from pipeline.pixels.colours import mixture
from pipeline.pixels.colours.apply import Converter
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.pixels.colours.dither import dithered
from pipeline.pixels.colours.mixture import WhereNeeded, blurred

GREYS = np.array([[0, 0, 0], [80, 80, 80], [160, 160, 160], [255, 255, 255]], dtype=np.uint8)


def linear(rgb: np.ndarray) -> np.ndarray:
    """Return linear light (IEC 61966-2-1)."""
    code = rgb / 255
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def by_scipy(rgb: np.ndarray) -> np.ndarray:
    """Return a picture after a Gaussian blur of one pixel in linear light, as codes, not rounded."""
    lit = np.stack([gaussian_filter(linear(rgb)[..., axis], 1, mode="nearest", truncate=3) for axis in range(3)], axis=-1)
    return np.where(lit <= 0.0031308, lit * 12.92, 1.055 * np.maximum(lit, 1e-9) ** (1 / 2.4) - 0.055) * 255


def seen(left: np.ndarray, right: np.ndarray) -> float:
    return float(deltaE_ciede2000(rgb2lab(by_scipy(left) / 255), rgb2lab(by_scipy(right) / 255)).mean())


def converted(rgb: np.ndarray, entries: np.ndarray) -> tuple[np.ndarray, np.ndarray, WhereNeeded]:
    """Return the entries by the rule and the nearest ones, and the rule."""
    rgba = np.concatenate([rgb, np.full((*rgb.shape[:2], 1), 255, dtype=np.uint8)], axis=-1)[None]
    rule = WhereNeeded(entries)
    found, nearest = (Converter(one, 0).convert(rgba)[0][0].astype(int) for one in (rule, dithered(entries, "none")))
    return found, nearest, rule


def slope(width: int = 160, height: int = 64) -> np.ndarray:
    row = np.linspace(0, 255, width).astype(np.uint8)
    return np.broadcast_to(row[None, :, None], (height, width, 3)).copy()


def test_the_blur_is_a_gaussian_of_one_pixel():
    """Within a code or so of SciPy's, which does not round between rows and columns."""
    rgb = np.random.default_rng(1).integers(0, 256, (40, 50, 3)).astype(np.uint8)
    assert np.abs(blurred(rgb) - by_scipy(rgb)).max() <= 1.5


def test_a_slope_is_mixed_and_comes_nearer_as_seen():
    """What the rule says of it is what others measure."""
    rgb = slope()
    found, nearest, rule = converted(rgb, GREYS)
    assert (found != nearest).sum() == rule.seen.mixed > 1000
    before, after = seen(rgb, GREYS[nearest]), seen(rgb, GREYS[found])
    assert after < 0.6 * before
    assert rule.seen.nearest / rule.seen.pixels / 1000 == pytest.approx(before, abs=0.25)
    assert rule.seen.stored / rule.seen.pixels / 1000 == pytest.approx(after, abs=0.25)


def test_flat_areas_with_an_entry_remain_flat():
    """Beside a slope that is mixed, a figure in colours of the palette and one a little off them are as they were."""
    rgb = slope()
    rgb[:, :40], rgb[10:30, 10:30] = 80, (164, 158, 160)
    found, nearest, rule = converted(rgb, GREYS)
    assert rule.seen.mixed
    assert (found[:, :30] == nearest[:, :30]).all()


def test_a_picture_that_gains_little_is_not_touched():
    """A patch that would gain, in a picture whose difference is elsewhere: nearest entries everywhere."""
    rgb = np.full((96, 160, 3), (80, 200, 80), dtype=np.uint8)
    rgb[40:60, 40:60] = slope(20, 20)
    found, nearest, rule = converted(rgb, GREYS)
    assert (found == nearest).all()
    assert rule.seen.stored == rule.seen.nearest
    assert rule.seen.mixed == 0


def test_bands_do_not_show(monkeypatch):
    """Looked at a few rows at a time, the result is that of the whole picture."""
    rgb = (slope().astype(int) + np.random.default_rng(2).integers(-20, 20, (64, 160, 3))).clip(0, 255).astype(np.uint8)
    whole, _, rule = converted(rgb, GREYS)
    monkeypatch.setattr(mixture, "_BAND", 160 * 5)
    parts, _, again = converted(rgb, GREYS)
    assert rule.seen.mixed
    assert (parts == whole).all()
    assert again.seen == rule.seen


def test_one_entry_and_pictures_smaller_than_the_blur():
    """Nothing to mix, and nothing to blur with."""
    for shape in ((1, 1), (1, 20), (2, 3)):
        rgb = np.full((*shape, 3), 120, dtype=np.uint8)
        assert (converted(rgb, GREYS[:1])[0] == 0).all()
        assert converted(rgb, GREYS)[0].shape == shape


def test_gains_are_differences_of_whole_pictures():
    """Each pixel's gain, score and the sum, with every difference measured everywhere, as the docstring says it."""
    random = np.random.default_rng(4)
    rgb, near = random.integers(0, 256, (2, 12, 20, 3), dtype=np.uint8)
    mixed = np.where(random.random((12, 20, 1)) < 0.3, random.integers(0, 256, rgb.shape, dtype=np.uint8), near)
    mixed[:, 12:] = near[:, 12:]
    opaque = random.random((12, 20)) < 0.8

    def far(left: np.ndarray, right: np.ndarray) -> np.ndarray:
        pair = (metric_points(one.reshape(-1, 3)) for one in (left, right))
        return metric_distance(*pair).astype(np.int64).reshape(12, 20)

    before, after = (far(blurred(rgb), blurred(one)) for one in (near, mixed))
    gain, score, total = mixture._gains(rgb, opaque, near, mixed)
    rise = np.maximum(far(rgb, mixed) - far(rgb, near), 0)
    assert np.array_equal(gain, (before - after) * opaque)
    assert np.array_equal(score, gain * 10 - rise * opaque * 7)
    assert total == before[opaque].sum()
    assert mixture._seen_sum(rgb, opaque, mixed) == after[opaque].sum()
    assert (rise * opaque).any()
