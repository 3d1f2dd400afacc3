"""Choices between good answers stay as they are, so that the same art becomes the same bytes: palettes, tiles, coverings, mixtures.

No outside source: other tests of this room say how good a choice must be. If a change is meant: see ``tests.recorded``. Pictures come
from ``random.Random`` and whole numbers, the same with every release of a library.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from pipeline.pixels.colours.apply import Converter
from pipeline.pixels.colours.colour import to_words
from pipeline.pixels.colours.dither import MODES, dithered
from pipeline.pixels.colours.mixture import WhereNeeded
from pipeline.pixels.colours.quantise import choose_words
from pipeline.pixels.pieces.pieces import cover
from pipeline.pixels.tiles.merge import entry_points, merge_to_budget
from pipeline.pixels.tiles.packing import _maximal, _Search, pack_sets
from pipeline.pixels.tiles.palettes import split_palettes
from pipeline.pixels.tiles.tiles import cut
from pipeline.plain.bits import parse_pattern
from tests.recorded import differing, hash_of

FINE, COARSE = parse_pattern("xBBBBBGGGGGRRRRR"), parse_pattern("0000BBB0GGG0RRR0")


def scenery(seed: int, width: int, height: int) -> np.ndarray:
    """Return slopes of colour with hard edges, some grain and a few bright dots: uint8, shape (height, width, 4)."""
    chance = random.Random(seed)
    y, x = np.mgrid[0:height, 0:width]
    whole = np.stack([(60 + 3 * x) % 256, (200 - 2 * y) % 256, 40 + (x + y) * 130 // (width + height), 255 + 0 * x], axis=-1)
    for _ in range(4):
        left, top, colour = chance.randrange(width), chance.randrange(height), [chance.randrange(256) for _ in range(3)]
        whole[top : top + height // 3, left : left + width // 4, :3] = colour
    grain = np.frombuffer(chance.randbytes(width * height), dtype=np.uint8).reshape(height, width) % 9
    whole[..., :3] = (whole[..., :3] + grain[..., None]).clip(0, 255)
    whole[chance.randrange(height) :: 9, :: chance.randint(5, 9), :3] = (255, 240, 90)
    return whole.astype(np.uint8)


def blob(seed: int, width: int, height: int) -> np.ndarray:
    """Return a figure of circles and a line, with a hole: bool, shape (height, width)."""
    chance = random.Random(seed)
    y, x = np.mgrid[0:height, 0:width]
    mask = np.zeros((height, width), dtype=bool)
    for _ in range(chance.randint(2, 6)):
        middle, size = (chance.randrange(width), chance.randrange(height)), chance.randint(3, 3 + height // 4)
        mask |= (x - middle[0]) ** 2 + (y - middle[1]) ** 2 < size**2
    mask[height // 2, : width // 2] = True
    mask[height // 3 : height // 3 + 3, width // 3 : width // 2] = False
    return mask


def test_coverings():
    """Figures of usual and odd sizes, cells square and not, and the seams between them."""
    found = {}
    for seed in range(24):
        cell = ((8, 8), (16, 16), (8, 16), (5, 3))[seed % 4]
        found[f"{seed}, {cell}"] = hash_of(cover(blob(seed, 20 + 2 * seed, 48 - seed), *cell).tobytes())
    assert differing("coverings", found) == set()


def test_packed_sets():
    """Sets that just fit, that do not, and so many that the search gives up; and how long it takes."""
    found = {}
    for seed in range(60):
        chance = random.Random(seed)
        bins, room, members = chance.randint(1, 5), chance.randint(3, 15), chance.randint(6, 40)
        homes = [chance.sample(range(members), min(room, members)) for _ in range(bins)]
        sets = []
        for _ in range(chance.randint(2, 40)):
            one = chance.sample(chance.choice(homes), chance.randint(0, 3)) + chance.sample(range(members), chance.choice((0, 0, 0, 1, 3)))
            sets.append(sum(1 << member for member in set(one)))
        search = _Search(_maximal(sets), bins, room)  # seldom asked: it is the second of three ways
        found[f"{seed}"] = hash_of(repr((pack_sets(sets, bins, room), search.run(), search._work)).encode())
    assert differing("packed sets", found) == set()


@pytest.mark.parametrize("seed", range(2))
def test_palettes_dealt_and_tiles_merged(seed):
    """Tiles dealt to several palettes, clear pixels and a backdrop among them; then merged to fewer, mirrored or not."""
    picture, found = scenery(seed, 48, 32), {}
    words, clear = to_words(picture[..., :3], FINE), blob(seed, 48, 32)
    for pattern, palettes, entries, more in (
        (FINE, 3, 6, {}), (COARSE, 4, 15, {"counted": FINE}), (FINE, 2, 4, {"opaque": clear}), (FINE, 2, 9, {"first": int(words[0, 0])}),
    ):  # fmt: skip
        split = split_palettes(words, 8, 8, palettes, entries, pattern, **more)
        parts = [split.palette_of_tile.astype("<i8"), split.indices.astype("<i8"), *(one.astype("<u4") for one in split.palettes)]
        name = f"{palettes} of {entries}{', '.join(more)}"
        found[name] = hash_of(*(part.tobytes() for part in parts), repr((split.lossy_tiles, split.mean_error)).encode())
    entries = (scenery(9, 16, 1)[0, :, :3] // 2 * 2).astype(np.uint8)
    drawn = (words % 16).astype(np.uint8)
    for flips, budget in ((False, 12), (True, 5)):
        merged = merge_to_budget(cut(drawn, 4, 4, flips, flips), budget, entry_points(entries, seed == 1), flip_x=flips, flip_y=flips)
        parts = [part.astype("<i8").tobytes() for part in (merged.tiles.tiles, merged.tiles.map_index, merged.tiles.map_flips)]
        said = (merged.merged, merged.changed_cells, merged.mean_difference, merged.worst_difference)
        found[f"merged to {budget}"] = hash_of(*parts, repr(said).encode())
    assert differing(f"tiles, {seed}", found) == set()


def test_palettes_chosen_and_colours_mixed():
    """Palettes of 1 to 40 entries, some locked; each way to show a picture with one."""
    found = {}
    picture = scenery(3, 40, 30)
    words, counts = np.unique(to_words(picture[..., :3], FINE), return_counts=True)
    for most, more in ((1, {}), (4, {}), (16, {"locked": words[:3]}), (12, {"pattern": COARSE, "counted": FINE}), (40, {})):
        chosen = choose_words(words, counts, most, **({"pattern": FINE} | more))
        found[f"{most} entries{', '.join(more)}"] = hash_of(chosen.astype("<u4").tobytes())
    entries = np.array([(20, 30, 60), (90, 160, 60), (200, 60, 90), (250, 240, 120), (120, 120, 120)], dtype=np.uint8)
    frames = np.stack([picture, picture[::-1]])
    frames[0, :5, :7, 3] = 0
    rules = {f"{mode}, {phase}": dithered(entries, mode, phase) for mode in MODES for phase in ((0, 0), (3, -2))}
    for name, rule in (rules | {"where needed": WhereNeeded(entries)}).items():
        held, differences, opaque = Converter(rule, 0, 1).convert(frames)
        found[name] = hash_of(held.astype("<u4").tobytes(), differences.astype("<i8").tobytes(), repr(opaque).encode())
    assert differing("palettes and mixtures", found) == set()
