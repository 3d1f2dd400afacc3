"""Products by blocks against numpy's product with the whole matrix; whole numbers, so both are exact."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.pixels.near_diagonal import NearDiagonal


@pytest.mark.parametrize(("inputs", "outputs", "reach"), [(1, 1, 0), (5, 100, 1), (60, 33, 4), (40, 40, 40), (7, 16, 0)])
def test_products_are_those_with_the_whole_matrix(inputs, outputs, reach):
    random = np.random.default_rng(inputs)
    matrix = random.integers(-(1 << 20), 1 << 20, (inputs, outputs)).astype(np.float64)
    middle = np.arange(outputs) * inputs // outputs
    matrix[abs(np.arange(inputs)[:, None] - middle) > reach] = 0
    matrix[:, outputs // 2 :][:, :20] = 0  # a block that holds nothing
    values = random.integers(-1000, 1000, (9, inputs)).astype(np.float64)

    def part(columns: slice) -> tuple[int, np.ndarray]:
        """Give no row that can hold nothing."""
        first = max(0, int(middle[columns].min()) - reach)
        return first, matrix[first : int(middle[columns].max()) + reach + 1, columns]

    for near in (NearDiagonal(matrix), NearDiagonal.of_parts(outputs, part)):
        assert np.array_equal(near.after(values), values @ matrix)
        assert np.array_equal(near.turned_before(np.ascontiguousarray(values.T)), matrix.T @ values.T)
