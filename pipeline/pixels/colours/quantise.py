"""Choice of colours: exact when they fit, otherwise the entries with which the picture looks most as it was drawn.

Colours are counted as words of the console's palette entry, so every candidate is one the console can show. What is
made small is the sum, over all pixels, of the difference to the nearest entry as ``difference.metric_distance`` gives
it. All sums are over whole numbers: no machine, thread count or math library can change a palette.
"""

from __future__ import annotations

import numpy as np

from pipeline.pixels.colours.colour import perceptual, to_rgb, to_words
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.plain.bits import BitPattern

_CHUNK = 4096  # colours compared with all entries at a time, to bound memory
_FEW = 128  # the same, where many numbers are needed for each, so that they stay in the processor's cache
_FINEST = 1 << 14  # colours distinguished while choosing; more are first put together with their like
_TRIED = 400  # exchanges tried at least, and ...
_EFFORT = 6_000_000  # ... colours looked at while trying more of them: both bound the time
_BATCH = 200  # exchanges tried before the worst served colours are looked up again


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

    Exact (all words and the locked ones) when they fit. Otherwise: split the group of greatest weighted spread until
    there are enough, then exchange an entry for a used colour wherever that lowers the sum of differences, the colours
    served worst first. That is k-medoids by exchange (Kaufman, Rousseeuw 1990), every exchange made as soon as it is
    found (Schubert, Rousseeuw 2021); both from memory.

    Args:
        words: distinct words, uint32, shape (n,), n >= 1, in any order.
        counts: int64, shape (n,), each at least 1; the sum below 2**33.
        most: at least 1.
        pattern: the console's palette entry; what is returned are words of it.
        locked: words that must be in the result, used or not, uint32; none by default.
        counted: the pattern of ``words`` when it is finer than the entry: a console with few levels is served better
            when colours are counted before they are snapped. By default ``pattern``.

    Returns:
        uint32 in rising order. What is not locked is one of ``words``, or one of them snapped.

    Raises:
        ValueError: more locked words than ``most``.
    """
    fixed = np.unique(locked).astype(np.uint32) if locked is not None else np.zeros(0, dtype=np.uint32)
    if len(fixed) > most:
        raise ValueError(f"{len(fixed)} locked words, {most} fit")
    source = counted or pattern
    used = np.unique(to_words(to_rgb(words, source), pattern) if counted else words)
    everything = np.union1d(used, fixed).astype(np.uint32)
    if len(everything) <= most:
        return everything
    colours, counts = _coarser(words, counts, most, source)
    search = _Search(to_rgb(colours, source), counts, fixed, most, pattern)
    search.improve()
    return search.result()


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

    It is the rule by which ``choose_words`` chooses, nearer to CIEDE2000 than distance in ``perceptual``.

    Args:
        rgb: uint8, shape (n, 3), sRGB.
        entries: uint8, shape (m, 3), m >= 1.

    Returns:
        int64, shape (n,).
    """
    return nearest_places(rgb, metric_points(entries))


def nearest_places(rgb: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Return what ``nearest_colours`` returns, for entries given as ``metric_points`` of them: float64, shape (7, m)."""
    points = metric_points(rgb)
    parts = [np.zeros(0, dtype=np.int64)]
    for start in range(0, len(rgb), _FEW):
        parts.append(metric_distance(points[:, None, start : start + _FEW], places[:, :, None]).argmin(axis=0))
    return np.concatenate(parts)


def _coarser(words: np.ndarray, counts: np.ndarray, most: int, pattern: BitPattern) -> tuple[np.ndarray, np.ndarray]:
    """Order colours; put very many together by dropping low bits, where the most used of a group represents it."""
    order = np.argsort(words)
    words, counts = words[order], counts[order]
    limit, drop = max(_FINEST, 16 * most), 0
    groups = np.arange(len(words))
    while groups.max() >= limit:
        drop += 1
        levels = [pattern.decode(words, letter).astype(np.int64) >> drop for letter in "RGB"]
        groups = np.unique(levels[0] << 32 | levels[1] << 16 | levels[2], return_inverse=True)[1]
    order = np.lexsort((-counts, groups))
    first = order[np.flatnonzero(np.diff(groups[order], prepend=-1))]
    total = np.zeros(len(first), dtype=np.int64)
    np.add.at(total, groups, counts)
    return words[first], total


class _Search:
    """Entries that get better by exchange.

    Args:
        rgb: the colours to serve, uint8, shape (n, 3), and how often each occurs.
        fixed: words that stay.
        most: how many entries there are to be; the colours and fixed have at least as many words.
        pattern: of the words.
    """

    def __init__(self, rgb: np.ndarray, counts: np.ndarray, fixed: np.ndarray, most: int, pattern: BitPattern) -> None:
        self._candidates, self._snapped = np.unique(to_words(rgb, pattern), return_inverse=True)
        shown = to_rgb(self._candidates, pattern)
        self._points, self._places = metric_points(rgb), metric_points(shown)
        self._counts, self._fixed, self._most = counts.astype(np.float64), fixed, most
        self._chosen: list[int] = []  # candidates, in the order of the rows after those of the fixed words
        self._taken = np.isin(self._candidates, fixed)
        self._gaps = np.full((most, len(rgb)), np.inf)  # of every colour to every entry
        for rank, place in enumerate(metric_points(to_rgb(fixed, pattern)).T):
            self._gaps[rank] = metric_distance(self._points, place[:, None])
        self._owner, self._second = np.zeros((2, len(rgb)), dtype=np.int64)
        self._near, self._next = np.zeros((2, len(rgb)))
        if most > len(fixed):
            self._begin(perceptual(rgb).astype(np.int64), perceptual(shown))

    def result(self) -> np.ndarray:
        """Return the words of all entries, in rising order."""
        return np.union1d(self._fixed, self._candidates[self._chosen]).astype(np.uint32)

    def improve(self) -> None:
        """Exchange entries until nothing is gained or enough was tried."""
        left = max(_TRIED, _EFFORT // len(self._counts)) if self._chosen else 0
        useless = 0  # candidates tried since the last exchange
        while left > 0 and useless < len(self._candidates):
            order = np.argsort(-self._harm(), kind="stable")[useless : useless + min(_BATCH, left)]
            left -= len(order)
            gained = [self._try(int(candidate)) for candidate in order]
            useless = 0 if any(gained) else useless + len(order)

    def _begin(self, colours: np.ndarray, shown: np.ndarray) -> None:
        """Choose for groups of colours; give entries that are left to the colours that are served worst."""
        means = _split(colours, self._counts.astype(np.int64), self._most - len(self._fixed))
        for candidate in np.unique(nearest_entries(means, shown)).tolist():
            if not self._taken[candidate]:
                self._put(len(self._fixed) + len(self._chosen), candidate)
        self._near = self._gaps.min(axis=0)
        for row in range(len(self._fixed) + len(self._chosen), self._most):
            self._put(row, int(np.where(self._taken, -1, self._harm()).argmax()))
            self._near = np.minimum(self._near, self._gaps[row])
        self._rank(np.arange(len(self._counts)))

    def _harm(self) -> np.ndarray:
        """What the colours nearest to each candidate lose."""
        return np.bincount(self._snapped, self._near * self._counts, len(self._candidates))

    def _put(self, row: int, candidate: int) -> None:
        rank = row - len(self._fixed)
        if rank < len(self._chosen):
            self._taken[self._chosen[rank]] = False
            self._chosen[rank] = candidate
        else:
            self._chosen.append(candidate)
        self._taken[candidate] = True
        self._gaps[row] = self._gap(candidate)

    def _gap(self, candidate: int) -> np.ndarray:
        return metric_distance(self._points, self._places[:, candidate, None])

    def _rank(self, some: np.ndarray) -> None:
        """Find the nearest and the second nearest entry of some colours."""
        gaps, column = self._gaps[:, some], np.arange(len(some))
        owner = gaps.argmin(axis=0)
        self._owner[some], self._near[some] = owner, gaps[owner, column]
        gaps[owner, column] = np.inf
        second = gaps.argmin(axis=0)
        self._second[some], self._next[some] = second, gaps[second, column]

    def _try(self, candidate: int) -> bool:
        """Replace the entry that is missed least with a candidate, if the sum of differences falls."""
        if self._taken[candidate]:
            return False
        gap = self._gap(candidate)
        nearer = np.minimum(self._near, gap)
        gain = ((self._near - nearer) * self._counts).sum()
        loss = np.bincount(self._owner, (np.minimum(self._next, gap) - nearer) * self._counts, self._most)
        loss[: len(self._fixed)] = np.inf
        row = int(loss.argmin())
        if loss[row] >= gain:
            return False
        self._put(row, candidate)
        self._rank(np.flatnonzero((self._owner == row) | (self._second == row) | (gap < self._next)))
        return True


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
