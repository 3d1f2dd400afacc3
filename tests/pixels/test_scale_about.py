"""Scaling outwards from a point: mirror images, feet, and what each pixel holds, against integrals and Pillow's own filter."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import Sources, frame_files
from pipeline.pixels.scaling.scale import cut_alpha, scale_about, scaled_about
from pipeline.project.assets import Sprite
from pipeline.target.records import SpriteLimits
from tests.conftest import some

RESAMPLERS = ("nearest", "area", "lanczos", "dominant")
SCALES = [Fraction(hundredths, 100) for hundredths in (13, 25, 31, 40, 48, 50, 57, 61, 66, 70, 75, 77, 83, 88, 92, 97, 100, 125, 150, 200)]
factors = st.builds(Fraction, st.integers(5, 250), st.just(100))


def noise(width: int, height: int, seed: int) -> np.ndarray:
    """Return random pixels, some of them transparent: uint8, shape (height, width, 4)."""
    rng = np.random.default_rng(seed)
    rgba = rng.integers(0, 256, (height, width, 4), dtype=np.uint8)
    rgba[..., 3] = rng.choice([0, 128, 255], (height, width))
    return rgba


@pytest.mark.parametrize("resample", RESAMPLERS)
@given(
    size=st.tuples(st.integers(1, 30), st.integers(1, 30)),
    point=st.tuples(st.integers(-60, 120), st.integers(-60, 120)),
    factor=st.tuples(factors, factors),
    seed=st.integers(0, 1 << 20),
)
def test_mirrored_about_the_point_is_the_mirror_image(resample, size, point, factor, seed):
    """Bit for bit, left to right and top to bottom, also about points outside and between two pixels (common practice, no source)."""
    (width, height), (x, y) = size, (Fraction(one, 2) for one in point)
    whole = tuple(one == 1 for one in factor)
    x, y = (Fraction(int(at)) if stays else at for at, stays in zip((x, y), whole, strict=True))
    rgba = noise(width, height, seed)
    made = scale_about(Image.fromarray(rgba), factor, (x, y), resample)
    (wide, high), (left, top) = scaled_about(size, factor, (x, y))
    assert made.shape == (high, wide, 4)
    across = scale_about(Image.fromarray(rgba[:, ::-1]), factor, (width - x, y), resample)
    down = scale_about(Image.fromarray(rgba[::-1]), factor, (x, height - y), resample)
    assert scaled_about(size, factor, (width - x, y)) == ((wide, high), (wide - left, top))
    assert scaled_about(size, factor, (x, height - y)) == ((wide, high), (left, high - top))
    assert np.array_equal(across[:, ::-1], made)
    assert np.array_equal(down[::-1], made)


@given(
    st.tuples(st.integers(1, 40), st.integers(1, 40)), st.tuples(st.integers(0, 40), st.integers(0, 40)), factors, st.integers(0, 1 << 20)
)
def test_area_is_the_mean_of_what_a_pixel_covers(size, point, factor, seed):
    """By differences of the integral image, at borders that lie whole output pixels from the point; numpy interpolates it."""
    x, y = (Fraction(min(at, side)) for at, side in zip(point, size, strict=True))
    rgba = noise(*size, seed)
    rgba[..., 3] = 255
    made = scale_about(Image.fromarray(rgba), factor, (x, y), "area")
    (wide, high), (left, top) = scaled_about(size, factor, (x, y))
    if factor == 1:
        assert np.array_equal(made, rgba)
        return
    columns, rows = (
        np.array([float(at + (out - place) / factor) for out in range(count + 1)]) for at, place, count in ((x, left, wide), (y, top, high))
    )
    for channel in range(3):
        sums = np.pad(rgba[..., channel].astype(float).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
        along = np.array([np.interp(columns, np.arange(size[0] + 1), row) for row in sums])
        both = np.array([np.interp(rows, np.arange(size[1] + 1), column) for column in along.T]).T
        total = np.diff(np.diff(both, axis=0), axis=1)
        inside = [np.diff(np.clip(border, 0, side)) for border, side in ((rows, size[1]), (columns, size[0]))]
        mean = total / np.outer(*inside)
        seen = made[..., 3] > 0
        assert np.abs(made[..., channel] - mean)[seen].max(initial=0) < 0.51


def test_lanczos_is_pillows_beyond_the_point():
    """Right of the point and below it: what Pillow's filter makes of a box that begins there (libImaging/Resample.c takes a box)."""
    rgba = noise(96, 64, 3) // 4 + 96  # nothing that the filter lifts beyond 0..255, which Pillow cuts between its two directions
    rgba[..., 3] = 255
    picture = Image.fromarray(rgba)
    made = scale_about(picture, Fraction(1, 2), (Fraction(33), Fraction(21)), "lanczos")
    _, (left, top) = scaled_about(picture.size, Fraction(1, 2), (Fraction(33), Fraction(21)))
    assert (left, top) == (17, 11)
    theirs = np.asarray(picture.resize((31, 21), Image.Resampling.LANCZOS, box=(33, 21, 95, 63)))[:17, :27]
    # Its far edges, where the filter reaches beyond the picture, are left out.
    assert np.abs(made[top : top + 17, left : left + 27].astype(int) - theirs).max() <= 1


@pytest.mark.parametrize(
    ("size", "factor", "point", "result"),
    [
        ((96, 128), 0.77, (48, 128), ((74, 99), (37, 99))),  # 36.96 on each side, 98.56 above
        ((120, 160), 0.77, (48, 128), ((93, 124), (37, 99))),  # 36.96 and 55.44; 98.56 and 24.64
        ((120, 160), 1, (60.5, 152), ((120, 160), (60, 152))),  # not scaled, so nothing is moved by half a pixel
        ((10, 10), 0.5, (-7, 30), ((6, 5), (-3, 15))),  # 3.5 to 8.5 right of the point, and 15 to 10 above it
        ((4, 4), 8, (0, 4), ((32, 32), (0, 32))),
    ],
)
def test_size_and_place_of_the_point(size, factor, point, result):
    """Reckoned by hand: the whole pixels that just hold what lies on each side."""
    assert scaled_about(size, factor, tuple(Fraction(str(at)) for at in point)) == result


def figure(width: int, height: int, ground: int) -> Image.Image:
    """Draw a figure with both feet on one row, one longer than the other, its head off the middle."""
    rgba = np.zeros((height, width, 4), dtype=np.uint8)
    rgba[ground - 90 : ground - 60, 38:66] = (220, 180, 150, 255)
    rgba[ground - 60 : ground - 25, 34:62] = (60, 90, 160, 255)
    rgba[ground - 25 : ground, 36:44] = rgba[ground - 25 : ground, 52:60] = (40, 40, 60, 255)
    rgba[ground - 6 : ground, 52:70] = (120, 30, 30, 255)
    return Image.fromarray(rgba)


@pytest.mark.parametrize("scale", some(SCALES, 8), ids=str)
@pytest.mark.parametrize("resample", RESAMPLERS)
def test_feet_stand_on_the_anchors_line_and_turning_round_moves_nothing(tmp_path, scale, resample):
    """As on a console: the frame, and its mirror image, are drawn with the anchor at one place of the screen."""
    figure(96, 128, 118).save(tmp_path / "f.png")
    figure(96, 128, 118).transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(tmp_path / "g.png")
    screens = []
    for name, anchor in (("f.png", (48, 118)), ("g.png", (48, 118))):
        spec = Sprite(frames=name, anchor=anchor, scale=float(scale), resample=resample)
        prepare_sprite(Sources(tmp_path, (name,)), frame_files(tmp_path, "ada"), "ada", spec, SpriteLimits())
        made = PreparedFrames(frame_files(tmp_path, "ada"))
        (frame,), (left, top) = made, made.facts.anchor
        opaque = np.flatnonzero((frame[..., 3] > 0).any(axis=1))
        assert opaque[-1] == top - 1
        screen = np.zeros((600, 600, 4), dtype=np.uint8)
        screen[400 - top : 400 - top + made.height, 300 - left : 300 - left + made.width] = frame
        screens.append(screen)
    assert np.array_equal(screens[1], screens[0][:, ::-1])


def test_what_is_not_scaled_keeps_its_pixels():
    """An odd width has its middle between two pixels; the picture stays as it is drawn."""
    rgba = noise(13, 9, 5)
    for resample in RESAMPLERS:
        made = scale_about(Image.fromarray(rgba), 1, (Fraction(13, 2), Fraction(9)), resample)
        assert np.array_equal(cut_alpha(made, 1), cut_alpha(rgba, 1))


@pytest.mark.parametrize("resample", RESAMPLERS)
@pytest.mark.parametrize("point", [(0, 16), (4, 16), (2, 16), (2, 0), (-9, 40)])
def test_less_than_can_be_seen_is_still_a_picture(resample, point):
    """A picture whose every column is covered by less than half keeps one, on the side where the picture is."""
    picture = Image.fromarray(noise(4, 16, 9))
    at, factor = tuple(Fraction(one) for one in point), (Fraction(1, 10), Fraction(1))
    made = scale_about(picture, factor, at, resample, least=Fraction(1, 2))
    assert made.shape[:2] == scaled_about(picture.size, factor, at, Fraction(1, 2))[0][::-1]
    assert min(made.shape[:2]) > 0
