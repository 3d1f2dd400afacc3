"""Products with a matrix that holds zeros except near its diagonal, by blocks that leave most of the zeros out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

_BLOCK = 16  # columns: products of blocks so small are not worth several threads, which wait for each other by running


class NearDiagonal:
    """A matrix of which each column holds something in a few neighbouring rows only.

    Products are exact, and so the same as those with the whole matrix, where all sums are of whole numbers below 2**53.

    Args:
        matrix: float64, shape (inputs, outputs).
    """

    def __init__(self, matrix: np.ndarray) -> None:
        self._build(matrix.shape[1], lambda columns: (0, matrix[:, columns]))

    @classmethod
    def of_parts(cls, outputs: int, part: Callable[[slice], tuple[int, np.ndarray]]) -> NearDiagonal:
        """Return a matrix that is never made as a whole.

        Args:
            outputs: columns.
            part: gives of some columns the rows that hold something: the number of the first, and float64, shape (rows, columns).
        """
        found = cls.__new__(cls)
        found._build(outputs, part)
        return found

    def _build(self, outputs: int, part: Callable[[slice], tuple[int, np.ndarray]]) -> None:
        self._outputs = outputs
        self._blocks: list[tuple[slice, slice, np.ndarray]] = []
        for begin in range(0, outputs, _BLOCK):
            columns = slice(begin, min(begin + _BLOCK, outputs))
            first, block = part(columns)
            held = np.flatnonzero(block.any(axis=1))
            inner = slice(held[0], held[-1] + 1) if len(held) else slice(0, 0)
            rows = slice(first + inner.start, first + inner.stop)
            self._blocks.append((columns, rows, np.ascontiguousarray(block[inner])))

    def after(self, values: np.ndarray) -> np.ndarray:
        """Return ``values @ matrix``: float64, shape (n, outputs), for values of float64, shape (n, inputs)."""
        found = np.empty((len(values), self._outputs))
        for columns, rows, block in self._blocks:
            np.matmul(values[:, rows], block, out=found[:, columns])
        return found

    def turned_before(self, values: np.ndarray) -> np.ndarray:
        """Return ``matrix.T @ values``: float64, shape (outputs, n), for values of float64, shape (inputs, n)."""
        found = np.empty((self._outputs, values.shape[1]))
        for columns, rows, block in self._blocks:
            np.matmul(block.T, values[rows], out=found[columns])
        return found
