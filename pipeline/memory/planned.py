"""Assets to come: what they would take, estimated from the project's own assets of their kind.

An asset's size is what its drawing or recording measures (frames of whole cells, a picture of whole cells, seconds, a level's cells); what
it takes in memory is that times the bytes a unit took in the assets there are. How far that is off is shown by estimating
each of those from the others.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import msgspec

from pipeline.joints.facts import BackgroundFacts, Facts, LevelFacts, PoolFacts, SoundFacts, SpriteFacts, StoredPieces
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up
from pipeline.project.file import Planned


@dataclass(frozen=True)
class Estimate:
    """What one of the planned assets would take.

    Attributes:
        bytes: in memory, each.
        from_assets: the assets it was estimated from; none where the author gave the bytes.
        error: the largest relative error the same way of estimating makes on those, 0.1 for a tenth; None with fewer than two.
    """

    bytes: int
    from_assets: tuple[str, ...] = ()
    error: float | None = None


def member_names(name: str, planned: Planned) -> list[str]:
    """Return the names by which scenes count planned assets: the name itself, or NAME 1, NAME 2 and so on."""
    return [name] if planned.count == 1 else [f"{name} {rank}" for rank in range(1, planned.count + 1)]


def estimate(name: str, planned: Planned, facts: Mapping[str, Facts], cell: tuple[int, int]) -> Estimate:
    """Return the estimate of one planned asset.

    Args:
        facts: of the project's converted assets, by name; those of other kinds are skipped, but for the pools of sprites.
        cell: width and height of the target's cell.

    Raises:
        ProjectError: it has no size, or nothing to be estimated from.
    """
    if planned.bytes is not None:
        return Estimate(int(planned.bytes))
    kin = {key: _whole(one, facts) for key, one in facts.items() if isinstance(one, _Measured) and one.kind == planned.kind}
    if planned.like is not None:
        kin = {planned.like: kin[planned.like]}
    kin = {key: one for key, one in kin.items() if _measure(one, cell)}
    if not kin:
        wrong = f"there is no converted {planned.kind} to estimate it from"
        raise refuse("project.toml", f"[planned.{name}]", wrong, "give its bytes")
    size = _imagined(name, planned, next(iter(kin.values())), cell)
    return Estimate(math.ceil(size * _rate(kin, cell)), tuple(kin), _largest_error(kin, cell))


_FINEST = 1 << 17  # of factors, which facts give as numbers of 53 bits
_Measured = SpriteFacts | BackgroundFacts | SoundFacts | LevelFacts


def _whole(one: _Measured, facts: Mapping[str, Facts]) -> _Measured:
    """Return facts whose bytes count the cells that are in a pool: one to come brings its own, shared with none at worst."""
    if not isinstance(one, SpriteFacts) or not isinstance(one.stored, StoredPieces):
        return one
    pool = facts.get(one.stored.pool or "")
    if not isinstance(pool, PoolFacts) or not pool.cell_count:
        return one
    cells = Fraction(one.stored.own_cells * pool.unpacked_bytes, pool.cell_count)
    return msgspec.structs.replace(one, unpacked_bytes=one.unpacked_bytes + math.ceil(cells))


def _imagined(name: str, planned: Planned, like: _Measured, cell: tuple[int, int]) -> Fraction:
    """Return what the asset to come measures."""
    if isinstance(like, SoundFacts):
        return Fraction(str(planned.seconds or _own(name, planned, like, "seconds", "seconds")))
    if isinstance(like, LevelFacts):
        width, height = (getattr(planned, side) or _own(name, planned, like, side, side) for side in ("width", "height"))
        return Fraction(width * height)
    sides = []
    for side, key in zip(("width", "height"), ("source_width", "source_height"), strict=True):
        drawn = getattr(planned, side) or _own(name, planned, like, side, key)
        scale = Fraction(str(planned.scale or like.scale[len(sides)])).limit_denominator(_FINEST)
        # A sprite is scaled outwards from its anchor, which is in the middle of its lower edge where nothing else is said, and
        # columns and rows that it covers by less than half are left out.
        whole = math.ceil(drawn * scale)
        if planned.kind == "sprite":
            whole = 2 * _rounded(drawn * scale / 2) if side == "width" else _rounded(drawn * scale)
        sides.append(max(1, whole))
    frames = planned.frames or (_own(name, planned, like, "frames", "frames") if planned.kind == "sprite" else 1)
    return _area(sides[0], sides[1], frames, cell)


def _rounded(pixels: Fraction) -> int:
    return math.floor(pixels + Fraction(1, 2))


def _own(name: str, planned: Planned, like: _Measured, key: str, fact: str):
    """Return what an asset named by ``like`` has in place of a key left out."""
    if planned.like is None:
        raise refuse("project.toml", f"[planned.{name}] {key}", "is missing", f"give {key}, or like, or bytes")
    return getattr(like, fact)


def _measure(facts: _Measured, cell: tuple[int, int]) -> Fraction:
    if isinstance(facts, SoundFacts):
        return Fraction(str(facts.seconds))
    if isinstance(facts, LevelFacts):
        return Fraction(facts.width * facts.height)
    return _area(facts.width, facts.height, facts.frames if isinstance(facts, SpriteFacts) else 1, cell)


def _area(width: int, height: int, frames: int, cell: tuple[int, int]) -> Fraction:
    """Return the pixels of frames of whole cells."""
    return Fraction(round_up(width, cell[0]) * round_up(height, cell[1]) * frames)


def _rate(kin: dict[str, _Measured], cell: tuple[int, int]) -> Fraction:
    """Bytes a unit of measure, over all of these assets."""
    return Fraction(sum(one.unpacked_bytes for one in kin.values())) / sum(_measure(one, cell) for one in kin.values())


def _largest_error(kin: dict[str, _Measured], cell: tuple[int, int]) -> float | None:
    if len(kin) < 2:
        return None
    errors = []
    for name, one in kin.items():
        others = {key: other for key, other in kin.items() if key != name}
        guess = math.ceil(_measure(one, cell) * _rate(others, cell))
        errors.append(abs(Fraction(guess - one.unpacked_bytes, one.unpacked_bytes)))
    return round(float(max(errors)), 4)
