"""Means of light instead of stored numbers, against IEC 61966-2-1 and scikit-image's sRGB curve."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from PIL import Image
from skimage.color import rgb2xyz

from pipeline.pixels.scaling.scale import scale_rgba

MIXING = ("area", "lanczos")


def greys(*rows: list[int]) -> Image.Image:
    """Return an opaque picture of grey codes."""
    codes = np.array(rows, dtype=np.uint8)[..., None]
    return Image.fromarray(np.concatenate([codes, codes, codes, np.full_like(codes, 255)], axis=-1))


@pytest.mark.parametrize(("light", "code"), [("linear", 188), ("as stored", 128)])
def test_black_and_white_mix_to_half_the_light(light, code):
    """Half of black and half of white have the light 0.5, whose code is 188 (0.50289; 187 is 0.49693; IEC 61966-2-1)."""
    made = scale_rgba(greys([0, 255] * 8, [255, 0] * 8), 0.5, "area", light=light)
    assert made.tolist() == [[[code, code, code, 255]] * 8]


@pytest.mark.parametrize(("dark", "bright"), [(0, 128), (10, 64), (89, 90), (188, 254), (1, 11), (231, 232), (0, 1), (254, 255)])
def test_mean_of_two_codes(dark, bright):
    """The code whose light is nearest to the mean light, with light as scikit-image reckons a grey's Y."""
    light = rgb2xyz(np.arange(256)[:, None].repeat(3, axis=1)[None] / 255)[0, :, 1]
    mean = (light[dark] + light[bright]) / 2
    made = scale_rgba(greys([dark, bright], [bright, dark]), 0.5, "area", light="linear")[0, 0, 0]
    assert abs(light[made] - mean) <= abs(light - mean).min() + 1e-5


@pytest.mark.parametrize("factor", [0.77, 0.5, 1.3, (0.61, 0.9), Fraction(7, 24)])
@pytest.mark.parametrize("resample", MIXING)
def test_every_code_of_one_colour_comes_back(resample, factor):
    """A surface of one colour keeps it, whatever its code and its opacity from 1 on."""
    for code in range(256):
        picture = Image.new("RGBA", (24, 24), (code, 255 - code, code // 2, 255 if code % 2 else max(code, 1)))
        made = scale_rgba(picture, factor, resample, light="linear")
        inside = made[made[..., 3] > 0]
        assert len(inside)
        assert (inside[:, :3] == [code, 255 - code, code // 2]).all()


@pytest.mark.parametrize("resample", MIXING)
def test_alpha_is_mixed_as_before(resample):
    """Opacity is not light: its means are the same either way, and hidden colours do not show."""
    rgba = np.random.default_rng(4).integers(0, 256, (40, 30, 4), dtype=np.uint8)
    stored, linear = (scale_rgba(Image.fromarray(rgba), 0.77, resample, light=light) for light in ("as stored", "linear"))
    assert np.array_equal(stored[..., 3], linear[..., 3])
    clear = rgba.copy()
    clear[..., 3] = np.where(rgba[..., 3] < 128, 0, 255)
    other = np.where(clear[..., 3:] > 0, clear, np.array([200, 10, 90, 0], dtype=np.uint8))
    made = [scale_rgba(Image.fromarray(one), 0.77, resample, light="linear") for one in (clear, other)]
    assert np.array_equal(*made)


def test_bright_mark_keeps_its_light():
    """A white point on black keeps the share of light it gives, where the mean of stored numbers keeps half of it and less."""
    codes = np.zeros((12, 12), dtype=np.uint8)
    codes[5, 7] = 255
    made = scale_rgba(greys(*codes.tolist()), Fraction(1, 3), "area", light="linear")[..., 0]
    light = rgb2xyz(made[..., None].repeat(3, axis=-1) / 255)[..., 1]
    assert light.sum() == pytest.approx(1 / 9, abs=0.002)
