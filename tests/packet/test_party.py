"""Who does what: pads that testers have, tasks without a grid, and what is nobody's. Worked out by hand."""

from __future__ import annotations

import dataclasses

from pipeline.packet.content.party import Gap, find_gaps, share_out, with_pads
from pipeline.project.plan import Grid

WALK = Grid(
    "Walk", ("harbour", "pads"), (("East", "West"), ("Three", "Six")), ((0, 0), (0, 1), (1, 0), (1, 1)), ("three", "six") * 2, None, None
)
LOOK = Grid("Look", (), (), ((),), ("",), None, None)


def test_nobody_gets_a_pad_they_have_not():
    """Number 2 has no six-button pad, so both of its cells are number 7's, and the others number 2's."""
    shares = share_out((WALK, LOOK), {2: ["three"], 7: None})
    assert shares == {2: ((0, 2), (0,)), 7: ((1, 3), (0,))}
    assert find_gaps((WALK, LOOK), {2: ["three"], 7: None}, shares) == []


def test_a_pad_that_nobody_has_is_a_gap():
    """The cells of the missing pad, and nothing else."""
    pads = {2: ["three"], 7: ["three"]}
    assert find_gaps((WALK,), pads, share_out((WALK,), pads)) == [Gap(0, (1, 3), "six")]


def test_too_few_testers_are_a_gap_of_its_own():
    """One tester with one cell at most leaves three; of these two lack the pad."""
    walk = Grid(*(getattr(WALK, key) for key in ("text", "heads", "values", "cells", "pads")), times=None, most=1)
    shares = share_out((walk,), {1: ["three"]})
    assert find_gaps((walk,), {1: ["three"]}, shares) == [Gap(0, (1, 3), "six"), Gap(0, (2,))]


def test_a_task_without_a_grid_is_everybodys_unless_it_says():
    """times = 1 gives it to one of them."""
    once = Grid("Look", (), (), ((),), ("",), 1, None)
    assert sum(len(share[0]) for share in share_out((once,), {1: None, 2: None, 3: None}).values()) == 1
    assert sum(len(share[0]) for share in share_out((LOOK,), {1: None, 2: None, 3: None}).values()) == 3


def test_no_list_is_no_gap():
    """Without testers nothing is dealt, and nothing is missing."""
    assert find_gaps((WALK,), {}, share_out((WALK,), {})) == []


def test_a_grid_for_some_pads_has_their_cells_alone():
    """Of four cells the two of the six-button pad are left, and its only value; a share keeps its cells under their new ranks."""
    grid, share = with_pads(WALK, (3,), ["six"])
    assert (grid.heads, grid.values) == (("harbour", "pads"), (("East", "West"), ("Six",)))
    assert (grid.cells, grid.pads) == (((0, 0), (1, 0)), ("six", "six"))
    assert share == (1,)
    assert grid.cells[share[0]] == (1, 0)  # West with the six-button pad, as cell 3 was
    assert with_pads(WALK, (0, 3), None) == (WALK, (0, 3))
    assert with_pads(LOOK, (0,), ["six"]) == (LOOK, (0,))
    assert with_pads(WALK, (), []) == (dataclasses.replace(WALK, values=(("East", "West"), ()), cells=(), pads=()), ())
