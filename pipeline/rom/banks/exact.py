"""The places of a few assets in the fewest banks there are, by looking at every set of them once."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.rom.banks.filling import Gap, Piece, Places, fits

EXACT = 12  # assets at most: the work doubles with each


def pack_exactly(gaps: Sequence[Gap], pieces: Sequence[Piece], bank: int) -> Places | None:
    """Return name -> offset with the lowest end there is, or None when no arrangement holds all.

    For every set of pieces the earliest (gap, end) after some arrangement of it is kept: gaps are filled in turn, pieces follow
    one another, and what ends earlier leaves whatever follows at least as much room (dynamic programming over subsets,
    as by Held and Karp, A dynamic programming approach to sequencing problems, 1962).
    """
    best: dict[int, tuple[int, Places]] = {0: (0, {})}  # set as bits -> its end, and its places
    for held in range(1 << len(pieces)):
        if held not in best:
            continue
        end, places = best[held]
        after = [(max(low, end), high) for low, high in gaps if end < high]
        for rank, piece in enumerate(pieces):
            more = held | 1 << rank
            if more == held or (found := next(fits(after, piece, bank), None)) is None:
                continue
            offset = found[1]
            if more not in best or offset + piece.bytes < best[more][0]:
                best[more] = offset + piece.bytes, places | {piece.name: offset}
    return best.get((1 << len(pieces)) - 1, (0, None))[1]
