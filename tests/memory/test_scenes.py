"""The worst cases of a scene against trying everything, and against an independent solver."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.memory.scenes import MOST_LOOKS, Group, Worst, worst_cases
from tests.conftest import tries

ASSETS = [f"a{rank}" for rank in range(8)]
MEMBERS = [f"m{rank}" for rank in range(6)]
_loads = st.frozensets(st.sampled_from(ASSETS), max_size=4)
_sizes = st.fixed_dictionaries({name: st.integers(0, 6) for name in ASSETS})
_never = st.lists(st.frozensets(st.sampled_from(MEMBERS), min_size=2, max_size=3), max_size=4)


@st.composite
def scenes(draw):
    """Draw groups over some of six members; a member loads the same wherever it is chosen."""
    loads = {name: draw(_loads) for name in MEMBERS}
    group = st.tuples(st.integers(0, 3), st.lists(st.sampled_from(MEMBERS), min_size=1, max_size=4, unique=True), st.booleans())
    return [Group(count, {name: loads[name] for name in names}, repeat) for count, names, repeat in draw(st.lists(group, max_size=3))]


def everything(always, groups, sizes, never) -> list[Worst]:
    """Return every case there is, the same member more than once included, the worst first, then in file order."""
    ways = [list(itertools.product(group.members, repeat=min(group.count, len(group.members)))) for group in groups]
    cases = {}
    for chosen in itertools.product(*ways):
        if any(not group.repeat and len(set(names)) < len(names) for group, names in zip(groups, chosen, strict=True)):
            continue
        if any(names <= set(itertools.chain(*chosen)) for names in never):
            continue
        ranks = tuple(tuple(sorted({list(g.members).index(name) for name in names})) for g, names in zip(groups, chosen, strict=True))
        named = tuple(tuple(list(g.members)[rank] for rank in some) for g, some in zip(groups, ranks, strict=True))
        assets = always.union(*(g.members[name] for g, names in zip(groups, named, strict=True) for name in names))
        # A choice that ends comes after those that go on from it.
        cases[tuple((*some, len(MEMBERS)) for some in ranks)] = Worst(sum(sizes[name] for name in assets), named, assets)
    return [cases[key] for key in sorted(cases, key=lambda key: (-cases[key].bytes, key))]


@settings(deadline=None, max_examples=tries(50, 150))
@given(_loads, scenes(), _sizes, _never, st.integers(1, 5))
def test_worst_cases_are_those_of_trying_everything(always, groups, sizes, never, most):
    """However members share assets and exclude each other: the same cases in the same order, and none when there is none."""
    assert worst_cases(always, groups, sizes, never, most) == everything(always, groups, sizes, never)[:most]


def with_a_solver(group: Group, sizes: dict[str, int], never: list[frozenset[str]]) -> int:
    """Return the most bytes by mixed-integer programming (SciPy's interface to HiGHS), each asset counted once."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    members, assets = list(group.members), list(sizes)
    width = len(members) + len(assets)
    rows, highest = [np.r_[np.ones(len(members)), np.zeros(len(assets))]], [group.count]
    for rank, asset in enumerate(assets):  # an asset is loaded only when a member that loads it is chosen
        row = np.zeros(width)
        row[len(members) + rank] = 1
        row[[at for at, name in enumerate(members) if asset in group.members[name]]] = -1
        rows.append(row)
        highest.append(0)
    for names in never:
        row = np.zeros(width)
        row[[members.index(name) for name in names]] = 1
        rows.append(row)
        highest.append(len(names) - 1)
    cost = -np.r_[np.zeros(len(members)), [sizes[asset] for asset in assets]]
    found = milp(cost, constraints=LinearConstraint(np.array(rows), ub=highest), integrality=np.ones(width), bounds=Bounds(0, 1))
    return round(-found.fun)


def forty(seed: int, sharing: int) -> tuple[Group, dict[str, int], list[frozenset[str]]]:
    """Return forty characters of random sizes that share some assets, four to be chosen, and a hundred exclusions."""
    chance = random.Random(seed)
    sizes = {f"own{rank}": chance.randrange(200_000, 700_000) for rank in range(40)}
    sizes |= {f"common{rank}": chance.randrange(10_000, 400_000) for rank in range(sharing)}
    commons = [name for name in sizes if name.startswith("common")]
    members = {
        f"m{rank}": frozenset([f"own{rank}", *chance.sample(commons, min(2, len(commons)))]) for rank in range(40)
    }
    never = [frozenset(chance.sample(list(members), 2)) for _ in range(100)]
    return Group(4, members), sizes, never


@pytest.mark.parametrize("sharing", [0, 3, 12])
@pytest.mark.parametrize("seed", range(4))
def test_forty_characters_agree_with_an_independent_solver(seed, sharing):
    """Four of forty with a hundred pairs that exclude each other, some sharing assets."""
    group, sizes, never = forty(seed, sharing)
    worst = worst_cases(frozenset(), [group], sizes, never)[0]
    assert worst.bytes == with_a_solver(group, sizes, never)
    assert not any(names <= set(worst.chosen[0]) for names in never)


def one(*names: str) -> dict[str, frozenset[str]]:
    """Return members that load one asset each, of their own name."""
    return {name: frozenset([name]) for name in names}


BY_HAND = [
    # Two of three that are equal: the first two.
    (frozenset(), [Group(2, one("a", "b", "c"))], {"a": 5, "b": 5, "c": 5}, Worst(10, (("a", "b"),), frozenset("ab"))),
    # A palette that both members load counts once: 7 + 6 + 2.
    (
        frozenset(),
        [Group(2, {"ann": frozenset(["a", "p"]), "bob": frozenset(["b", "p"])})],
        {"a": 7, "b": 6, "p": 2},
        Worst(15, (("ann", "bob"),), frozenset("abp")),
    ),
    # What is always there makes a large member small: 9 + 3.
    (
        frozenset("a"),
        [Group(1, {"ann": frozenset("a"), "bob": frozenset("b")})],
        {"a": 9, "b": 3},
        Worst(12, (("bob",),), frozenset("ab")),
    ),
    # Shared between groups: the two largest would be one and the same asset; 6 + 5 is more than 6.
    (
        frozenset(),
        [Group(1, {"x": frozenset("a"), "y": frozenset("b")}), Group(1, {"z": frozenset("a")})],
        {"a": 6, "b": 5},
        Worst(11, (("y",), ("z",)), frozenset("ab")),
    ),
    # More than there are: all of them.
    (frozenset(), [Group(9, one("a", "b"))], {"a": 1, "b": 2}, Worst(3, (("a", "b"),), frozenset("ab"))),
    (frozenset(), [], {}, Worst(0, (), frozenset())),
]


@pytest.mark.parametrize(("always", "groups", "sizes", "expected"), BY_HAND, ids=["ties", "shared", "always", "groups", "all", "nothing"])
def test_small_cases_worked_out_by_hand(always, groups, sizes, expected):
    """Six scenes small enough to add up on paper."""
    assert worst_cases(always, groups, sizes) == [expected]


def test_who_is_never_together_is_not_counted_together():
    """Of 9, 8, 5 without the two largest together: 14; and with neither beside the third nor alone twice, 9."""
    sizes, never = {"a": 9, "b": 8, "c": 5}, [frozenset("ab")]
    assert worst_cases(frozenset(), [Group(2, one("a", "b", "c"))], sizes, never)[0] == Worst(14, (("a", "c"),), frozenset("ac"))
    never += [frozenset("ac"), frozenset("bc")]
    assert worst_cases(frozenset(), [Group(2, one("a", "b", "c"))], sizes, never)[0].chosen == (("a",),)
    assert worst_cases(frozenset(), [Group(2, one("a", "b", "c"), repeat=False)], sizes, never) == []


def test_many_members_that_share_nothing_are_no_many_cases():
    """Twenty of sixty would be 4,191,844,505,805,495 combinations (binomial coefficient); members of their own need no trying."""
    sizes = {f"a{rank}": rank for rank in range(60)}
    assert worst_cases(frozenset(), [Group(20, one(*sizes))], sizes)[0].bytes == sum(range(40, 60))


def test_search_that_takes_too_long_is_given_up(monkeypatch):
    """A smaller limit represents a larger scene."""
    assert MOST_LOOKS == 1_000_000
    monkeypatch.setattr("pipeline.memory.scenes.MOST_LOOKS", 10)
    group, sizes, never = forty(1, 12)
    with pytest.raises(ValueError, match="^more than 10 partial choices would have to be looked at$"):
        worst_cases(frozenset(), [group], sizes, never, most=4)
