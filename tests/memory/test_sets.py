"""What is needed each time a member is chosen, against trying every case there is."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.memory.scenes import Group, Sets, Worst, worst_cases
from tests.conftest import tries
from tests.memory.test_scenes import MEMBERS, _loads, _never, _sizes, one, scenes

ROLES = ["hero", "spark", "own"]
_pairs = st.lists(st.tuples(st.sampled_from(ROLES), st.integers(0, 5)), max_size=3)
_sets = st.builds(
    Sets,
    each=st.dictionaries(st.sampled_from(MEMBERS), _pairs, max_size=6),
    always=_pairs,
    most=st.dictionaries(st.sampled_from(ROLES[:2]), st.integers(1, 3)),
)


def needed(sets: Sets, names: list[str]) -> int:
    """Return the amount of all sets where these members are chosen, some perhaps more than once."""
    there = [*sets.always, *(pair for name in names for pair in sets.each.get(name, []))]
    total = 0
    for role in ROLES:
        amounts = sorted((amount for at, amount in there if at == role), reverse=True)
        total += sum(amounts[: sets.most.get(role, len(amounts))])
    return total


def everything(always, groups, sizes, never, sets) -> list[Worst]:
    """Return every case: each group filled with ``count`` members, those that need nothing again listed once."""
    cases = {}
    ways = []
    for group in groups:
        distinct = min(group.count, len(group.members))
        pick = itertools.combinations_with_replacement if group.repeat else itertools.combinations
        ways.append(list(pick(list(group.members), (group.count if group.members else 0) if group.repeat else distinct)))
    for chosen in itertools.product(*ways):
        if any(names <= set(itertools.chain(*chosen)) for names in never):
            continue
        named = []
        for names in chosen:
            kept = [name for at, name in enumerate(names) if name not in names[:at] or sum(n for _, n in sets.each.get(name, []))]
            named.append(tuple(kept))
        assets = always.union(*(group.members[name] for group, names in zip(groups, named, strict=True) for name in names))
        key = tuple((*(list(g.members).index(name) for name in names), len(MEMBERS)) for g, names in zip(groups, named, strict=True))
        total = sum(sizes[name] for name in assets) + needed(sets, list(itertools.chain(*named)))
        cases[key] = Worst(total, tuple(named), assets)
    return [cases[key] for key in sorted(cases, key=lambda key: (-cases[key].bytes, key))]


@settings(deadline=None, max_examples=tries(80, 400))
@given(_loads, scenes(), _sizes, _never, _sets, st.integers(1, 5))
def test_worst_cases_with_sets_are_those_of_trying_everything(always, groups, sizes, never, sets, most):
    """However members repeat, share roles and exclude each other: the same cases in the same order."""
    assert worst_cases(always, groups, sizes, never, most, sets) == everything(always, groups, sizes, never, sets)[:most]


@settings(deadline=None, max_examples=tries(40, 150))
@given(_loads, scenes(), _sizes, _sets, st.sampled_from(MEMBERS), st.integers(1, 9))
def test_larger_set_never_needs_less(always, groups, sizes, sets, member, more):
    """A set that is larger for one member leaves the worst case as it is, or makes it larger; no outside source."""
    grown = {**sets.each, member: [(role, amount + more) for role, amount in sets.each.get(member, [("own", 0)])]}
    before = worst_cases(always, groups, sizes, sets=sets)
    after = worst_cases(always, groups, sizes, sets=Sets(grown, sets.always, sets.most))
    assert [case.bytes for case in after] >= [case.bytes for case in before]


BY_HAND = [
    # The same courier twice: its tables once, its buffers twice. 3 + 2 * 40 is more than 3 + 2 + 40 + 30.
    (2, True, {"a": 3, "b": 2}, Sets({"a": [("", 40)], "b": [("", 30)]}), ("a", "a"), 83),
    # Never the same one twice.
    (2, False, {"a": 3, "b": 2}, Sets({"a": [("", 40)], "b": [("", 30)]}), ("a", "b"), 75),
    # One is in memory as a whole: chosen again it needs nothing, so 50 + 40 + 3, twice a courier 83.
    (2, True, {"a": 3, "b": 50}, Sets({"a": [("", 40)]}), ("a", "b"), 93),
    # Three sparks, two of which fly at once: two sets.
    (3, False, {"a": 1, "b": 1, "c": 1}, Sets({name: [("spark", 9)] for name in "abc"}, most={"spark": 2}), ("a", "b", "c"), 21),
]


@pytest.mark.parametrize(("count", "repeat", "sizes", "sets", "chosen", "total"), BY_HAND, ids=["twice", "once", "mixed", "role"])
def test_small_cases_worked_out_by_hand(count, repeat, sizes, sets, chosen, total):
    """Four scenes small enough to add up on paper."""
    found = worst_cases(frozenset(), [Group(count, one(*sizes), repeat)], sizes, sets=sets)[0]
    assert (found.chosen, found.bytes) == ((chosen,), total)


def test_members_with_sets_are_no_many_cases():
    """Eight of forty, each with its own buffers, any of them again: 377,348,994 combinations need no trying."""
    sizes = {f"a{rank}": rank for rank in range(40)}
    sets = Sets({name: [("", 100 + size)] for name, size in sizes.items()})
    found = worst_cases(frozenset(), [Group(8, one(*sizes))], sizes, most=4, sets=sets)[0]
    assert found.bytes == max(
        sum(range(40 - kinds, 40)) + sum(139 - rank for rank in range(kinds)) + (8 - kinds) * 139 for kinds in range(1, 9)
    )
