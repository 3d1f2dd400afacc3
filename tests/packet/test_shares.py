"""Shares of a test plan, against general solvers of SciPy: maximum flow for coverage, the assignment problem for evenness."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from pipeline.packet.content.shares import deal
from tests.conftest import tries

GRIDS = st.lists(st.integers(1, 4), max_size=3).map(lambda sides: list(itertools.product(*map(range, sides))))


@st.composite
def cases(draw):
    """Cells, who can do which, times and most: small, and often with too few hands."""
    cells = draw(GRIDS)[:14]
    people = draw(st.integers(0, 5))
    able = draw(st.lists(st.lists(st.booleans(), min_size=len(cells), max_size=len(cells)), min_size=people, max_size=people))
    return cells, able, draw(st.none() | st.integers(1, 4)), draw(st.none() | st.integers(1, 5))


def covered(cells, shares, times: int) -> int:
    """Return how much of ``times`` looks at each cell there is."""
    return sum(min(sum(cell in own for own in shares), times) for cell in range(len(cells)))


def largest(cells, able, times: int, most: int) -> int:
    """Return the largest coverage there is: maximum flow from cells (``times`` each) to testers (``most`` each), SciPy."""
    count, people = len(cells), len(able)
    source, sink = count + people, count + people + 1
    arcs = [(source, cell, times) for cell in range(count)] + [(count + rank, sink, most) for rank in range(people)]
    arcs += [(cell, count + rank, 1) for rank in range(people) for cell in range(count) if able[rank][cell]]
    rows, columns, room = zip(*arcs, strict=True)
    graph = csr_array((np.array(room, np.int32), (rows, columns)), shape=(sink + 1, sink + 1))
    return int(maximum_flow(graph, source, sink).flow_value)


@settings(max_examples=tries(80, 300), deadline=None)
@given(cases())
def test_no_shares_cover_more(case):
    """After every round as many looks are dealt as a maximum flow has; nobody gets what they cannot do, twice, or too much."""
    cells, able, times, most = case
    shares = deal(cells, able, times, most)
    assert len(shares) == len(able)
    for rank, own in enumerate(shares):
        assert own == sorted(set(own))
        assert all(able[rank][cell] for cell in own)
        assert most is None or len(own) <= most
    wanted = times or (1 if most is None else len(able))
    for rounds in range(1, min(wanted, len(able)) + 1):
        assert covered(cells, shares, rounds) == largest(cells, able, rounds, len(cells) if most is None else most)
    assert all(sum(cell in own for own in shares) <= wanted for cell in range(len(cells)))


@settings(max_examples=tries(60, 200), deadline=None)
@given(cases())
def test_no_shares_are_more_even(case):
    """The sum of squares of the sizes is the least there is: SciPy's assignment of cells to places that cost 1, 3, 5, ..."""
    cells, able, _, _ = case
    if not able or not cells:
        return
    shares = deal(cells, able)
    doable = [cell for cell in range(len(cells)) if any(own[cell] for own in able)]
    impossible = 10_000
    costs = [[2 * place + 1 if own[cell] else impossible for own in able for place in range(len(cells))] for cell in doable]
    if doable:
        rows, columns = linear_sum_assignment(np.array(costs))
        assert sum(len(own) ** 2 for own in shares) == np.array(costs)[rows, columns].sum()


@settings(max_examples=tries(60, 200), deadline=None)
@given(GRIDS, st.integers(1, 9), st.integers(1, 3), st.none() | st.integers(1, 5), st.data())
def test_sizes_differ_by_one_where_everybody_can_do_all(cells, people, times, most, data):
    """Then every share is as large as another or one larger, whoever had more before; and the same again on a second run."""
    before = data.draw(st.lists(st.integers(0, 9), min_size=people, max_size=people))
    able = [[True] * len(cells)] * people
    shares = deal(cells, able, times, most, before)
    sizes = [len(own) for own in shares]
    assert max(sizes) - min(sizes) <= 1
    assert shares == deal(cells, able, times, most, before)


def test_equal_shares_go_on_with_who_has_less():
    """What is left over goes to those who have least of other tasks (worked out by hand: 5 cells, 4 people, the third has 0)."""
    shares = deal([(cell,) for cell in range(5)], [[True] * 5] * 4, before=[2, 2, 0, 1])
    assert [len(own) for own in shares] == [1, 1, 2, 1]


def test_a_share_is_spread_over_rows_and_columns():
    """Six by four cells for four people: each meets all six rows and at least three of the four columns."""
    cells = list(itertools.product(range(6), range(4)))
    for own in deal(cells, [[True] * 24] * 4):
        assert len({cells[cell][0] for cell in own}) == 6
        assert len({cells[cell][1] for cell in own}) >= 3


def test_large_plans_are_dealt_in_no_time():
    """600 cells, the most a task may have, six rounds, in the long form twenty, among forty people half of whom lack a pad."""
    cells = list(itertools.product(range(30), range(10), range(2)))
    able = [[rank % 2 == 0 or cell[2] == 0 for cell in cells] for rank in range(40)]
    times = tries(6, 20)
    shares = deal(cells, able, times=times)
    assert sum(map(len, shares)) == 600 * times
