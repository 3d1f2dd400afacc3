"""Packing into banks against an independent solver of integer programs (HiGHS, by scipy), and the bound against both."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from pipeline.plain.errors import ProjectError
from pipeline.rom.banks.bound import by_size, by_total, fewest_banks
from pipeline.rom.banks.exact import EXACT
from pipeline.rom.banks.filling import Piece, choose_sum, fill_in_turn
from pipeline.rom.banks.mixing import mix
from pipeline.rom.banks.packing import banks_taken, best_fit, pack_banks
from pipeline.rom.layout import Item, Placement
from pipeline.target.fields import directory_offset
from pipeline.target.loading import load_target, shipped_targets
from tests.conftest import tries

PEBBLE = load_target(shipped_targets()["pebble8"])
BANK = 16  # bytes, so that the solver can look at every place


def _pieces(sizes: list[tuple[int, int]], home: int = 0) -> list[Piece]:
    made = [Piece(f"p{rank}", size, step, BANK if rank < home else 0) for rank, (size, step) in enumerate(sizes)]
    return sorted(made, key=lambda one: (not one.home, -one.bytes, -one.alignment, one.name))


def _possible(gaps: list[tuple[int, int]], pieces: list[Piece]) -> bool:
    """Return whether a place for every piece exists: a 0/1 variable for each piece and offset, each byte taken once at most."""
    places = [
        (rank, offset)
        for rank, piece in enumerate(pieces)
        for start, end in gaps
        if start < BANK or not piece.home
        for offset in range(start, end - piece.bytes + 1)
        if offset % piece.alignment == 0
    ]
    once, bytes_taken = np.zeros((len(pieces), len(places))), np.zeros((gaps[-1][1], len(places)))
    for column, (rank, offset) in enumerate(places):
        once[rank, column] = 1
        bytes_taken[offset : offset + pieces[rank].bytes, column] = 1
    if not once.any(axis=1).all():
        return False
    rules = [LinearConstraint(once, 1, 1), LinearConstraint(bytes_taken, 0, 1)]
    asked = {"constraints": rules, "integrality": np.ones(len(places)), "bounds": Bounds(0, 1)}
    found = milp(np.zeros(len(places)), **asked)
    if found.status == 4:  # the solver says of itself that it failed: it simplified the question and could not lead its answer back
        found = milp(np.zeros(len(places)), **asked, options={"presolve": False})
    assert found.status in (0, 2), found.message  # solved, or proven impossible
    return found.status == 0


def _check(gaps: list[tuple[int, int]], pieces: list[Piece], places: dict[str, int]) -> None:
    assert places.keys() == {piece.name for piece in pieces}
    taken = []
    for piece in pieces:
        offset = places[piece.name]
        assert offset % piece.alignment == 0
        assert any(start <= offset and offset + piece.bytes <= end for start, end in gaps)
        assert offset < BANK or not piece.home
        taken.append((offset, offset + piece.bytes))
    taken.sort()
    assert all(end <= start for (_, end), (start, _) in zip(taken, taken[1:], strict=False))


_sizes = st.lists(st.tuples(st.integers(1, BANK), st.sampled_from([1, 1, 2, 4])), min_size=1, max_size=9)


@settings(deadline=None, max_examples=tries(30, 80))
@given(sizes=_sizes, header=st.tuples(st.integers(0, 6), st.integers(1, 6)), home=st.integers(0, 2), banks=st.integers(1, 4))
def test_few_pieces_are_placed_whenever_it_is_possible_and_in_the_fewest_banks(sizes, header, home, banks):
    """The solver agrees on whether all fit, and finds no way to take a bank less; a header splits bank 0 into two gaps."""
    pieces = _pieces(sizes, home)
    gaps = [(0, header[0]), (sum(header), BANK), *((BANK * rank, BANK * (rank + 1)) for rank in range(1, banks))]
    gaps = [gap for gap in gaps if gap[0] < gap[1]]
    places = pack_banks(gaps, pieces, BANK, 1)
    assert (places is not None) == _possible(gaps, pieces)
    if places is None:
        return
    _check(gaps, pieces, places)
    taken = banks_taken(places, BANK)
    fewer = [gap for gap in gaps if gap[0] < BANK * (taken - 1)]
    assert not fewer or not _possible(fewer, pieces)
    assert by_size([piece.bytes for piece in pieces], BANK) <= taken
    assert by_total([piece.bytes for piece in pieces], BANK) <= taken


@settings(deadline=None, max_examples=tries(4, 25))
@given(sizes=st.lists(st.tuples(st.integers(1, BANK), st.sampled_from([1, 1, 2])), min_size=EXACT + 1, max_size=EXACT + 6))
def test_more_pieces_stand_legally_and_best_fit_takes_no_fewer_banks(sizes):
    """What the search by mixing gives is legal, never worse than best fit, and never below the bound."""
    pieces, gaps = _pieces(sizes), [(2, BANK), *((BANK * rank, BANK * (rank + 1)) for rank in range(1, 24))]
    places = pack_banks(gaps, pieces, BANK, 1)
    _check(gaps, pieces, places)
    assert banks_taken(places, BANK) <= banks_taken(best_fit(gaps, pieces, BANK), BANK)
    assert banks_taken(places, BANK) >= by_size([piece.bytes for piece in pieces], BANK)


def test_banks_that_can_be_filled_to_the_last_byte_are():
    """Twelve banks of sixteen bytes cut into pieces at random places are filled again, with no byte to spare."""
    cuts = [(3, 5, 8), (2, 14), (7, 9), (6, 10), (1, 4, 11), (13, 3), (5, 5, 6), (16,), (12, 4), (9, 7), (8, 8), (2, 6, 8)]
    pieces = _pieces([(size, 1) for cut in cuts for size in cut])
    gaps = [(BANK * rank, BANK * (rank + 1)) for rank in range(12)]
    places = pack_banks(gaps, pieces, BANK, 12)
    _check(gaps, pieces, places)


@given(st.lists(st.integers(1, 40), min_size=1, max_size=10), st.integers(0, 120))
def test_a_sum_is_as_near_as_any_choice(sizes, room):
    """Against all subsets."""
    pieces = [Piece(f"p{rank}", size, 1) for rank, size in enumerate(sizes)]
    sums = {0}
    for size in sizes:
        sums |= {one + size for one in sums if one + size <= room}
    chosen = choose_sum(room, pieces)
    assert sum(piece.bytes for piece in chosen) == max(sums)
    assert len({piece.name for piece in chosen}) == len(chosen)


def test_mixing_empties_a_bank_that_filling_left():
    """Three banks of 10, 10 and 6 + 6 bytes become two of 10 + 6."""
    gaps = [(BANK * rank, BANK * (rank + 1)) for rank in range(3)]
    packing = fill_in_turn(gaps, [], 0)
    packing.groups = [[Piece("a", 10, 1)], [Piece("b", 10, 1)], [Piece("c", 6, 1), Piece("d", 6, 1)]]
    mixed = mix(packing, BANK, 2)
    assert (mixed.left, banks_taken(mixed.places(), BANK)) == ([], 2)


def test_bound_of_large_pieces_is_above_that_of_bytes():
    """By hand: pieces above half a bank need one each, whatever the sum; so do those that leave no room for the rest."""
    assert (by_total([9] * 5, 16), by_size([9] * 5, 16)) == (3, 5)
    # 12 leaves 4, which no 5 fits: 12, 12, and three 5s in one more.
    assert (by_total([12, 12, 5, 5, 5], 16), by_size([12, 12, 5, 5, 5], 16)) == (3, 3)
    assert by_size([12, 12, 5, 5, 5, 5], 16) == 4


@settings(deadline=None, max_examples=30)
@given(
    sizes=st.lists(st.tuples(st.integers(1, 9000), st.sampled_from([1, 2, 16, 256])), min_size=1, max_size=40),
    fixed=st.lists(st.tuples(st.integers(0x400 >> 4, 0x3F00 >> 4), st.integers(1, 200)), max_size=3),
)
def test_nothing_overlaps_or_crosses_a_banks_end_and_fixed_addresses_are_kept(sizes, fixed):
    """Through placement itself, with the header, the directory and fixed assets in bank 0."""
    roomy = msgspec.structs.replace(PEBBLE, cartridge=msgspec.structs.replace(PEBBLE.cartridge, sizes=[1 << 20]))
    items = [Item(f"a{rank}", "data", size, step) for rank, (size, step) in enumerate(sizes)]
    items += [Item(f"f{rank}", "data", size, 1, address=place << 4) for rank, (place, size) in enumerate(fixed)]
    start = directory_offset(roomy)
    taken = [(roomy.header.offset, roomy.header.offset + roomy.header.size), (start, start + 16 * len(items))]
    wanted = sorted([*taken, *((item.address, item.address + item.bytes) for item in items if item.address is not None)])
    if any(end > start for (_, end), (start, _) in zip(wanted, wanted[1:], strict=False)):
        with pytest.raises(ProjectError):
            Placement(roomy, len(items)).place(items)
        return
    places = Placement(roomy, len(items)).place(items)
    for item in items:
        offset = places[item.name]
        assert offset % item.alignment == 0
        assert offset >> 14 == (offset + item.bytes - 1) >> 14
        assert item.address in (None, offset)
        taken.append((offset, offset + item.bytes))
    taken.sort()
    assert all(end <= start for (_, end), (start, _) in zip(taken, taken[1:], strict=False))
    assert fewest_banks(roomy, 16384, [item.bytes for item in items]) <= max(end - 1 for _, end in taken) // 16384 + 1
