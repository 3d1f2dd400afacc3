"""Scaled pictures stay the same to the last bit, and are those of sums over fractions written out here.

What is recorded: pictures of 1 to 13 pixels with every filter, at factors and points of all kinds. If a change is meant: see
``tests.recorded``.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image

from pipeline.pixels.colours.light import codes, light
from pipeline.pixels.scaling import placed, scale, votes, weights
from pipeline.pixels.scaling.placed import Placing
from pipeline.pixels.scaling.weights import Axis
from tests.pixels.chance import few_colours, hash_of_values, pixels
from tests.recorded import differing

RESAMPLERS = ("nearest", "area", "lanczos", "dominant")
FACTORS = (0.77, 0.5, 2, 1, 1.3, 0.1, (0.5, 1), (1.5, 0.31), Fraction(3, 7), 0.3333333333)
HALF = Fraction(1, 2)


def picture(seed: int, width: int, height: int) -> Image.Image:
    holes = ("some", "soft", "none")[seed % 3]
    rgba = pixels(seed, height, width, 4, holes=holes)
    if seed % 2:
        rgba[..., :3] = few_colours(seed, 3, height, width)
    return Image.fromarray(rgba)


SIZES = ((1, 1), (1, 9), (5, 3), (13, 7))
CASES = [(seed, *SIZES[seed % 4], factor) for seed, factor in enumerate(FACTORS * 2)]


def test_pictures_scaled_from_their_corner():
    """Each filter, clear and half clear pixels and none, mixed as stored and in linear light, solid or not."""
    found = {}
    for seed, width, height, factor in CASES:
        for resample in RESAMPLERS:
            for solid, lit in ((False, "as stored"), (True, "linear" if seed % 2 else "as stored"), (False, "linear")):
                made = scale.scale_rgba(picture(seed, width, height), factor, resample, solid, lit)
                assert made.shape == (*scale.scaled_size(width, height, factor)[::-1], 4)
                found[f"{seed}, {width} x {height} by {factor}, {resample}, {lit}, {solid}"] = hash_of_values(made)
    assert differing("pictures scaled", found) == set()


def test_pictures_scaled_about_points():
    """Points inside, on the edges and outside; with the size and place that are said of them."""
    found = {}
    points = [(Fraction(x), Fraction(y)) for x, y in (("0", "0"), ("5/2", "3"), ("-7/3", "20"), ("1", "-1"), ("13", "7"), ("31/4", "-5/2"))]
    for seed, width, height, factor in CASES:
        point, resample = points[seed % 6], RESAMPLERS[seed // 3 % 4]
        for least in (Fraction(0), scale.least_seen("area", 128), HALF, Fraction(1)):
            size, place = scale.scaled_about((width, height), factor, point, least)
            lit = "linear" if seed % 5 == 0 else "as stored"
            made = scale.scale_about(picture(seed, width, height), factor, point, resample, lit, least)
            assert made.shape == (size[1], size[0], 4)
            found[f"{seed}, {width} x {height} by {factor}, {resample}, {least}"] = hash_of_values(size, place, made)
    assert differing("pictures scaled about points", found) == set()


def test_sizes_about_points_by_counting():
    """Pixels of a grid through the point that the scaled picture covers, the outermost only if enough of them is covered."""
    for width, factor, at, least in (
        (length, Fraction(top, below), Fraction(place, 6), Fraction(part, 4))
        for length in (1, 2, 7) for top, below in ((1, 2), (3, 5), (4, 3), (2, 1)) for place in range(-9, 60, 7) for part in range(5)
    ):  # fmt: skip
        start, end = -at * factor, (width - at) * factor
        whole = range(math.floor(start), math.ceil(end))
        (size, _), (left, _) = scale.scaled_about((width, 1), (factor, Fraction(1)), (at, Fraction(0)), least)
        # A part at one end only counts from the point outwards; a picture has at least one pixel.
        if start <= 0 <= end:
            outer = [one for one in whole if (min(end, one + 1) if one >= 0 else one + 1) - (max(start, one) if one < 0 else one) >= least]
            assert size == max(1, len(outer)), (width, factor, at, least)
            if outer:
                assert left == -outer[0], (width, factor, at, least)
        else:
            assert 1 <= size <= max(1, len(whole))


def test_least_of_a_column_that_is_seen():
    """Half a pixel for what takes one colour; what lifts alpha to the threshold when it is mixed; nothing for lobes."""
    for alpha in (1, 2, 127, 128, 255):
        assert scale.least_seen("lanczos", alpha) == 0
        assert scale.least_seen("nearest", alpha) == scale.least_seen("dominant", alpha) == HALF
        least = scale.least_seen("area", alpha)
        assert least == (alpha - HALF) / 255
        assert round(least * 255 + Fraction(1, 1000)) == alpha
        assert round(least * 255 - Fraction(1, 1000)) == alpha - 1


@pytest.mark.parametrize("name", ["_AT_ONCE"])
def test_bands_do_not_show(monkeypatch, name):
    """Pictures scaled and placed a row at a time are those made at once."""
    made = []
    for amount in (None, 3):
        for module in (scale, votes, placed):
            if amount:
                monkeypatch.setattr(module, name, amount)
        ground = pixels(3, 12, 15, 3)
        Placing((Fraction(4, 3), Fraction(5, 7)), (Fraction(1), Fraction(2)), "area", "linear").put(
            ground, picture(1, 13, 7), (Fraction(-1, 2), Fraction(2)), (Fraction(15), Fraction(12))
        )
        made.append([ground, *(scale.scale_rgba(picture(2, 13, 7), 0.6, one) for one in RESAMPLERS)])
    assert all(np.array_equal(one, other) for one, other in zip(*made, strict=True))


def test_linear_means_by_fractions():
    """Codes and alpha of an area's mean in linear light, reckoned with Python's fractions for each pixel."""
    rgba = pixels(4, 6, 9, 4, holes="soft")
    made = scale.scale_rgba(Image.fromarray(rgba), (Fraction(1, 3), Fraction(1, 2)), "area", light="linear")
    lit = [[light()[pixel[:3]].tolist() for pixel in row] for row in rgba]
    for y in range(3):
        for x in range(3):
            cells = [(y * 2 + down, x * 3 + across) for down in range(2) for across in range(3)]
            alpha = [int(rgba[cell][3]) for cell in cells]
            assert made[y, x, 3] == round(Fraction(sum(alpha), 6))
            for channel in range(3):
                mean = Fraction(sum(lit[cell[0]][cell[1]][channel] * one for cell, one in zip(cells, alpha, strict=True)), sum(alpha))
                nearest = min(range(256), key=lambda code: (abs(int(light()[code]) - mean), -code))
                assert made[y, x, channel] == nearest


def vote(packed: np.ndarray, factor: Fraction) -> list[list[int]]:
    """Return what ``dominant`` chooses, by its words: most area, then the nearest middle, then the first row by row."""
    rows = []
    for y in range(math.ceil(packed.shape[0] * factor)):
        row = []
        for x in range(math.ceil(packed.shape[1] * factor)):
            areas, ranks = {}, {}
            for down, across in np.ndindex(packed.shape):
                sides = (
                    min(Fraction(y + 1) / factor, down + 1) - max(Fraction(y) / factor, down),
                    min(Fraction(x + 1) / factor, across + 1) - max(Fraction(x) / factor, across),
                )
                if min(sides) > 0:
                    colour = int(packed[down, across])
                    areas[colour] = areas.get(colour, 0) + sides[0] * sides[1]
                    apart = (down + HALF - (y + HALF) / factor) ** 2 + (across + HALF - (x + HALF) / factor) ** 2
                    ranks[colour] = min(ranks.get(colour, (apart, down, across)), (apart, down, across))
            row.append(min(areas, key=lambda one: (-areas[one], ranks[one])))
        rows.append(row)
    return rows


@pytest.mark.parametrize("factor", ["1/2", "1/3", "2/3", "3/4", "2/5"])
def test_vote_by_its_words(factor):
    """Few colours, so that many weigh the same."""
    exact = Fraction(factor)
    for seed in range(2):
        length = exact.denominator * (3 if exact.numerator == 1 else 2)
        packed = (pixels(seed, length, length) % (2 + seed * 3)).astype(np.uint32)
        axis = Axis(length, math.ceil(length * exact), exact)
        assert votes.dominant_colours(packed, weights.covered(axis), weights.covered(axis)).tolist() == vote(packed, exact)


def test_weights_of_every_kind_of_axis():
    """Areas, middles and Lanczos on axes that begin anywhere, endless or not; of parts of them."""
    found = {}
    for factor in ("1/2", "3/7", "77/100", "4/3", "2", "123457/1000000", "1000003/1000000"):
        for origin, endless in (("0", False), ("5/3", False), ("4", False), ("-5/2", True), ("7/3", True), ("40", True)):
            exact, start = Fraction(factor), Fraction(origin)
            count = 9 if endless else max(1, int((12 - start) * exact))
            axis = Axis(12, count, exact, start, endless)
            lobes = Axis(12, max(1, int((12 - abs(start) % 12) * exact)), exact, abs(start) % 12)
            tables = [weights.covered(axis), weights.lanczos(lobes)]
            parts = [part for table in tables for part in (table.places, table.weights, table.total, table.nearness)]
            inner = tables[0].within(3, 7)
            found[f"{factor} from {origin}"] = hash_of_values(
                *parts, weights.middles(axis), axis.on_canvas().length, inner.places, inner.weights, weights.reaching(tables[0], 2, 5)[0]
            )
    for at in range(-13, 14):
        found[f"height at {at}/4"] = str(weights._lanczos_height(Fraction(at, 4)))
    assert differing("weights of scaling", found) == set()


def share_of(start: Fraction, size: Fraction, ramp: Fraction, left: Fraction, right: Fraction) -> Fraction:
    """Return the mean opacity between two places of a picture that rises over a ramp and falls again, as areas of trapeziums."""
    ends = sorted({left, right, *(min(max(one, left), right) for one in (start, start + ramp, start + size - ramp, start + size))})

    def height(at: Fraction) -> Fraction:
        inside = min(at - start, start + size - at)
        return Fraction(0) if inside < 0 else Fraction(1) if not ramp else min(Fraction(1), inside / ramp)

    area = Fraction(0)
    for low, high in zip(ends, ends[1:], strict=False):
        middle = height((low + high) / 2)  # straight between two ends, so the middle's height times the width is the area
        area += middle * (high - low)
    return area / (right - left)


def test_shares_of_a_placed_picture():
    """Areas under the ramp for what is mixed, and the pixel's middle for what is not, at every edge of ground and picture."""
    for start, size, ramp, end in (
        (Fraction(begin, 6), Fraction(length, 4), Fraction(ramp, 3), Fraction(end, 2))
        for begin in range(-13, 40, 5) for length in (3, 8, 20) for ramp in (0, 1, 2) for end in (2, 9, 14) if 8 * ramp <= 3 * length
    ):  # fmt: skip
        for mixed in (False, True):
            spread = placed._spread(start, size, ramp, end, mixed)
            for rank, share in enumerate(spread.shares.tolist()):
                left, right = Fraction(spread.first + rank), min(Fraction(spread.first + rank + 1), end)
                middle = start <= (left + right) / 2 < start + size
                exact = share_of(start, size, ramp, left, right) if mixed or ramp else Fraction(int(middle))
                assert share == round(exact * 4096), (start, size, ramp, end, left)
            last = min(math.ceil(end), math.ceil(start + size))
            assert spread.first == max(0, math.floor(start))
            assert len(spread.shares) == max(0, last - spread.first)


def test_mixture_with_the_ground_by_whole_numbers():
    """Linear light, each as much as it has a share of; all of it, or nothing, is taken as it is."""
    below, part = pixels(1, 20, 3), pixels(2, 20, 4, holes="soft")
    shares = (pixels(3, 20).astype(np.int64) * 4096 // 255) * 4096
    shares[:3], part[:2, 3] = (0, 1 << 24, 1 << 24), 255
    made = below[None].copy()
    placed._mix(made, part[None], shares[None])
    for at in range(20):
        weight, full = int(part[at, 3]) * int(shares[at]), 255 << 24
        for channel in range(3):
            lit = Fraction(int(light()[below[at, channel]]) * (full - weight) + int(light()[part[at, channel]]) * weight, full)
            expected = below[at, channel] if not weight else part[at, channel] if weight == full else codes()[math.floor(lit + HALF)]
            assert made[0, at, channel] == expected


def test_pictures_placed():
    """Every filter, inside the ground, over its edges and beyond, blended or not."""
    found = {}
    for seed in range(24):
        resample, lit = RESAMPLERS[seed % 4], ("as stored", "linear")[seed // 4 % 2]
        factors = (Fraction(3 + seed % 5, 4), Fraction(7, 3 + seed % 4))
        blend = (Fraction(0), Fraction(0)) if seed % 3 else (Fraction(1, 2), Fraction(seed % 2))
        place, end = (Fraction(seed - 9, 2), Fraction(seed % 11 - 4, 3)), (Fraction(31, 2), Fraction(12 - seed % 2))
        ground = pixels(seed, 12, 16, 4)
        Placing(factors, blend, resample, lit).put(ground, picture(seed, 9, 7), place, end)
        found[f"{seed}"] = hash_of_values(ground)
    assert differing("pictures placed", found) == set()
