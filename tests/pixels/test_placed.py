"""A picture over another: hard edges as Pillow pastes them, blends and places between pixels as floating-point references have them."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage

from pipeline.pixels.scaling import placed
from pipeline.pixels.scaling.placed import Placing
from tests.conftest import tries

RESAMPLERS = ("nearest", "area", "lanczos", "dominant")
ONE, NOTHING = (Fraction(1), Fraction(1)), (Fraction(0), Fraction(0))


def _noise(seed: int, size: tuple[int, int], alpha: str = "opaque") -> Image.Image:
    """Return random pixels: opaque, or with holes."""
    rng = np.random.default_rng(seed)
    pixels = rng.integers(0, 256, (size[1], size[0], 4), dtype=np.uint8)
    pixels[..., 3] = 255 if alpha == "opaque" else 255 * rng.integers(0, 2, size[::-1])
    return Image.fromarray(pixels)


def _put(ground: Image.Image, picture: Image.Image, place, factors=ONE, blend=NOTHING, resample="area", end=None) -> np.ndarray:
    pixels = np.array(ground)
    place = tuple(Fraction(str(at)) for at in place)
    Placing(factors, blend, resample, "as stored").put(pixels, picture, place, end or tuple(map(Fraction, ground.size)))
    return pixels


@pytest.mark.parametrize("resample", RESAMPLERS)
def test_hard_edges_are_those_of_a_paste(resample):
    """Source: Pillow's ``Image.paste`` with a mask, and ``alpha_composite`` on a canvas of the ground's size; bit for bit."""
    rng = np.random.default_rng(5)
    for seed in range(tries(40, 400)):
        ground, picture = _noise(seed, (23, 17)), _noise(seed + 1000, (int(rng.integers(1, 30)), int(rng.integers(1, 30))), "holes")
        place = int(rng.integers(-12, 25)), int(rng.integers(-12, 20))
        pasted = ground.copy()
        pasted.paste(picture, place, picture.getchannel("A"))
        layer = Image.new("RGBA", ground.size)
        layer.paste(picture, place)
        assert np.array_equal(np.asarray(pasted), np.asarray(Image.alpha_composite(ground, layer)))
        assert np.array_equal(_put(ground, picture, place, resample=resample), np.asarray(pasted)), place


def _light(codes: np.ndarray) -> np.ndarray:
    """Return linear light, 0..1 (IEC 61966-2-1), in floating point."""
    part = codes / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def _codes(light: np.ndarray) -> np.ndarray:
    return 255 * np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def _over(ground: np.ndarray, picture: np.ndarray, cover: np.ndarray) -> np.ndarray:
    return _codes(_light(ground) * (1 - cover[..., None]) + _light(picture) * cover[..., None])


@pytest.mark.parametrize("blend", [0, 1, 2.5, 4])
@pytest.mark.parametrize("place", [(5, 4), (5.25, 4.5), (-3.7, 8.9)])
def test_blend_is_a_ramp_in_linear_light(blend, place):
    """Source: numpy in floating point, the ramp's mean over a pixel taken from 1000 points along each axis, mixed as IEC 61966-2-1 says."""
    ground = _noise(1, (24, 20))
    picture = Image.new("RGBA", (10, 8), (250, 180, 30, 255))
    made = _put(ground, picture, place, blend=(Fraction(str(blend)),) * 2)
    parts = []
    for at, length, count in zip(place, picture.size, ground.size, strict=True):
        points = (np.arange(count * 1000) + 0.5) / 1000 - at
        inside = np.minimum(points, length - points)
        height = (inside > 0).astype(float) if not blend else np.clip(inside / blend, 0, 1)
        parts.append(height.reshape(count, 1000).mean(axis=1))
    wanted = _over(np.asarray(ground)[..., :3], np.full((20, 24, 3), (250, 180, 30)), parts[1][:, None] * parts[0])
    assert abs(made[..., :3] - wanted).max() < 1
    assert (made[..., 3] == 255).all()


def test_place_between_pixels_is_a_shift():
    """Source: scipy.ndimage.shift of order 1, which is the mean over a pixel's area; its mode nearest beyond the edges."""
    picture, ground = _noise(7, (11, 9)), Image.new("RGBA", (30, 30), (20, 90, 200, 255))
    for place in ((4.25, 6.5), (10.9, 3.1), (7, 2.75)):
        made = _put(ground, picture, place)
        whole, part = np.floor(place).astype(int), np.mod(place, 1)
        wide = np.pad(np.asarray(picture).astype(float), ((0, 1), (0, 1), (0, 0)), mode="edge")
        moved = np.rint(ndimage.shift(wide, (part[1], part[0], 0), order=1, mode="nearest"))
        cover = ndimage.shift(np.pad(np.ones((9, 11)), 1), part[::-1], order=1, mode="constant")[1:, 1:]
        rows, columns = slice(whole[1], whole[1] + 10), slice(whole[0], whole[0] + 12)
        wanted = np.asarray(ground)[..., :3].astype(float)
        wanted[rows, columns] = _over(wanted[rows, columns], moved[..., :3], cover)
        assert abs(made[..., :3] - wanted).max() <= 1


def test_smaller_on_whole_pixels_is_a_box():
    """Source: Pillow's ``resize`` with BOX, which is the mean over the area covered."""
    picture, ground = _noise(9, (24, 16)), Image.new("RGBA", (20, 20), (0, 0, 0, 255))
    for times in (2, 4):
        made = _put(ground, picture, (3, 5), (Fraction(1, times),) * 2)
        boxed = picture.resize((24 // times, 16 // times), Image.Resampling.BOX)
        part = made[5 : 5 + boxed.height, 3 : 3 + boxed.width].astype(int)
        assert abs(part - np.asarray(boxed).astype(int)).max() <= 1
        made[5 : 5 + boxed.height, 3 : 3 + boxed.width, :3] = 0
        assert not made[..., :3].any()


@pytest.mark.parametrize("resample", RESAMPLERS)
@pytest.mark.parametrize("factor", ["0.001", "0.03", "0.61", "1.7", "9"])
def test_even_colour_stays_even(resample, factor):
    """A picture of one colour gives that colour wherever it covers a pixel whole, and darkens no pixel; common practice, no source."""
    ground, picture = Image.new("RGBA", (40, 30), (90, 90, 90, 255)), Image.new("RGBA", (33, 21), (200, 90, 90, 255))
    times = Fraction(factor)
    made = _put(ground, picture, (3.3, 4.6), (times, times), resample=resample)
    start, end = np.array([3.3, 4.6]), np.array([3.3, 4.6]) + np.array(picture.size) * float(times)
    inner = made[int(np.ceil(start[1])) : int(end[1]), int(np.ceil(start[0])) : int(end[0])]
    assert (inner == [200, 90, 90, 255]).all()
    assert (made[..., 1:] == [90, 90, 255]).all()
    assert ((made[..., 0] >= 90) & (made[..., 0] <= 200)).all()
    if resample in ("nearest", "dominant"):
        assert set(np.unique(made[..., 0])) <= {90, 200}  # no colour is invented


def test_last_column_belongs_to_what_covers_it():
    """Where the ground ends within a pixel, a picture that reaches to the same end has all of it."""
    ground, picture = Image.new("RGBA", (8, 8), (0, 0, 0, 255)), Image.new("RGBA", (4, 4), (255, 255, 255, 255))
    end = (Fraction("7.4"), Fraction("7.4"))
    for resample in RESAMPLERS:
        made = _put(ground, picture, (3.4, 3.4), resample=resample, end=end)
        assert (made[4:, 4:, :3] == 255).all(), resample


def test_outside_changes_nothing():
    """Common practice, no source."""
    ground = _noise(3, (9, 9))
    for place in ((9, 0), (0, 9), (-5, 2), (2, -5.01), (400, 400)):
        assert np.array_equal(_put(ground, _noise(4, (5, 5)), place), np.asarray(ground))


@pytest.mark.parametrize("mixed", [False, True])
def test_shares_are_areas_under_the_opacity(mixed):
    """Pixels inside and at both edges, by the areas of exact fractions; where no colours are mixed, by their middles."""
    rng = np.random.default_rng(8)
    for _ in range(60):
        start, size, end = (Fraction(int(rng.integers(low, 400)), int(rng.integers(1, 13))) for low in (-300, 30, 30))
        ramp = size / int(rng.integers(2, 9)) if rng.random() < 0.5 else Fraction(0)
        found = placed._spread(start, size, ramp, end, mixed)
        for pixel, share in enumerate(found.shares.tolist(), start=found.first):
            right = min(Fraction(pixel + 1), end)
            if mixed or ramp:
                area = placed._up_to(right - start, size, ramp) - placed._up_to(pixel - start, size, ramp)
                assert share == round(area / (right - pixel) * placed._PARTS)
            else:
                assert share == placed._PARTS * (start <= (pixel + right) / 2 < start + size)
