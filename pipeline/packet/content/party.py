"""Who does what of the test plan: every tester's share of every task, and what is nobody's. Numbers only, no names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.packet.content.shares import deal
from pipeline.project.plan import PADS, Grid

Share = tuple[tuple[int, ...], ...]  # for each task the ranks of the cells that are theirs


@dataclass(frozen=True)
class Gap:
    """Cells of a task that nobody does.

    Attributes:
        task: rank of the task.
        cells: ranks of its cells.
        pad: the pad that no tester has; empty where it is another reason: too few testers, or their limit.
    """

    task: int
    cells: tuple[int, ...]
    pad: str = ""


def share_out(grids: Sequence[Grid], pads: Mapping[int, Iterable[str] | None]) -> dict[int, Share]:
    """Return number -> share.

    Args:
        pads: number -> the pads a tester has, None for all; in the order of this table ties are settled.

    A task without a grid is everybody's, unless it says how many are to do it.
    """
    owned = [None if own is None else frozenset(own) for own in pads.values()]
    before = [0] * len(owned)
    shares: list[list[tuple[int, ...]]] = [[] for _ in owned]
    for grid in grids:
        able = [[not pad or own is None or pad in own for pad in grid.pads] for own in owned]
        times = len(owned) if grid.times is None and not grid.heads else grid.times
        for rank, cells in enumerate(deal(grid.cells, able, times, grid.most, before)):
            shares[rank].append(tuple(cells))
            before[rank] += len(cells)
    return {number: tuple(share) for number, share in zip(pads, shares, strict=True)}


def with_pads(grid: Grid, share: tuple[int, ...], pads: Iterable[str] | None) -> tuple[Grid, tuple[int, ...]]:
    """Return a task's grid with the cells that some pads can do, and a share of it as ranks of those.

    Args:
        share: ranks of cells, none of which needs another pad.
        pads: what a tester has; None for all.
    """
    if pads is None or PADS not in grid.heads:
        return grid, share
    side, own = grid.heads.index(PADS), set(pads)
    kept = [rank for rank, pad in enumerate(grid.pads) if pad in own]
    shown = sorted({grid.cells[rank][side] for rank in kept})
    values = tuple(tuple(one[at] for at in shown) if place == side else one for place, one in enumerate(grid.values))
    cells = tuple((*cell[:side], shown.index(cell[side]), *cell[side + 1 :]) for cell in (grid.cells[rank] for rank in kept))
    fewer = replace(grid, values=values, cells=cells, pads=tuple(grid.pads[rank] for rank in kept))
    return fewer, tuple(kept.index(rank) for rank in share)


def find_gaps(grids: Sequence[Grid], pads: Mapping[int, Iterable[str] | None], shares: Mapping[int, Share]) -> list[Gap]:
    """Return what is nobody's, task by task, separately for each missing pad. Nothing without testers."""
    gaps = []
    for task, grid in enumerate(grids if shares else ()):
        taken = {cell for share in shares.values() for cell in share[task]}
        left = [cell for cell in range(len(grid.cells)) if cell not in taken]
        missing = {pad: None for pad in grid.pads if pad and not any(own is None or pad in own for own in pads.values())}
        for pad in (*missing, ""):
            cells = tuple(cell for cell in left if (grid.pads[cell] if grid.pads[cell] in missing else "") == pad)
            if cells:
                gaps.append(Gap(task, cells, pad))
    return gaps
