"""Tiles dealt to palettes: exactly when a packing is found, otherwise so that the eye loses least.

Without a packing, cells are dealt to palettes and palettes chosen for the cells they serve, in turn, until that gains
nothing; from several starts, and again from near the best end. A palette is made better by moving each entry to the
console's colour that is best for all that the entry serves (k-medians), in the end by exchange (``colours.exchange``).

What is lost is the sum, over all pixels as drawn, of the difference to what is shown (``difference.metric_distance``).
All sums are over whole numbers that float64 holds exactly, in whatever order a library adds them.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from pipeline.pixels.colours.colour import perceptual, to_rgb, to_words
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.pixels.colours.exchange import Exchange
from pipeline.pixels.colours.quantise import all_words, put_together
from pipeline.pixels.tiles.packing import pack_sets
from pipeline.plain.bits import BitPattern

_COLOURS = 1 << 10  # colours distinguished while dealing; more are first put together with their like
_TRIES = 24  # settlings tried from near the best end
_WORTH = 100  # groups of cells with less than 1/100 of the loss are not worth a try
_ROUNDS = 24  # of dealing and choosing; stops earlier when nothing is gained
_LAST_ROUNDS = 4  # of dealing and exchanging
_EXCHANGES = 4000  # tried for a palette in one of these rounds
_FAR = np.float32(1 << 20)  # what a pixel loses without an entry: more than any difference


@dataclass(frozen=True)
class Use:
    """Which colours are in which cells.

    Attributes:
        cells: how many there are.
        words: the distinct colours as the console shows them, rising.
        sets: of each cell, the ranks in ``words`` of its colours, as bits.
        rgb: the colours as drawn, uint8, shape (n, 3), near ones put together where there are very many.
        cell, colour, count: for each pair that occurs: the cell, the rank of the colour in ``rgb``, how many pixels.
    """

    cells: int
    words: np.ndarray
    sets: list[int]
    rgb: np.ndarray
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
    """Where dealing and choosing came to rest: summed loss, palette of each cell, entries of each palette, loss of each cell."""

    error: int
    owner: np.ndarray
    chosen: list[np.ndarray]
    harm: np.ndarray


def count_use(cells: np.ndarray, solid: np.ndarray, pattern: BitPattern, counted: BitPattern) -> Use:
    """Count the colours of some cells.

    Args:
        cells: words of ``counted``, uint32, shape (n, height, width).
        solid: bool, the same shape: the pixels that count.
        pattern: the console's palette entry.
        counted: the pattern of the cells' words, as fine or finer.
    """
    drawn, rank, count = np.unique(cells[solid], return_inverse=True, return_counts=True)
    rgb = to_rgb(drawn, counted)
    where = np.broadcast_to(np.arange(len(cells))[:, None, None], cells.shape)[solid]
    words, shown = np.unique(to_words(rgb, pattern), return_inverse=True)
    sets = [0] * len(cells)
    for cell, colour in zip(*_pairs(where, shown[rank], max(len(words), 1))[:2], strict=True):
        sets[cell] |= 1 << colour
    if len(drawn) > _COLOURS:
        rgb, _, groups = put_together(rgb, count, _COLOURS)
        rank = groups[rank]
    cell, colour, count = _pairs(where, rank, max(len(rgb), 1))
    return Use(len(cells), words, sets, rgb, np.array(cell, dtype=np.int64), np.array(colour, dtype=np.int64), count)


def _pairs(cell: np.ndarray, colour: np.ndarray, amount: int) -> tuple[list[int], list[int], np.ndarray]:
    pairs, count = np.unique(cell * amount + colour.ravel(), return_counts=True)
    return (pairs // amount).tolist(), (pairs % amount).tolist(), count


def deal(use: Use, room: Room, exact: bool) -> tuple[np.ndarray, list[np.ndarray]]:
    """Return the palette of each cell, int64, shape (cells,), and each palette's own words, rising, uint32.

    Args:
        exact: colours that fit are shown snapped; see ``quantise.kept_exact``.
    """
    free = functools.reduce(int.__or__, (1 << rank for rank in np.flatnonzero(~np.isin(use.words, room.shared)).tolist()), 0)
    sets = [one & free for one in use.sets]
    packed = pack_sets(sets, room.palettes, room.own)
    if packed.complete and exact:
        return np.array(packed.bin_of), [use.words[_members(one)] for one in packed.bins]
    _, alike = np.unique(np.array(use.sets, dtype=object), return_inverse=True)
    return _Dealing(use, room, exact).run(np.array(packed.bin_of), alike)


def _members(bits: int) -> list[int]:
    return [rank for rank in range(bits.bit_length()) if bits >> rank & 1]


class _Dealing:
    """Cells dealt to palettes that are chosen for them. A palette is an array of candidates, rising."""

    def __init__(self, use: Use, room: Room, exact: bool) -> None:
        self._use, self._room, self._exact = use, room, exact
        shown = to_words(use.rgb, room.pattern)
        whole = all_words(room.pattern)
        self._words = np.setdiff1d(np.unique(shown) if whole is None else whole, room.shared)
        rank = np.minimum(np.searchsorted(self._words, shown), len(self._words) - 1)
        self._homes = np.where(self._words[rank] == shown, rank, len(self._words))
        # What each colour loses with each candidate, and with the best of the words that all palettes have.
        self._gaps = _losses(use.rgb, self._words, room.pattern)
        self._common = _losses(use.rgb, room.shared, room.pattern).min(axis=0, initial=_FAR)

    def run(self, packed: np.ndarray, alike: np.ndarray) -> tuple[np.ndarray, list[np.ndarray]]:
        """Return what ``deal`` returns.

        Args:
            packed: palettes to begin with, for one of the starts.
            alike: a number for each cell, the same for cells with the same colours.
        """
        ends = [self._settle(packed), self._settle(self._by_mean_colour()), self._grown()]
        best = self._nudged(min(ends, key=_error), alike)
        best = self._last(min(best, self._settle(best.owner), key=_error))
        return best.owner, [self._words[one] for one in best.chosen]

    def _by_mean_colour(self) -> np.ndarray:
        """Deal cells by their mean colours: the group of greatest squared spread is halved at its mean, again and again."""
        use, points = self._use, perceptual(self._use.rgb)
        mass = np.maximum(np.bincount(use.cell, use.count, minlength=use.cells), 1).astype(np.int64)
        sums = [np.bincount(use.cell, use.count * points[use.colour, axis], minlength=use.cells) for axis in range(3)]
        means = np.stack(sums, axis=1).astype(np.int64) // mass[:, None]
        groups = [np.arange(use.cells)]
        while len(groups) < self._room.palettes:
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

    def _grown(self) -> _End:
        """Start with one palette; give the cells that are served worse than the mean one of their own, again and again."""
        end = self._settle(np.zeros(self._use.cells, dtype=np.int64), 1)
        for amount in range(2, self._room.palettes + 1):
            owner = np.where(end.harm * self._use.cells > end.error, amount - 1, end.owner)
            end = self._settle(owner, amount, end.chosen)
        return end

    def _nudged(self, best: _End, alike: np.ndarray) -> _End:
        """Move the cells that are served worst, those of the same colours together, to other palettes while that helps."""
        left = _TRIES
        while best.error:
            for start in _near(best, self._room.palettes, alike)[:left]:
                left -= 1
                end = self._settle(start, None, best.chosen)
                if end.error < best.error:
                    best = end
                    break
            else:
                break
        return best

    def _settle(self, owner: np.ndarray, palettes: int | None = None, known: list[np.ndarray] | None = None) -> _End:
        """Choose palettes for their cells and deal the cells again while that lowers the loss.

        Args:
            palettes: how many; all by default.
            known: the first palettes, to start from; the others are chosen from nothing.
        """
        palettes = palettes or self._room.palettes
        best = self._dealt([self._choose(owner == rank, known[rank] if known and rank < len(known) else None) for rank in range(palettes)])
        for _ in range(_ROUNDS - 1):
            if not best.error:
                break
            owner = _revived(best.owner, best.harm, palettes)
            end = self._dealt([self._choose(owner == rank, best.chosen[rank]) for rank in range(palettes)])
            if end.error >= best.error:
                break
            best = end
        return best

    def _last(self, best: _End) -> _End:
        """Make palettes better by exchange and deal the cells again while that lowers the loss."""
        for _ in range(_LAST_ROUNDS):
            end = self._dealt([self._exchanged(best.owner == rank, one) for rank, one in enumerate(best.chosen)])
            if end.error >= best.error:
                break
            best = end
        return best

    def _dealt(self, chosen: list[np.ndarray]) -> _End:
        """Deal every cell to the palette with which it loses least."""
        use = self._use
        near = [np.minimum(self._gaps[one].min(axis=0, initial=_FAR), self._common) for one in chosen]
        each = np.stack([np.bincount(use.cell, use.count * one[use.colour], minlength=use.cells) for one in near])
        harm = each.min(axis=0)
        return _End(int(harm.sum()), np.argmin(each, axis=0), chosen, harm)

    def _served(self, mine: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the colours of some cells, and how often each occurs there."""
        inside = mine[self._use.cell]
        counts = np.bincount(self._use.colour[inside], self._use.count[inside], minlength=len(self._use.rgb))
        used = np.flatnonzero(counts)
        return used, counts[used]

    def _choose(self, mine: np.ndarray, known: np.ndarray | None) -> np.ndarray:
        """Return entries for some cells, chosen from nothing or made of known ones."""
        used, counts = self._served(mine)
        homes = np.unique(self._homes[used])
        homes = homes[homes < len(self._words)]  # a colour that all palettes have needs none
        if self._exact and len(homes) <= self._room.own:
            return homes
        gaps, near = self._gaps[:, used], self._common[used]
        chosen = np.zeros(0, dtype=np.int64)
        if known is not None and len(known):
            chosen = _medians(gaps, near, counts, known)
        near = np.minimum(gaps[chosen].min(axis=0, initial=_FAR), near)
        while len(chosen) < self._room.own:
            gain = np.maximum(near - gaps, 0) @ counts
            if not gain.any():
                break
            chosen = np.append(chosen, gain.argmax())
            near = np.minimum(near, gaps[chosen[-1]])
        return np.sort(chosen)

    def _exchanged(self, mine: np.ndarray, known: np.ndarray) -> np.ndarray:
        used, counts = self._served(mine)
        if not len(used) or not len(known):
            return known
        gaps = self._gaps[:, used]
        exchange = Exchange(gaps.__getitem__, self._homes[used], len(gaps), counts, self._common[None, used], known.tolist(), len(known))
        exchange.improve(_EXCHANGES)
        return np.sort(exchange.chosen)


def _losses(rgb: np.ndarray, words: np.ndarray, pattern: BitPattern) -> np.ndarray:
    """Return what each colour loses with each word as its entry: float64, shape (words, n)."""
    points, places = metric_points(rgb), metric_points(to_rgb(words, pattern))
    rows = [metric_distance(points, places[:, rank, None]) for rank in range(len(words))]
    return np.array(rows, dtype=np.float64).reshape(-1, len(rgb))


def _medians(gaps: np.ndarray, common: np.ndarray, counts: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Return the candidates that are best for what each entry serves, rising; what words of all palettes serve is left out."""
    own = gaps[known]
    owner, column = own.argmin(axis=0), np.arange(len(counts))
    mine = own[owner, column] < common
    weight = np.zeros((len(counts), len(known)))
    weight[column[mine], owner[mine]] = counts[mine]
    return np.unique((gaps @ weight[:, weight.any(axis=0)]).argmin(axis=0)).astype(np.int64)


def _error(end: _End) -> int:
    return end.error


def _near(end: _End, palettes: int, alike: np.ndarray) -> list[np.ndarray]:
    """Return ways to deal that differ from an end in one group of cells, the group served worst first."""
    harm = np.bincount(alike, end.harm)
    groups = [group for group in np.argsort(-harm, kind="stable")[:_TRIES].tolist() if harm[group] * _WORTH > end.error]
    moved = [np.where(alike == group, home, end.owner) for group in groups for home in range(palettes)]
    return [owner for owner in moved if (owner != end.owner).any()]


def _revived(owner: np.ndarray, harm: np.ndarray, palettes: int) -> np.ndarray:
    """Give each palette that no cell uses the cell that is served worst."""
    owner, harm = owner.copy(), harm.copy()
    for rank in np.setdiff1d(np.arange(palettes), owner).tolist():
        worst = int(np.argmax(harm))
        owner[worst], harm[worst] = rank, -1
    return owner
