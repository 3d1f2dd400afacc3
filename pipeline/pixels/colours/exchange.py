"""Entries that get better by exchange, whatever is compared: what each colour loses with each candidate is handed in.

That is k-medoids by exchange (Kaufman, Rousseeuw 1990), every exchange made as soon as it is found (Schubert, Rousseeuw
2021); both from memory. All sums are over whole numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

_BATCH = 200  # exchanges tried before the worst served colours are looked up again


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
    ) -> None:
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

    def total(self) -> float:
        """Return what all colours lose."""
        return float((self._near * self._counts).sum())

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

    def _try(self, candidate: int) -> bool:
        """Replace the entry that is missed least with a candidate, if the sum of what is lost falls."""
        if self._taken[candidate]:
            return False
        gap = self._gap(candidate)
        nearer = np.minimum(self._near, gap)
        gain = ((self._near - nearer) * self._counts).sum()
        loss = np.bincount(self._owner, (np.minimum(self._next, gap) - nearer) * self._counts, len(self._gaps))
        loss[: self._fixed] = np.inf
        row = int(loss.argmin())
        if loss[row] >= gain:
            return False
        self._taken[self.chosen[row - self._fixed]] = False
        self._taken[candidate] = True
        self.chosen[row - self._fixed] = candidate
        self._gaps[row] = gap
        self._rank(np.flatnonzero((self._owner == row) | (self._second == row) | (gap < self._next)))
        return True
