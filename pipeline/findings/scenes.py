"""What a scene's animations come to together: a bound, from how much each sprite can flash at most."""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.findings.cast import Cast
from pipeline.safety.reach import Reach, shares_of


def together(cast: Cast, reaches: dict[str, dict[str, Reach]], screen: tuple[int, int]) -> dict[str, float]:
    """Return by each limit the share of the allowed area that the sprites of a scene can flash over at most, all at their worst.

    Each sprite counts once, and as often as choices may bring it. It is bounded from above: the worst of every choice is taken for each
    limit by itself, whether or not they can be chosen together.

    Args:
        reaches: of every sprite with animations, by limit, the most that any of its animations reaches.
        screen: its width and height in pixels.
    """
    limits = dict.fromkeys(limit for reach in reaches.values() for limit in reach)
    worst = {limit: Reach(*(_worst(cast, reaches, limit, part) for part in range(len(Reach._fields)))) for limit in limits}
    return shares_of([worst], screen) if worst else {}


def _worst(cast: Cast, reaches: dict[str, dict[str, Reach]], limit: str, part: int) -> int:
    def summed(sprites: Iterable[str]) -> int:
        return sum(reaches[name][limit][part] for name in sprites if name in reaches)

    whole = summed(cast.always)
    for count, repeat, members in cast.choices:
        sums = sorted((summed(member) for member in members), reverse=True)
        whole += sum(sums[:1] * count if repeat else sums[:count])
    return whole
