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
from skimage.color import deltaE_ciede2000, rgb2lab

import pipeline
from pipeline.pixels.colours import quantise
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.pixels.colours.exchange import Exchange
from pipeline.pixels.colours.quantise import _Search, choose_words, kept_exact, nearest_colours, nearest_entries, put_together
from pipeline.pixels.scaling.scale import cut_alpha, scale_rgba
from pipeline.plain.bits import parse_pattern
from tests.conftest import LONG, some, tries
from tests.pixels.inverses import count_words

FIVE = parse_pattern("xBBBBBGGGGGRRRRR")
THREE = parse_pattern("0000BBB0GGG0RRR0")
EIGHT = parse_pattern("RRRRRRRRGGGGGGGGBBBBBBBB")
EVERY = tries(4, 1)  # of the colours of a picture, in order, every so many counts for an error
PHOTOS = Path(skimage.__file__).parent / "data"  # chelsea and coffee are CC0, the astronaut is NASA's, in the public domain
HARBOUR = Path(__file__).parents[2] / "demo_project" / "art" / "harbours" / "northpier.png"
COURIER = HARBOUR.parents[1] / "couriers" / "wick"
PICTURES = {name: PHOTOS / f"{name}.png" for name in ("chelsea", "coffee", "astronaut")} | {"harbour": HARBOUR, "courier": COURIER}


@functools.cache
def picture(name: str) -> Image.Image:
    """Return a test picture, a quarter of its width and height, so that the set stays quick; or a courier's opaque pixels."""
    if name == "courier":
        return courier()
    with Image.open(PICTURES[name]) as opened:
        whole = opened.convert("RGB")
    return whole.resize((whole.width // 4, whole.height // 4), Image.Resampling.BOX)


def courier() -> Image.Image:
    """Return the opaque pixels of every eighth frame of a courier, scaled as the demo scales them, in rows of 64."""
    parts = []
    for path in sorted(COURIER.glob("*.png"))[::8]:
        with Image.open(path) as opened:
            frame = cut_alpha(scale_rgba(opened.convert("RGBA"), 0.77, "area"), 128)
        parts.append(frame[frame[..., 3] > 0][:, :3])
    pixels = np.concatenate(parts)
    return Image.fromarray(pixels[: len(pixels) // 64 * 64].reshape(-1, 64, 3))


def pixels_of(name: str) -> np.ndarray:
    """Return a test picture's pixels, shape (n, 3)."""
    return np.asarray(picture(name)).reshape(-1, 3)


@functools.cache
def chosen(name: str, most: int) -> tuple[int, ...]:
    """Return the words chosen for a test picture."""
    return tuple(choose_words(*count_words(pixels_of(name), FIVE), most, FIVE).tolist())


def mean_error(rgb: np.ndarray, words, pattern=FIVE) -> float:
    """Return the mean CIEDE2000 (as scikit-image computes it) of the pixels, as the console can show them, to the nearest of some words."""
    shown, counts = (one[::EVERY] for one in np.unique(to_words(rgb, pattern), return_counts=True))
    wanted = rgb2lab(to_rgb(shown, pattern)[None])[0]
    entries = rgb2lab(to_rgb(np.unique(np.array(words, dtype=np.uint32)), pattern)[None])[0]
    least = [deltaE_ciede2000(part[:, None], entries[None]).min(axis=1) for part in np.array_split(wanted, len(wanted) // 256 + 1)]
    return float((np.concatenate(least) * counts).sum() / counts.sum())


QUANTISERS = [
    (Image.Quantize.MEDIANCUT, 0),
    (Image.Quantize.MEDIANCUT, 10),
    (Image.Quantize.MAXCOVERAGE, 0),
    (Image.Quantize.MAXCOVERAGE, 10),
    (Image.Quantize.FASTOCTREE, 0),
    (Image.Quantize.FASTOCTREE, 10),
]


def palette_of_pillow(name: str, most: int, method: Image.Quantize, rounds: int) -> np.ndarray:
    """Return the colours of one of Pillow's quantisers."""
    theirs = picture(name).quantize(most, method, kmeans=rounds)
    return np.array(theirs.getpalette("RGB"), dtype=np.uint8).reshape(-1, 3)[:most]


@functools.cache
def our_error(name: str, most: int) -> float:
    """Return the error of the words chosen for a test picture."""
    return mean_error(pixels_of(name), chosen(name, most))


def drawn_error(rgb: np.ndarray, entries: np.ndarray, every: int = EVERY) -> float:
    """Return the mean CIEDE2000 of the pixels as drawn to the nearest of some colours."""
    drawn, counts = (one[::every] for one in np.unique(rgb, axis=0, return_counts=True))
    near = rgb2lab(entries[None])[0]
    parts = np.array_split(rgb2lab(drawn[None])[0], len(drawn) // 4096 + 1)
    least = np.concatenate([deltaE_ciede2000(part[:, None], near[None]).min(axis=1) for part in parts])
    return float((least * counts).sum() / counts.sum())


@pytest.mark.parametrize(
    ("name", "most", "method", "rounds"),
    some([
        (name, most, *quantiser)
        for row, name in enumerate(PICTURES)
        for rank, quantiser in enumerate(QUANTISERS)
        for most in ((15, 255) if LONG else ((15, 255)[(row + rank // 2) % 2],))  # in turn, with and without k-means
    ], 3),
    ids=lambda one: getattr(one, "name", str(one)),
)
def test_error_is_not_above_that_of_pillow(name, most, method, rounds):
    """The error is at most that of Pillow's quantisers, with and without its k-means, their colours snapped to the same words."""
    entries = palette_of_pillow(name, most, method, rounds)
    assert our_error(name, most) <= mean_error(pixels_of(name), to_words(entries, FIVE))


@functools.cache
def our_error_of_few_levels(name: str) -> float:
    """Return the error of the 15 words of 3 bits a channel chosen for a test picture."""
    rgb = pixels_of(name)
    words = choose_words(*count_words(rgb, EIGHT), 15, THREE, counted=EIGHT)
    assert len(words) == 15
    return drawn_error(rgb, to_rgb(words, THREE))


@pytest.mark.parametrize(("method", "rounds"), some(QUANTISERS, 3), ids=lambda one: getattr(one, "name", str(one)))
@pytest.mark.parametrize("name", PICTURES)
def test_counting_before_snapping_serves_few_levels(name, method, rounds):
    """With 3 bits a channel, colours counted as drawn lead to a smaller error of the drawn pixels than Pillow's colours snapped."""
    theirs = to_words(palette_of_pillow(name, 15, method, rounds), THREE)
    assert our_error_of_few_levels(name) <= drawn_error(pixels_of(name), to_rgb(np.unique(theirs), THREE))


@pytest.mark.parametrize("most", [15, 255])
@pytest.mark.parametrize("name", some(PICTURES, 2))
def test_room_is_used_and_not_exceeded(name, most):
    """A photograph with more colours than fit gets all the entries there are, each once, in rising order."""
    words = chosen(name, most)
    assert len(words) == most
    assert list(words) == sorted(set(words))


@pytest.mark.parametrize("name", PICTURES if LONG else list(PICTURES)[:1])
def test_more_entries_do_not_harm(name):
    """The error falls as entries are added, and is nothing when all colours fit; of one picture, in the long form of all."""
    rgb = pixels_of(name)
    errors = [mean_error(rgb, choose_words(*count_words(rgb, FIVE), most, FIVE)) for most in (2, 8, 64)]
    assert all(more < fewer for fewer, more in itertools.pairwise(errors))
    assert set(choose_words(*count_words(rgb, FIVE), 32768, FIVE).tolist()) >= set(to_words(rgb, FIVE).tolist())


colours = st.lists(st.tuples(*[st.integers(0, 255)] * 3), min_size=1, max_size=60)


@settings(deadline=None)
@given(colours, st.integers(1, 40), st.sampled_from([FIVE, THREE]))
def test_rules_for_any_colours(rgb, most, pattern):
    """Any colours: never more entries than asked for, each one representable, and all colours when they fit."""
    words, counts = count_words(np.array(rgb, dtype=np.uint8), pattern)
    result = choose_words(words, counts, most, pattern)
    care = sum(1 << place for places in pattern.fields.values() for place in places)
    assert 1 <= len(result) <= most
    assert len(result) == min(most, len(words))
    assert not (result & ~np.uint32(care)).any()
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


def near_colours(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a few 15-bit words, all near one colour, and counts."""
    random = np.random.default_rng(seed)
    rgb = np.clip(random.integers(40, 216, 3) + random.integers(-36, 37, (12, 3)), 0, 255).astype(np.uint8)
    words = np.unique(to_words(rgb, FIVE))
    return words, random.integers(1, 50, len(words))


def total_error(words: np.ndarray, counts: np.ndarray, entries: np.ndarray) -> float:
    """Return the total CIEDE2000 (scikit-image) of some words, used so often, to the nearest of some entries."""
    place, near = rgb2lab(to_rgb(words, FIVE)[None])[0], rgb2lab(to_rgb(entries, FIVE)[None])[0]
    return float((deltaE_ciede2000(place[:, None], near[None]).min(axis=1) * counts).sum())


def best_by_trying(words: np.ndarray, counts: np.ndarray, most: int) -> float:
    """Return the least total of all choices of used words, as ``total_error`` is for each of them."""
    place = rgb2lab(to_rgb(words, FIVE)[None])[0]
    gaps = deltaE_ciede2000(place[:, None], place[None])
    choices = np.array(list(itertools.combinations(range(len(words)), most)))
    return float((gaps[:, choices].min(axis=2) * counts[:, None]).sum(axis=0).min())


@pytest.mark.parametrize("most", some([1, 2, 3, 4], 2))
def test_few_entries_of_a_few_colours_are_near_the_best(most):
    """The total is hardly above that of the best choice of used ones, found by trying all; of twelve sets, in the long form of forty."""
    ratios = []
    for seed in range(tries(12, 40)):
        words, counts = near_colours(seed)
        ratios.append(total_error(words, counts, choose_words(words, counts, most, FIVE)) / best_by_trying(words, counts, most))
    assert max(ratios) < 1.1
    assert sum(ratios) / len(ratios) < 1.005


def all_exchanged(gaps: np.ndarray, counts: np.ndarray, most: int) -> float:
    """Return the mean gap with columns that no exchange for any other betters: shape (colours, columns), from a greedy start."""
    chosen: list[int] = []
    while len(chosen) < most:
        near = gaps[:, chosen].min(axis=1, initial=1000)
        chosen.append(int((np.maximum(near[:, None] - gaps, 0) * counts[:, None]).sum(axis=0).argmax()))
    total, gained = float(gaps[:, chosen].min(axis=1) @ counts), True
    while gained:
        gained = False
        for rank in range(most):
            others = gaps[:, chosen[:rank] + chosen[rank + 1 :]].min(axis=1, initial=1000)
            totals = counts @ np.minimum(gaps, others[:, None])
            if totals.min() < total - 1e-9:
                chosen[rank], total, gained = int(totals.argmin()), float(totals.min()), True
    return total / counts.sum()


def ramps(seed: int) -> np.ndarray:
    """Return the pixels of a made-up figure: a few ramps of colours that fall between those of 3 bits a channel."""
    random = np.random.default_rng(seed)
    ends = random.integers(0, 256, (4, 2, 3))
    part = random.random((4, 200, 1)) ** 2
    return np.rint(ends[:, :1] * part + ends[:, 1:] * (1 - part)).astype(np.uint8).reshape(-1, 3)


@pytest.mark.parametrize("most", [4, 15, 16])
@pytest.mark.parametrize("name", some(["courier", "ramps 0", "ramps 3"], 1))
def test_few_levels_are_served_as_by_trying_all_colours_of_the_console(name, most):
    """The error is at most 2 % above what exchanges for all 512 colours reach, by scikit-image's CIEDE2000."""
    rgb = ramps(int(name.split()[1])) if name.startswith("ramps") else pixels_of(name)[::40]
    drawn, counts = np.unique(rgb, axis=0, return_counts=True)
    levels = [round(level * 255 / 7) for level in range(8)]
    console = np.array(list(itertools.product(levels, repeat=3)), dtype=np.uint8)
    place = rgb2lab(console[None])[0]
    gaps = np.concatenate([deltaE_ciede2000(part[:, None], place[None]) for part in np.array_split(rgb2lab(drawn[None])[0], 16)])
    words = choose_words(*count_words(rgb, EIGHT), most, THREE, counted=EIGHT)
    assert drawn_error(rgb, to_rgb(words, THREE), every=1) <= 1.02 * all_exchanged(gaps, counts, most)


@settings(deadline=None)
@given(colours, st.lists(st.tuples(*[st.integers(0, 255)] * 3), max_size=6), st.integers(6, 30))
def test_locked_words_are_there(rgb, wanted, most):
    """Locked words are in the result, used or not; the room is filled, and all are there when they fit."""
    words, counts = count_words(np.array(rgb, dtype=np.uint8), FIVE)
    locked = to_words(np.array(wanted, dtype=np.uint8).reshape(-1, 3), FIVE)
    result = choose_words(words, counts, most, FIVE, locked=locked)
    together = set(words.tolist()) | set(locked.tolist())
    assert set(locked.tolist()) <= set(result.tolist())
    assert len(result) == min(most, len(together))
    assert result.tolist() == sorted(set(result.tolist()))
    if len(together) <= most:
        assert set(result.tolist()) == together


def test_only_locked_words_fit():
    """With all entries locked the result is them; with more than fit it is an error."""
    words, counts = count_words(pixels_of("coffee"), FIVE)
    locked = np.array([0, 31, 32767], dtype=np.uint32)
    assert choose_words(words, counts, 3, FIVE, locked=locked).tolist() == [0, 31, 32767]
    with pytest.raises(ValueError, match="3 locked words, 2 fit"):
        choose_words(words, counts, 2, FIVE, locked=locked)


def test_locked_words_cost_little():
    """Words that would have been chosen anyway cost nothing much; words no pixel uses cost at most the entries they take."""
    rgb, free = pixels_of("coffee"), chosen("coffee", 15)
    words, counts = count_words(rgb, FIVE)
    anyway = choose_words(words, counts, 15, FIVE, locked=np.array(free[::3], dtype=np.uint32))
    assert mean_error(rgb, anyway) <= 1.02 * mean_error(rgb, free)
    unused = to_words(np.array([(255, 0, 255), (0, 255, 255)], dtype=np.uint8), FIVE)
    assert mean_error(rgb, choose_words(words, counts, 15, FIVE, locked=unused)) <= 1.02 * mean_error(rgb, chosen("coffee", 13))


@pytest.mark.parametrize("pattern", [FIVE, THREE])
def test_counting_before_snapping_is_exact_when_it_fits(pattern):
    """The console's own colours, counted finer, lead to all of them when they fit, and fill the room when they do not."""
    rgb = pixels_of("coffee")[:400]
    rgb = to_rgb(to_words(rgb, pattern), pattern) if pattern is THREE else rgb  # of many levels, drawn colours too
    words, counts = count_words(rgb, EIGHT)
    snapped = set(to_words(rgb, pattern).tolist())
    assert set(choose_words(words, counts, len(snapped), pattern, counted=EIGHT).tolist()) == snapped
    few = choose_words(words, counts, len(snapped) - 1, pattern, counted=EIGHT)
    assert len(few) == len(snapped) - 1


def test_what_is_kept_exact():
    """Of few levels only the console's own colours; of many, where a level is too small a step to change a hue, all."""
    rgb = pixels_of("coffee")[:400]
    drawn, own = to_words(rgb, EIGHT), to_words(to_rgb(to_words(rgb, THREE), THREE), EIGHT)
    assert kept_exact(own, EIGHT, THREE)
    assert not kept_exact(drawn, EIGHT, THREE)
    assert kept_exact(drawn, EIGHT, FIVE)
    assert kept_exact(to_words(rgb, THREE), THREE, THREE)


def test_entries_that_serve_nothing_are_left_out():
    """With room for more words than drawn colours need, each entry is the nearest one of some colour."""
    rgb = ramps(1)[:60] // 4
    words = choose_words(*count_words(rgb, EIGHT), 200, THREE, counted=EIGHT)
    assert len(words) < 60
    assert np.unique(nearest_colours(rgb, to_rgb(words, THREE))).tolist() == list(range(len(words)))


def test_books_of_the_exchange_are_right():
    """After all exchanges each colour's two nearest entries are known, which candidates are entries, and no exchange gains."""
    words, counts = count_words(pixels_of("coffee")[::30], FIVE)
    points = metric_points(to_rgb(words, FIVE))
    table = metric_distance(points[:, None], points[:, :, None])
    exchange = Exchange(table.__getitem__, np.arange(len(words)), len(words), counts, table[:2], [7, 9], 20)
    begun = list(exchange.chosen)
    assert exchange.improve(1_000_000)
    assert begun[:2] == [7, 9]
    assert len(set(exchange.chosen)) == 20
    nearest = np.sort(np.concatenate([table[:2], table[exchange.chosen]]), axis=0)
    assert (exchange._near == nearest[0]).all()
    assert (exchange._next == nearest[1]).all()
    assert np.flatnonzero(exchange._taken).tolist() == sorted(exchange.chosen)
    best = nearest[0] @ counts
    for rank in range(20):
        others = np.concatenate([table[:2], table[exchange.chosen[:rank] + exchange.chosen[rank + 1 :]]]).min(axis=0)
        assert (np.minimum(table, others) @ counts).min() >= best


def test_exchange_that_looks_at_some_colours_ends_as_one_that_looks_at_all():
    """Against the definition of a limit: only colours that lose less than it can change anything. Lone entries have no limit."""
    words, counts = count_words(pixels_of("coffee")[::30], FIVE)
    points = metric_points(to_rgb(words, FIVE))
    table = metric_distance(points[:, None], points[:, :, None])

    def below(limits: np.ndarray):
        def like(candidate: int) -> tuple[np.ndarray, np.ndarray]:
            some = np.flatnonzero(table[candidate] < limits)
            return some, table[candidate, some]

        return like

    for fixed, most in ((0, 1), (0, 7), (2, 1), (2, 20)):
        given = table.__getitem__, np.arange(len(words)), len(words), counts, table[:fixed], [7], most
        whole, part = Exchange(*given), Exchange(*given, below)
        assert part.improve(5_000) == whole.improve(5_000)
        assert part.chosen == whole.chosen
        assert (part._near == whole._near).all()


def test_colours_of_like_lightness_hold_all_within_a_limit():
    """Against the full comparison: no colour whose difference is below its limit is left out."""
    rgb = np.random.default_rng(3).integers(0, 256, (700, 3), dtype=np.uint8)
    search = _Search(rgb, np.ones(700, dtype=np.int64), np.zeros(0, dtype=np.uint32), 8, EIGHT)
    places = metric_points(rgb[::9])
    limits = np.random.default_rng(4).integers(0, 30_000, 700).astype(np.float32)
    like, left_out = search._below(places)(limits), 0
    for candidate in range(places.shape[1]):
        some, gaps = like(candidate)
        every = metric_distance(metric_points(rgb), places[:, candidate, None])
        assert (gaps == every[some]).all()
        assert np.isin(np.flatnonzero(every < limits), some).all()
        left_out += len(rgb) - len(some)
    assert left_out > 0


def test_very_many_colours():
    """More colours than are distinguished while choosing: still the asked number, and better than a regular grid."""
    rgb = np.random.default_rng(8).integers(0, 256, (40_000, 3), dtype=np.uint8)
    words, counts = count_words(rgb, EIGHT)
    result = choose_words(words, counts, 64, EIGHT)
    assert len(words) > 1 << 15
    assert len(result) == 64
    grid = np.array(list(itertools.product([32, 96, 160, 224], repeat=3)), dtype=np.uint8)
    assert drawn_error(rgb[:2000], to_rgb(result, EIGHT)) < drawn_error(rgb[:2000], grid)


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
    random = np.random.default_rng(3)
    mixed = random.permutation(rgb)
    words, counts = count_words(rgb, FIVE)
    order = random.permutation(len(words))
    assert tuple(choose_words(words[order], counts[order], 15, FIVE).tolist()) == chosen("coffee", 15)
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
        "import sys, hashlib, numpy as np; from pipeline.plain.bits import parse_pattern\n"
        "from pipeline.pixels.colours.quantise import choose_words\nfrom tests.pixels.inverses import count_words\n"
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


@pytest.mark.parametrize(("amount", "limit"), [(0, 4), (300, 300), (300, 299), (3000, 200), (3000, 1)])
def test_colours_are_put_together_by_their_upper_bits(amount, limit):
    """A bit of blue, of red, of green, of blue ... is dropped from all colours until few enough are left: numpy's unique each time."""
    random = np.random.default_rng(amount)
    rgb = random.permutation(np.unique(random.integers(0, 200, (amount, 3), dtype=np.uint8), axis=0))
    groups, dropped = np.arange(len(rgb)), rgb.copy()
    for axis in itertools.cycle((2, 0, 1)):
        if len(np.unique(groups)) <= limit:
            break
        dropped[:, axis] //= 2
        groups = np.unique(dropped, axis=0, return_inverse=True)[1].ravel()
    means, total, found = put_together(rgb, np.full(len(rgb), 2), limit)
    assert np.array_equal(found, groups)
    assert total.sum() == 2 * len(rgb)
    assert len(means) == len(np.unique(groups))


@pytest.mark.parametrize("look", ["any", "alike", "one lightness", "far"])
def test_nearest_of_many_entries_is_the_nearest(look, monkeypatch):
    """Entries of other lightness are left out, and each colour still gets what comparing it with all gives; ties, too."""
    random = np.random.default_rng(9)
    entries = random.integers(0, 256, (70, 3), dtype=np.uint8)
    entries[40:] = {"any": entries[40:], "alike": entries[:30], "one lightness": [90, 90, 90], "far": entries[40:] // 5}[look]
    rgb = random.integers(0, 256, (3000, 3), dtype=np.uint8)
    if look == "alike":
        rgb[::2] = np.clip(entries[random.integers(0, 70, 1500)] + random.integers(-2, 3, (1500, 3)), 0, 255)
    if look == "far":
        entries //= 2
    monkeypatch.setattr(quantise, "_LIKE_FEW", 70 * 50)
    wanted = metric_distance(metric_points(rgb)[:, None], metric_points(entries)[:, :, None]).argmin(axis=0)
    assert np.array_equal(nearest_colours(rgb, entries), wanted)
    assert nearest_colours(rgb[:0], entries).shape == (0,)



@given(colours, st.lists(st.tuples(*[st.integers(0, 255)] * 3), min_size=1, max_size=9))
def test_nearest_colour_is_the_nearest(rgb, entries):
    """A colour that is an entry finds it; where an entry is near by scikit-image's CIEDE2000, what is found is hardly farther."""
    array, palette = np.array(rgb + entries, dtype=np.uint8), np.array(entries, dtype=np.uint8)
    found = nearest_colours(array, palette)
    gaps = deltaE_ciede2000(rgb2lab(array[None])[0][:, None], rgb2lab(palette[None])[0][None])
    least, got = gaps.min(axis=1), gaps[np.arange(len(array)), found]
    assert (palette[found[len(rgb) :]] == palette).all()
    assert (got[least < 4] <= least[least < 4] * 1.6 + 0.1).all()
    assert nearest_colours(array[:0], palette).shape == (0,)
