"""Far too many tiles: thinning keeps all uses, costs little more than comparing all, and is used where it must be."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.pixels.tiles import merge
from pipeline.pixels.tiles.medoids import costs, nearest
from pipeline.pixels.tiles.merge import entry_points, merge_to_budget
from pipeline.pixels.tiles.thinning import thin
from pipeline.pixels.tiles.tiles import allowed_flips, cut


def tiles(count: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Return random tiles of slopes with some noise, and points for 16 grey entries."""
    random = np.random.default_rng(seed)
    rows, columns = np.mgrid[0:4, 0:4]
    slopes = random.integers(0, 3, (count, 2))[:, :, None, None]
    made = random.integers(0, 8, (count, 1, 1)) + slopes[:, 0] * rows + slopes[:, 1] * columns + random.integers(0, 2, (count, 4, 4))
    greys = np.repeat(np.arange(16, dtype=np.uint8)[:, None] * 17, 3, axis=1)
    return made.clip(0, 15).astype(np.uint8), entry_points(greys)[None].astype(np.float64)


@pytest.mark.parametrize(("count", "most"), [(2000, 700), (2000, 1999), (900, 1), (1600, 31)])
def test_uses_move_to_what_is_kept(count, most):
    """At most as many as asked for are left, each once, and every use of every line is still counted."""
    made, points = tiles(count)
    uses = np.random.default_rng(2).integers(0, 4, (1, count))
    kept, moved = thin(made, uses, most, points, allowed_flips(True, True))
    assert 1 <= len(kept) <= most
    assert np.all(np.diff(kept) > 0)
    assert moved.sum() == uses.sum()


def test_costs_against_pixel_by_pixel():
    """A cost is the least squared difference over the ways to mirror, times the uses in each line."""
    made, points = tiles(12)
    lines = np.concatenate([points, points[:, ::-1]])
    uses = np.random.default_rng(5).integers(0, 3, (2, 12))
    got = costs(made[:7], uses[:, :7], made[4:], lines, allowed_flips(True, False))
    for a in range(7):
        for b in range(4, 12):
            wanted = 0
            for line in (0, 1):
                ways = [((lines[line][made[a]] - lines[line][other]) ** 2).sum() for other in (made[b], made[b][:, ::-1])]
                wanted += min(ways) * uses[line, a]
            assert got[a, b - 4] == wanted
    assert nearest(made[:7], uses[:, :7], made[4:], lines, allowed_flips(True, False)).tolist() == np.argmin(got, axis=1).tolist()


def test_thinning_first_loses_little(monkeypatch):
    """With thinning forced, 1500 tiles merged to 100 differ by at most a tenth more than without, and stay within the budget."""
    made, points = tiles(1500, seed=7)
    picture = made.reshape(30, 50, 4, 4).swapaxes(1, 2).reshape(120, 200)
    found = cut(picture, 4, 4, True, True)
    whole = merge_to_budget(found, 100, points[0], flip_x=True, flip_y=True)
    monkeypatch.setattr(merge, "MOST", 400)
    thinned = merge_to_budget(found, 100, points[0], flip_x=True, flip_y=True)
    assert len(found.tiles) > 900
    assert len(thinned.tiles.tiles) <= 100
    assert thinned.mean_difference <= whole.mean_difference * 1.1
    many = merge_to_budget(found, 800, points[0], flip_x=True, flip_y=True)  # a budget above what is compared: thinned only
    assert 700 <= len(many.tiles.tiles) <= 800
    assert many.mean_difference < whole.mean_difference
