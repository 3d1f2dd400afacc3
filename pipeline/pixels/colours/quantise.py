"""Choice of colours: exact when they fit, otherwise the entries with which the picture looks most as it was drawn.

Entries are chosen from the console's own colours, those that the picture does not use included: where a console has few,
one between two colours of the picture is often the best for both. What is made small is the sum, over all pixels, of
the difference to the nearest entry as ``difference.metric_distance`` gives it. All sums are over whole numbers: no
machine, thread count or math library can change a palette.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np

from pipeline.pixels.colours.colour import perceptual, to_rgb, to_words
from pipeline.pixels.colours.difference import metric_distance, metric_points, reach_in_lightness
from pipeline.pixels.colours.exchange import Below, Exchange
from pipeline.pixels.colours.numbers import distinct
from pipeline.plain.bits import BitPattern

_CHUNK = 4096  # colours compared with all entries at a time, to bound memory
_FEW = 1 << 15  # pairs of colours compared at a time, where that takes many numbers: they stay in the processor's cache
_MANY = 32  # entries from which those of other lightness are left out at first
_LIKE = 6.0  # of CIELAB: how much darker or lighter an entry may be to be looked at first
_LIKE_FEW = 1 << 17  # pairs of colours of like lightness and entries, of which a fourth is compared
_FINEST = 1 << 11  # colours distinguished while choosing; more are first put together with their like
_WHOLE = 1 << 10  # a console with at most this many colours has all of them tried
_TRIED, _TRIED_AT_MOST = 400, 8000  # exchanges tried at least and at most, and ...
_EFFORT = 4_000_000  # ... colours looked at while trying more than the least: all bound the time
_TABLE = 1 << 21  # differences that are found before they are needed
_ROUNDS = 8  # of trying the neighbours of entries
_AROUND = 27  # words at most a step of each channel from one, itself included
_SMALL = 16  # entries at most for which a second start is tried: few are easily stuck far from the best
_OFTEN = 1  # times that each is tried at least, where all of these are


def choose_words(
    words: np.ndarray,
    counts: np.ndarray,
    most: int,
    pattern: BitPattern,
    *,
    locked: np.ndarray | None = None,
    counted: BitPattern | None = None,
) -> np.ndarray:
    """Return at most ``most`` distinct palette words for colours used with the given counts.

    Exact (all words and the locked ones) when they fit, see ``kept_exact``. Otherwise: split the group of greatest weighted spread until
    there are enough, then exchange an entry for another colour of the console wherever that lowers the sum of
    differences, until nothing is gained, the colours served worst first: all colours of a console that has few,
    otherwise those of the picture and then the neighbours of the entries.

    Args:
        words: distinct words, uint32, shape (n,), n >= 1, in any order.
        counts: int64, shape (n,), each at least 1; the sum below 2**33.
        most: at least 1.
        pattern: the console's palette entry; what is returned are words of it.
        locked: words that must be in the result, used or not, uint32; none by default.
        counted: the pattern of ``words`` when it is finer than the entry: a console with few levels is served better
            when colours are counted before they are snapped. By default ``pattern``.

    Returns:
        uint32 in rising order; as many as asked for, unless fewer serve all colours as well.

    Raises:
        ValueError: more locked words than ``most``.
    """
    fixed = np.unique(locked).astype(np.uint32) if locked is not None else np.zeros(0, dtype=np.uint32)
    if len(fixed) > most:
        raise ValueError(f"{len(fixed)} locked words, {most} fit")
    source = counted or pattern
    used = np.unique(to_words(to_rgb(words, source), pattern) if counted else words)
    everything = np.union1d(used, fixed).astype(np.uint32)
    whole = all_words(pattern)
    if len(everything) <= most and kept_exact(words, source, pattern):
        return everything
    if whole is not None:
        most = min(most, len(np.union1d(whole, fixed)))
    if len(fixed) == most:
        return fixed
    order = np.argsort(words, kind="stable")  # quick where they rise already
    colours, counts, _ = put_together(to_rgb(words[order], source), counts[order], max(_FINEST, 64 * most))
    search = _Search(colours, counts, fixed, most - len(fixed), pattern)
    chosen = search.begin(search.grown(used) if whole is None else whole)
    if whole is None:
        chosen = search.refine(chosen)
    found = np.union1d(fixed, chosen).astype(np.uint32)
    if len(everything) > most:
        return found
    serving = nearest_colours(to_rgb(words, source), to_rgb(found, pattern))  # there was room for more than were needed
    return np.union1d(fixed, found[np.unique(serving)]).astype(np.uint32)


def kept_exact(words: np.ndarray, counted: BitPattern, pattern: BitPattern) -> bool:
    """Return whether colours that fit are shown snapped: they are the console's own, or it has many.

    On a console that has few, what a colour is snapped to may look far from it: the nearest level of each channel, but
    another hue. Such colours are served as they are drawn, even if there is room for all of them snapped.

    Args:
        words: of ``counted``, uint32, shape (n,).
        pattern: the console's palette entry.
    """
    if all_words(pattern) is None:
        return True
    drawn = to_rgb(words, counted)
    return bool((to_rgb(to_words(drawn, pattern), pattern) == drawn).all())


def nearest_entries(points: np.ndarray, entries: np.ndarray) -> np.ndarray:
    """Return for each colour the index of the nearest entry, the lowest of those equally near.

    Args:
        points: integers, shape (n, 3), as ``perceptual`` returns.
        entries: integers, shape (m, 3).

    Returns:
        int64, shape (n,).
    """
    points, entries = points.astype(np.int64), entries.astype(np.int64)
    parts = []
    for start in range(0, len(points), _CHUNK):
        chunk = points[start : start + _CHUNK]
        total = np.zeros((len(chunk), len(entries)), dtype=np.int64)
        for axis in range(3):
            gap = chunk[:, axis, None] - entries[None, :, axis]
            total += gap * gap
        parts.append(np.argmin(total, axis=1))
    return np.concatenate(parts)


def nearest_colours(rgb: np.ndarray, entries: np.ndarray) -> np.ndarray:
    """Return for each colour the index of the entry that looks nearest, the lowest of those equally near.

    It is the rule by which ``choose_words`` chooses: CIEDE2000, as ``difference.metric_distance`` gives it.

    Args:
        rgb: uint8, shape (n, 3), sRGB.
        entries: uint8, shape (m, 3), m >= 1.

    Returns:
        int64, shape (n,).
    """
    return nearest_places(rgb, metric_points(entries))


def nearest_places(rgb: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Return what ``nearest_colours`` returns, for entries given as ``metric_points`` of them: float32, shape (4, m)."""
    points, count = metric_points(rgb), places.shape[1]
    if count >= _MANY:
        return _nearest_of_like_lightness(points, places)
    parts = [np.zeros(0, dtype=np.int64)]
    step = max(1, _FEW // count)
    for start in range(0, len(rgb), step):
        parts.append(_nearest(points[:, start : start + step], places))
    return np.concatenate(parts)


def _nearest(points: np.ndarray, places: np.ndarray) -> np.ndarray:
    return metric_distance(points[:, None], places[:, :, None]).argmin(axis=0)


def _nearest_of_like_lightness(points: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Return what ``_nearest`` does. Most colours have an entry nearer than any that is much darker or lighter can be."""
    found = np.zeros(points.shape[1], dtype=np.int64)
    by_lightness, step = np.argsort(points[0]), max(1, _LIKE_FEW // places.shape[1])
    for start in range(0, len(found), step):
        some = by_lightness[start : start + step]
        asked = points[:, some]
        like = _between(places, asked[0, 0] - _LIKE, asked[0, -1] + _LIKE)
        if not len(like):
            found[some] = _nearest(asked, places)
            continue
        far = metric_distance(asked[:, None], places[:, like, None])
        best = far.argmin(axis=0)
        found[some] = like[best]
        reach = reach_in_lightness(asked[0], far[best, np.arange(len(best))])
        open_ = np.flatnonzero(reach >= _LIKE)
        if len(open_):
            asked, reach = asked[:, open_], reach[open_]
            like = _between(places, (asked[0] - reach).min(), (asked[0] + reach).max())
            found[some[open_]] = like[_nearest(asked, places[:, like])]
    return found


def _between(places: np.ndarray, dark: float, light: float) -> np.ndarray:
    return np.flatnonzero((places[0] >= dark) & (places[0] <= light))


def _distances(points: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Return the difference of each of some points to each place: float32, shape (places, points)."""
    table = np.empty((places.shape[1], points.shape[1]), dtype=np.float32)
    step = max(1, _FEW // max(points.shape[1], 1))
    for start in range(0, len(table), step):
        table[start : start + step] = metric_distance(points[:, None], places[:, start : start + step, None])
    return table


def all_words(pattern: BitPattern) -> np.ndarray | None:
    """Return every colour of a console, uint32, rising; None where there are many."""
    bits = [pattern.bits(letter) for letter in "RGB"]
    if 1 << sum(bits) > _WHOLE:
        return None
    levels = np.meshgrid(*(np.arange(1 << count, dtype=np.uint32) for count in bits))
    values = {letter: level.ravel() for letter, level in zip("RGB", levels, strict=True)}
    if pattern.bits("A"):
        values["A"] = np.full(len(values["R"]), (1 << pattern.bits("A")) - 1, dtype=np.uint32)
    return np.unique(np.asarray(pattern.encode(**values), dtype=np.uint32))


def put_together(rgb: np.ndarray, counts: np.ndarray, limit: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Put very many colours together by dropping low bits, a channel at a time; the mean of each group represents it.

    Args:
        rgb: distinct colours, uint8, shape (n, 3).
        counts: how often each occurs, shape (n,).
        limit: groups at most, at least 1.

    Returns:
        The means, uint8, shape (groups, 3); how often each group occurs, int64; the group of each colour, int64, shape (n,).
    """
    bits, left = [8, 8, 8], _keys(rgb)
    groups = left
    while len(left) > limit:  # each time only what the time before left apart is looked at
        axis = (2, 0, 1)[(24 - sum(bits)) % 3]
        bits[axis] -= 1
        left, groups = (_shorter(keys, sum(bits[axis + 1 :])) for keys in (left, groups))
        left = distinct(left) if len(left) << _SPARSE < 1 << sum(bits) else np.flatnonzero(_present(left, sum(bits)))
    groups = _ranks(left, sum(bits))[groups] if sum(bits) < 24 else np.arange(len(rgb))
    total = np.bincount(groups, counts).astype(np.int64)
    sums = [np.bincount(groups, counts * rgb[:, axis].astype(np.int64)).astype(np.int64) for axis in range(3)]
    return np.stack([(2 * one + total) // (2 * total) for one in sums], axis=1).astype(np.uint8), total, groups


def _keys(rgb: np.ndarray) -> np.ndarray:
    """Return colours as one number each, red above green above blue: uint32, shape (n,)."""
    return rgb[:, 0].astype(np.uint32) << 16 | rgb[:, 1].astype(np.uint32) << 8 | rgb[:, 2]


_SPARSE = 6  # numbers are sorted if they are fewer than a 64th of those there could be, else looked up in a table of all of these


def _present(keys: np.ndarray, bits: int) -> np.ndarray:
    """Return which numbers below ``1 << bits`` are among some: bool, shape (1 << bits,)."""
    there = np.zeros(1 << bits, dtype=bool)
    there[keys] = True
    return there


def _ranks(keys: np.ndarray, bits: int) -> np.ndarray:
    """Return the ranks of rising numbers below ``1 << bits``, by number: int64, shape (1 << bits,)."""
    ranks = np.zeros(1 << bits, dtype=np.int64)
    ranks[keys] = np.arange(len(keys))
    return ranks


def _shorter(keys: np.ndarray, place: int) -> np.ndarray:
    """Return numbers without one of their bits, counted from the lowest."""
    low = (1 << place) - 1
    return keys >> (place + 1) << place | keys & low


class _Search:
    """A search for the best entries.

    Args:
        rgb: the colours to serve, uint8, shape (n, 3), and how often each occurs.
        fixed: words that stay.
        most: how many entries there are to be in addition.
        pattern: of the words.
    """

    def __init__(self, rgb: np.ndarray, counts: np.ndarray, fixed: np.ndarray, most: int, pattern: BitPattern) -> None:
        self._rgb, self._counts, self._fixed, self._most, self._pattern = rgb, counts, fixed, most, pattern
        self._points, self._tries = metric_points(rgb), min(max(_TRIED, _EFFORT // len(rgb)), _TRIED_AT_MOST)
        places = metric_points(to_rgb(fixed, pattern)).T
        self._stay = np.array([metric_distance(self._points, place[:, None]) for place in places]).reshape(-1, len(rgb))
        self._known: dict[int, np.ndarray] = {}  # word chosen last -> what each colour loses with it

    def grown(self, words: np.ndarray) -> np.ndarray:
        """Return some words with all around them, rising, where that many can be tried often enough; the words alone otherwise."""
        if self._tries < _OFTEN * _AROUND * len(words):
            return words
        return _neighbours(words, self._pattern, corners=True)

    def begin(self, words: np.ndarray) -> np.ndarray:
        """Choose among some words (rising) for groups of colours, then by exchange; return the words chosen."""
        means = _split(perceptual(self._rgb).astype(np.int64), self._counts, self._most)
        free = np.setdiff1d(words, self._fixed)
        start = np.unique(nearest_entries(means, perceptual(to_rgb(free, self._pattern))))
        starts = [start.tolist(), []] if self._most <= _SMALL else [start.tolist()]
        ends = [self._exchange(free, one) for one in starts]
        for end in ends:
            end.improve(self._tries)
        return self._chosen(free, min(ends, key=Exchange.total))

    def refine(self, chosen: np.ndarray) -> np.ndarray:
        """Exchange entries for words next to them until nothing is gained or enough was tried; return the words chosen."""
        for _ in range(_ROUNDS):
            corners = self._tries >= _OFTEN * _AROUND * len(chosen)
            free = np.setdiff1d(np.union1d(chosen, _neighbours(chosen, self._pattern, corners)), self._fixed)
            exchange = self._exchange(free, np.searchsorted(free, chosen).tolist())
            better = exchange.improve(min(self._tries, len(free)))
            chosen = self._chosen(free, exchange)
            self._tries -= len(free)
            if not better or self._tries <= 0:
                break
        return chosen

    def _chosen(self, free: np.ndarray, exchange: Exchange) -> np.ndarray:
        """Return the words that an exchange has chosen among some."""
        chosen = free[exchange.chosen]
        self._known = dict(zip(chosen.tolist(), exchange.gaps(), strict=True))
        return chosen

    def _exchange(self, free: np.ndarray, start: list[int]) -> Exchange:
        words, places = to_words(self._rgb, self._pattern), metric_points(to_rgb(free, self._pattern))
        rank = np.minimum(np.searchsorted(free, words), len(free) - 1)
        homes = np.where(free[rank] == words, rank, len(free))
        table = _distances(self._points, places) if len(free) * len(words) <= _TABLE else None

        known = {rank: self._known[word] for rank, word in enumerate(free.tolist()) if word in self._known}

        def gap(candidate: int) -> np.ndarray:
            if table is not None:
                return table[candidate]
            return known[candidate] if candidate in known else metric_distance(self._points, places[:, candidate, None])

        below = self._below(places) if table is None else None
        return Exchange(gap, homes, len(free), self._counts, self._stay, start, self._most, below)

    def _below(self, places: np.ndarray) -> Below:
        """Return what finds the colours near a place: those much darker or lighter are left out without being compared."""

        def below(limits: np.ndarray) -> Callable[[int], tuple[np.ndarray, np.ndarray]]:
            reach = reach_in_lightness(self._points[0], limits)
            dark, light = self._points[0] - reach, self._points[0] + reach

            def like(candidate: int) -> tuple[np.ndarray, np.ndarray]:
                place = places[:, candidate, None]
                some = np.flatnonzero((dark <= place[0]) & (light >= place[0]))
                return some, metric_distance(self._points[:, some], place)

            return like

        return below


def _neighbours(words: np.ndarray, pattern: BitPattern, corners: bool) -> np.ndarray:
    """Return some words and those a step of one channel away, or with ``corners`` a step of any channels; rising."""
    levels = [pattern.decode(words, letter).astype(np.int64) for letter in "RGB"]
    tops = [(1 << pattern.bits(letter)) - 1 for letter in "RGB"]
    other = {letter: pattern.decode(words, letter) for letter in pattern.fields if letter not in "RGB"}
    found = []
    for steps in itertools.product((-1, 0, 1), repeat=3):
        if corners or sum(map(abs, steps)) <= 1:
            moved = [np.clip(level + step, 0, top) for level, step, top in zip(levels, steps, tops, strict=True)]
            found.append(np.asarray(pattern.encode(**dict(zip("RGB", moved, strict=True)), **other), dtype=np.uint32))
    return np.unique(np.concatenate(found))


def _split(points: np.ndarray, counts: np.ndarray, most: int) -> np.ndarray:
    """Return the weighted means of at most ``most`` groups: int64, shape (groups, 3)."""
    boxes = [np.arange(len(points))]
    spreads = [_spread(points, counts, boxes[0])]
    while len(boxes) < most:
        rank = max(range(len(boxes)), key=lambda one: spreads[one][0])
        amount, axis = spreads[rank]
        if amount == 0:
            break
        halves = _halve(points, counts, boxes.pop(rank), axis)
        spreads.pop(rank)
        boxes.extend(halves)
        spreads.extend(_spread(points, counts, half) for half in halves)
    return np.stack([_mean(points[box], counts[box, None]) for box in boxes])


def _mean(points: np.ndarray, weights: np.ndarray) -> np.ndarray:
    return (points * weights).sum(axis=0) // int(weights.sum())


def _spread(points: np.ndarray, counts: np.ndarray, box: np.ndarray) -> tuple[int, int]:
    """Weighted sum of squares about the mean on the widest axis, and that axis."""
    inside, weight = points[box], counts[box, None]
    squares = ((inside - _mean(inside, weight)) ** 2 * weight).sum(axis=0)
    axis = int(np.argmax(squares))
    return int(squares[axis]), axis


def _halve(points: np.ndarray, counts: np.ndarray, box: np.ndarray, axis: int) -> tuple[np.ndarray, np.ndarray]:
    """Cut a box where the two halves' weighted squares about their own means are least."""
    order = box[np.argsort(points[box, axis], kind="stable")]
    values, weights = points[order, axis], counts[order]
    mass, first = np.cumsum(weights), np.cumsum(values * weights)
    left, rest = mass[:-1], mass[-1] - mass[:-1]
    # The greatest gain is where (sum left)^2 / mass left + (sum right)^2 / mass right is largest.
    gain = first[:-1] * 1.0 * first[:-1] / left + (first[-1] - first[:-1]) * 1.0 * (first[-1] - first[:-1]) / rest
    gain = np.where(values[:-1] < values[1:], gain, -1.0)  # equal values stay together
    cut = int(np.argmax(gain)) + 1
    return order[:cut], order[cut:]
