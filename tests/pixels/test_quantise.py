"""Choice of colours: exact when they fit, and otherwise no worse than general-purpose quantisers on open photographs."""

from __future__ import annotations

import functools
import hashlib
import itertools
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import skimage
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy.spatial import cKDTree

import pipeline
from pipeline.bits import parse_pattern
from pipeline.pixels.colour import perceptual, to_rgb, to_words
from pipeline.pixels.quantise import choose_words, count_words, nearest_entries

FIVE = parse_pattern("xBBBBBGGGGGRRRRR")
THREE = parse_pattern("0000BBB0GGG0RRR0")
PHOTOS = Path(skimage.__file__).parent / "data"  # chelsea and coffee are CC0, the astronaut is NASA's, in the public domain
HARBOUR = Path(__file__).parents[2] / "demo_project" / "art" / "harbours" / "northpier.png"
PICTURES = {name: PHOTOS / f"{name}.png" for name in ("chelsea", "coffee", "astronaut")} | {"harbour": HARBOUR}


@functools.cache
def picture(name: str) -> Image.Image:
    """Return a test picture, a quarter of its width and height, so that the set stays quick."""
    with Image.open(PICTURES[name]) as opened:
        whole = opened.convert("RGB")
    return whole.resize((whole.width // 4, whole.height // 4), Image.Resampling.BOX)


def pixels_of(name: str) -> np.ndarray:
    """Return a test picture's pixels, shape (n, 3)."""
    return np.asarray(picture(name)).reshape(-1, 3)


@functools.cache
def chosen(name: str, most: int) -> tuple[int, ...]:
    """Return the words chosen for a test picture."""
    return tuple(choose_words(*count_words(pixels_of(name), FIVE), most, FIVE).tolist())


def mean_error(rgb: np.ndarray, words) -> float:
    """Return the mean squared perceptual distance of the pixels, as the console can show them, to the nearest of some words."""
    shown = perceptual(to_rgb(to_words(rgb, FIVE), FIVE))
    entries = perceptual(to_rgb(np.unique(np.array(words, dtype=np.uint32)), FIVE))
    distance, _ = cKDTree(entries).query(shown)
    return float((distance**2).mean())


QUANTISERS = [
    (Image.Quantize.MEDIANCUT, 0),
    (Image.Quantize.MEDIANCUT, 10),
    (Image.Quantize.MAXCOVERAGE, 0),
    (Image.Quantize.MAXCOVERAGE, 10),
    (Image.Quantize.FASTOCTREE, 0),
    (Image.Quantize.FASTOCTREE, 10),
]


@pytest.mark.parametrize(("method", "rounds"), QUANTISERS, ids=lambda one: getattr(one, "name", str(one)))
@pytest.mark.parametrize("most", [15, 255])
@pytest.mark.parametrize("name", PICTURES)
def test_error_is_not_above_that_of_pillow(name, most, method, rounds):
    """The error is at most that of Pillow's quantisers, with and without its k-means, their colours snapped to the same words."""
    theirs = picture(name).quantize(most, method, kmeans=rounds)
    entries = np.array(theirs.getpalette("RGB"), dtype=np.uint8).reshape(-1, 3)[:most]
    assert mean_error(pixels_of(name), chosen(name, most)) <= mean_error(pixels_of(name), to_words(entries, FIVE))


@pytest.mark.parametrize("most", [15, 255])
@pytest.mark.parametrize("name", PICTURES)
def test_room_is_used_and_not_exceeded(name, most):
    """A photograph with more colours than fit gets all the entries there are, each once, in rising order, each one it uses."""
    words = chosen(name, most)
    assert len(words) == most
    assert list(words) == sorted(set(words))
    assert set(words) <= set(to_words(pixels_of(name), FIVE).tolist())


@pytest.mark.parametrize("name", PICTURES)
def test_more_entries_do_not_harm(name):
    """The error falls as entries are added, and is nothing when all colours fit."""
    rgb = pixels_of(name)
    errors = [mean_error(rgb, choose_words(*count_words(rgb, FIVE), most, FIVE)) for most in (2, 8, 64)]
    assert all(more < fewer for fewer, more in itertools.pairwise(errors))
    assert mean_error(rgb, choose_words(*count_words(rgb, FIVE), 32768, FIVE)) == 0


colours = st.lists(st.tuples(*[st.integers(0, 255)] * 3), min_size=1, max_size=60)


@given(colours, st.integers(1, 40), st.sampled_from([FIVE, THREE]))
def test_rules_for_any_colours(rgb, most, pattern):
    """Any colours: never more entries than asked for, each one representable and used, and all of them when they fit."""
    words, counts = count_words(np.array(rgb, dtype=np.uint8), pattern)
    result = choose_words(words, counts, most, pattern)
    care = sum(1 << place for places in pattern.fields.values() for place in places)
    assert 1 <= len(result) <= most
    assert len(result) == min(most, len(words))
    assert not (result & ~np.uint32(care)).any()
    assert set(result.tolist()) <= set(words.tolist())
    if len(words) <= most:
        assert result.tolist() == sorted(set(words.tolist()))


def test_no_entry_is_lost_when_two_come_together():
    """Where the means of two groups snap to one colour, the entry that gets free serves another colour."""
    words = np.array([3714, 7791, 11395, 14075, 16854, 31100], dtype=np.uint32)
    counts = np.array([23, 3, 1, 8, 23, 7], dtype=np.int64)
    assert len(choose_words(words, counts, 3, FIVE)) == 3
    assert len(choose_words(words, counts, 2, FIVE)) == 2


@given(colours)
def test_counting_against_a_plain_count(rgb):
    """Each word is counted as often as its colours occur."""
    array = np.array(rgb, dtype=np.uint8)
    words, counts = count_words(array, FIVE)
    plain = {}
    for word in to_words(array, FIVE).tolist():
        plain[word] = plain.get(word, 0) + 1
    assert dict(zip(words.tolist(), counts.tolist(), strict=True)) == plain
    assert words.tolist() == sorted(plain)


@settings(max_examples=50)
@given(st.lists(st.integers(0, 32767), min_size=2, max_size=9, unique=True), st.data())
def test_one_entry_of_a_few_is_near_the_best(words, data):
    """One entry for a few colours is never worse than twice the best single one, found by trying all."""
    array = np.array(sorted(words), dtype=np.uint32)
    counts = np.array([data.draw(st.integers(1, 50)) for _ in words], dtype=np.int64)
    points = perceptual(to_rgb(array, FIVE)).astype(np.int64)
    errors = {int(word): int((((points - points[rank]) ** 2).sum(axis=1) * counts).sum()) for rank, word in enumerate(array)}
    (only,) = choose_words(array, counts, 1, FIVE).tolist()
    assert errors[only] <= 2 * min(errors.values())


def test_rare_but_far_colours_are_served():
    """With room for four, four tight groups of colours get an entry each, however unlike their sizes are."""
    groups = [(255, 0, 0), (0, 200, 0), (0, 0, 255), (250, 250, 250)]
    rgb = np.concatenate([np.tile(np.array(base) - np.arange(9)[:, None] % 3 * 8 % (np.array(base) + 1), (size, 1))
                          for base, size in zip(groups, (400, 100, 30, 10), strict=True)]).astype(np.uint8)  # fmt: skip
    entries = to_rgb(choose_words(*count_words(rgb, FIVE), 4, FIVE), FIVE).astype(int)
    assert len(entries) == 4
    for base in groups:
        assert abs(entries - np.array(base)).max(axis=1).min() <= 24


def test_order_of_pixels_does_not_matter():
    """The same pixels in any order, or given frame by frame in another order, lead to the same entries."""
    rgb = pixels_of("coffee")
    mixed = np.random.default_rng(3).permutation(rgb)
    assert tuple(choose_words(*count_words(mixed, FIVE), 15, FIVE).tolist()) == chosen("coffee", 15)
    assert tuple(choose_words(*count_words(rgb[::-1], FIVE), 15, FIVE).tolist()) == chosen("coffee", 15)


def test_threads_do_not_matter():
    """Palettes chosen at the same time in several threads are those chosen one after the other."""
    names = ["chelsea", "coffee"] * 2
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda name: choose_words(*count_words(pixels_of(name), FIVE), 15, FIVE).tolist(), names))
    assert [tuple(words) for words in together] == [chosen(name, 15) for name in names]


@pytest.mark.parametrize("threads", ["1", "3"])
def test_another_process_chooses_the_same(threads):
    """Another process, with another hash seed and another number of threads for numpy, chooses the same entries."""
    script = (
        "import sys, hashlib, numpy as np; from pipeline.bits import parse_pattern\n"
        "from pipeline.pixels.quantise import choose_words, count_words\n"
        "rgb = np.frombuffer(sys.stdin.buffer.read(), dtype=np.uint8).reshape(-1, 3); pattern = parse_pattern('xBBBBBGGGGGRRRRR')\n"
        "print(hashlib.sha256(choose_words(*count_words(rgb, pattern), 15, pattern).astype('<u4').tobytes()).hexdigest(), end='')"
    )
    counts = {"OMP_NUM_THREADS": threads, "OPENBLAS_NUM_THREADS": threads, "PYTHONHASHSEED": threads, "PYTHONDONTWRITEBYTECODE": "1"}
    environment = os.environ | counts | {"PYTHONPATH": str(Path(pipeline.__file__).parents[1])}
    pixels = pixels_of("coffee").tobytes()
    done = subprocess.run([sys.executable, "-c", script], env=environment, input=pixels, capture_output=True, check=True)
    assert done.stdout.decode() == hashlib.sha256(np.array(chosen("coffee", 15), dtype="<u4").tobytes()).hexdigest()


@given(st.lists(st.tuples(*[st.integers(-5000, 10000)] * 3), min_size=1, max_size=30), st.integers(1, 12), st.integers(0, 99))
def test_nearest_entry_is_the_nearest(points, amount, seed):
    """The entry found is as near as the nearest (scipy's k-d tree) and the first of those as near."""
    entries = np.random.default_rng(seed).integers(-5000, 10000, (amount, 3))
    entries = np.concatenate([entries, np.array(points[:2])])
    found = nearest_entries(np.array(points), entries)
    distance, _ = cKDTree(entries).query(np.array(points))
    for point, index, least in zip(points, found.tolist(), distance.tolist(), strict=True):
        squares = ((entries - np.array(point)) ** 2).sum(axis=1).tolist()
        assert squares[index] == pytest.approx(least**2, abs=1e-3)
        assert index == squares.index(min(squares))
