"""The sine in whole numbers against Python's, which is good to 2**-52."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from pipeline.pixels.sine import BITS, PI, sine


def test_pi():
    """All bits of math.pi, and that many more."""
    assert math.ldexp(PI, -2 * BITS) == math.pi


@pytest.mark.parametrize("half_turns", [Fraction(rank, 97) for rank in range(-300, 300, 7)] + [Fraction(1, 3), Fraction(5, 2)])
def test_sine(half_turns):
    """Within what a double holds, up to three half turns either way."""
    assert math.ldexp(sine(half_turns), -BITS) == pytest.approx(math.sin(math.pi * half_turns), abs=2e-15)


def test_exact_values():
    """A sixth of a turn is half of three's root, to the last bits; a twelfth is a half."""
    assert abs(sine(Fraction(1, 3)) - math.isqrt(3 << 2 * BITS - 2)) < 8
    assert abs(sine(Fraction(1, 6)) - (1 << BITS - 1)) < 8
