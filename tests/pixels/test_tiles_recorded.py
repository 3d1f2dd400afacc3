"""Tiles cut, compared, merged, thinned and dealt to palettes: against plain reckonings over small pictures, or as they were.

Other tests of this room say how good a choice must be. If a change is meant: see ``tests.recorded``.
"""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest

from pipeline.pixels.cells import cut_into_cells
from pipeline.pixels.colours.colour import DRAWN, to_rgb, to_words
from pipeline.pixels.colours.difference import ciede2000, lab, metric_distance, metric_points
from pipeline.pixels.tiles import dealing, medoids, merge, packing, palettes, thinning
from pipeline.pixels.tiles.compare import Layer, add_layers, compare
from pipeline.pixels.tiles.lines import draw_on_lines
from pipeline.pixels.tiles.loss import worst_cell
from pipeline.pixels.tiles.merge import entry_points, merge_to_budget
from pipeline.pixels.tiles.palettes import split_palettes
from pipeline.pixels.tiles.tiles import Tiles, allowed_flips, cut, flipped, join
from pipeline.plain.bits import parse_pattern
from tests.pixels.chance import few_colours, hash_of_values, pixels
from tests.recorded import differing

COARSE, FINE = parse_pattern("0000BBB0GGG0RRR0"), parse_pattern("xBBBBBGGGGGRRRRR")
FLIPS = ((False, False), (True, False), (False, True), (True, True))


def scenery(seed: int, rows: int, columns: int, side: tuple[int, int] = (3, 2), colours: int = 5, stock: int = 9) -> np.ndarray:
    """Return a picture of few tiles, some mirrored, some with one pixel changed: uint8, shape (rows * height, columns * width)."""
    chance = random.Random(seed)
    known = pixels(seed, stock, *side) % colours
    lines = []
    for _ in range(rows):
        line = []
        for _ in range(columns):
            tile = known[chance.randrange(stock)].copy()
            tile = tile[:: chance.choice((1, -1)), :: chance.choice((1, -1))]
            if chance.random() < 0.2:
                tile = tile.copy()
                tile[chance.randrange(side[0]), chance.randrange(side[1])] = chance.randrange(colours)
            line.append(tile)
        lines.append(np.concatenate(line, axis=1))
    return np.concatenate(lines, axis=0)


@pytest.mark.parametrize("flips", FLIPS)
def test_tiles_are_the_different_cells(flips):
    """As many as cells that no allowed mirroring makes equal, in the order in which they are met; drawn again they are the picture."""
    for seed in range(4):
        picture = scenery(seed, 4, 5)
        tiles = cut(picture, 2, 3, *flips)
        known: list[np.ndarray] = []
        for cell in cut_into_cells(picture, 2, 3):
            allowed = [way for way in FLIPS if way[1] <= flips[0] and way[0] <= flips[1]]
            ways = [np.flip(cell, [axis for axis, on in enumerate(way) if on]) for way in allowed]
            if not any(np.array_equal(one, way) for one in known for way in ways):
                known.append(cell)
        assert len(tiles.tiles) == len(known)
        assert np.array_equal(join(tiles), picture)
        assert sorted(set(tiles.map_index.ravel().tolist())) == list(range(len(known)))
        first = [tiles.map_index.ravel().tolist().index(rank) for rank in range(len(known))]
        assert first == sorted(first)
        assert set(tiles.map_flips.ravel().tolist()) <= set(allowed_flips(*flips))


def positions(length: int, window: int, step: int, cell: int) -> list[tuple[range, range]]:
    """Return the cells before and after every step along one axis, of steps either way and of none."""
    window = min(window, length)
    places = range(length - window + 1)
    covered = [range(at // cell, (at + window - 1) // cell + 1) for at in places]
    moves = [(at, min(at + step, places[-1])) for at in places] + [(at, max(at - step, 0)) for at in places]
    return [(covered[one], covered[other]) for one, other in moves]


def needed(layer: Layer, window: tuple[int, int], speed: tuple[int, int]) -> tuple[int, int, int, int]:
    """Return the most tiles and cells of a position, and the most bytes that a step brings with the most tiles among them."""
    height, width = layer.tiles.tiles.shape[1:]
    index, most, cells, moved = layer.tiles.map_index, 0, 0, (0, 0)
    for (rows, down), (columns, across) in itertools.product(
        positions(layer.height, window[1], speed[1], height), positions(layer.width, window[0], speed[0], width)
    ):
        before = {(row, column) for row in rows for column in columns}
        after = {(row, column) for row in down for column in across}
        tiles = [{int(index[place]) for place in places} for places in (before, after)]
        most, cells = max(most, len(tiles[0])), max(cells, len(before))
        fresh = len(tiles[1] - tiles[0])
        moved = max(moved, (fresh * layer.tile_bytes + len(after - before) * layer.entry_bytes, fresh))
    return most, cells, *moved


def test_two_forms_by_going_through_every_position():
    """Windows smaller and larger than the picture, at every speed, over whole and cut cells."""
    found = {}
    for seed in range(10):
        chance = random.Random(seed)
        picture = scenery(seed, 3, 4, stock=4)
        size = (8 - seed % 2, 9 - seed % 3)
        bits, factor = (1, 2, 3, 4, 5, 8, 16, 24)[seed % 8], ("1", "1/2", "0", "1.5")[seed % 4]
        layer = Layer(*size, cut(picture, 2, 3), 6 - seed % 3, 1 + seed % 2, bits, factor)
        for window in ((1, 1), (3, 4), (2, 9), (99, 2)):
            speed = (chance.randrange(-3, 5), chance.randrange(4))
            steps = tuple(-(-abs(one) * 3 // 2) if layer.factor == "1.5" else -(-abs(one) // 2) if layer.factor == "1/2" else
                          0 if layer.factor == "0" else abs(one) for one in speed)  # fmt: skip
            said = compare(layer, window, speed)
            most, cells, moved, fresh = needed(layer, window, steps)
            assert (said["tiles"]["window_tiles"], said["tiles"]["moved_bytes"], said["tiles"]["moved_tiles"]) == (most, moved, fresh)
            assert said["tiles"]["window_bytes"] == most * layer.tile_bytes + cells * layer.entry_bytes
            found[f"{seed}, {window}, {speed}"] = repr(said)
    added = add_layers([layer, layer], (3, 3), (1, 1))
    assert added["tiles"] == {key: 2 * value for key, value in added["layers"][0]["tiles"].items() if key in added["tiles"]}
    assert differing("tiles compared", found) == set()


def test_bitmap_that_moves():
    """Bytes of pixels that share them, counted one by one: groups that were not seen before."""
    for bits, together in ((1, 8), (2, 4), (3, 8), (4, 2), (5, 8), (6, 8), (7, 8), (8, 1), (16, 1), (24, 1), (32, 1)):
        layer = Layer(19, 5, cut(np.zeros((8, 24), dtype=np.uint8), 8, 8), 1, 1, bits)
        for window, speed in (((7, 2), (3, 1)), ((8, 5), (1, 0)), ((19, 3), (4, 2)), ((9, 9), (40, 40))):
            worst = 0
            for (rows, down), (columns, across) in itertools.product(
                positions(5, window[1], speed[1], 1), positions(19, window[0], speed[0], together)
            ):
                before = {(row, column) for row in rows for column in columns}
                worst = max(worst, len({(row, column) for row in down for column in across} - before))
            said = compare(layer, window, speed)["bitmap"]
            assert said["moved_bytes"] == worst * together * bits // 8, (bits, window, speed)
            assert said["image_bytes"] == said["memory_bytes"] == 5 * -(-19 * bits // 8)


def test_costs_by_the_definition():
    """Squared differences of the nearest mirroring, times uses, in every line."""
    tiles, uses = pixels(1, 7, 3, 2) % 4, (pixels(2, 2, 7) % 3).astype(np.int64)
    points = np.stack([entry_points(pixels(seed, 4, 3), seed == 4).astype(np.float64) for seed in (3, 4)])
    for flips in FLIPS:
        ways = allowed_flips(*flips)
        others = tiles[[1, 3, 4]]
        made = medoids.costs(tiles, uses, others, points, ways)
        for (one, tile), (rank, other) in itertools.product(enumerate(tiles), enumerate(others)):
            apart = [[((place[tile] - place[flipped(other, way)]) ** 2).sum() for way in ways] for place in points]
            expected = sum(min(ways) * counts[one] for ways, counts in zip(apart, uses, strict=True))
            assert made[one, rank] == expected
        assert medoids.nearest(tiles, uses, others, points, ways).tolist() == made.argmin(axis=1).tolist()


def test_dropped_and_exchanged_by_trying_all(monkeypatch):
    """Dropping: each time the one that is missed least; exchanging: no single exchange is left that gains. Both as they were."""
    found = {}
    for seed in range(16):
        amount = 4 + seed % 6
        cost = pixels(seed, amount, amount).astype(np.float64) // (1, 40)[seed % 2]
        np.fill_diagonal(cost, 0)
        for budget in range(1, amount + 1):
            kept = list(range(amount))
            while len(kept) > budget:
                kept.remove(min(kept, key=lambda gone: (cost[:, [one for one in kept if one != gone]].min(axis=1).sum(), gone)))
            assert medoids.drop(cost, budget).tolist() == kept
            monkeypatch.setattr(medoids, "_SWEEPS", 99)
            better = medoids.exchange(cost, np.array(kept)).tolist()
            assert better == sorted(set(better))
            least = cost[:, better].min(axis=1).sum()
            assert least <= cost[:, kept].min(axis=1).sum()
            for gone, new in itertools.product(better, set(range(amount)) - set(better)):
                assert cost[:, [one for one in better if one != gone] + [new]].min(axis=1).sum() >= least
            monkeypatch.undo()
            found[f"{seed}, {budget}"] = repr((medoids.exchange(cost, np.array(kept)).tolist(), better))
    serving = medoids.Serving(cost, np.array([0, 2, 3]))
    for step, new in (("drop", 2), ("add", 1), ("add", 2), ("drop", 0)):
        serving.add(new, cost[:, new]) if step == "add" else serving.drop(new)
        two = np.sort(cost[:, serving.kept], axis=1)[:, :2]
        assert (serving.least == two[:, 0]).all()
        assert (serving.more == two[:, 1]).all()
        assert (cost[np.arange(amount), serving.first] == serving.least).all()
        assert (cost[np.arange(amount), serving.second] == serving.more).all()
    assert differing("tiles kept", found) == set()


def test_merged_and_thinned(monkeypatch):
    """Tiles merged to every budget, with lines, mirrored, clear; then with so small limits that they are thinned first."""
    found = {}
    for seed, (flips, limits) in enumerate(itertools.product(FLIPS, ((3072, 768), (6, 4), (5, 2)))):
        monkeypatch.setattr(merge, "MOST", limits[0])
        monkeypatch.setattr(thinning, "_GROUP", limits[1])
        picture = scenery(seed, 4, 4, colours=4)
        lines = (pixels(seed, 4, 4) % 2).astype(np.int64)
        points = np.stack([entry_points(pixels(seed + one, 4, 3), bool(one)) for one in (0, 7)])
        tiles = cut(picture, 2, 3, *flips)
        for budget in (1, 2, 4, len(tiles.tiles) - 1, len(tiles.tiles), 99):
            made = merge_to_budget(tiles, budget, points, lines, *flips)
            assert len(made.tiles.tiles) <= budget
            said = (made.merged, made.changed_cells, made.mean_difference, made.worst_difference)
            found[f"{flips}, {limits}, {budget}"] = hash_of_values(made.tiles.tiles, made.tiles.map_index, made.tiles.map_flips, said)
            plain = merge_to_budget(tiles, budget, points[0], None, *flips)
            found[f"{flips}, {limits}, {budget}, plain"] = hash_of_values(plain.tiles.tiles, plain.tiles.map_index, plain.tiles.map_flips)
    uses = (pixels(3, 2, 40) % 5).astype(np.int64) + 1
    for most, group in ((1, 768), (7, 4), (15, 1), (20, 3), (39, 768), (40, 5)):
        monkeypatch.setattr(thinning, "_GROUP", group)
        kept, moved = thinning.thin(pixels(5, 40, 3, 2) % 4, uses, most, points.astype(np.float64), [0])
        assert len(kept) <= most
        assert kept.tolist() == sorted(set(kept.tolist()))
        assert moved.sum() == uses.sum()
        found[f"thinned to {most}"] = hash_of_values(kept, moved)
    assert differing("tiles merged", found) == set()


def test_chunks_do_not_show(monkeypatch):
    """Costs found two tiles at a time are those found at once."""
    tiles, uses = pixels(1, 9, 3, 2) % 4, (pixels(2, 1, 9) % 3).astype(np.int64)
    points, made = entry_points(pixels(3, 4, 3)).astype(np.float64)[None], []
    for chunk in (512, 2):
        monkeypatch.setattr(medoids, "_CHUNK", chunk)
        made.append((medoids.costs(tiles, uses, tiles[:5], points, [0, 1]), medoids.nearest(tiles, uses, tiles[:5], points, [0, 1])))
    assert np.array_equal(made[0][0], made[1][0])
    assert np.array_equal(made[0][1], made[1][1])


def best_packing(sets: list[int], bins: int, room: int) -> bool:
    """Return whether sets fit, by trying every way to give them to bins."""
    for homes in itertools.product(range(bins), repeat=len(sets)):
        unions = [0] * bins
        for home, one in zip(homes, sets, strict=True):
            unions[home] |= one
        if all(union.bit_count() <= room for union in unions):
            return True
    return False


def test_packing_is_found_where_there_is_one():
    """Against every way to pack; the search alone, the quick way alone, and what is left where nothing fits."""
    found = {}
    for seed in range(60):
        chance = random.Random(seed)
        bins, room = 1 + seed % 3, chance.randint(1, 5)
        sets = [sum(1 << member for member in set(chance.choices(range(7), k=chance.randint(0, 4)))) for _ in range(chance.randint(1, 6))]
        packed, fits = packing.pack_sets(sets, bins, room), best_packing(sets, bins, room)
        assert packed.complete == fits, (sets, bins, room)
        assert len(packed.bins) <= bins
        assert all(one.bit_count() <= room for one in packed.bins)
        for one, home in zip(sets, packed.bin_of, strict=True):
            assert not fits or one & ~packed.bins[home] == 0
            assert (one & ~packed.bins[home]).bit_count() == min((one & ~other).bit_count() for other in packed.bins)
        whole = packing._maximal(sets)
        quick: object = "sets that are too large are not tried"
        if packing._may_fit(sets, bins, room):
            assert (packing._Search(whole, bins, room).run() is not None) == fits
            quick = packing._overload_and_remove(whole, bins, room)
        assert packing._may_fit(sets, bins, room) or not fits
        found[f"{seed}"] = repr((packed, quick, packing._greedy(sets, bins, room)))
    assert differing("small packings", found) == set()


def split_said(words: np.ndarray, **more) -> str:
    split = split_palettes(words, **more)
    return hash_of_values(split.palette_of_tile, split.indices, *split.palettes, split.lossy_tiles, split.mean_error)


def test_tiles_dealt_to_palettes(monkeypatch):
    """Small pictures on one to four palettes of one to six entries, with and without clear pixels, backdrops, and finer colours."""
    found = {}
    for seed in range(9):
        amount, count, entries = 3 + seed % 5, 1 + seed % 3, 2 + seed % 4
        rgb = few_colours(seed, amount, 8, 12)
        rgb[:4, :4] = rgb[0, 0]
        coarse, fine = to_words(rgb, COARSE), to_words(rgb, DRAWN)
        opaque = pixels(seed, 8, 12) > 60
        plain = {"tile_width": 4, "tile_height": 4, "palettes": count, "entries": entries, "pattern": COARSE}
        ways = (
            ("plain", coarse, {}), ("clear", coarse, {"opaque": opaque}), ("backdrop", coarse, {"first": int(coarse[0, 0])}),
            ("fine", fine, {"counted": DRAWN}), ("fine with both", fine, {"counted": DRAWN, "opaque": opaque, "first": 0}),
            ("many", to_words(rgb, FINE), {"pattern": FINE}), ("none", coarse, {"opaque": np.zeros_like(opaque)}),
        )  # fmt: skip
        for name, words, more in (ways[seed % 7], ways[(seed + 3) % 7]):
            found[f"{seed}, {name}"] = split_said(words, **(plain | more))
    monkeypatch.setattr(dealing, "_COLOURS", 20)
    many = to_words(pixels(3, 8, 8, 3), DRAWN)
    found["put together"] = split_said(many, tile_width=4, tile_height=4, palettes=2, entries=3, pattern=COARSE, counted=DRAWN)
    assert differing("palettes split", found) == set()


def test_split_palettes_say_what_they_show():
    """Tiles that are not exact, and the mean difference, against the picture drawn again; every index is an entry of its palette."""
    for seed in range(2):
        rgb = few_colours(seed, 12 - 6 * seed, 8, 8)
        words, opaque = to_words(rgb, COARSE), pixels(seed + 5, 8, 8) > 40
        split = split_palettes(words, 4, 4, 2, 3 + seed, COARSE, opaque=opaque)
        owner = split.palette_of_tile.repeat(4, axis=0).repeat(4, axis=1)
        shown = np.array([[split.palettes[owner[y, x]][split.indices[y, x]] for x in range(8)] for y in range(8)], dtype=np.uint32)
        assert (split.indices[~opaque] == 0).all()
        assert (split.indices[opaque] > 0).all()
        wrong = (shown != words) & opaque
        assert split.lossy_tiles == sum(wrong[y : y + 4, x : x + 4].any() for y in (0, 4) for x in (0, 4))
        lost = metric_distance(metric_points(to_rgb(words[opaque], COARSE)), metric_points(to_rgb(shown[opaque], COARSE)))
        assert split.mean_error == (int(lost.sum()) // int(opaque.sum()) if split.lossy_tiles else 0)
    for bad in ({"palettes": 0}, {"entries": 0}, {"entries": 1, "opaque": opaque}, {"entries": 1, "first": 0}, {"entries": 65537}):
        with pytest.raises(ValueError, match="hold no colours"):
            split_palettes(words, 4, 4, **({"palettes": 1, "entries": 4, "pattern": COARSE} | bad))
    assert split_palettes(words, 4, 4, 1, 1, COARSE).palettes[0].shape == (1,)
    assert split_palettes(words, 4, 4, 1, 65536, COARSE).lossy_tiles == 0
    assert [len(one) for one in (palettes.split_palettes(words, 4, 4, 1, 2, COARSE, first=0).palettes)] == [2]


def test_lines_and_worst_cell_by_looking_at_each():
    """The line that loses least, the lowest of equal ones; the cell whose mean is greatest, cut cells by the pixels they have."""
    for seed in range(4):
        rgb, lines = few_colours(seed, 9, 6, 8), [to_words(few_colours(one, 3, 3 + one), FINE) for one in range(3)]
        words = to_words(rgb, FINE)
        ranks, line_of = draw_on_lines(words, [*lines, lines[0]], (4, 3), FINE)
        for row, column in np.ndindex(line_of.shape):
            cell = metric_points(to_rgb(words[3 * row : 3 * row + 3, 4 * column : 4 * column + 4].ravel(), FINE))
            costs = [metric_distance(cell[:, None], metric_points(to_rgb(line, FINE))[:, :, None]).min(axis=0).sum() for line in lines]
            assert line_of[row, column] == costs.index(min(costs))
            drawn = ranks[3 * row : 3 * row + 3, 4 * column : 4 * column + 4].ravel()
            nearest = metric_distance(cell[:, None], metric_points(to_rgb(lines[costs.index(min(costs))], FINE))[:, :, None]).argmin(axis=0)
            assert np.array_equal(drawn, nearest)
        got = rgb.copy()
        got[seed : seed + 2, 5:7] //= 2
        apart = ciede2000(lab(rgb), lab(got))
        means = {(x, y): apart[3 * y : 3 * y + 3, 5 * x : 5 * x + 5].mean() for y in range(2) for x in range(2)}
        value, place = worst_cell(rgb, got, (5, 3))
        assert value == pytest.approx(max(means.values()), abs=6e-4)
        assert means[tuple(place)] == pytest.approx(max(means.values()), abs=1e-6)
    assert worst_cell(rgb, rgb, (5, 3)) == (0.0, [0, 0])


def test_what_is_refused():
    """A budget of none, an index without an entry, sizes, bits, factors and maps that no picture has; their neighbours are taken."""
    tiles = cut(scenery(1, 2, 2), 2, 3)
    points = entry_points(pixels(1, 5, 3))
    with pytest.raises(ValueError, match="a budget of 0 tiles"):
        merge_to_budget(tiles, 0, points)
    merge_to_budget(tiles, 1, points[: int(tiles.tiles.max()) + 1])
    with pytest.raises(ValueError, match="a tile has index"):
        merge_to_budget(tiles, 1, points[: int(tiles.tiles.max())])
    good = {"width": 4, "height": 6, "tiles": tiles, "tile_bytes": 1, "entry_bytes": 1, "pixel_bits": 4}
    for bad, said in (
        ({"width": 0}, "sizes start"), ({"height": 0}, "sizes start"), ({"pixel_bits": 0}, "bits"), ({"pixel_bits": 9}, "bits"),
        ({"pixel_bits": 12}, "bits"), ({"factor": "-0.1"}, "scroll factor"), ({"width": 5}, "a map"), ({"width": 2}, "a map"),
        ({"height": 7}, "a map"), ({"height": 3}, "a map"),
    ):  # fmt: skip
        with pytest.raises(ValueError, match=said):
            compare(Layer(**(good | bad)), (1, 1), (0, 0))
    for window in ((0, 1), (1, 0)):
        with pytest.raises(ValueError, match="sizes start"):
            compare(Layer(**good), window, (0, 0))
    for fine in ({}, {"width": 3}, {"height": 4}, {"factor": 0}, {"pixel_bits": 8}, {"pixel_bits": 1}):
        compare(Layer(**(good | fine)), (1, 1), (0, 0))
    assert isinstance(tiles, Tiles)
