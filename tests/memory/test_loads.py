"""The plan of memory for load lists, against every choice of members in every slot. Common practice, no source."""

from __future__ import annotations

import itertools
import random

import pytest

from pipeline.joints.lists import Lists, ScenePlan
from pipeline.memory.loaded import Sizes
from pipeline.memory.loads import Memory, make_lists
from pipeline.plain.errors import ProjectError
from pipeline.project.file import Choice, Planned, Scene
from tests.conftest import tries

MEMORY = Memory(
    base=0x1000, bytes=4096, granularity=4, reserved=[("system", 100, 0), ("stack", 60, None)], buffers=[96, 96], buffer_alignment=16
)
ASSETS = [f"a{rank}" for rank in range(10)]


def _sizes(dice: random.Random) -> Sizes:
    unpacked = {name: dice.randrange(1, 90) for name in ASSETS}
    packed = {name: dice.randrange(1, count + 1) for name, count in unpacked.items() if dice.random() < 0.5}
    return Sizes(unpacked, packed, {name: dice.choice((1, 4, 16)) for name in ASSETS}, granularity=MEMORY.granularity)


def _project(dice: random.Random):
    bundles = {f"b{rank}": dice.sample(ASSETS, dice.randrange(1, 4)) for rank in range(4)}
    used: set[str] = set()
    runs = []
    for name, members in bundles.items():
        if not used & set(members) and dice.random() < 0.5:
            runs.append(name)
            used |= set(members)
    names = ["one", "two", "three"][: dice.randrange(1, 4)]
    scenes = {}
    for name in names:
        of = dice.sample([*bundles, *ASSETS[:4]], dice.randrange(1, 5))
        choose = [Choice(count=dice.randrange(1, 3), of=of)] if dice.random() < 0.8 else []
        direct = dice.sample(ASSETS, 1) if dice.random() < 0.4 else []
        packed = [one for one in dice.sample(ASSETS, 1) if one not in direct] if dice.random() < 0.4 else []
        after = dice.sample(names, dice.randrange(0, len(names))) if dice.random() < 0.5 else None
        scenes[name] = Scene(always=dice.sample([*bundles, *ASSETS], 2), choose=choose, direct=direct, packed=packed, after=after)
    needs = {"a9": ("a8",)}
    return bundles, tuple(runs), scenes, needs


def _cases(scene: ScenePlan):
    """Yield what is in memory in every case: asset -> all (first byte, bytes) it is at."""
    base = [(one.asset, one.at, one.bytes, one.packed) for one in scene.common.places]
    base += [(f"room {one.name}", one.at, one.bytes, False) for one in scene.rooms]
    ways = []
    for choice in scene.choices:
        ways.append(list(itertools.permutations([*range(len(choice.members)), *[None] * (len(choice.slots) - 1)], len(choice.slots))))
    for way in itertools.product(*ways):
        found = list(base)
        for choice, members in zip(scene.choices, way, strict=True):
            for slot, rank in zip(choice.slots, members, strict=True):
                group = choice.members[rank] if rank is not None else None
                for one in group.places if group else []:
                    assert one.at + one.bytes <= slot.bytes
                    found.append((one.asset, slot.at + one.at, one.bytes, one.packed))
        yield way, found


def check(lists: Lists, sizes: Sizes, scenes: dict[str, Scene], bundles, needs) -> None:
    """Whether everything that a case loads is there, aligned, in memory, and overlaps nothing."""
    assert list(lists.scenes) == list(scenes)
    for name, scene in lists.scenes.items():
        for way, found in _cases(scene):
            spans = sorted([(at, at + count) for _, at, count, _ in found] + [(one.at, one.at + one.bytes) for one in lists.areas])
            assert all(end <= start for (_, end), (start, _) in itertools.pairwise(spans)), (name, way)
            assert spans[-1][1] <= lists.memory
            for asset, at, count, packed in found:
                if asset in sizes.unpacked:
                    assert at % max(sizes.alignments[asset], 4) == 0
                    assert count == (sizes.packed if packed else sizes.unpacked)[asset]
            there = {asset for asset, _, _, _ in found} | set(scene.common.direct)
            for choice, ranks in zip(scene.choices, way, strict=True):
                there |= {asset for rank in ranks if rank is not None for asset in choice.members[rank].direct}
            for member in scenes[name].always:
                for asset in bundles.get(member, [member]):
                    assert {asset, *needs.get(asset, ())} <= there


@pytest.mark.parametrize("seed", range(tries(60, 600)))
def test_every_case_of_a_random_project_fits_and_what_stays_is_not_moved(seed):
    """All cases by enumeration; an asset that two scenes both keep, one of which may follow the other, has one place."""
    dice = random.Random(seed)
    sizes, (bundles, runs, scenes, needs) = _sizes(dice), _project(dice)
    lists = make_lists(sizes, bundles, runs, scenes, {}, needs, MEMORY, dict.fromkeys(scenes, ()))
    check(lists, sizes, scenes, bundles, needs)
    for one, other in itertools.permutations(scenes, 2):
        if scenes[other].after is not None and one not in scenes[other].after:
            continue
        before, after = ({(p.asset, p.packed): p.at for p in lists.scenes[name].common.places} for name in (one, other))
        assert all(before[key] == after[key] for key in before.keys() & after.keys())
    for name in runs:
        for scene in lists.scenes.values():
            for group in scene.groups():
                if bundles[name] in group.steps and len(bundles[name]) > 1:
                    starts = [one.at for one in group.places if one.asset in bundles[name]]
                    ends = [one.at + one.bytes for one in group.places if one.asset in bundles[name]]
                    assert all(0 <= start - end < 16 for end, start in zip(ends, starts[1:], strict=False))


def _plan(scenes: dict[str, Scene], sizes: dict[str, int], planned: dict[str, Planned] | None = None, memory: Memory = MEMORY) -> Lists:
    rooms = {name: int(one.bytes) for name, one in (planned or {}).items() if one.bytes is not None}
    known = Sizes(sizes, {}, {}, rooms, memory.granularity)
    return make_lists(known, {}, (), scenes, planned or {}, {}, memory, dict.fromkeys(scenes, ()))


def test_reserved_areas_and_buffers_have_places():
    """What has an address is there; the stack is at the end, the buffers after the system, aligned."""
    lists = _plan({"one": Scene(always=["a"])}, {"a": 8})
    assert [(one.name, one.at, one.bytes, one.kind) for one in lists.areas] == [
        ("system", 0, 100, "reserved"), ("screen buffer 1", 112, 96, "buffer"), ("screen buffer 2", 208, 96, "buffer"),
        ("stack", 4036, 60, "reserved"),
    ]  # fmt: skip
    assert lists.scenes["one"].common.places[0].at == 100  # the gap before the buffers holds it


def test_scenes_that_choose_from_the_same_members_share_the_slots():
    """One of three, then two of three: the first slot is the same, so that what was chosen may stay."""
    names = ["a", "b", "c"]
    scenes = {"one": Scene(choose=[Choice(count=1, of=names)]), "two": Scene(always=["d"], choose=[Choice(count=2, of=names)])}
    lists = _plan(scenes, {"a": 10, "b": 20, "c": 30, "d": 500})
    first, second = (lists.scenes[name].choices[0].slots for name in scenes)
    assert first[0] == second[0]
    assert [slot.bytes for slot in second] == [32, 32]


def test_only_scenes_that_follow_each_other_keep_what_they_share():
    """Three scenes, each with two of three assets: in any order all three need places apart; alone each scene needs two."""
    pairs, sizes = {"one": ["a", "b"], "two": ["b", "c"], "three": ["c", "a"]}, {"a": 400, "b": 400, "c": 400}
    tied = _plan({name: Scene(always=pair) for name, pair in pairs.items()}, sizes)
    free = _plan({name: Scene(always=pair, after=[name]) for name, pair in pairs.items()}, sizes)
    start = 304  # after system and buffers
    assert max(scene.top for scene in tied.scenes.values()) == start + 1200
    assert [scene.top for scene in free.scenes.values()] == [start + 800] * 3


def test_a_choice_of_all_is_always_there():
    """Three of three have a place each, no slots."""
    lists = _plan({"one": Scene(choose=[Choice(count=3, of=["a", "b", "c"])])}, {"a": 10, "b": 20, "c": 30})
    assert lists.scenes["one"].choices == []
    assert [one.asset for one in lists.scenes["one"].common.places] == ["a", "b", "c"]


def test_a_planned_asset_of_known_size_has_room():
    """Room for variables is kept; an estimated one is not there yet."""
    planned = {"variables": Planned(kind="data", bytes=300), "later": Planned(kind="sprite", width=9, height=9, frames=1)}
    lists = _plan({"one": Scene(always=["variables", "later", "a"])}, {"a": 8}, planned)
    (room,) = lists.scenes["one"].rooms
    assert (room.name, room.bytes, room.kind) == ("variables", 300, "room")
    assert [one.asset for one in lists.scenes["one"].common.places] == ["a"]


def test_what_does_not_fit_is_refused_with_the_bytes_that_are_missing():
    """The refusal names the scene and what it lacks."""
    with pytest.raises(ProjectError, match=r"\[scene.one\].*ends at .*, 364 bytes after the last free byte") as caught:
        _plan({"one": Scene(always=["a"]), "two": Scene(always=["b"])}, {"a": 4096, "b": 8})
    assert len(caught.value.problems) == 1


def test_a_scene_that_just_fits_is_planned():
    """To the last free byte, which the refusal above names; a byte more is refused."""
    fits = 4096 - 364
    (room,) = _plan({"one": Scene(always=["a"])}, {"a": fits}).scenes["one"].common.places
    assert room.asset == "a"
    with pytest.raises(ProjectError, match="after the last free byte"):
        _plan({"one": Scene(always=["a"])}, {"a": fits + 1})
