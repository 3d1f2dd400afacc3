"""Colour differences against the published pairs, an independent library, and figures counted the plain way."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from pipeline.pixels.colours.difference import (
    METRIC_UNIT,
    ErrorFacts,
    ciede2000,
    difference_map,
    lab,
    linear_light,
    metric_distance,
    metric_points,
    micro_differences,
    reach_in_lightness,
)

# G. Sharma, W. Wu, E. Dalal, "The CIEDE2000 Color-Difference Formula", 2005, Table 1: L a b of both colours, difference.
PAIRS = """
50 2.6772 -79.7751 50 0 -82.7485 2.0425; 50 3.1571 -77.2803 50 0 -82.7485 2.8615; 50 2.8361 -74.0200 50 0 -82.7485 3.4412
50 -1.3802 -84.2814 50 0 -82.7485 1.0000; 50 -1.1848 -84.8006 50 0 -82.7485 1.0000; 50 -0.9009 -85.5211 50 0 -82.7485 1.0000
50 0 0 50 -1 2 2.3669; 50 -1 2 50 0 0 2.3669; 50 2.49 -0.001 50 -2.49 0.0009 7.1792; 50 2.49 -0.001 50 -2.49 0.0010 7.1792
50 2.49 -0.001 50 -2.49 0.0011 7.2195; 50 2.49 -0.001 50 -2.49 0.0012 7.2195; 50 -0.001 2.49 50 0.0009 -2.49 4.8045
50 -0.001 2.49 50 0.0010 -2.49 4.8045; 50 -0.001 2.49 50 0.0011 -2.49 4.7461; 50 2.5 0 50 0 -2.5 4.3065
50 2.5 0 73 25 -18 27.1492; 50 2.5 0 61 -5 29 22.8977; 50 2.5 0 56 -27 -3 31.9030; 50 2.5 0 58 24 15 19.4535
50 2.5 0 50 3.1736 0.5854 1.0000; 50 2.5 0 50 3.2972 0 1.0000; 50 2.5 0 50 1.8634 0.5757 1.0000
50 2.5 0 50 3.2592 0.3350 1.0000; 60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630; 61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645; 22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146; 90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381; 6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""
TABLE = np.array([[float(value) for value in pair.split()] for pair in PAIRS.strip().replace("\n", ";").split(";")])


def colours(seed: int, amount: int = 20_000) -> np.ndarray:
    """Return random colours."""
    return np.random.default_rng(seed).integers(0, 256, (amount, 3), dtype=np.uint8)


def test_all_published_pairs():
    """Each of the 34 pairs to the four decimals printed, in either order; of no. 14 both readings of a half turn are right."""
    assert len(TABLE) == 34
    for found in (ciede2000(TABLE[:, :3], TABLE[:, 3:6]), ciede2000(TABLE[:, 3:6], TABLE[:, :3])):
        wrong = np.flatnonzero(np.abs(found - TABLE[:, 6]) > 0.00005 + 1e-9)
        assert all(row == 13 and abs(found[row] - 4.7461) <= 0.00005 + 1e-9 for row in wrong), (wrong + 1, found[wrong])


def test_difference_as_scikit_image_computes_it():
    """For random colours scikit-image finds the same differences, and shapes broadcast."""
    left, right = lab(colours(1)), lab(colours(2))
    assert np.allclose(ciede2000(left, right), deltaE_ciede2000(left, right), rtol=0, atol=1e-6)
    assert ciede2000(left[:5, None], right[None, :7]).shape == (5, 7)


def test_lab_as_scikit_image_computes_it():
    """CIELAB of random colours; scikit-image's matrix has six digits, which shows in the third decimal."""
    rgb = colours(3)
    assert np.allclose(lab(rgb), rgb2lab(rgb[None])[0], rtol=0, atol=0.006)


@pytest.mark.parametrize(
    ("rgb", "expected"),
    [
        ((255, 0, 0), (53.2408, 80.0925, 67.2032)),  # B. Lindbloom's calculator, D65 (from memory)
        ((255, 255, 255), (100, 0, 0)),
        ((0, 0, 0), (0, 0, 0)),
    ],
)
def test_lab_of_known_colours(rgb, expected):
    """White is 100 0 0 exactly enough, black nothing, and sRGB red where calculators put it."""
    assert lab(np.array(rgb, dtype=np.uint8)) == pytest.approx(expected, abs=0.001)


def test_linear_light_of_known_codes():
    """Values of IEC 61966-2-1 as colour-science 0.4.7 gives them."""
    known = {1: 0.00030353, 10: 0.00303527, 11: 0.00334654, 64: 0.05126946, 128: 0.21586050, 254: 0.99110210, 255: 1}
    assert {code: round(float(linear_light()[code]), 8) for code in known} == known


@pytest.mark.parametrize("reach", [8, 40, 255])
def test_metric_is_ciede2000(reach):
    """The whole-number metric is scikit-image's CIEDE2000 of near colours and of far ones, more closely than an eye sees."""
    left = colours(4)
    step = np.random.default_rng(5).integers(-reach, reach + 1, left.shape)
    right = np.clip(left + step, 0, 255).astype(np.uint8)
    true = ciede2000(lab(left), lab(right))
    found = metric_distance(metric_points(left), metric_points(right)) / METRIC_UNIT
    assert np.abs(found - true).max() < 0.3
    assert np.percentile(np.abs(found - true), 99.9) < 0.06
    assert np.abs(found - true).mean() < 0.006
    theirs = deltaE_ciede2000(rgb2lab(left[None])[0], rgb2lab(right[None])[0])
    assert np.abs(found - theirs).mean() < 0.01


def test_metric_is_whole_symmetric_and_nothing_only_for_the_same():
    """Whole numbers, the same both ways, and 0 for the same colour only."""
    left, right = metric_points(colours(6)), metric_points(colours(7))
    found = metric_distance(left, right)
    assert (found == np.rint(found)).all()
    assert (found == metric_distance(right, left)).all()
    assert (metric_distance(left, left) == 0).all()
    assert ((found == 0) == (colours(6) == colours(7)).all(axis=-1)).all()


def test_lightness_is_bounded_by_the_difference():
    """No pair is farther apart in lightness than its difference allows, and some greys are nearly as far."""
    left = colours(8, 60_000)
    blues = (left[:20_000] * np.array([0.3, 0.2, 1])).astype(np.uint8)  # where chroma and hue take away from each other
    right = np.concatenate([left[20_000:40_000] // 10 + blues // 9 * 8, blues[::-1], left[40_000:] // 2 * 2])
    points, others = metric_points(np.concatenate([left[20_000:40_000], blues, left[40_000:]])), metric_points(right)
    found = metric_distance(points, others)
    assert (np.abs(points[0] - others[0]) <= reach_in_lightness(points[0], found)).all()
    assert (np.abs(points[0] - others[0]) <= reach_in_lightness(others[0], found)).all()
    greys = metric_points(np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1))
    found = metric_distance(greys[:, :, None], greys[:, None])
    reach = reach_in_lightness(np.broadcast_to(greys[0][:, None], found.shape), found)
    apart = np.abs(greys[0][:, None] - greys[0])
    assert (apart <= reach).all()
    assert ((apart > 5) & (reach < apart * 1.05)).any()
    assert np.isinf(reach_in_lightness(greys[0][:1], np.array([200 * METRIC_UNIT], dtype=np.float32))).all()


def frames(seed: int, amount: int) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Return made-up frames: wanted, got, opaque."""
    random = np.random.default_rng(seed)
    made = []
    for rank in range(amount):
        wanted = random.integers(0, 256, (17, 23, 3), dtype=np.uint8) // 16 * 16
        got = np.clip(wanted + random.integers(-4 - rank, 5 + rank, wanted.shape), 0, 255).astype(np.uint8)
        made.append((wanted, got, random.random((17, 23)) < 0.6))
    return made


def summary(made: list[tuple[np.ndarray, np.ndarray, np.ndarray]]) -> dict:
    """Return the facts of frames given as (wanted, got, opaque)."""
    facts = ErrorFacts()
    for one in made:
        facts.add(*one)
    return facts.facts()


def test_facts_against_numpy_over_all_pixels():
    """Mean, percentile and worst frame are those of scikit-image's differences kept in one array."""
    made = frames(1, 9)
    each = [deltaE_ciede2000(lab(wanted[opaque]), lab(got[opaque])) for wanted, got, opaque in made]
    every = np.concatenate(each)
    found = summary(made)
    means = [float(one.mean()) for one in each]
    assert found["mean"] == pytest.approx(every.mean(), abs=0.0006)
    assert found["p95"] == pytest.approx(np.percentile(every, 95, method="inverted_cdf"), abs=0.0051)
    assert found["worst_frame"] == int(np.argmax(means))
    assert found["worst_mean"] == pytest.approx(max(means), abs=0.0006)
    assert (found["frames"], found["pixels"]) == (9, len(every))


def test_the_first_of_frames_as_bad_is_named_and_empty_ones_count():
    """A frame with nothing in it keeps its number; of two as bad the first is named."""
    wanted, got, opaque = frames(2, 1)[0]
    nothing = (wanted, got, np.zeros_like(opaque))
    assert summary([nothing, (wanted, got, opaque), (wanted, got, opaque)])["worst_frame"] == 1
    assert summary([nothing]) == {"frames": 1, "pixels": 0, "mean": None, "p95": None, "worst_frame": None, "worst_mean": None}
    assert summary([(wanted, wanted, opaque)])["p95"] == 0


def test_more_than_the_scale_holds():
    """Differences above 100 count as 100 in the percentile, and as they are in the mean."""
    blue, yellow = np.full((2, 2, 3), (0, 0, 255), dtype=np.uint8), np.full((2, 2, 3), (255, 255, 0), dtype=np.uint8)
    true = float(deltaE_ciede2000(lab(blue), lab(yellow)).mean())
    found = summary([(blue, yellow, np.ones((2, 2), dtype=bool))])
    assert true > 100
    assert found["p95"] == 100
    assert found["mean"] == pytest.approx(true, abs=0.0006)


@pytest.mark.parametrize("together", [1, 2, 5, 12])
def test_differences_of_several_frames_at_once(together):
    """Given as differences, some frames at a time, empty ones among them, the facts are those of frame after frame."""
    made = frames(3, 12)
    for rank in (0, 4, 5, 11):
        made[rank] = (*made[rank][:2], np.zeros((17, 23), dtype=bool))
    facts = ErrorFacts()
    for first in range(0, 12, together):
        some = made[first : first + together]
        micro = [micro_differences(wanted[opaque], got[opaque]) for wanted, got, opaque in some]
        facts.add_micro(np.concatenate(micro), [len(one) for one in micro])
    assert facts.facts() == summary(made)


def test_map_of_two_pictures_is_the_difference_pixel_by_pixel():
    """Whether a pair of colours is reckoned once or every time, each pixel has the CIEDE2000 of its own pair."""
    few = np.random.default_rng(3).integers(0, 4, (2, 9, 11, 3), dtype=np.uint8) * 80

    found = difference_map(*few)

    assert found.shape == (9, 11)
    assert np.array_equal(found, ciede2000(lab(few[0]), lab(few[1])))
    assert len(np.unique(found)) > 20
