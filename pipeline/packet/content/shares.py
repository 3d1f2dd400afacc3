"""Dealing the cells of a test plan out to testers: as many covered as can be, and as evenly as can be.

Cells and testers are the two sides of a graph, with an edge where the tester can do the cell. Each cell is dealt in turn along a
shortest alternating path to the tester with the fewest that can be reached: with what was dealt before this is again as much
and as even as possible (N. Harvey, R. Ladner, L. Lovász, T. Tamir, "Semi-matchings for bipartite graphs and load balancing",
2003, algorithm ASM2). Rounds follow each other, so that no cell is dealt a second time before all are dealt once, where that can be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

Cell = tuple[int, ...]


def deal(
    cells: Sequence[Cell], able: Sequence[Sequence[bool]], times: int | None = None, most: int | None = None, before: Sequence[int] = ()
) -> list[list[int]]:
    """Return for each tester the ranks of the cells dealt to them, ascending.

    Args:
        cells: coordinates, only looked at to give each tester cells that differ.
        able: for each tester whether they can do each cell.
        times: testers each cell is wanted from; None for 1, or without a limit where ``most`` is given.
        most: cells a tester gets at most; None for no limit.
        before: cells each tester has of other tasks; among equals the one with fewer is dealt first.
    """
    count = len(able)
    rounds = min(times or (1 if most is None else count), count)
    dealing = _Dealing(cells, able, most if most is not None else len(cells), list(before) or [0] * count)
    for _ in range(rounds):
        # A fixed order; what is dealt is decided by loads.
        if not sum(dealing.give(cell) for cell in range(len(cells))):
            break
    return [sorted(own) for own in dealing.own]


class _Dealing:
    """What is dealt so far; testers are bits of a number where many are looked at at once."""

    def __init__(self, cells: Sequence[Cell], able: Sequence[Sequence[bool]], most: int, before: list[int]) -> None:
        self.cells, self.before = cells, before
        self.own: list[set[int]] = [set() for _ in able]
        self._room = [min(most, sum(own)) for own in able]
        # Who can do a cell and has it not yet.
        self._takers = [sum(1 << rank for rank, own in enumerate(able) if own[cell]) for cell in range(len(cells))]
        self._met: list[Counter[tuple[int, int]]] = [Counter() for _ in able]

    def give(self, cell: int) -> bool:
        """Deal a cell once more; return whether somebody could take it."""
        came: dict[int, tuple[int, int]] = {}  # tester -> the tester and cell by which they were reached
        front = _bits(self._takers[cell])
        start, seen = set(front), self._takers[cell]
        best = self._best(front, cell)
        while front and self._may_be_better(best, seen):
            following: list[int] = []
            for tester in front:
                for other in sorted(self.own[tester]):
                    fresh = self._takers[other] & ~seen
                    if fresh:
                        seen |= fresh
                        following += (reached := _bits(fresh))
                        came |= dict.fromkeys(reached, (tester, other))
            front = following
            better = self._best(front, cell)
            if better is not None and (best is None or len(self.own[better]) < len(self.own[best])):
                best = better
        if best is None:
            return False
        while best not in start:
            tester, other = came[best]
            self._move(other, tester, -1)
            self._move(other, best, 1)
            best = tester
        self._move(cell, best, 1)
        return True

    def _move(self, cell: int, tester: int, by: int) -> None:
        (self.own[tester].add if by > 0 else self.own[tester].remove)(cell)
        self._takers[cell] ^= 1 << tester
        for value in enumerate(self.cells[cell]):
            self._met[tester][value] += by

    def _may_be_better(self, best: int | None, seen: int) -> bool:
        """Say whether somebody not reached yet could take a cell and has fewer than the best so far."""
        most = len(self.cells) + 1 if best is None else len(self.own[best])
        return any(len(own) < min(most, self._room[rank]) and not seen >> rank & 1 for rank, own in enumerate(self.own))

    def _best(self, testers: list[int], cell: int) -> int | None:
        """Return the tester with room and the fewest; if equal, the fewest of other tasks, then least seen of the cell, then the first."""
        free = [rank for rank in testers if len(self.own[rank]) < self._room[rank]]
        return min(free, key=lambda rank: (len(self.own[rank]), self.before[rank], self._like(rank, cell)), default=None)

    def _like(self, rank: int, cell: int) -> int:
        """Return how often a tester already meets what a cell is made of."""
        return sum(self._met[rank][value] for value in enumerate(self.cells[cell]))


def _bits(number: int) -> list[int]:
    return [rank for rank in range(number.bit_length()) if number >> rank & 1]
