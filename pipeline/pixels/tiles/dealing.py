"""Tiles dealt to palettes: exactly when a packing is found, otherwise so that the eye loses least.

Without a packing, cells are dealt to palettes and palettes chosen for the cells they serve, in turn, until that gains
nothing (k-means with palettes for means); from several starts, and again from near the best end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.pixels.colours.colour import perceptual, to_rgb
from pipeline.pixels.colours.quantise import choose_words, nearest_entries
from pipeline.pixels.tiles.packing import pack_sets
from pipeline.plain.bits import BitPattern

_TRIES = 24  # settlings tried from near the best end
_WORTH = 100  # groups of cells with less than 1/100 of the error are not worth a try
_ROUNDS = 24  # of dealing and choosing; stops earlier when nothing is gained
_NO_PALETTE = float(1 << 50)  # error of a cell with a palette that has no colour


@dataclass(frozen=True)
class Use:
    """Which colours are in which cells.

    Attributes:
        cells: how many there are.
        words, points: the distinct colours, rising, and what ``perceptual`` makes of them.
        cell, colour, count: for each pair that occurs: the cell, the rank of the colour in ``words``, how many pixels.
    """

    cells: int
    words: np.ndarray
    points: np.ndarray
    cell: np.ndarray
    colour: np.ndarray
    count: np.ndarray


@dataclass(frozen=True)
class Room:
    """What there is to deal to: a number of palettes, a number of words for each, and words that all of them have."""

    palettes: int
    own: int
    shared: np.ndarray
    pattern: BitPattern


@dataclass(frozen=True)
class _End:
    """Where dealing and choosing came to rest: summed squared error, palette of each cell, palettes, error of each cell."""

    error: int
    owner: np.ndarray
    chosen: list[np.ndarray]
    harm: np.ndarray


def count_use(cells: np.ndarray, solid: np.ndarray, pattern: BitPattern) -> Use:
    """Count the colours of cells, uint32 words, shape (n, height, width), where ``solid``, bool of that shape, is True."""
    words, ranks = np.unique(cells[solid], return_inverse=True)
    where = np.broadcast_to(np.arange(len(cells))[:, None, None], cells.shape)[solid]
    amount = max(len(words), 1)
    pairs, count = np.unique(where * amount + ranks.ravel(), return_counts=True)
    return Use(len(cells), words, perceptual(to_rgb(words, pattern)), pairs // amount, pairs % amount, count)


def deal(use: Use, room: Room) -> tuple[np.ndarray, list[np.ndarray]]:
    """Return the palette of each cell, int64, shape (cells,), and each palette's own words, rising, uint32."""
    sets = [0] * use.cells
    own = ~np.isin(use.words, room.shared)[use.colour]
    for cell, colour in zip(use.cell[own].tolist(), use.colour[own].tolist(), strict=True):
        sets[cell] |= 1 << colour
    packed = pack_sets(sets, room.palettes, room.own)
    if packed.complete:
        return np.array(packed.bin_of), [use.words[_members(one)] for one in packed.bins]
    ends = [
        _settle(use, room, np.array(packed.bin_of), room.palettes),
        _settle(use, room, _by_mean_colour(use, room.palettes), room.palettes),
        _grown(use, room),
    ]
    _, alike = np.unique(np.array(sets, dtype=object), return_inverse=True)
    best = _nudged(use, room, min(ends, key=_error), alike)
    best = min(best, _settle(use, room, best.owner, room.palettes), key=_error)
    return best.owner, best.chosen


def _error(end: _End) -> int:
    return end.error


def _members(bits: int) -> list[int]:
    return [rank for rank in range(bits.bit_length()) if bits >> rank & 1]


def _by_mean_colour(use: Use, palettes: int) -> np.ndarray:
    """Deal cells by their mean colours: the group of greatest squared spread is halved at its mean, again and again."""
    mass = np.maximum(np.bincount(use.cell, use.count, minlength=use.cells), 1).astype(np.int64)
    sums = [np.bincount(use.cell, use.count * use.points[use.colour, axis], minlength=use.cells) for axis in range(3)]
    means = np.stack(sums, axis=1).astype(np.int64) // mass[:, None]
    groups = [np.arange(use.cells)]
    while len(groups) < palettes:
        gaps = [means[group] - means[group].sum(axis=0) // len(group) for group in groups]
        spreads = [(gap * gap).sum(axis=0) for gap in gaps]
        widest = max(range(len(groups)), key=lambda rank: int(spreads[rank].max()))
        above = gaps[widest][:, int(np.argmax(spreads[widest]))] > 0
        if above.all() or not above.any():
            break
        group = groups.pop(widest)
        groups += [group[~above], group[above]]
    owner = np.zeros(use.cells, dtype=np.int64)
    for rank, group in enumerate(groups):
        owner[group] = rank
    return owner


def _grown(use: Use, room: Room) -> _End:
    """Start with one palette; give the cells that are served worse than the mean one of their own, again and again."""
    end = _settle(use, room, np.zeros(use.cells, dtype=np.int64), 1)
    for amount in range(2, room.palettes + 1):
        owner = np.where(end.harm * use.cells > end.error, amount - 1, end.owner)
        end = _settle(use, room, owner, amount, end.chosen)
    return end


def _nudged(use: Use, room: Room, best: _End, alike: np.ndarray) -> _End:
    """Move the cells that are served worst, those of the same colours together, to other palettes while that helps.

    Args:
        alike: a number for each cell, the same for cells with the same colours.
    """
    left = _TRIES
    while best.error:
        for start in _near(best, room.palettes, alike)[:left]:
            left -= 1
            end = _settle(use, room, start, room.palettes)
            if end.error < best.error:
                best = end
                break
        else:
            break
    return best


def _near(end: _End, palettes: int, alike: np.ndarray) -> list[np.ndarray]:
    """Return ways to deal that differ from an end in one group of cells, the group served worst first."""
    harm = np.bincount(alike, end.harm)
    groups = [group for group in np.argsort(-harm, kind="stable")[:_TRIES].tolist() if harm[group] * _WORTH > end.error]
    moved = [np.where(alike == group, home, end.owner) for group in groups for home in range(palettes)]
    return [owner for owner in moved if (owner != end.owner).any()]


def _settle(use: Use, room: Room, owner: np.ndarray, palettes: int, known: Sequence[np.ndarray] = ()) -> _End:
    """Choose palettes for their cells and deal the cells again while that lowers the error.

    Args:
        known: words of the first palettes, to start from; the others are chosen from nothing.
    """
    best = _settle_once(use, room, owner, palettes, known)
    for _ in range(_ROUNDS - 1):
        if not best.error:
            break
        end = _settle_once(use, room, _revived(best.owner, best.harm, palettes), palettes, best.chosen)
        if end.error >= best.error:
            break
        best = end
    return best


def _settle_once(use: Use, room: Room, owner: np.ndarray, palettes: int, known: Sequence[np.ndarray]) -> _End:
    chosen = [_choose(use, room, owner == rank, known[rank] if rank < len(known) else None) for rank in range(palettes)]
    each = np.stack([_harm(use, np.concatenate([room.shared, one]), room.pattern) for one in chosen])
    harm = each.min(axis=0)
    return _End(int(harm.sum()), np.argmin(each, axis=0), chosen, harm)


def _choose(use: Use, room: Room, mine: np.ndarray, known: np.ndarray | None) -> np.ndarray:
    """Return words for some cells, chosen from nothing or made of known ones; a colour that all palettes have needs none."""
    inside = mine[use.cell] & ~np.isin(use.words, room.shared)[use.colour]
    counts = np.bincount(use.colour[inside], use.count[inside], minlength=len(use.words)).astype(np.int64)
    used = np.flatnonzero(counts)
    if len(used) <= room.own:
        return use.words[used]
    if known is None or not len(known):
        return choose_words(use.words[used], counts[used], room.own, room.pattern)
    points, counts = use.points[used].astype(np.int64), counts[used]
    entries = perceptual(to_rgb(np.concatenate([room.shared, known]), room.pattern))
    moved = _moved(points, counts, nearest_entries(points, entries) - len(room.shared), len(known))
    return use.words[used[_filled(moved, points, counts, room.own)]]


def _moved(points: np.ndarray, counts: np.ndarray, owner: np.ndarray, amount: int) -> np.ndarray:
    """Return the colours nearest to the means of what each entry serves, rising; who is served by -1 or less is left out."""
    own = owner >= 0
    mass = np.bincount(owner[own], counts[own], minlength=amount).astype(np.int64)
    sums = [np.bincount(owner[own], (counts * points[:, axis])[own], minlength=amount) for axis in range(3)]
    means = np.stack(sums, axis=1).astype(np.int64)[mass > 0] // mass[mass > 0, None]
    return np.unique(nearest_entries(means, points)) if len(means) else np.array([0])


def _filled(moved: np.ndarray, points: np.ndarray, counts: np.ndarray, amount: int) -> np.ndarray:
    """Use entries that are free for the colours that are served worst."""
    while len(moved) < amount:
        gap = points - points[moved][nearest_entries(points, points[moved])]
        harm = (gap * gap).sum(axis=1) * counts
        if not harm.any():
            break
        moved = np.append(moved, np.argmax(harm))
    return np.sort(moved)


def _harm(use: Use, palette: np.ndarray, pattern: BitPattern) -> np.ndarray:
    """Return each cell's squared error with a palette: float64 holding whole numbers, shape (cells,)."""
    if not len(palette):
        return np.full(use.cells, _NO_PALETTE)
    entries = perceptual(to_rgb(palette, pattern))
    gap = use.points.astype(np.int64) - entries[nearest_entries(use.points, entries)]
    return np.bincount(use.cell, use.count * (gap * gap).sum(axis=1)[use.colour], minlength=use.cells)


def _revived(owner: np.ndarray, harm: np.ndarray, palettes: int) -> np.ndarray:
    """Give each palette that no cell uses the cell that is served worst."""
    owner, harm = owner.copy(), harm.copy()
    for rank in np.setdiff1d(np.arange(palettes), owner).tolist():
        worst = int(np.argmax(harm))
        owner[worst], harm[worst] = rank, -1
    return owner
