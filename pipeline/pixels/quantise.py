"""Choice of colours: exact when they fit, otherwise the entries that come nearest in a perceptual space.

Colours are counted as words of the console's palette entry, so every candidate is one the console can show. All sums
are over whole numbers: no machine, thread count or math library can change a palette.
"""

from __future__ import annotations

import numpy as np

from pipeline.bits import BitPattern
from pipeline.pixels.colour import perceptual, to_rgb, to_words

_ROUNDS = 24  # of refinement; stops earlier when nothing moves
_CHUNK = 4096  # colours compared with all entries at a time, to bound memory


def count_words(rgb: np.ndarray, pattern: BitPattern) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct palette words of some pixels and how often each occurs.

    Args:
        rgb: uint8, shape (n, 3).

    Returns:
        Words in rising order (uint32) and counts (int64).
    """
    words, counts = np.unique(to_words(rgb, pattern), return_counts=True)
    return words, counts.astype(np.int64)


def choose_words(words: np.ndarray, counts: np.ndarray, most: int, pattern: BitPattern) -> np.ndarray:
    """Return at most ``most`` distinct palette words for colours used with the given counts.

    Exact (all words, in rising order) when they fit. Otherwise: split the box of greatest weighted spread until there
    are enough, then move every entry to the weighted mean of what it serves, snapped, while that lowers the error.

    Args:
        words: distinct words, uint32, shape (n,), n >= 1.
        counts: int64, shape (n,).
        most: at least 1.
    """
    if len(words) <= most:
        return np.sort(words)
    points = perceptual(to_rgb(words, pattern)).astype(np.int64)
    centres = _split(points, counts, most)
    best, least = None, None
    for _ in range(_ROUNDS):
        snapped = _snap(centres, points)
        owner = nearest_entries(points, points[snapped])
        error = int((_distance(points, points[snapped][owner]) * counts).sum())
        if least is not None and error >= least:
            break
        best, least = snapped, error
        centres = _means(points, counts, owner, len(snapped))
    return np.sort(words[_fill(best, points, counts, most)])


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


def _distance(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    gap = left - right
    return (gap * gap).sum(axis=-1)


def _split(points: np.ndarray, counts: np.ndarray, most: int) -> np.ndarray:
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
    owner = np.zeros(len(points), dtype=np.int64)
    for rank, box in enumerate(boxes):
        owner[box] = rank
    return _means(points, counts, owner, len(boxes))


def _spread(points: np.ndarray, counts: np.ndarray, box: np.ndarray) -> tuple[int, int]:
    """Weighted sum of squares about the mean on the widest axis, and that axis."""
    inside, weight = points[box], counts[box, None]
    total = int(weight.sum())
    mean = (inside * weight).sum(axis=0) // total
    squares = ((inside - mean) ** 2 * weight).sum(axis=0)
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


def _means(points: np.ndarray, counts: np.ndarray, owner: np.ndarray, amount: int) -> np.ndarray:
    sums = np.zeros((amount, 3), dtype=np.int64)
    np.add.at(sums, owner, points * counts[:, None])
    mass = np.zeros(amount, dtype=np.int64)
    np.add.at(mass, owner, counts)
    used = mass > 0
    return sums[used] // mass[used, None]


def _snap(centres: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Return indices of the colours nearest to some centres, each once."""
    return np.unique(nearest_entries(centres, points))


def _fill(chosen: np.ndarray, points: np.ndarray, counts: np.ndarray, most: int) -> np.ndarray:
    """Use entries that fell together for the colours that are served worst."""
    while len(chosen) < most:
        owner = nearest_entries(points, points[chosen])
        harm = _distance(points, points[chosen][owner]) * counts
        if not harm.any():
            break
        chosen = np.append(chosen, int(np.argmax(harm)))
    return chosen
