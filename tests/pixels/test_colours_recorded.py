"""Colours compared, mixed, turned and chosen stay the same to the last bit, as the modules promise for every machine.

Other tests say how near published formulas and the best choice they must be. If a change is meant: see ``tests.recorded``.
"""

from __future__ import annotations

import itertools

import numpy as np

from pipeline.pixels.colours import difference, dither, exchange, light, mixture, numbers, quantise, turn
from pipeline.pixels.colours.apply import Converter, EntryFinder
from pipeline.pixels.colours.colour import DRAWN, nearest_level, oklab, perceptual, to_rgb, to_words, widened
from pipeline.pixels.colours.dot_diffusion import REACH
from pipeline.plain.bits import parse_pattern
from tests.pixels.chance import few_colours, hash_of_values, pixels
from tests.recorded import differing

TEXTS = ("xBBBBBGGGGGRRRRR", "0000BBB0GGG0RRR0", "RRGGBBxx", "RRRGGGBB", "ARRRRRGGGGGBBBBB", "xRGB")
PATTERNS = {text: parse_pattern(text) for text in TEXTS}
GREYS = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
CORNERS = np.array(list(itertools.product((0, 1, 128, 254, 255), repeat=3)), dtype=np.uint8)


def test_differences():
    """Of greys, corners of the cube and others, in both orders; and what follows from a colour alone."""
    some = np.concatenate([GREYS[::5], CORNERS[::2], pixels(1, 80, 3)])
    points = difference.metric_points(some)
    apart = difference.metric_distance(points[:, None], points[:, :, None])
    reach = difference.reach_in_lightness(points[0], np.arange(len(some), dtype=np.float32) * 700)
    found = {
        "points": hash_of_values(points), "distances": hash_of_values(apart), "reach in lightness": hash_of_values(reach),
        "lab": hash_of_values(difference.lab(some)), "oklab": hash_of_values(oklab(some)), "perceptual": hash_of_values(perceptual(some)),
        "hues": hash_of_values(*difference._hue_tables()), "reach of diffusion": str(REACH),
    }  # fmt: skip
    for hue, lightness, chroma in itertools.product((-180.0, -77.5, 0.0, 40.0, 180.0), (0.0, 0.5, 1.0, 1.7), (0.0, 1.0, 3.0)):
        found[f"turned by {hue}, {lightness}, {chroma}"] = hash_of_values(turn.turned(some, hue, lightness, chroma))
    assert differing("colours compared", found) == set()


def test_losses_of_frames_by_plain_numbers():
    """Mean, 95th percentile, worst frame: reckoned one by one, with ties, empty frames and differences at the middle of a step."""
    for seed in range(40):
        values = pixels(seed, 60).astype(np.int64) * (5000, 2500, 39_999, 1_000_000)[seed % 4]
        sizes = [int(one) % 9 for one in pixels(seed + 100, 12)]
        sizes = [*sizes[:-1], max(0, len(values) - sum(sizes[:-1]))]
        values = np.resize(values, sum(sizes))
        facts = difference.ErrorFacts()
        facts.add_micro(values, sizes)
        said, frames = facts.facts(), np.split(values, np.cumsum(sizes)[:-1])
        means = [sum(one.tolist()) / len(one) for one in frames if len(one)]
        assert (said["frames"], said["pixels"]) == (len(sizes), len(values))
        assert said["mean"] == round(sum(values.tolist()) / len(values) / 1e6, 3)
        assert said["worst_mean"] == round(max(means) / 1e6, 3)
        worst = [len(one) > 0 and sum(one.tolist()) / len(one) == max(means) for one in frames]
        assert said["worst_frame"] == worst.index(True)
        steps = sorted(min((one + 5000) // 10_000, 10_000) for one in values.tolist())
        assert said["p95"] == steps[-(-len(steps) * 95 // 100) - 1] / 100
    nothing = difference.ErrorFacts()
    nothing.add_micro(np.zeros(0, dtype=np.int64), [0, 0])
    assert nothing.facts() == {"frames": 2, "pixels": 0, "mean": None, "p95": None, "worst_frame": None, "worst_mean": None}


def test_light_by_the_formula():
    """IEC 61966-2-1 for each code; the code of each light is the nearest, the darker of two as near."""
    for code, lit in enumerate(light.light().tolist()):
        part = code / 255
        assert lit == round((part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4) * 65535)
    lit = light.light()
    nearest = np.abs(lit[None, :] - np.arange(0, 65536, 7)[:, None]).argmin(axis=1)
    assert np.array_equal(light.codes()[::7], nearest)
    assert light.codes()[[0, 65535]].tolist() == [0, 255]


def test_levels_by_their_definition():
    """Bits repeated from the top; for each 8-bit value the nearest level, the lower of two as near."""
    for bits in range(1, 9):
        wide = [int((f"{level:0{bits}b}" * 8)[:8], 2) for level in range(1 << bits)]
        assert widened(bits).tolist() == wide
        nearest = [sorted((abs(one - value), level) for level, one in enumerate(wide))[0][1] for value in range(256)]
        assert nearest_level(bits).tolist() == nearest
    rgb = np.concatenate([GREYS[::9], CORNERS, pixels(4, 60, 3)])
    for pattern in PATTERNS.values():
        alpha = np.concatenate([[126, 127, 128, 129], pixels(5, len(rgb) - 4)]).astype(np.uint8)
        words = to_words(rgb, pattern, alpha)
        assert np.array_equal(to_words(to_rgb(words, pattern), pattern, alpha), words)
        if pattern.bits("A"):
            assert (pattern.decode(words, "A") == (alpha >= 128)).all()
            assert (pattern.decode(to_words(rgb, pattern), "A") == 1).all()


def test_rules_for_every_kind_of_palette():
    """One entry, two alike, many; pixels that keep an entry; clear pixels; a pattern that starts inside and outside the frame."""
    found = {}
    for amount, seed in ((1, 1), (2, 2), (9, 4), (40, 5)):
        entries = few_colours(seed, amount, amount) if amount < 40 else pixels(seed, 40, 3)
        frames = np.concatenate([pixels(seed, 2, 9, 11, 4, holes="some"), np.zeros((1, 9, 11, 4), dtype=np.uint8)])
        frames[0, :4] = [90, 120, 60, 255]
        frames[1, :, :6, :3] //= 4
        kept = np.where(pixels(seed + 9, 3, 9, 11) % 3 == 0, pixels(seed, 3, 9, 11).astype(int) % amount, -1)
        for mode in dither.MODES:
            for phase, settled in (((0, 0), None), ((5, -13), kept)):
                converter = Converter(dither.dithered(entries, mode, phase), 7, 3)
                first = converter.convert(frames, settled)
                again = converter.convert(frames[:1], None if settled is None else settled[:1])
                micro = [one[1] // 1000 for one in (first, again)]  # the last digits depend on the math library
                found[f"{amount}, {mode}, {phase}"] = hash_of_values(first[0], first[2], again[0], *micro)
        where = mixture.WhereNeeded(entries)
        smooth = few_colours(seed, 4, 20, 31) // 3 + np.arange(31, dtype=np.uint8)[:, None] * 3
        held = Converter(where, 0, 1).convert(np.pad(smooth, ((0, 0), (0, 0), (0, 1)), constant_values=255)[None])[0]
        found[f"{amount}, where needed"] = hash_of_values(held, where.seen)
        finder = EntryFinder(entries, PATTERNS["RRRGGGBB"])
        found[f"{amount}, found"] = hash_of_values(finder.find(frames[..., :3]), finder.find(frames[1:, ::-1, :, :3]))
    narrow = [mixture.blurred(pixels(6, *shape, 3)) for shape in ((1, 9), (9, 2), (5, 5))]
    found["blurred"] = hash_of_values(*narrow, mixture._around(GREYS.astype(int)))
    assert differing("rules of colours", found) == set()


def test_memory_bands_do_not_show(monkeypatch):
    """A mixture found a few rows at a time is that found at once."""
    picture = np.dstack([few_colours(3, 5, 23, 17) // 2 + np.arange(17, dtype=np.uint8)[:, None], np.full((23, 17), 255, np.uint8)])
    entries, held = pixels(8, 6, 3), []
    for band in (1 << 18, 40):
        monkeypatch.setattr(mixture, "_BAND", band)
        rule = mixture.WhereNeeded(entries)
        held.append((hash_of_values(Converter(rule, 0).convert(picture[None])[0]), rule.seen))
    assert held[0] == held[1]


def test_nearest_is_the_lowest_of_the_nearest():
    """Every way to look for it, against looking at each: few and many entries, twice the same ones, colours far from all."""
    for count in (1, 2, 31, 32, 33, 70):
        entries = np.concatenate([pixels(count, count, 3), pixels(count, count, 3)])[: max(1, count)]
        entries[count // 2 :] //= 1 + count % 3
        rgb = np.concatenate([GREYS[::16], CORNERS[::3], pixels(2, 50, 3)])
        points, places = difference.metric_points(rgb), difference.metric_points(entries)
        plain = difference.metric_distance(points[:, None], places[:, :, None]).argmin(axis=0)
        assert np.array_equal(quantise.nearest_colours(rgb, entries), plain)
        eyes, seats = perceptual(rgb).tolist(), perceptual(entries).tolist()
        apart = [[sum((a - b) ** 2 for a, b in zip(one, other, strict=True)) for other in seats] for one in eyes]
        assert quantise.nearest_entries(np.array(eyes), np.array(seats)).tolist() == [row.index(min(row)) for row in apart]


def test_choices():
    """Palettes of few colours and many, some locked, on consoles with few colours and many; colours put together; words around others."""
    found = {}
    for rank, (name, pattern) in enumerate(PATTERNS.items()):
        drawn = np.unique(few_colours(len(name), 30, 200), axis=0)
        counts = 1 + pixels(3, len(drawn)).astype(np.int64) ** 2
        words, place = np.unique(to_words(drawn, pattern), return_inverse=True)
        tally = np.bincount(place.ravel(), counts).astype(np.int64)
        for most in ((1, 7, 64), (2, 17))[rank % 2]:
            locked = words[: most // 3]
            plain, fine = (
                quantise.choose_words(words[::-1], tally[::-1], most, pattern, locked=locked),
                quantise.choose_words(to_words(drawn, DRAWN), counts, most, pattern, counted=DRAWN, locked=words[:1]),
            )
            found[f"{name}, {most}"] = hash_of_values(plain, fine, quantise.kept_exact(to_words(drawn[:most], DRAWN), DRAWN, pattern))
        every = quantise.all_words(pattern)
        around = [quantise._neighbours(words[:9], pattern, corners) for corners in (True, False)]
        found[f"{name}, all"] = hash_of_values(*around, every is not None, *([] if every is None else [every]))
    rgb = np.unique(np.concatenate([pixels(5, 120, 3), CORNERS]), axis=0)
    for limit in (1, 2, 5, 30, 100, len(rgb) - 1, len(rgb)):
        found[f"put together to {limit}"] = hash_of_values(*quantise.put_together(rgb, np.arange(1, len(rgb) + 1), limit))
    assert differing("colours chosen", found) == set()


def test_exchange_ends_where_nothing_is_gained():
    """Against the definition: what is lost is the sum of the least of each; no single exchange lowers it; fixed entries stay."""
    found = {}
    for seed in range(12):
        gaps = (pixels(seed, 14, 20).astype(np.int64) // 8).astype(np.float32)
        counts, fixed = 1 + pixels(seed + 50, 20).astype(np.int64) % 5, gaps[12 : 12 + seed % 3]
        homes, most = gaps[:12].argmin(axis=0), 1 + seed % 4
        one = exchange.Exchange(gaps.__getitem__, homes, 12, counts, fixed, [3][: seed % 2], most)
        bounded = exchange.Exchange(gaps.__getitem__, homes, 12, counts, fixed, [3][: seed % 2], most)
        said = [str(one.chosen), one.total(), bounded.improve(1), str(bounded.chosen), one.improve(10_000), one.chosen, one.total()]
        found[f"{seed}"] = repr(said)

        def lost(chosen: list[int], gaps=gaps, fixed=fixed, counts=counts) -> float:
            return float((np.concatenate([gaps[chosen], fixed]).min(axis=0) * counts).sum())

        assert one.total() == lost(one.chosen)
        for out, new in itertools.product(range(most), range(12)):
            if new not in one.chosen:
                assert lost([*one.chosen[:out], new, *one.chosen[out + 1 :]]) >= one.total()
    assert differing("exchanges", found) == set()


def test_numbers_of_colours():
    """Against Python's own sets and sums; numbers stay when a column grows beyond the room it began with."""
    keys = pixels(1, 3000, 4, holes="none").view("<u4")[:, 0] & 0xFFFFFF
    some = keys % 700
    values, sums = numbers.tallied(some, np.arange(3000))
    assert values.tolist() == sorted(set(some.tolist())) == numbers.distinct(some).tolist()
    assert sums.tolist() == [int(np.arange(3000)[some == value].sum()) for value in values]
    assert [part.tolist() for part in numbers.tallied(some[:0], np.arange(0))] == [[], []]
    known = numbers.ColourNumbers()
    for part in np.split(keys, [1, 2, 900, 1023, 1024, 2500]):
        found, _ = known.find(part)
        assert np.array_equal(known.keys[found], part)
        assert (found > 0).all()
    column = numbers.Column(np.int64)
    for size in (1, 1022, 1, 1, 5000):
        column.extend(np.arange(size))
        assert column.all()[-size:].tolist() == list(range(size))
