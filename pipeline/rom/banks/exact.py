"""The places of a few assets in the fewest banks there are, by looking at every set of them once."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.plain.sizes import round_up
from pipeline.rom.banks.filling import Gap, Piece, Places

EXACT = 12  # assets at most: the work doubles with each


def pack_exactly(gaps: Sequence[Gap], pieces: Sequence[Piece], bank: int) -> Places | None:
    """Return name -> offset with the lowest end there is, or None when no arrangement holds all.

    For every set of pieces the earliest (gap, end) after some arrangement of it is kept: gaps are filled in turn, pieces follow
    one another, and what ends earlier leaves whatever follows at least as much room (dynamic programming over subsets,
    as by Held and Karp, A dynamic programming approach to sequencing problems, 1962).
    """
    count = len(pieces)
    best: list[tuple[int, int] | None] = [None] * (1 << count)
    came: list[tuple[int, int]] = [(0, 0)] * (1 << count)  # the piece placed last, and its offset
    best[0] = (0, gaps[0][0]) if gaps else None
    for held in range(1 << count):
        behind = best[held]
        if behind is None:
            continue
        for rank, piece in enumerate(pieces):
            if held >> rank & 1:
                continue
            found = _first_place(gaps, piece, behind, bank)
            if found is None:
                continue
            more, end, known = held | 1 << rank, (found[0], found[1] + piece.bytes), best[held | 1 << rank]
            if known is None or end < known:
                best[more] = end
                came[more] = (rank, found[1])
    held, places = (1 << count) - 1, {}
    if best[held] is None:
        return None
    while held:
        rank, offset = came[held]
        places[pieces[rank].name] = offset
        held ^= 1 << rank
    return places


def _first_place(gaps: Sequence[Gap], piece: Piece, behind: tuple[int, int], bank: int) -> tuple[int, int] | None:
    """Return gap and offset of the first place of a piece after another."""
    number, at = behind
    for rank in range(number, len(gaps)):
        start, end = gaps[rank]
        if piece.home and start >= bank:
            return None
        offset = round_up(at if rank == number else start, piece.alignment)
        if offset + piece.bytes <= end:
            return rank, offset
    return None
