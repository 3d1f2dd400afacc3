"""Pieces, against an exact solver (scipy's milp), coverings by hand, and frames drawn again.

Masks come from hypothesis and from smooth noise; the horse is scikit-image's silhouette (``skimage.data.horse``).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.ndimage import gaussian_filter
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix
from skimage import data, transform

from pipeline.pixels.pieces import cover as search
from pipeline.pixels.pieces.bands import cover_by_bands
from pipeline.pixels.pieces.bound import needs_as_many
from pipeline.pixels.pieces.cover import _SIDES
from pipeline.pixels.pieces.pieces import _overlap, cover, cut_pieces, pool
from pipeline.pixels.pieces.prices import UNIT, least_cells, pixel_prices
from pipeline.pixels.tiles.tiles import flipped
from tests.conftest import tries
from tests.pixels.inverses import draw_pieces

searching = settings(max_examples=tries(25, 60), deadline=None)  # a covering takes milliseconds, and on a busy machine longer
sides = st.integers(1, 9)
masks = arrays(bool, st.tuples(st.integers(1, 30), st.integers(1, 30)), elements=st.booleans())
frames = arrays(np.uint8, st.tuples(st.integers(1, 24), st.integers(1, 24)), elements=st.integers(0, 3))


def covered(shape, places, cell_width, cell_height) -> np.ndarray:
    """Return which pixels lie in some cell: a test of each pixel against each cell."""
    y, x = np.indices(shape)
    inside = np.zeros(shape, dtype=bool)
    for left, top in np.asarray(places, dtype=int).tolist():
        inside |= (x >= left) & (x < left + cell_width) & (y >= top) & (y < top + cell_height)
    return inside


def strip_count(mask, cell_width, cell_height) -> int:
    """Return how many cells rows of cells need, at the best offset of the rows: a scan along each row."""
    counts = []
    for offset in range(cell_height):
        padded = np.pad(mask, ((offset, cell_height), (0, 0)))
        count = 0
        for top in range(0, len(padded) - cell_height + 1, cell_height):
            end = -1
            for x in np.flatnonzero(padded[top : top + cell_height].any(axis=0)):
                if x >= end:
                    count, end = count + 1, x + cell_width
        counts.append(count)
    return min(counts)


def fewest(mask, cell_width, cell_height) -> int:
    """Return the smallest number of cells, proved by scipy's milp: one variable for each place, one row for each pixel."""
    height, width = mask.shape
    number = np.full(mask.shape, -1)
    number[mask] = np.arange(mask.sum())
    held = set()
    for top in range(1 - cell_height, height):
        for left in range(1 - cell_width, width):
            pixels = number[max(top, 0) : top + cell_height, max(left, 0) : left + cell_width]
            held.add(tuple(pixels[pixels >= 0].tolist()))
    held = sorted(held - {()})
    columns = np.repeat(np.arange(len(held)), [len(pixels) for pixels in held])
    holds = csr_matrix((np.ones(len(columns)), (np.concatenate(held), columns)), shape=(mask.sum(), len(held)))
    found = milp(np.ones(len(held)), constraints=LinearConstraint(holds, lb=1), integrality=np.ones(len(held)), bounds=Bounds(0, 1))
    assert found.status == 0, found.message
    return round(found.fun)


def smooth_figure(seed, height, width, fill=0.45) -> np.ndarray:
    """Return an irregular figure: noise, smoothed, and its highest parts."""
    noise = gaussian_filter(np.random.default_rng(seed).normal(size=(height, width)), 2.0)
    return noise > np.quantile(noise, 1 - fill)


def horse(height: int) -> np.ndarray:
    """Return the silhouette of a horse, 1.2 times as wide as high."""
    figure = ~data.horse().astype(bool)
    return transform.resize(figure.astype(float), (height, height * 6 // 5), anti_aliasing=True) > 0.5


@searching
@given(masks, sides, sides)
def test_every_opaque_pixel_lies_in_a_cell(mask, cell_width, cell_height):
    """Nothing opaque is left out; places are int16 and sorted top to bottom, then left to right."""
    places = cover(mask, cell_width, cell_height)
    assert places.dtype == np.int16
    assert places.shape == (len(places), 2)
    assert covered(mask.shape, places, cell_width, cell_height)[mask].all()
    assert [(y, x) for x, y in places.tolist()] == sorted({(y, x) for x, y in places.tolist()})


@searching
@given(masks, sides, sides)
def test_never_more_cells_than_rows_or_columns_of_cells(mask, cell_width, cell_height):
    """Rows of cells, and columns of cells, counted here at every offset, are not better."""
    strips = min(strip_count(mask, cell_width, cell_height), strip_count(mask.T, cell_height, cell_width))
    assert len(cover(mask, cell_width, cell_height)) <= strips


@pytest.mark.parametrize("cell", [(16, 16), (8, 8)])
def test_a_figure_of_usual_size_needs_fewer_cells_than_strips(cell):
    """On a horse of 84 x 70 pieces beat strips, and stay at or above the bound of area."""
    mask = horse(70)
    places = cover(mask, *cell)
    assert covered(mask.shape, places, *cell)[mask].all()
    assert len(places) < min(strip_count(mask, *cell), strip_count(mask.T, *cell[::-1]))
    assert len(places) * cell[0] * cell[1] >= mask.sum()


def test_figures_of_usual_size_lie_near_the_bound():
    """Over 12 figures of 70 x 100: at most 95 of 100 cells of strips, never more, and within a cell of what is proved."""
    ours, strips, proved = [], [], []
    for seed in range(12):
        mask = smooth_figure(seed, 100, 70, 0.4)
        mask = gaussian_filter(mask.astype(float), 2.5) > 0.5
        ours.append(len(cover(mask, 16, 16)))
        strips.append(min(strip_count(mask, 16, 16), strip_count(mask.T, 16, 16)))
        proved.append(least_cells(pixel_prices(mask, 16, 16)))
    assert all(a <= b for a, b in zip(ours, strips, strict=True))
    assert sum(ours) <= 0.95 * sum(strips), (ours, strips)
    assert sum(ours) <= sum(proved) + len(proved), (ours, proved)


def test_small_figures_need_the_fewest_cells():
    """Each of 60 figures up to 24 x 24 gets the optimum that milp proves."""
    random = np.random.default_rng(3)
    over = []
    for seed in range(60):
        height, width = random.integers(10, 25, 2).tolist()
        cell = random.integers(4, 9, 2).tolist()
        mask = smooth_figure(seed, height, width, random.uniform(0.2, 0.7))
        over.append(len(cover(mask, *cell)) - fewest(mask, *cell))
    assert over == [0] * 60


@settings(max_examples=25, deadline=None)
@given(arrays(bool, (11, 13), elements=st.booleans()), st.integers(2, 5), st.integers(2, 5))
def test_noise_needs_at_most_one_cell_too_many(mask, cell_width, cell_height):
    """Masks without any form, the hardest, against the optimum that milp proves; bounds never lie above it."""
    if not mask.any():
        return
    least = fewest(mask, cell_width, cell_height)
    assert least <= len(cover(mask, cell_width, cell_height)) <= least + 1
    assert least_cells(pixel_prices(mask, cell_width, cell_height)) <= least
    assert not needs_as_many(mask, cell_width, cell_height, least + 1)


def test_pixels_far_apart_prove_a_covering_without_prices(monkeypatch):
    """Of horses 40 high in cells of 16 x 16 most need no prices, and none gets other places than with them."""
    frames = [np.roll(horse(height), height % 5, axis=1) for height in range(28, 52)]
    priced = []
    monkeypatch.setattr(search, "pixel_prices", lambda *given: priced.append(given) or pixel_prices(*given))
    quick = [cover(frame, 16, 16).tolist() for frame in frames]
    assert len(priced) < len(frames) // 2
    monkeypatch.setattr(search, "needs_as_many", lambda *given: False)
    assert [cover(frame, 16, 16).tolist() for frame in frames] == quick


@pytest.mark.parametrize(("count", "proved"), [(9, True), (10, False)])
def test_pixels_a_cell_apart_need_a_cell_each(count, proved):
    """Nine pixels 8 apart need nine cells of 8 x 8; where one cell more is asked about, nothing is proved."""
    mask = np.zeros((17, 17), dtype=bool)
    mask[::8, ::8] = True
    assert needs_as_many(mask, 8, 8, count) is proved
    assert not needs_as_many(mask, 9, 9, 5)


@searching
@given(masks, sides, sides)
def test_no_cell_holds_more_price_than_one(mask, cell_width, cell_height):
    """Prices are valid: summed in every place of a cell, one by one, they stay within the unit."""
    prices = pixel_prices(mask, cell_width, cell_height, rounds=20)
    padded = np.pad(prices, ((cell_height, cell_height), (cell_width, cell_width)))
    held = np.lib.stride_tricks.sliding_window_view(padded, (cell_height, cell_width)).sum(axis=(2, 3))
    assert held.max() <= UNIT
    assert prices.min() >= 0
    assert not prices[~mask].any()


def test_prices_bound_a_checkerboard_of_far_pixels():
    """Pixels a cell apart share no cell: their number is the bound and the covering."""
    mask = np.zeros((33, 33), dtype=bool)
    mask[::8, ::8] = True
    assert least_cells(pixel_prices(mask, 8, 8)) == 25
    assert len(cover(mask, 8, 8)) == 25
    assert len(cover(mask, 9, 9)) == 9


def test_solid_rectangles_take_the_fewest_cells():
    """A solid rectangle takes as many cells as fit over it, wherever it is."""
    mask = np.zeros((60, 70), dtype=bool)
    mask[3:43, 6:56] = True
    assert len(cover(mask, 16, 16)) == 12
    assert len(cover(mask, 10, 8)) == 25
    assert len(cover(mask, 64, 64)) == 1


def test_nothing_and_one_pixel():
    """An empty mask takes no cell, also without any pixels; a pixel takes one, at any edge."""
    assert cover(np.zeros((9, 9), dtype=bool), 4, 4).shape == (0, 2)
    assert cover(np.zeros((0, 5), dtype=bool), 4, 4).shape == (0, 2)
    for y, x in ((0, 0), (0, 8), (8, 0), (8, 8), (4, 5)):
        mask = np.zeros((9, 9), dtype=bool)
        mask[y, x] = True
        assert cover(mask, 4, 4).tolist() == [[x, y]]


@searching
@given(masks, sides, sides)
def test_bands_need_no_more_cells_than_rows_of_cells(mask, cell_width, cell_height):
    """Bands alone, where the search begins, cover everything and are not worse than rows at their best offset."""
    places = cover_by_bands(mask, cell_width, cell_height)
    assert covered(mask.shape, places, cell_width, cell_height)[mask].all()
    assert len(places) <= strip_count(mask, cell_width, cell_height)


@searching
@given(masks, st.integers(2, 8), st.integers(0, 5), st.integers(0, 5))
def test_shifted_masks_get_shifted_places(mask, cell, right, down):
    """A figure that only moves keeps its cells."""
    moved = np.pad(mask, ((down, 3), (right, 1)))
    assert cover(moved, cell, cell).tolist() == (cover(mask, cell, cell) + np.array([right, down])).tolist()


@pytest.mark.parametrize("axis", [0, 1])
def test_mirrored_frames_share_their_cells(axis):
    """A frame and its mirror image, pooled with flips, take at most as many cells as the frame alone."""
    random = np.random.default_rng(8)
    frame = np.where(smooth_figure(5, 60, 50), random.integers(1, 16, (60, 50)), 0).astype(np.uint8)
    pieces = [cut_pieces(one, cover(one != 0, 16, 16), 16, 16) for one in (frame, np.flip(frame, axis))]
    together = pool(pieces, flip_x=True, flip_y=True)
    assert len(together.cells) == len(pool(pieces[:1], True, True).cells)
    assert len(pool(pieces).cells) > len(together.cells)


def test_same_places_every_time_whatever_the_memory_order():
    """The same mask gives the same places, also from an array laid out by columns, and the mask is left as it was."""
    mask = horse(60)
    before = mask.copy()
    first = cover(mask, 16, 16)
    assert np.array_equal(cover(np.asfortranarray(mask), 16, 16), first)
    assert np.array_equal(cover(np.pad(mask, 40)[40:-40, 40:-40], 16, 16), first)
    assert np.array_equal(mask, before)


def test_places_do_not_change_between_machines_and_versions():
    """The places of one figure, as first computed with numpy 2.4 on x86-64: a change of these moves released images."""
    y, x = np.indices((40, 36))
    mask = ((x * x * 7 + y * y * 5 + x * y * 3) % 97 < 40) & ((x - 18) ** 2 + (y - 20) ** 2 < 300)
    places = [[14, 3], [2, 5], [20, 9], [1, 17], [18, 20], [9, 22]]
    assert cover(mask, 16, 16).tolist() == places


@searching
@given(frames, sides, sides)
def test_pieces_drawn_in_order_are_the_frame(frame, cell_width, cell_height):
    """A frame cut and drawn again is the same, pixel for pixel; the drawing here goes pixel by pixel."""
    places = cover(frame != 0, cell_width, cell_height)
    cells = cut_pieces(frame, places, cell_width, cell_height)
    drawn = np.zeros_like(frame)
    for cell, (left, top) in zip(cells, places.tolist(), strict=True):
        for y, x in np.argwhere(cell):
            drawn[top + y, left + x] = cell[y, x]
    assert np.array_equal(drawn, frame)
    assert np.array_equal(draw_pieces(cells, places, frame.shape[1], frame.shape[0]), frame)


def test_cutting_and_drawing_outside_the_frame():
    """Places partly or wholly outside hold 0 there, and drawing there does nothing."""
    frame = np.arange(1, 13, dtype=np.uint16).reshape(3, 4)
    places = np.array([[-1, -1], [3, 2], [4, 0], [-9, 1], [0, 70]], dtype=np.int16)
    cells = cut_pieces(frame, places, 2, 2)
    assert cells.tolist() == [[[0, 0], [0, 1]], [[12, 0], [0, 0]], [[0, 0], [0, 0]], [[0, 0], [0, 0]], [[0, 0], [0, 0]]]
    assert cells.dtype == np.uint16
    assert draw_pieces(cells, places, 4, 3).tolist() == [[1, 0, 0, 0], [0, 0, 0, 0], [0, 0, 0, 12]]


def test_colour_0_leaves_what_is_drawn():
    """A cell drawn over another shows it where it holds 0, and hides it elsewhere."""
    cells = np.array([[[1, 2], [3, 4]], [[0, 5], [6, 0]]], dtype=np.uint8)
    assert draw_pieces(cells, np.array([[0, 0], [0, 0]]), 2, 2).tolist() == [[1, 5], [6, 4]]


cell_lists = st.lists(arrays(np.uint8, st.tuples(st.integers(0, 6), st.just(2), st.just(3)), elements=st.integers(0, 1)), max_size=4)


@given(cell_lists, st.booleans(), st.booleans())
def test_pool_gives_every_cell_back_and_holds_none_twice(given_frames, flip_x, flip_y):
    """Each piece is its stored cell, mirrored as said; flips are only those allowed; no two stored cells are images."""
    made = pool(given_frames, flip_x, flip_y)
    pieces = [cell for cells in given_frames for cell in cells]
    assert len(made.index) == len(made.flips) == len(pieces)
    assert made.starts.tolist() == np.cumsum([0] + [len(cells) for cells in given_frames]).tolist()
    for cell, index, flip in zip(pieces, made.index.tolist(), made.flips.tolist(), strict=True):
        image = made.cells[index]
        image = image[:, ::-1] if flip & 1 else image
        image = image[::-1] if flip & 2 else image
        assert np.array_equal(image, cell)
        assert flip & ~(flip_x + 2 * flip_y) == 0
    ways = [flip for flip in range(4) if flip & ~(flip_x + 2 * flip_y) == 0]
    classes = {min(flipped(cell, flip).tobytes() for flip in ways) for cell in pieces}
    assert len(made.cells) == len(classes)


def test_pool_stores_cells_as_first_seen_and_takes_the_lowest_flip():
    """The first of two mirror images is stored; a symmetric cell is not mirrored."""
    one = np.array([[1, 2], [3, 4]], dtype=np.uint8)
    even = np.array([[5, 5], [6, 6]], dtype=np.uint8)
    made = pool(iter([np.stack([one, even]), np.stack([one[:, ::-1], one[::-1], one[::-1, ::-1], even[::-1]])]), True, True)
    assert made.cells.tolist() == [one.tolist(), even.tolist()]
    assert made.index.tolist() == [0, 1, 0, 0, 0, 1]
    assert made.flips.tolist() == [0, 0, 1, 2, 3, 2]
    assert made.starts.tolist() == [0, 2, 6]


def test_pool_keeps_no_frame():
    """Frames may be made in one and the same array, one after another."""
    array = np.zeros((1, 4, 4), dtype=np.uint8)

    def frames_in_one_array():
        for colour in (1, 2, 1, 3):
            array[:] = colour
            yield array

    made = pool(frames_in_one_array())
    assert made.index.tolist() == [0, 1, 0, 2]
    assert made.cells[:, 0, 0].tolist() == [1, 2, 3]


@given(cell_lists, st.booleans(), st.booleans())
def test_a_pool_stored_elsewhere_is_the_pool_that_is_kept(given_frames, flip_x, flip_y):
    """Every distinct cell is handed over once, in order, and nothing else changes."""
    kept, stored = pool(given_frames, flip_x, flip_y), []
    made = pool(given_frames, flip_x, flip_y, lambda cell: stored.append(cell.tolist()))
    assert stored == kept.cells.tolist()
    assert (made.count, len(made.cells)) == (len(stored), 0)
    assert kept.count == len(stored)
    for field in ("index", "flips", "starts"):
        assert np.array_equal(getattr(made, field), getattr(kept, field))


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: cover(np.zeros(4, dtype=bool), 4, 4), "height and width"),
        (lambda: cover(np.zeros((4, 4), dtype=bool), 0, 4), "0 x 4"),
        (lambda: cover(np.zeros((1, 40000), dtype=bool), 4, 4), "40000 x 1"),
        (lambda: pool([np.zeros((1, 4, 4), np.uint8), np.zeros((1, 8, 8), np.uint8)]), "frame 1"),
        (lambda: pool([np.zeros((1, 4, 4), np.uint8), np.zeros((1, 4, 4), np.uint16)]), "uint16"),
    ],
)
def test_what_cannot_be_cut_is_refused(call, said):
    """The refusal says which value is wrong."""
    with pytest.raises(ValueError, match=said):
        call()


def test_sweeps_come_from_all_eight_sides():
    """Each turn and mirror image of a square once; the symmetries of a square are a group of eight."""
    assert sorted(_SIDES) == sorted(itertools.product((0, 1), repeat=3))


@example(0, -20, 8, 8)
@example(-20, 0, 8, 8)
@given(st.integers(-20, 20), st.integers(-20, 20), st.integers(1, 9), st.integers(1, 9))
def test_overlap_is_where_a_cell_and_a_frame_meet(x, y, cell_width, cell_height):
    """Against counting: pixels of the frame, and those of the cell, in both; none where they do not meet."""
    frame, cell = np.zeros((10, 12), dtype=bool), np.zeros((cell_height, cell_width), dtype=bool)
    of_frame, of_cell = _overlap(frame.shape, x, y, cell_width, cell_height)
    frame[of_frame] = cell[of_cell] = True
    assert set(zip(*np.nonzero(frame), strict=True)) == {
        (row, column) for row in range(10) for column in range(12) if y <= row < y + cell_height and x <= column < x + cell_width
    }
    assert cell.sum() == frame.sum()
