"""Emptying banks of a packing: their pieces go back in by mixing the contents of the others again, two or three at a time."""

from __future__ import annotations

import random

from pipeline.plain.sizes import round_up
from pipeline.rom.banks.filling import Packing, choose_sum, deal

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
    while packing.left or packing.cost(bank)[1] > max(fewest, 1):
        trial = packing if packing.left else _less_one(packing, bank)
        tries = _put_in(trial, draw, tries)
        if trial.left:
            break
        packing = trial
    return packing


def _less_one(packing: Packing, bank: int) -> Packing:
    """Return the packing without its last bank; the contents of the emptiest are left over."""
    last = (packing.cost(bank)[1] - 1) * bank
    dealt = [(gap, list(group)) for gap, group in zip(packing.gaps, packing.groups, strict=True)]
    kept = [(gap, group) for gap, group in dealt if gap[0] < last]
    over = [piece for gap, group in dealt if last <= gap[0] for piece in group]
    # Whole banks are alike, so the emptiest of them is what is taken apart.
    alike = [over, *(group for (start, end), group in kept if end - start == bank)]
    emptiest = min(alike, key=lambda group: sum(piece.bytes for piece in group))
    emptiest[:], over[:] = over[:], emptiest[:]
    return Packing([gap for gap, _ in kept], [group for _, group in kept], over)


def _put_in(packing: Packing, draw: random.Random, tries: int) -> int:
    """Mix gaps until nothing is left over or the tries are used up; return how many are left."""
    alignment = max(piece.alignment for group in (*packing.groups, packing.left) for piece in group)
    rooms = [end - round_up(start, alignment) for start, end in packing.gaps]
    while packing.left and tries:
        tries -= 1
        count = min(2 + (draw.getrandbits(8) < 64), len(rooms))
        ranks: dict[int, None] = {}  # a set that keeps the order
        while len(ranks) < count:
            ranks[draw.getrandbits(32) % len(rooms)] = None
        _mix_gaps(packing, list(ranks), rooms, draw)
    return tries


def _mix_gaps(packing: Packing, ranks: list[int], rooms: list[int], draw: random.Random) -> None:
    """Deal some gaps' pieces and those left over to these gaps again; keep that unless more is left over."""
    pool = [piece for rank in ranks for piece in packing.groups[rank]] + packing.left
    before = sum(piece.rounded for rank in ranks for piece in packing.groups[rank])
    pool.sort(key=lambda piece: (draw.getrandbits(16), piece.name))
    groups, left = deal([rooms[rank] for rank in ranks], pool, choose_sum)
    if sum(piece.rounded for group in groups for piece in group) >= before:
        for rank, group in zip(ranks, groups, strict=True):
            packing.groups[rank] = group
        packing.left = left
