"""Assets to come: what they would take, estimated from the project's own assets of their kind.

An asset's size is what its drawing or recording measures (frames of whole cells, a picture of whole cells, seconds); what
it takes in memory is that times the bytes a unit took in the assets there are. How far that is off is shown by estimating
each of those from the others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

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


def estimate(name: str, planned: Planned, facts: dict[str, dict[str, Any]], cell: tuple[int, int]) -> Estimate:
    """Return the estimate of one planned asset.

    Args:
        facts: of the project's converted assets, by name; those of other kinds are skipped, but for the pools of sprites.
        cell: width and height of the target's cell.

    Raises:
        ProjectError: it has no size, or nothing to be estimated from.
    """
    if planned.bytes is not None:
        return Estimate(int(planned.bytes))
    kin = {key: _whole(one, facts) for key, one in facts.items() if one["kind"] == planned.kind and planned.kind in _MEASURES}
    if planned.like is not None:
        kin = {planned.like: kin[planned.like]}
    kin = {key: one for key, one in kin.items() if _measure(one, cell)}
    if not kin:
        wrong = f"there is no converted {planned.kind} to estimate it from"
        raise refuse("project.toml", f"[planned.{name}]", wrong, "give its bytes")
    size = _measure(_imagined(name, planned, next(iter(kin.values()))), cell)
    return Estimate(math.ceil(size * _rate(kin, cell)), tuple(kin), _largest_error(kin, cell))


def _whole(one: dict[str, Any], facts: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """Return facts whose bytes count the cells that are in a pool: one to come brings its own, shared with none at worst."""
    pool = facts.get(one.get("pool") or "")
    if not pool or not pool["cell_count"]:
        return one
    cells = Fraction(one["own_cells"] * pool["unpacked_bytes"], pool["cell_count"])
    return one | {"unpacked_bytes": one["unpacked_bytes"] + math.ceil(cells)}


def _imagined(name: str, planned: Planned, like: dict[str, Any]) -> dict[str, Any]:
    """Return the facts, as far as they measure, of the asset to come."""
    if planned.kind == "sound":
        return {"kind": "sound", "seconds": planned.seconds or _own(name, planned, like, "seconds", "seconds")}
    sides = {}
    for side in ("width", "height"):
        drawn = getattr(planned, side) or _own(name, planned, like, side, f"source_{side}")
        scale = Fraction(str(planned.scale)) if planned.scale else Fraction(like[side], like[f"source_{side}"])
        sides[side] = math.ceil(drawn * scale)
    frames = planned.frames or (_own(name, planned, like, "frames", "frames") if planned.kind == "sprite" else 1)
    return {"kind": planned.kind, "frames": frames, **sides}


def _own(name: str, planned: Planned, like: dict[str, Any], key: str, fact: str):
    """Return what an asset named by ``like`` has in place of a key left out."""
    if planned.like is None:
        raise refuse("project.toml", f"[planned.{name}] {key}", "is missing", f"give {key}, or like, or bytes")
    return like[fact]


def _measure(facts: dict[str, Any], cell: tuple[int, int]) -> Fraction:
    return _MEASURES[facts["kind"]](facts, cell)


def _cells(facts: dict[str, Any], cell: tuple[int, int]) -> Fraction:
    area = round_up(facts["width"], cell[0]) * round_up(facts["height"], cell[1])
    return Fraction(area * facts.get("frames", 1))


_MEASURES = {
    "sprite": _cells,
    "background": _cells,
    "sound": lambda facts, _: Fraction(str(facts["seconds"])),
}


def _rate(kin: dict[str, dict[str, Any]], cell: tuple[int, int]) -> Fraction:
    """Bytes a unit of measure, over all of these assets."""
    return Fraction(sum(one["unpacked_bytes"] for one in kin.values())) / sum(_measure(one, cell) for one in kin.values())


def _largest_error(kin: dict[str, dict[str, Any]], cell: tuple[int, int]) -> float | None:
    if len(kin) < 2:
        return None
    errors = []
    for name, one in kin.items():
        others = {key: other for key, other in kin.items() if key != name}
        guess = math.ceil(_measure(one, cell) * _rate(others, cell))
        errors.append(abs(Fraction(guess - one["unpacked_bytes"], one["unpacked_bytes"])))
    return round(float(max(errors)), 4)
