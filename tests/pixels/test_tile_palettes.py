"""Tiles dealt to several palettes: against pictures made from known palettes, and against trying every way to deal."""

from __future__ import annotations

import functools
import itertools
import operator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from pipeline.pixels.colours.colour import DRAWN, to_rgb, to_words
from pipeline.pixels.colours.difference import METRIC_UNIT
from pipeline.pixels.colours.quantise import choose_words
from pipeline.pixels.tiles.lines import draw_on_lines
from pipeline.pixels.tiles.packing import pack_sets
from pipeline.pixels.tiles.palettes import SplitPalettes, split_palettes
from pipeline.pixels.tiles.tiles import cut
from pipeline.plain.bits import parse_pattern
from tests.conftest import some, tries
from tests.pixels.inverses import count_words

FIVE = parse_pattern("xBBBBBGGGGGRRRRR")
THREE = parse_pattern("0000BBB0GGG0RRR0")
HARBOUR = Path(__file__).parents[2] / "demo_project" / "art" / "harbours" / "northpier.png"


def shown(split: SplitPalettes, tile: int) -> np.ndarray:
    """Return the words that the console would show, pixel after pixel."""
    out = np.zeros(split.indices.shape, dtype=np.uint32)
    for y, x in itertools.product(*map(range, out.shape)):
        out[y, x] = split.palettes[split.palette_of_tile[y // tile, x // tile]][split.indices[y, x]]
    return out


def differences(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Return CIEDE2000 (scikit-image) of each pixel of two pictures in words."""
    return deltaE_ciede2000(rgb2lab(to_rgb(left, FIVE)), rgb2lab(to_rgb(right, FIVE)))


def from_palettes(seed: int, palettes: int, room: int, a_tile: int, common: int) -> tuple[np.ndarray, int]:
    """Return a picture of 4 x 4 tiles, each of up to ``a_tile`` colours of one of some palettes, and a colour of the first.

    The palettes have ``common`` colours in common, of which that is one.
    """
    rng = np.random.default_rng(seed)
    stock = rng.choice(32768, common + palettes * (room - common), replace=False).astype(np.uint32)
    lines = [np.append(stock[:common], own) for own in stock[common:].reshape(palettes, -1)]
    tiles = [rng.choice(rng.choice(lines[rng.integers(palettes)], a_tile, replace=False), (4, 4)) for _ in range(60)]
    return np.concatenate([np.concatenate(tiles[row : row + 10], axis=1) for row in range(0, 60, 10)]), int(stock[0])


@pytest.mark.parametrize("common", [0, 1, 2])
@pytest.mark.parametrize(("palettes", "room", "a_tile"), [(2, 4, 3), (4, 3, 3), (4, 15, 3), (4, 15, 5), (4, 15, 12), (8, 15, 6)])
def test_pictures_made_from_palettes_stay_exact(palettes, room, a_tile, common):
    """A picture that was drawn with so many palettes is shown by so many without any loss; one common colour is the backdrop."""
    for seed in range(4):
        words, backdrop = from_palettes(seed, palettes, room, a_tile, common)
        split = split_palettes(words, 4, 4, palettes, room, FIVE, first=backdrop if common == 1 else None)
        assert np.array_equal(shown(split, 4), words)
        assert (split.lossy_tiles, split.mean_error) == (0, 0)
        assert len(split.palettes) <= palettes
        assert max(map(len, split.palettes)) <= room


sets = st.lists(st.sets(st.integers(0, 7), max_size=4), min_size=1, max_size=6)


@settings(max_examples=tries(80, 300), deadline=None)
@given(sets, st.integers(1, 3), st.integers(1, 5))
def test_packing_against_every_way_to_pack(chosen, bins, room):
    """A packing is found exactly when going through all ways to pack finds one."""
    bits = [sum(1 << member for member in one) for one in chosen]
    ways = itertools.product(range(bins), repeat=len(chosen))
    unions = ([set().union(*(one for one, home in zip(chosen, way, strict=True) if home == bin)) for bin in range(bins)] for way in ways)
    possible = any(all(len(union) <= room for union in way) for way in unions)
    packing = pack_sets(bits, bins, room)
    assert packing.complete == possible
    assert 1 <= len(packing.bins) <= bins
    assert all(union.bit_count() <= room for union in packing.bins)
    if possible:
        assert all(one & ~packing.bins[home] == 0 for one, home in zip(bits, packing.bin_of, strict=True))


HARD = [
    ([{2, 3, 4, 5}, {2, 3, 6, 7}, {0, 1, 2, 8}, {2, 4, 5, 8}, {0, 3, 5}, {0, 4, 5}, {5, 6, 7}, {1, 5, 8}, {5, 6, 8}], 4, 5),
    ([{0, 1, 2, 7}, {0, 5, 6, 7}, {0, 4, 8, 9}, {2, 3, 7}, {2, 4, 7}, {3, 6, 8}, {5, 9}], 4, 5),
    ([{3, 7, 8, 9}, {4, 8, 9}, {5, 8, 9}, {0, 1}, {2, 6}, {1, 7}, {2, 8}, {7, 10}], 3, 5),
]


@pytest.mark.parametrize(("chosen", "bins", "room"), HARD)
def test_packings_that_only_a_search_finds(chosen, bins, room):
    """Sets that are packed only when early choices are taken back: every one lies in a bin, and no bin is too full."""
    bits = [sum(1 << member for member in one) for one in chosen]
    packing = pack_sets(bits, bins, room)
    assert len(packing.bins) <= bins
    assert all(any(one & ~union == 0 for union in packing.bins) for one in bits)
    assert all(union.bit_count() <= room for union in packing.bins)


def test_search_ends_on_a_hard_case():
    """Many sets that almost fit: the search gives up or finds, and never hands out a bin that is too full."""
    rng = np.random.default_rng(4)
    bits = [functools.reduce(operator.or_, (1 << int(one) for one in rng.choice(58, 6, replace=False))) for _ in range(80)]
    packing = pack_sets(bits, 4, 15)
    assert not packing.complete
    assert all(union.bit_count() <= 15 for union in packing.bins)


def small_tiles(seed: int) -> list[np.ndarray]:
    """Return six tiles of 2 x 2 pixels with up to three of eight colours each."""
    rng = np.random.default_rng(seed)
    pool = rng.choice(32768, 8, replace=False).astype(np.uint32)
    return [rng.choice(rng.choice(pool, 3, replace=False), (2, 2)) for _ in range(6)]


def least_possible(tiles: list[np.ndarray], room: int) -> float:
    """Return the least summed difference of any two palettes of used colours: all of them tried, each tile taking the better one."""
    words = np.unique(np.stack(tiles))
    choices = list(itertools.combinations(range(len(words)), min(room, len(words))))
    distance = differences(words[:, None], words[None])
    harm = np.array([[distance[np.searchsorted(words, tile)][..., choice].min(axis=-1).sum() for tile in tiles] for choice in choices])
    return min(float(np.minimum(harm, one).sum(axis=1).min()) for one in harm)


def test_loss_is_near_the_least_possible():
    """Over twenty small pictures with too many colours: half are dealt no worse than in the best way with used colours, few much worse."""
    ratios = []
    for seed in range(20):
        tiles = small_tiles(seed)
        words = np.concatenate(tiles, axis=1)
        for room in (2, 3):
            split = split_palettes(words, 2, 2, 2, room, FIVE)
            got, best = float(differences(shown(split, 2), words).sum()), least_possible(tiles, room)
            ratios.append(got / best if best else 1 + got)
    assert np.median(ratios) <= 1
    assert np.mean(sorted(ratios)[: int(0.9 * len(ratios))]) <= 1.05


pictures = st.tuples(st.integers(0, 500), st.integers(1, 3), st.integers(2, 6), st.sampled_from(["own", "clear", "backdrop", "both"]))


@settings(max_examples=tries(12, 40), deadline=None)
@given(pictures)
def test_rules_for_any_picture(case):
    """Entry 0 is for what is transparent and only that, palettes fit, and what is reported is what a viewer sees."""
    seed, palettes, entries, kind = case
    rng = np.random.default_rng(seed)
    words = rng.choice(rng.choice(32768, 9).astype(np.uint32), (8, 12))
    opaque = rng.random((8, 12)) < 0.7 if kind in ("clear", "both") else None
    first = int(words[0, 0]) if kind in ("backdrop", "both") else None
    split = split_palettes(words, 4, 4, palettes, entries, FIVE, opaque, first)
    seen = np.ones(words.shape, bool) if opaque is None else opaque
    assert 1 <= len(split.palettes) <= palettes
    assert max(map(len, split.palettes)) <= entries
    assert all(one[0] == (first or 0) for one in split.palettes if kind != "own")
    assert not split.indices[~seen].any()
    if kind == "clear":
        assert split.indices[seen].all()
    if first is not None:
        assert not split.indices[seen & (words == first)].any()
    out = shown(split, 4)
    wrong = (out != words) & seen
    assert split.lossy_tiles == wrong.reshape(2, 4, 3, 4).any(axis=(1, 3)).sum()
    assert split.mean_error / METRIC_UNIT == pytest.approx(differences(out, words)[seen].mean() if seen.any() else 0, abs=0.3)


def test_mirrored_tiles_stay_mirrored():
    """Tiles that are mirror images of each other still are after dealing, exact or not: no tile is added."""
    rng = np.random.default_rng(8)
    half = rng.choice(rng.choice(32768, 40).astype(np.uint32), (16, 16))
    words = np.block([[half, half[:, ::-1]], [half[::-1], half[::-1, ::-1]]])
    for entries in (4, 40):
        split = split_palettes(words, 4, 4, 3, entries, FIVE)
        assert len(cut(split.indices, 4, 4, True, True).tiles) <= len(cut(words, 4, 4, True, True).tiles) == 16
        assert np.array_equal(split.palette_of_tile, split.palette_of_tile[::-1, ::-1])


def test_more_palettes_on_a_harbour():
    """On a demo harbour four palettes of 15 lose less than one of 15, and no less than one of 60 for all tiles."""
    with Image.open(HARBOUR) as opened:
        words = to_words(np.asarray(opened.convert("RGB"))[:160, :240], FIVE)
    one, four, free = (split_palettes(words, 8, 8, palettes, entries, FIVE).mean_error for palettes, entries in ((1, 15), (4, 15), (1, 60)))
    assert free <= four < 0.9 * one


def earth(seed: int) -> np.ndarray:
    """Return a made-up wall of earth, brown with grains and two accents, that falls between colours of 3 bits: uint8, (64, 128, 3)."""
    random = np.random.default_rng(seed)
    y, x = np.mgrid[:64, :128]
    light = 0.55 + 0.25 * np.sin(x / 9 + np.sin(y / 5)) + 0.12 * random.standard_normal((64, 128))
    brown = np.array([150, 104, 58]) * np.clip(light, 0.15, 1.3)[..., None] + random.normal(0, 6, (64, 128, 3))
    brown[y < 5 + 2 * np.sin(x / 4)] *= (0.5, 1.1, 0.5)  # grass
    brown[40:44, ::16] = (200, 40, 30)
    return np.clip(np.rint(brown), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("seed", some(range(2), 1))
def test_earth_on_few_levels_is_no_zebra(seed):
    """Of 512 colours, 4 lines of 15: hardly a pixel holds an entry that another of its line betters by more than 1 CIEDE2000.

    Nor is it, on average, much farther than one palette of 60 free entries shows it.
    """
    rgb = earth(seed)
    split = split_palettes(to_words(rgb, DRAWN), 8, 8, 4, 15, THREE, counted=DRAWN)
    entries, line_of = draw_on_lines(to_words(rgb, DRAWN), split.palettes, (8, 8), THREE, DRAWN)
    wanted, got, least = rgb2lab(rgb), np.zeros(rgb.shape[:2]), np.zeros(rgb.shape[:2])
    for row, column in itertools.product(range(8), range(16)):
        place = (slice(8 * row, 8 * row + 8), slice(8 * column, 8 * column + 8))
        line = rgb2lab(to_rgb(split.palettes[line_of[row, column]], THREE)[None])[0]
        gaps = deltaE_ciede2000(wanted[place][:, :, None], line[None, None])
        got[place] = np.take_along_axis(gaps, entries[place][..., None], axis=2)[..., 0]
        least[place] = gaps.min(axis=2)
    assert (got > least + 1).mean() < 0.001
    free = choose_words(*count_words(rgb.reshape(-1, 3), DRAWN), 60, THREE, counted=DRAWN)
    best = deltaE_ciede2000(wanted[::4, ::4, None], rgb2lab(to_rgb(free, THREE)[None])[None]).min(axis=2)
    assert got[::4, ::4].mean() < 1.15 * best.mean()


def test_backdrop_takes_no_room():
    """Tiles of three colours and the backdrop fit palettes of four: by hand, two palettes, the backdrop first in both."""
    tiles = [np.array([[9, base], [base + 1, base + 2]], dtype=np.uint32) for base in (100, 200)]
    split = split_palettes(np.hstack(tiles), 2, 2, 2, 4, FIVE, first=9)
    assert [one.tolist() for one in split.palettes] == [[9, 100, 101, 102], [9, 200, 201, 202]]
    assert split.indices.tolist() == [[0, 1, 0, 1], [2, 3, 2, 3]]
    assert split.palette_of_tile.tolist() == [[0, 1]]
    assert split.lossy_tiles == 0


def test_only_transparent_pixels():
    """A picture without a colour has one palette, of entry 0 alone."""
    split = split_palettes(np.full((8, 8), 7, np.uint32), 4, 4, 4, 16, FIVE, np.zeros((8, 8), bool))
    assert [one.tolist() for one in split.palettes] == [[0]]
    assert not split.indices.any()
    assert not split.palette_of_tile.any()


@pytest.mark.parametrize(("palettes", "entries", "first"), [(0, 16, None), (1, 0, None), (1, 1, 5), (1, 70000, None)])
def test_no_room_is_refused(palettes, entries, first):
    """Palettes that hold no colours, or more than indices can name, are refused."""
    with pytest.raises(ValueError, match=f"{palettes} palettes of {entries} entries"):
        split_palettes(np.zeros((4, 4), np.uint32), 4, 4, palettes, entries, FIVE, first=first)
