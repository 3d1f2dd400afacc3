"""The largest scale at which everything fits, found with few looks. Scales are whole hundredths."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

_LEAST = 5  # hundredths tried
_STEP = 2  # hundredths
_ABOVE = 3
_LOOKS = 7  # apart from the known one, after which nothing further is tried above
_NEAR = 0.02  # of what scales; sizes that rise by steps may fall again within this


@dataclass(frozen=True)
class Look:
    """What one scale needs.

    Attributes:
        over: bytes by which the tightest limit is passed; negative where there is room; None where it cannot be converted.
        scaled: bytes of what is scaled, as the tightest limit counts it.
        solid: those of them that grow with the square of the scale; None: all. The others grow with the scale, as cells along an
            outline do.
    """

    over: int | None
    scaled: int
    solid: int | None = None

    @property
    def fits(self) -> bool:
        """Whether nothing is passed."""
        return self.over is not None and self.over <= 0


def largest_scale(look: Callable[[int], Look], start: int, most: int = 100) -> dict[int, Look]:
    """Look at scales until the largest that fits is known: the largest key of the result that fits, if any does.

    Sizes grow about with the square of the scale. From a scale that is known the first guess follows; then guesses
    between one that fits and one that does not, until they are neighbours. As sizes are steps and may fall a little with a
    rising scale, the scales right above are looked at too while they are that near to fitting.

    Args:
        look: converts at a scale of this many hundredths and measures; called once for each.
        start: hundredths at which what is needed is known anyway.
        most: hundredths tried; the least is 5.
    """
    seen = {start: look(start)}
    low, high = _LEAST - 1, most + 1
    while high - low > 1:
        low = max([low, *(at for at, one in seen.items() if one.fits)])
        high = min([high, *(at for at, one in seen.items() if not one.fits and at > low)])
        if high - low <= 1:
            break
        guess = _guess(seen, low, high, most)
        seen[guess] = look(guess)
    return _look_above(look, seen, low, most)


def _guess(seen: dict[int, Look], low: int, high: int, most: int) -> int:
    """Return a scale strictly between ``low`` and ``high``.

    The first guess supposes sizes that grow as ``Look`` says, others that sizes grow in a line with the square. While all that is
    known lies on one side, guesses step out, each twice as far at least; then the gap is halved, since sizes that are steps lead
    finer guesses astray.
    """
    first, last = max(low + 1, _LEAST), min(high - 1, most)
    over = {at: seen[at].over for at in (high, low) if at in seen}
    known = [(at, count) for at, count in over.items() if count is not None]
    if len(known) == 2 and len(seen) < 4:
        (_, lack), (_, surplus) = known
        room = -surplus
        square = low**2 + Fraction((high**2 - low**2) * room, max(room + lack, 1))
        return min(max(math.isqrt(int(square)), first), last)
    if len(known) != 1 or over.get(high, 0) is None:  # too large to be converted says nothing of how much
        return (first + last) // 2
    (at, count), step = known[0], _STEP << (len(seen) - 2) if len(seen) > 1 else 0
    guess = _along(seen, at, count) or _reckoned(at, seen[at])
    guess = min(guess, at - step) if at == high else max(guess, at + step)
    return min(max(guess, first), last)


def _along(seen: dict[int, Look], at: int, over: int) -> int | None:
    """Return where the line through a scale and the nearest other that was measured has nothing over; None where there is no such line."""
    others = [(one**2 - at**2, look.over - over) for one, look in seen.items() if look.over is not None and one != at]
    squares, more = min(others, key=lambda one: abs(one[0]), default=(1, 0))
    return math.isqrt(max(int(at**2 - Fraction(over * squares, more)), 1)) if squares * more > 0 else None


def _reckoned(at: int, look: Look) -> int:
    """Return the scale at which what is scaled has the bytes that there is room for, by what one scale needs."""
    room = max(look.scaled - (look.over or 0), 0)
    solid = max(look.scaled if look.solid is None else look.solid, 1)
    edge = max(look.scaled - solid, 0)
    return at * (math.isqrt(edge**2 + 4 * solid * room) - edge) // (2 * solid)


def _look_above(look: Callable[[int], Look], seen: dict[int, Look], best: int, most: int) -> dict[int, Look]:
    """Look a little above the first scale that does not fit, if what it skips is at most what a step may fall."""
    for at in range(best + 1, min(best + _ABOVE, most) + 1):
        if at not in seen and len(seen) > _LOOKS:
            break
        one = seen.get(at) or look(at)
        seen[at] = one
        if not one.fits and (one.over is None or one.over > _NEAR * one.scaled):
            break
    return seen
