"""How numbers spread, and whether a change from one build to the next is more than chance: bootstrap intervals, the same each time.

All is counted in whole numbers, and drawn with a generator whose sequence NumPy never changes (``RandomState``; NEP 19), so that no machine
decides otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

LEAST = 5  # answers of a build, fewer say nothing about a change
REDRAWS = 2000
NOISE = Fraction(1, 20)  # chance that no change at all is called one
_DRAWN = 1000  # answers up to which they are drawn; of more, the interval is known without drawing
_AT_ONCE = 250  # redraws
_SEED = 20

Counts = Mapping[Fraction, int]  # number -> how often it was given


@dataclass(frozen=True)
class Change:
    """A difference of means, and the interval in which it is likely.

    Attributes:
        likely: it is not 0 at either end: the change is more than noise.
    """

    difference: Fraction
    low: Fraction
    high: Fraction

    @property
    def likely(self) -> bool:
        """Whether the interval leaves 0 out."""
        return self.low > 0 or self.high < 0


def count(counts: Counts) -> int:
    """Return how many numbers there are."""
    return sum(counts.values())


def mean(counts: Counts) -> Fraction:
    """Return the mean of at least one number."""
    return sum((value * often for value, often in counts.items()), Fraction()) / count(counts)


def variance(counts: Counts) -> Fraction:
    """Return the sample variance (divided by n - 1) of at least two numbers; 0 for one."""
    middle = mean(counts)
    return sum((often * (value - middle) ** 2 for value, often in counts.items()), Fraction()) / max(count(counts) - 1, 1)


def root(value: Fraction, digits: int = 6) -> Fraction:
    """Return a square root, cut after so many digits."""
    scale = 10**digits
    return Fraction(math.isqrt(value.numerator * value.denominator * scale**2), value.denominator * scale)


def quantile(counts: Counts, share: Fraction) -> Fraction:
    """Return the smallest number that at least a share of all do not exceed (definition 1 of Hyndman and Fan, 1996)."""
    seen = 0
    for value in sorted(counts):
        seen += counts[value]
        if seen >= share * count(counts):
            return value
    raise ValueError("no numbers")


def median(counts: Counts) -> Fraction:
    """Return the number in the middle, or the mean of the two that are."""
    total, half = count(counts), Fraction(1, 2)
    return (quantile(counts, half) + quantile(counts, half + Fraction(1, 2 * total))) / 2 if total % 2 == 0 else quantile(counts, half)


def change(old: Counts, new: Counts, noise: Fraction = NOISE) -> Change | None:
    """Return how the mean changed, with its bootstrap interval (percentiles); None where either has fewer than ``LEAST`` numbers.

    Each redraw takes one number fewer than there are, so that redraws spread as means do (Rao and Wu, 1988); with as many, intervals of
    a few numbers are too narrow. Of many numbers, redraws spread like the normal distribution, whose interval needs none.

    Args:
        noise: the chance that is left out, half at either end.
    """
    sizes = count(old), count(new)
    if min(sizes) < LEAST:
        return None
    difference = mean(new) - mean(old)
    if max(sizes) > _DRAWN:
        wide = _normal(noise) * root(variance(old) / sizes[0] + variance(new) / sizes[1])
        return Change(difference, difference - wide, difference + wide)
    drawn = _redrawn(old, new)
    out = math.floor(REDRAWS * noise / 2)
    return Change(difference, drawn[out], drawn[REDRAWS - 1 - out])


def _redrawn(old: Counts, new: Counts) -> list[Fraction]:
    """Return the differences of means of all redraws, in order."""
    import numpy as np

    scale = math.lcm(*(value.denominator for value in (*old, *new)))
    chance = np.random.RandomState(_SEED)
    sums = []
    for counts in (old, new):
        values = np.repeat(
            np.array([int(value * scale) for value in sorted(counts)], np.int64), [counts[value] for value in sorted(counts)]
        )
        size = (_AT_ONCE, len(values) - 1)
        parts = [values[chance.randint(0, len(values), size, np.int64)].sum(1) for _ in range(REDRAWS // _AT_ONCE)]
        sums.append(np.concatenate(parts))
    fewer = count(old) - 1, count(new) - 1
    return [Fraction(int(one), fewer[0] * fewer[1] * scale) for one in np.sort(sums[1] * fewer[0] - sums[0] * fewer[1])]


def _normal(noise: Fraction) -> Fraction:
    """Return how many standard deviations of a normal distribution leave a chance out, to a thousandth."""
    from statistics import NormalDist

    return Fraction(round(1000 * NormalDist().inv_cdf(1 - float(noise) / 2)), 1000)
