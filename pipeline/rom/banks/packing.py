"""Packing assets into the free gaps of banks so that few banks are taken. Pure, and the same for the same input.

What is tried, until a lower bound is met: best fit by falling size; filling one gap after another from sums of sizes, the
largest asset left always among the chosen (after Fleszar and Hindi, New heuristics for one-dimensional bin-packing, Computers &
Operations Research 29, 2002); emptying a bank by mixing the others (``mixing``); for few assets an exact search.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.rom.banks.exact import EXACT, pack_exactly
from pipeline.rom.banks.filling import Gap, Piece, Places, fill_in_turn, fits, without
from pipeline.rom.banks.mixing import mix

_SPARE = (1 << 20, 512, 256, 128, 64, 48, 32, 24, 16)  # parts of a bank that a fill may leave free to spare smaller pieces


def pack_banks(gaps: Sequence[Gap], pieces: Sequence[Piece], bank: int, fewest: int) -> Places | None:
    """Return name -> offset in the image, in as few banks as is found; None when no way found places all.

    Args:
        gaps: free room as (start, end), rising; none crosses a bank's end.
        pieces: what to place, in falling order of size; those of the first bank come first.
        bank: bytes of a bank.
        fewest: banks that surely are needed; the search ends when they do.
    """
    if not _may_fit(gaps, pieces, bank):
        return None
    found = best_fit(gaps, pieces, bank)
    if found is not None and banks_taken(found, bank) <= fewest:
        return found
    if len(pieces) <= EXACT:
        return pack_exactly(gaps, pieces, bank)
    homes = [piece for piece in pieces if piece.home]
    at_home = best_fit(gaps, homes, bank)
    if at_home is None:
        return None
    rest, free = [piece for piece in pieces if not piece.home], list(gaps)
    for piece in homes:
        free = without(free, at_home[piece.name], at_home[piece.name] + piece.bytes)
    best = min((fill_in_turn(free, rest, bank // spare) for spare in _SPARE), key=lambda one: one.cost(bank))
    mixed = mix(best, bank, fewest)
    if not mixed.left:
        places = at_home | mixed.places()
        if found is None or banks_taken(places, bank) < banks_taken(found, bank):
            return places
    return found


def _may_fit(gaps: Sequence[Gap], pieces: Sequence[Piece], bank: int) -> bool:
    """Return whether each piece alone, and all their bytes, find room; what does not is not worth a search."""
    return all(any(fits(gaps, one, bank)) for one in pieces) and sum(one.bytes for one in pieces) <= sum(end - start for start, end in gaps)


def banks_taken(places: Places, bank: int) -> int:
    """Return the number of banks up to the last that holds something."""
    return max((offset // bank for offset in places.values()), default=-1) + 1


def best_fit(gaps: Sequence[Gap], pieces: Sequence[Piece], bank: int) -> Places | None:
    """Place each piece where the least is left after it; see ``pack_banks``."""
    free, places = list(gaps), {}
    for piece in pieces:
        found = min(fits(free, piece, bank), default=None)
        if found is None:
            return None
        offset = places[piece.name] = found[1]
        # What alignment leaves before a piece is a gap too.
        free = without(free, offset, offset + piece.bytes)
    return places
