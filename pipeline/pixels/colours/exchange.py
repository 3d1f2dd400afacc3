"""Entries that get better by exchange, whatever is compared: what each colour loses with each candidate is handed in.

That is k-medoids by exchange (Kaufman, Rousseeuw 1990), every exchange made as soon as it is found (Schubert, Rousseeuw
2021); both from memory. All sums are over whole numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

_BATCH = 200  # exchanges tried before the worst served colours are looked up again

# From a limit for each colour to a function, which returns for a candidate the colours that may lose less with it than their limit,
# rising, and what they lose.
Below = Callable[[np.ndarray], Callable[[int], tuple[np.ndarray, np.ndarray]]]


class Exchange:
    """Entries chosen among candidates, so that the sum of what all colours lose is small.

    Args:
        gap: from a candidate to what each colour loses with it as its entry: whole numbers, shape (n,).
        homes: the candidate that each colour is nearest to, int, shape (n,); as many as there are candidates, if none.
            Candidates are tried in the order of what the colours at home there lose.
        candidates: how many there are; at least as many as entries to choose.
        counts: how often each colour occurs, shape (n,).
        fixed: what each colour loses with each entry that stays: shape (fixed, n).
        start: candidates to start with, at most ``most``; entries left over go to the colours that are served worst.
        most: entries to choose, at least 1, in addition to the fixed ones.
        below: what is quicker than ``gap`` where few colours lose less than a limit; what is lost must be below 2**24 then.

    Attributes:
        chosen: the candidates that are entries.
    """

    def __init__(
        self,
        gap: Callable[[int], np.ndarray],
        homes: np.ndarray,
        candidates: int,
        counts: np.ndarray,
        fixed: np.ndarray,
        start: Iterable[int],
        most: int,
        below: Below | None = None,
    ) -> None:
        self._below = below
        self._gap, self._homes, self._counts, self._fixed = gap, homes, counts.astype(np.float64), len(fixed)
        self._taken = np.zeros(candidates, dtype=bool)
        self.chosen: list[int] = []
        self._gaps = np.full((self._fixed + most, len(counts)), np.inf, dtype=np.float32)  # of every colour to every entry
        self._gaps[: self._fixed] = fixed
        for candidate in start:
            self._add(candidate)
        self._near = self._gaps.min(axis=0, initial=np.inf)
        while len(self.chosen) < most:
            # Without a single entry all colours lose as much.
            near = np.where(np.isfinite(self._near), self._near, 1)
            self._add(int(np.where(self._taken, -1, self._harm(near)).argmax()))
            self._near = np.minimum(self._near, self._gaps[self._fixed + len(self.chosen) - 1])
        self._owner, self._second = np.zeros((2, len(counts)), dtype=np.int64)
        self._near, self._next = np.zeros((2, len(counts)), dtype=np.float32)
        self._rank(np.arange(len(counts)))
        self._settle()

    def total(self) -> float:
        """Return what all colours lose."""
        return float((self._near * self._counts).sum())

    def gaps(self) -> np.ndarray:
        """Return what each colour loses with each candidate chosen, in their order: float32, shape (chosen, n)."""
        return self._gaps[self._fixed : self._fixed + len(self.chosen)]

    def improve(self, left: int) -> bool:
        """Exchange entries until nothing is gained; return whether any was exchanged.

        Args:
            left: exchanges to try at most, which bounds the time.
        """
        useless, better = 0, False  # candidates tried since the last exchange
        while left > 0 and useless < len(self._taken):
            order = np.argsort(-self._harm(self._near), kind="stable")[useless : useless + min(_BATCH, left)]
            left -= len(order)
            gained = [self._try(int(candidate)) for candidate in order]
            useless = 0 if any(gained) else useless + len(order)
            better |= any(gained)
        return better

    def _harm(self, near: np.ndarray) -> np.ndarray:
        """What the colours at home at each candidate lose."""
        return np.bincount(self._homes, near * self._counts, len(self._taken) + 1)[:-1]

    def _add(self, candidate: int) -> None:
        self._gaps[self._fixed + len(self.chosen)] = self._gap(candidate)
        self._taken[candidate] = True
        self.chosen.append(candidate)

    def _rank(self, some: np.ndarray) -> None:
        """Find the nearest and the second nearest entry of some colours."""
        gaps, column = self._gaps[:, some], np.arange(len(some))
        owner = gaps.argmin(axis=0)
        self._owner[some], self._near[some] = owner, gaps[owner, column]
        gaps[owner, column] = np.inf
        second = gaps.argmin(axis=0)
        self._second[some], self._next[some] = second, gaps[second, column]

    def _settle(self) -> None:
        """Find what stays the same until entries are exchanged again, where only some colours are looked at for a candidate."""
        if self._below is None:
            return
        # With the nearest entry gone; a lone entry has no next, and all colours are looked at.
        self._worse = np.where(np.isfinite(self._next), self._next - self._near, np.float32(0))
        self._missed = np.bincount(self._owner, self._worse * self._counts, len(self._gaps))
        self._looked_at = self._below(self._next)

    def _try(self, candidate: int) -> bool:
        """Replace the entry that is missed least with a candidate, if the sum of what is lost falls."""
        if self._taken[candidate]:
            return False
        row = self._worth_it(candidate)
        if row is None:
            return False
        gap = self._gap(candidate)
        self._taken[self.chosen[row - self._fixed]] = False
        self._taken[candidate] = True
        self.chosen[row - self._fixed] = candidate
        self._gaps[row] = gap
        self._rank(np.flatnonzero((self._owner == row) | (self._second == row) | (gap < self._next)))
        self._settle()
        return True

    def _worth_it(self, candidate: int) -> int | None:
        """Return the entry in whose place a candidate lowers the sum of what is lost most; None where it does not."""
        if self._below is None:
            some, gap = slice(None), self._gap(candidate)
        else:
            some, gap = self._looked_at(candidate)
        near, counts = self._near[some], self._counts[some]
        nearer = np.minimum(near, gap)
        gain = ((near - nearer) * counts).sum()
        if gain <= 0:
            return None
        worse = np.minimum(self._next[some], gap) - nearer
        if self._below is None:
            loss = np.bincount(self._owner, worse * counts, len(self._gaps))
        else:
            loss = self._missed + np.bincount(self._owner[some], (worse - self._worse[some]) * counts, len(self._gaps))
        loss[: self._fixed] = np.inf
        row = int(loss.argmin())
        return row if loss[row] < gain else None
