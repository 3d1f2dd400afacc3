"""Emptying banks of a packing: their pieces go back in by mixing the contents of the others again, two or three at a time."""

from __future__ import annotations

import random

from pipeline.plain.sizes import round_up
from pipeline.rom.banks.filling import Packing, Piece, choose_sum

_TRIES = 12_000  # mixtures of one run at most; what is found in five times as many is hardly ever better (tests/bench/bank_packing.py)
_WORK = 1 << 31  # bytes of banks mixed in one run at most, since sums of large banks take longer
_SEED = 1  # of a generator whose bits are the same on every machine


def mix(packing: Packing, bank: int, fewest: int) -> Packing:
    """Return a packing of fewer banks, or with less left over, as far as a bounded search finds one.

    Args:
        packing: of all pieces that need not be in the first bank.
        bank: bytes of a bank.
        fewest: banks that are needed in any case.
    """
    draw, tries = random.Random(_SEED), min(_TRIES, _WORK // bank)
    while True:
        last = packing.cost(bank)[1]
        trial = packing if packing.left else _less_one(packing, bank)
        if (not packing.left and last <= fewest) or trial is None:
            return packing
        tries = _put_in(trial, draw, tries)
        if trial.left:
            return packing
        packing = trial


def _less_one(packing: Packing, bank: int) -> Packing | None:
    """Return the packing without its last bank; the contents of the emptiest are left over. None when it has one bank."""
    last = packing.cost(bank)[1] - 1
    if last < 1:
        return None
    keep = [rank for rank, gap in enumerate(packing.gaps) if gap[0] // bank < last]
    groups = [list(packing.groups[rank]) for rank in keep]
    over = [piece for rank, gap in enumerate(packing.gaps) if gap[0] // bank == last for piece in packing.groups[rank]]
    # Whole banks are alike, so the emptiest of them is what is taken apart.
    alike = [at for at, rank in enumerate(keep) if packing.gaps[rank][1] - packing.gaps[rank][0] == bank]
    weakest = min(alike, key=lambda at: (sum(piece.bytes for piece in groups[at]), at), default=None)
    if weakest is not None and sum(piece.bytes for piece in groups[weakest]) < sum(piece.bytes for piece in over):
        groups[weakest], over = over, groups[weakest]
    return Packing([packing.gaps[rank] for rank in keep], groups, over)


def _put_in(packing: Packing, draw: random.Random, tries: int) -> int:
    """Mix gaps until nothing is left over or the tries are used up; return how many are left."""
    rooms = [_room(gap, packing) for gap in packing.gaps]
    while packing.left and tries:
        tries -= 1
        count = min(2 + (draw.getrandbits(8) < 64), len(rooms))
        ranks: list[int] = []
        while len(ranks) < count:
            rank = draw.getrandbits(32) % len(rooms)
            if rank not in ranks:
                ranks.append(rank)
        _mix_gaps(packing, ranks, rooms, draw)
    return tries


def _room(gap: tuple[int, int], packing: Packing) -> int:
    pieces = [piece for group in (*packing.groups, packing.left) for piece in group]
    return gap[1] - round_up(gap[0], max((piece.alignment for piece in pieces), default=1))


def _mix_gaps(packing: Packing, ranks: list[int], rooms: list[int], draw: random.Random) -> None:
    """Deal some gaps' pieces and those left over to these gaps again; keep that unless more is left over."""
    pool = [piece for rank in ranks for piece in packing.groups[rank]] + packing.left
    before = sum(piece.rounded for rank in ranks for piece in packing.groups[rank])
    pool.sort(key=lambda piece: (draw.getrandbits(16), piece.name))
    groups: list[list[Piece]] = []
    for rank in ranks:
        groups.append(choose_sum(rooms[rank], pool))
        taken = {piece.name for piece in groups[-1]}
        pool = [piece for piece in pool if piece.name not in taken]
    if sum(piece.rounded for group in groups for piece in group) >= before:
        for rank, group in zip(ranks, groups, strict=True):
            packing.groups[rank] = group
        packing.left = pool
