"""The worst case of a scene against trying everything, and the budget's arithmetic."""

from __future__ import annotations

import itertools
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import ProjectError
from pipeline.memory.budget import over_budget, write_budget
from pipeline.memory.scenes import MOST_COMBINATIONS, Group, Worst, worst_case
from pipeline.project_file import Choice, Scene

ASSETS = [f"a{rank}" for rank in range(8)]
_loads = st.frozensets(st.sampled_from(ASSETS), max_size=4)
_sizes = st.fixed_dictionaries({name: st.integers(0, 6) for name in ASSETS})
_groups = st.lists(
    st.builds(
        lambda count, loads: Group(count, {f"m{rank}": assets for rank, assets in enumerate(loads)}),
        st.integers(0, 3),
        st.lists(_loads, min_size=1, max_size=3),
    ),
    max_size=3,
)


def brute_force(always: frozenset[str], groups: list[Group], sizes: dict[str, int]) -> int:
    """Return the most bytes over every way to choose, the same member more than once included."""
    ways = (itertools.product(group.members.values(), repeat=group.count) for group in groups)
    chosen = ([one for way in ways for one in way] for ways in itertools.product(*ways))
    return max(sum(sizes[name] for name in always.union(*loads)) for loads in chosen)


@settings(deadline=None)
@given(_loads, _groups, _sizes)
def test_worst_case_is_that_of_trying_everything(always, groups, sizes):
    """However members share assets, the bytes are those of the largest of all combinations, and those of the choice told."""
    worst = worst_case(always, groups, sizes)
    assert worst.bytes == brute_force(always, groups, sizes)
    told = always.union(*(group.members[name] for group, names in zip(groups, worst.chosen, strict=True) for name in names))
    assert (worst.assets, worst.bytes) == (told, sum(sizes[name] for name in told))
    assert [len(names) for names in worst.chosen] == [min(group.count, len(group.members)) for group in groups]


@settings(deadline=None)
@given(_groups, _sizes)
def test_of_equals_the_first_in_the_projects_order_is_told(groups, sizes):
    """The choice is the first of the largest, in the order combinations of members come."""
    ways = itertools.product(*(itertools.combinations(group.members, min(group.count, len(group.members))) for group in groups))

    def size(chosen):
        loads = [group.members[name] for group, names in zip(groups, chosen, strict=True) for name in names]
        return sum(sizes[name] for name in frozenset().union(*loads))

    assert worst_case(frozenset(), groups, sizes).chosen == max(ways, key=size)


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
    assert worst_case(always, groups, sizes) == expected


def test_many_members_that_share_nothing_are_no_many_cases():
    """Twenty of sixty would be 4,191,844,505,805,495 combinations (binomial coefficient); members of their own need no trying."""
    sizes = {f"a{rank}": rank for rank in range(60)}
    group = Group(20, one(*sizes))
    assert worst_case(frozenset(), [group], sizes).bytes == sum(range(40, 60))


def tangled(count: int) -> dict[str, frozenset[str]]:
    """Return members each of which shares an asset with the next."""
    return {f"m{rank}": frozenset([f"a{rank}", f"a{rank + 1}"]) for rank in range(count)}


def test_too_many_combinations_are_refused_with_their_number():
    """Ten of thirty are 30,045,015 (binomial coefficient), above what is tried."""
    assert MOST_COMBINATIONS < 30_045_015
    with pytest.raises(ValueError, match="^30,045,015 combinations of members that share assets$"):
        worst_case(frozenset(), [Group(10, tangled(30))], {f"a{rank}": 1 for rank in range(31)})


# The budget: sizes, rounding, margins.


def budget(
    folder, sizes: dict[str, int], scenes: dict[str, Scene], bundles=None, memory=1000, granularity=1, alignment=1, held=None, pools=None
):
    """Write facts of some assets and a budget over them; return its content and the line told."""
    for name, size in sizes.items():
        (folder / f"{name}.json").write_text(json.dumps({"unpacked_bytes": size}))
    out = folder / "budget.json"
    assets = dict.fromkeys(sizes, alignment)
    said = write_budget(folder, out, assets, bundles or {}, scenes, memory, granularity, held or {}, pools or {})
    return json.loads(out.read_bytes()), said


@pytest.mark.parametrize(
    ("size", "granularity", "alignment", "taken"),
    [(1, 1, 1, 1), (1, 32, 4, 32), (32, 32, 4, 32), (33, 32, 4, 64), (33, 1, 16, 48), (33, 16, 64, 64), (0, 32, 4, 0)],
)
def test_asset_takes_whole_steps_of_memory(tmp_path, size, granularity, alignment, taken):
    """Bytes are rounded up to the larger of the memory's granularity and the asset's alignment."""
    written, _ = budget(tmp_path, {"a": size}, {"play": Scene(always=["a"])}, granularity=granularity, alignment=alignment)
    assert written["scenes"]["play"]["bytes"] == taken


def test_each_asset_is_rounded_before_it_is_added(tmp_path):
    """Three assets of 1 byte in steps of 32 are 96 bytes, not 32."""
    written, _ = budget(tmp_path, {"a": 1, "b": 1, "c": 1}, {"play": Scene(always=["a", "b", "c"])}, granularity=32)
    assert written["scenes"]["play"]["bytes"] == 96


def test_budget_adds_what_is_held_and_tells_what_is_left(tmp_path):
    """1000 bytes: 100 and 50 held, 300 always, the larger of 400 and 500 chosen; 50 are left. Another scene is 50 over."""
    scenes = {
        "play": Scene(always=["a"], choose=[Choice(count=1, of=["b", "duo"])]),
        "end": Scene(always=["a", "b", "c"]),
    }
    sizes, held = {"a": 300, "b": 400, "c": 200, "d": 300}, {"screen": 100, "stack": 50}
    written, said = budget(tmp_path, sizes, scenes, bundles={"duo": ["c", "d"]}, held=held)
    assert written == {
        "memory": 1000,
        "held": held,
        "scenes": {
            "play": {
                "bytes": 950,
                "margin": 50,
                "chosen": [["duo"]],
                "parts": [{"name": "always", "bytes": 300, "assets": ["a"]}, {"name": "duo", "bytes": 500, "assets": ["c", "d"]}],
            },
            "end": {
                "bytes": 1050,
                "margin": -50,
                "chosen": [],
                "parts": [{"name": "always", "bytes": 900, "assets": ["a", "b", "c"]}],
            },
        },
        "over": ["end"],
    }
    assert said == "play needs 950 bytes at worst, 50 bytes free; end needs 1 KiB at worst, 50 bytes OVER".replace("1 KiB", "1.0 KiB")
    assert over_budget(written) == "end needs 1.0 KiB at worst, 50 bytes OVER"


def test_part_counts_what_members_share_for_the_first_of_them(tmp_path):
    """The parts add up to the whole: a palette that two members load stands with the first."""
    bundles = {"ann": ["a", "p"], "bob": ["b", "p"]}
    written, _ = budget(tmp_path, {"a": 7, "b": 6, "p": 2}, {"s": Scene(choose=[Choice(count=2, of=["ann", "bob"])])}, bundles)
    assert written["scenes"]["s"]["parts"] == [
        {"name": "ann", "bytes": 9, "assets": ["a", "p"]},
        {"name": "bob", "bytes": 6, "assets": ["b"]},
    ]
    assert over_budget(written) is None


def test_sprite_brings_its_pool_which_counts_once(tmp_path):
    """Two sprites of one pool need it once, whether they are named alone or in a bundle; a third without it does not."""
    sizes = {"ann": 7, "bob": 6, "cyd": 5, "crew": 100}
    pools = {"ann": "crew", "bob": "crew"}
    scenes = {
        "both": Scene(always=["ann", "bob"]),
        "named": Scene(always=["crew", "ann"]),
        "chosen": Scene(choose=[Choice(count=2, of=["ann", "duo", "cyd"])]),
        "alone": Scene(always=["cyd"]),
    }
    written, _ = budget(tmp_path, sizes, scenes, {"duo": ["bob"]}, pools=pools)
    assert {name: scene["bytes"] for name, scene in written["scenes"].items()} == {"both": 113, "named": 107, "chosen": 113, "alone": 5}
    assert written["scenes"]["chosen"]["parts"] == [
        {"name": "ann", "bytes": 107, "assets": ["ann", "crew"]},
        {"name": "duo", "bytes": 6, "assets": ["bob"]},
    ]


def test_project_without_scenes_says_so(tmp_path):
    """No scene, no number."""
    assert budget(tmp_path, {}, {})[1] == "the project names no scene"


def test_scene_that_cannot_be_tried_is_refused(tmp_path):
    """The refusal names the scene and what to do."""
    bundles = {name: sorted(loads) for name, loads in tangled(30).items()}
    scene = Scene(choose=[Choice(count=10, of=list(bundles))])
    with pytest.raises(ProjectError) as caught:
        budget(tmp_path, {f"a{rank}": 1 for rank in range(31)}, {"play": scene}, bundles)
    assert str(caught.value) == (
        "project.toml, [scene.play]: 30,045,015 combinations of members that share assets\n"
        "    split the scene, or let fewer members share assets"
    )
