"""The sine in whole numbers, so that no machine's library of sines can change what follows from it."""

from __future__ import annotations

from fractions import Fraction

BITS = 64  # after the point of a sine
PI = 0x3243F6A8885A308D313198A2E03707344  # in parts of 2**128


def sine(half_turns: Fraction) -> int:
    """Return sin(pi * half_turns) in parts of 2**64, by the sine's Taylor series; good for a few turns."""
    parts = half_turns.denominator << BITS
    angle = (PI * half_turns.numerator + parts // 2) // parts
    square, term, total, rank = angle * angle >> BITS, angle, 0, 1
    while term not in (0, -1):
        total += term
        term = -(term * square >> BITS) // ((rank + 1) * (rank + 2))
        rank += 2
    return total
