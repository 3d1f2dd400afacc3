"""Scaling against exact area means, Pillow's own filters, and what must not happen to sprites."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pipeline.pixels.scaling.scale import cut_alpha, exact_factors, scale_rgba, scaled_size
from pipeline.pixels.scaling.weights import Axis, Weights, covered, lanczos, weighted_sums
from tests.conftest import some

RESAMPLERS = ("nearest", "area", "lanczos", "dominant")


def noise(width: int, height: int, opaque: bool, seed: int = 5) -> np.ndarray:
    """Return random pixels, uint8, shape (height, width, 4)."""
    rgba = np.random.default_rng(seed).integers(0, 256, (height, width, 4), dtype=np.uint8)
    if opaque:
        rgba[..., 3] = 255
    return rgba


def scaled(rgba: np.ndarray, factor, resample: str, solid: bool = False) -> np.ndarray:
    """Scale an array."""
    return scale_rgba(Image.fromarray(rgba), factor, resample, solid)


def disc(size: int, centre: tuple[float, float], radius: float, rgb: tuple[int, int, int]) -> np.ndarray:
    """Return a hard-edged disc of one colour on transparent black."""
    y, x = np.mgrid[:size, :size] + 0.5
    inside = (x - centre[0]) ** 2 + (y - centre[1]) ** 2 < radius**2
    return np.where(inside[..., None], np.array([*rgb, 255]), 0).astype(np.uint8)


@pytest.mark.parametrize(
    ("size", "factor", "result"),
    [
        ((120, 160), 0.77, (93, 124)),  # 92.4 and 123.2
        ((120, 160), 0.5, (60, 80)),
        ((120, 160), 1, (120, 160)),
        ((30, 10), 0.1, (3, 1)),  # 0.1 in binary is a little more than a tenth; one pixel more would be wrong
        ((100, 300), 0.07, (7, 21)),
        ((7, 3), 0.01, (1, 1)),
        ((10, 11), 1.5, (15, 17)),
        ((3, 3), 2.0, (6, 6)),
        ((120, 160), (0.5, 2), (60, 320)),
        ((120, 160), [0.77, 0.1], (93, 16)),
        ((120, 160), Fraction(123, 160), (93, 123)),  # a height of 123: 92.25 and exactly 123
        ((120, 161), Fraction(100, 161), (75, 100)),  # as a binary number the factor is not exact
    ],
)
def test_size_that_holds_the_picture(size, factor, result):
    """A scaled picture has the whole pixels that just hold it, the factor read as the decimal the author wrote."""
    assert scaled_size(*size, factor) == result
    assert all(scaled(noise(*size, opaque=True), factor, one).shape[:2] == result[::-1] for one in RESAMPLERS)


@given(st.integers(1, 400), st.integers(1, 400), st.integers(1, 300))
def test_size_is_the_exact_product_rounded_up(width, height, percent):
    """Any percentage gives the exact product, rounded up."""
    exact = Fraction(percent, 100)
    assert scaled_size(width, height, percent / 100) == (-(-width * exact // 1), -(-height * exact // 1))


@pytest.mark.parametrize("resample", RESAMPLERS)
def test_77_percent_each_way_is_59_percent_of_the_area(resample):
    """A disc scaled to 77 % each way covers 0.77 x 0.77 = 59 % of the pixels (common practice, no source)."""
    whole = disc(400, (203.3, 198.6), 170, (255, 0, 0))
    small = cut_alpha(scaled(whole, 0.77, resample), 128)
    share = (small[..., 3] > 0).sum() / (whole[..., 3] > 0).sum()
    assert share == pytest.approx(0.5929, rel=0.004)


@pytest.mark.parametrize("resample", RESAMPLERS)
def test_scale_one_changes_nothing(resample):
    """A picture at scale 1 is itself, half transparent pixels included."""
    rgba = noise(13, 7, opaque=False)
    assert np.array_equal(scaled(rgba, 1, resample), rgba)
    assert np.array_equal(scaled(rgba, 1.0, resample), rgba)


def coverage(source: int, count: int, factor: Fraction) -> np.ndarray:
    """Return how much of each source pixel lies in each output pixel: shape (count, source), exact, then as floats."""
    rows = []
    for out in range(count):
        low, high = out / factor, (out + 1) / factor
        overlaps = [max(Fraction(0), min(high, pixel + 1) - max(low, Fraction(pixel))) for pixel in range(source)]
        rows.append([float(overlap * factor) for overlap in overlaps])
    return np.array(rows)


@settings(max_examples=40)
@given(st.integers(1, 14), st.integers(1, 14), st.sampled_from([0.5, 0.25, 0.2, 0.77, 0.31, 0.9, 0.99, 1.3, 2, 3]), st.integers(0, 9))
def test_area_is_the_mean_over_the_area_covered(width, height, factor, seed):
    """An output pixel is the alpha-weighted mean of what it covers, reckoned from exact overlaps; beyond the edge is nothing."""
    rgba = noise(width, height, opaque=False, seed=seed).astype(np.float64)
    ours = scaled(rgba.astype(np.uint8), factor, "area").astype(np.float64)
    exact = Fraction(str(factor))
    down, across = coverage(height, ours.shape[0], exact), coverage(width, ours.shape[1], exact)
    alpha = np.einsum("yh,hw,xw->yx", down, rgba[..., 3], across)
    light = np.einsum("yh,hwc,xw->yxc", down, rgba[..., :3] * rgba[..., 3:], across)
    assert abs(ours[..., 3] - alpha).max() <= 0.5 + 1e-6
    seen = alpha > 0.01
    assert abs(ours[seen][:, :3] - light[seen] / alpha[seen][:, None]).max(initial=0) <= 0.5 + 1e-6


@pytest.mark.parametrize("times", [2, 4, 5])
def test_area_at_whole_fractions(times):
    """At 1/2, 1/4 and 1/5 of opaque pixels the mean is numpy's, and Pillow's reduce and box filter agree to one step."""
    rgba = noise(12 * times, 7 * times, opaque=True)
    ours = scaled(rgba, 1 / times, "area")
    exact = rgba.reshape(7, times, 12, times, 4).mean(axis=(1, 3))
    assert abs(ours - exact).max() <= 0.5 + 1e-6
    picture = Image.fromarray(rgba)
    for theirs in (picture.reduce(times), picture.resize((12, 7), Image.Resampling.BOX)):
        assert abs(ours.astype(int) - np.asarray(theirs).astype(int)).max() <= 1


@pytest.mark.parametrize(("more", "fewer"), [(3, 4), (3, 5), (7, 8), (13, 17), (5, 3)])
def test_area_between_whole_sizes_is_pillows(more, fewer):
    """Enlarged a whole number of times and reduced by another with Pillow, opaque pixels have the same means to one step."""
    rgba = noise(2 * fewer, 3 * fewer, opaque=True)
    large = Image.fromarray(rgba).resize((2 * fewer * more, 3 * fewer * more), Image.Resampling.NEAREST)
    factor = Fraction(more, fewer)
    for theirs in (large.reduce(fewer), large.resize((2 * more, 3 * more), Image.Resampling.BOX)):
        assert abs(scaled(rgba, factor, "area").astype(int) - np.asarray(theirs).astype(int)).max() <= 1


def test_area_with_a_factor_of_many_digits():
    """A third written with 16 digits gives the means of 1/3: borders so fine cannot be seen."""
    rgba = noise(30, 21, opaque=True)
    exact = rgba.reshape(7, 3, 10, 3, 4).mean(axis=(1, 3))
    assert abs(scaled(rgba, 0.3333333333333333, "area") - exact).max() <= 0.51


@pytest.mark.parametrize("resample", ["area", "nearest", "dominant"])
@pytest.mark.parametrize("times", [2, 3, (2, 1), (1, 3), (4, 2)])
def test_enlarging_by_whole_numbers_repeats_pixels(resample, times):
    """Twice or three times as large, each pixel is a square of itself, or a rectangle with a factor for each direction."""
    rgba = noise(6, 5, opaque=True)
    across, down = times if isinstance(times, tuple) else (times, times)
    assert np.array_equal(scaled(rgba, times, resample), rgba.repeat(down, axis=0).repeat(across, axis=1))


@pytest.mark.parametrize("resample", RESAMPLERS)
def test_each_direction_has_its_own_factor(resample):
    """Scaled across alone, rows do not mix: every row is that of the same row scaled by itself, and likewise down."""
    rgba = noise(17, 11, opaque=False)
    wide = scaled(rgba, (0.6, 1), resample)
    assert wide.shape == (11, 11, 4)
    assert all(np.array_equal(wide[row], scaled(rgba[row : row + 1], (0.6, 1), resample)[0]) for row in range(11))
    turned = scaled(np.ascontiguousarray(rgba.transpose(1, 0, 2)), (1, 0.6), resample)
    assert np.array_equal(turned.transpose(1, 0, 2), wide)


FACTORS = [0.77, 0.5, 0.33, 0.1, 1.3, 1.4, (0.5, 0.77), Fraction(13, 20)]


@pytest.mark.parametrize("factor", FACTORS)
def test_nearest_is_the_pixel_under_the_middle(factor):
    """Reckoned in fractions: the source pixel that holds the output pixel's middle, the later one on a border."""
    rgba = noise(20, 26, opaque=False)
    small = scaled(rgba, factor, "nearest")
    across, down = exact_factors(factor)
    half = Fraction(1, 2)
    for y, x in np.ndindex(small.shape[:2]):
        at = (int((y + half) / down), int((x + half) / across))
        expected = rgba[at] if at[0] < 26 and at[1] < 20 else np.zeros(4)
        assert np.array_equal(small[y, x], expected)


@pytest.mark.parametrize("factor", FACTORS)
@pytest.mark.parametrize("resample", RESAMPLERS)
@pytest.mark.parametrize("rgb", [(255, 0, 0), (128, 128, 128), (40, 90, 201), (1, 0, 254)])
def test_no_fringe(resample, factor, rgb):
    """A disc of one colour on transparent black keeps it wherever it is seen at all, also where Lanczos overshoots."""
    small = scaled(disc(60, (29.6, 30.1), 24.3, rgb), factor, resample)
    seen = small[small[..., 3] > 0]
    assert len(seen)
    assert (seen[:, :3] == rgb).all()


@pytest.mark.parametrize("factor", [*FACTORS, 0.013, (0.773, 0.991)])
@pytest.mark.parametrize("resample", RESAMPLERS)
def test_solid_picture_stays_solid_to_its_edges(resample, factor):
    """What has nothing behind it gets no dark last column or row, however little of them the source covers."""
    rgba = np.full((103, 101, 4), [90, 17, 200, 255], dtype=np.uint8)
    rgba[:, 60:] = [7, 250, 30, 255]
    small = scaled(rgba, factor, resample, solid=True)
    assert (small[..., 3] == 255).all()
    assert (small[:, -1] == small[0, -1]).all()
    if small.shape[1] > 20:
        assert (small[:, -1] == [7, 250, 30, 255]).all()


def test_transparent_pixels_carry_no_colour():
    """A fully transparent neighbour does not tint an opaque pixel, whatever colour hides in it."""
    rgba = np.array([[[10, 200, 30, 255], [255, 255, 255, 0]]], dtype=np.uint8).repeat(2, axis=0)
    assert scaled(rgba, 0.5, "area").tolist() == [[[10, 200, 30, 128]]]


@pytest.mark.parametrize("resample", RESAMPLERS)
@pytest.mark.parametrize("factor", [0.3333333333333334, 0.6666666666666667, 1.0000000000000002])
def test_last_pixel_that_is_hardly_covered(resample, factor):
    """A factor a hair above a fraction gives one more row and column, clear for a sprite and of the edge for a background."""
    rgba = np.full((30, 30, 4), [90, 17, 200, 255], dtype=np.uint8)
    count = round(30 * factor) + 1
    assert (scaled(rgba, factor, resample, solid=True) == np.broadcast_to(rgba[0, 0], (count, count, 4))).all()
    sprite = scaled(rgba, factor, resample)
    assert sprite.shape == (count, count, 4)
    assert (cut_alpha(sprite, 128)[-1] == 0).all()


@pytest.mark.parametrize("factor", [0.5, 0.25, 0.75, 2, (0.5, 1.5)])
def test_lanczos_is_pillows_at_whole_sizes(factor):
    """Where the scaled size is whole, Lanczos of an opaque picture is what Pillow's resize of it gives."""
    rgba = noise(48, 32, opaque=True)
    theirs = Image.fromarray(rgba).resize(scaled_size(48, 32, factor), Image.Resampling.LANCZOS)
    assert np.array_equal(scaled(rgba, factor, "lanczos"), np.asarray(theirs))


def test_lanczos_between_whole_sizes():
    """At 0.77 the inside of an opaque picture is what Pillow gives for the box of source pixels that the output covers."""
    large = noise(200, 200, opaque=True)
    ours = scaled(large[:160, :120], 0.77, "lanczos", solid=True)
    theirs = np.asarray(Image.fromarray(large).resize((93, 124), Image.Resampling.LANCZOS, box=(0, 0, 93 / 0.77, 124 / 0.77)))
    inside = np.s_[:120, :89]  # the filter reaches 3 output pixels
    assert np.array_equal(ours[inside], theirs[inside])


@pytest.mark.parametrize("factor", [0.5, 0.77, 0.31, 1.3, (0.4, 0.77), Fraction(13, 60)])
@pytest.mark.parametrize("opaque", [True, False])
def test_lanczos_mixes_premultiplied(factor, opaque):
    """Over whole pictures, colour and alpha are those of Pillow's floating-point Lanczos of premultiplied channels, to one step.

    Where the sum of alpha is small, lobes of both signs leave a ratio that decides nothing; it is compared from 16 on.
    """
    rgba = noise(90, 60, opaque=False, seed=11)
    rgba[..., 3] = np.where(rgba[..., 3] < 90, 0, 255) if opaque else rgba[..., 3]
    width, height = scaled_size(90, 60, factor)
    across, down = (float(one) for one in exact_factors(factor))
    span = width / across, height / down
    padded = np.zeros((-(-span[1] // 1).__int__(), -(-span[0] // 1).__int__(), 4))
    padded[:60, :90] = rgba
    planes = [padded[..., channel] * padded[..., 3] for channel in range(3)] + [padded[..., 3]]
    sums = [
        np.asarray(Image.fromarray(plane.astype(np.float32)).resize((width, height), Image.Resampling.LANCZOS, box=(0, 0, *span)))
        for plane in planes
    ]
    ours = scaled(rgba, factor, "lanczos").astype(float)
    assert abs(ours[..., 3] - np.clip(sums[3], 0, 255)).max() <= 0.51
    seen = sums[3] > 16
    assert seen.any()
    for channel in range(3):
        expected = np.clip(sums[channel][seen] / sums[3][seen], 0, 255)
        assert abs(ours[seen][:, channel] - expected).max() <= 0.75


@pytest.mark.parametrize("endless", [False, True])
@pytest.mark.parametrize("factor", ["0.77", "1/3", "1.3", "9/7", "0.99999", "123457/1000000"])
@pytest.mark.parametrize("origin", ["0", "3", "-5/3", "7/24", "41/2"])
def test_areas_are_those_of_exact_fractions(factor, origin, endless):
    """Every part of a source pixel that an output pixel covers, and how near their middles are, by Python's own fractions."""
    axis = Axis(30, 12, Fraction(factor), Fraction(origin), endless)
    step = 1 / axis.factor
    if not endless:  # where every output pixel meets the source
        axis = Axis(30, max(1, int((30 - abs(axis.origin)) / step)), axis.factor, abs(axis.origin))
    table = covered(axis)
    for out, (places, weights, nearness) in enumerate(zip(table.places.tolist(), table.weights.tolist(), table.nearness, strict=True)):
        start, end = axis.origin + out * step, axis.origin + (out + 1) * step
        held = dict.fromkeys(places, 0)
        for pixel, weight in zip(places, weights, strict=True):
            held[pixel] += weight
        for pixel in range(axis.length):
            left = start if endless and pixel == 0 else max(start, Fraction(pixel))
            right = end if endless and pixel == axis.length - 1 else min(end, Fraction(pixel + 1))
            borders = [round((min(max(at, start), end) - axis.origin) * axis.factor * table.total) for at in (left, right)]
            part = max(borders[1] - borders[0], 0)
            assert held.pop(pixel, 0) == part or (part == 0 and len(set(places)) == 1)
        assert not held
        for pixel, near in zip(places, nearness, strict=True):
            assert near == float((pixel + Fraction(1, 2) - axis.origin - (out + Fraction(1, 2)) * step) ** 2)


@pytest.mark.parametrize(("length", "factor"), [(40, "0.77"), (40, "1/3"), (40, "1.3"), (9, "0.1"), (7, "8")])
def test_lanczos_weights_are_those_of_the_formula(length, factor):
    """sinc(t) sinc(t / 3) with numpy's sinc, widened by the step when getting smaller, adding up to 1 (to 1/65536 each)."""
    exact = Fraction(factor)
    axis = Axis(length, -(-length * exact // 1).__int__(), exact)
    table = lanczos(axis)
    assert (table.weights.sum(axis=1) == table.total).all()
    step = 1 / float(exact)
    for out in range(axis.count):
        at = (np.arange(length) + 0.5 - (out + 0.5) * step) / max(step, 1)
        heights = np.where(abs(at) < 3, np.sinc(at) * np.sinc(at / 3), 0)
        ours = np.zeros(length)
        np.add.at(ours, table.places[out], table.weights[out] / table.total)
        assert abs(ours - heights / heights.sum()).max() < 1e-4


def frames(count: int) -> list[np.ndarray]:
    """Return frames of 120 x 160 in which the part from row 120 stays in place and everything above moves."""
    ground = noise(120, 160, opaque=False, seed=1)
    moving = []
    for rank in range(count):
        frame = ground.copy()
        frame[:120] = 0
        y, x = 20 + rank, 10 + rank * 2 % 70
        frame[y : y + 30, x : x + 20] = noise(20, 30, opaque=False, seed=rank)
        moving.append(frame)
    return moving


@pytest.mark.parametrize("factor", some([0.77, 0.5, 0.61, 0.123, 1.3, (0.77, 0.6), (1.21, 0.333), Fraction(123, 160), Fraction(7, 16)], 2))
@pytest.mark.parametrize("resample", RESAMPLERS)
def test_what_stands_still_stays_still(resample, factor):
    """Over 50 frames the feet of a figure stay on the same output pixels, bit for bit, whatever the rest does."""
    down = exact_factors(factor)[1]
    first_row = -(-down * 120 // 1) + -(-3 * max(1, down) // 1)  # Lanczos reaches 3 pixels upwards, of the coarser grid
    feet = [scaled(frame, factor, resample)[first_row:] for frame in frames(50)]
    assert feet[0].any()
    assert all(np.array_equal(feet[0], other) for other in feet)


def test_pixels_above_do_not_change_those_below():
    """A pixel's mean depends on what it covers alone: exactly 38.5 rounds the same way below an empty column and a full one."""
    below = [[147, 210, 170, 162], [208, 41, 202, 171], [8, 61, 124, 23], [54, 210, 178, 65], [166, 207, 175, 40], [195, 203, 253, 54]]
    column = np.array(below, dtype=np.uint8)[:, None]
    tops = [np.zeros((16, 1, 4), dtype=np.uint8), *(noise(1, 16, opaque=False, seed=seed) for seed in range(20))]
    results = {scaled(np.concatenate([top, column]), 0.77, "area")[14:16].tobytes() for top in tops}
    assert len(results) == 1


@pytest.mark.parametrize("centre", [(40.0, 40.0), (60.0, 31.0), (35.5, 62.25)])
@pytest.mark.parametrize("factor", [0.77, 0.5, 0.3])
@pytest.mark.parametrize("resample", ["area", "lanczos"])
def test_a_mark_keeps_its_scaled_place(resample, factor, centre):
    """The centre of a disc lies at its source point times the factor: output pixel (0, 0) begins at source point (0, 0)."""
    whole = disc(100, centre, 20, (0, 200, 0))
    small = scaled(whole, factor, resample)[..., 3].astype(float)

    def middle(alpha: np.ndarray) -> np.ndarray:
        y, x = np.mgrid[: alpha.shape[0], : alpha.shape[1]] + 0.5
        return np.array([(x * alpha).sum(), (y * alpha).sum()]) / alpha.sum()

    assert middle(small) == pytest.approx(middle(whole[..., 3].astype(float)) * factor, abs=0.05)


@pytest.mark.parametrize(
    ("threshold", "kept"), [(1, [False, True, True, True, True]), (128, [False, False, False, True, True]), (255, [False] * 4 + [True])]
)
def test_alpha_cut_to_on_or_off(threshold, kept):
    """From the threshold pixels become opaque with their colour; below it all four channels are 0, and the source is left alone."""
    rgba = np.array([[[9, 8, 7, alpha] for alpha in (0, 1, 127, 128, 255)]], dtype=np.uint8)
    before = rgba.copy()
    assert cut_alpha(rgba, threshold).tolist() == [[[9, 8, 7, 255] if stays else [0, 0, 0, 0] for stays in kept]]
    assert np.array_equal(rgba, before)
    assert cut_alpha(rgba, threshold).dtype == np.uint8


@pytest.mark.parametrize("most", [1, 65535, 65536, 65537, 131071])
def test_sums_are_whole_up_to_and_above_32_bits(most):
    """Of one pixel with the weights 65536 and 1, sums are products, as Python multiplies: at 2**32 they need more room."""
    whole, one = (Weights(np.zeros((1, 1), dtype=np.intp), np.array([[total]]), total, np.zeros((1, 1))) for total in (65536, 1))
    planes = [np.full((1, 1), value, dtype=np.uint32) for value in (most, most // 2)]
    for down, across in ((whole, one), (one, whole)):
        sums = [int(found[0, 0]) for found in weighted_sums(planes, down, across, most)]
        assert sums == [most * 65536, most // 2 * 65536]
