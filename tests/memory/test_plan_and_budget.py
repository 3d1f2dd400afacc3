"""The plan of load lists and the budget count the same bytes in every case of a scene, whatever is streamed. By enumeration, no source."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from pipeline.joints.budget import SceneChoices
from pipeline.joints.facts import BackgroundFacts, DataFacts, Facts, PoolFacts, SpriteFacts
from pipeline.joints.fetched import Frames
from pipeline.joints.lists import ChoicePlan, Lists, ScenePlan
from pipeline.memory.budget import Fetching, count_scenes
from pipeline.memory.loaded import Sizes
from pipeline.memory.loads import Memory, make_lists
from pipeline.memory.streaming import Measured, scene_streams
from pipeline.plain.sizes import round_up
from pipeline.project.file import Choice, Planned, Scene, SceneWindow, Streamed
from pipeline.target.records import Area
from tests.conftest import tries
from tests.made_facts import made_facts
from tests.memory.test_budget import room
from tests.memory.test_streaming import background, frames, played
from tests.memory.test_windows import pixel_format

SPRITES, GROUNDS, DATA = "abcd", ("quay", "pier"), ("tune", "map")
BUNDLES = {"crew": ["a", "tune"], "pair": ["b", "c"], "view": ["quay", "map"]}
NAMES = [*SPRITES, *GROUNDS, *DATA, *BUNDLES, "later"]
PLANNED_BYTES = 37  # of what has room where it is loaded, and no place in the plan
PLANNED = {"later": Planned(kind="data", bytes=PLANNED_BYTES)}
NEEDS = {"a": ("cells",), "b": ("cells",)}
MOST = 1 << 20


@st.composite
def projects(draw):
    """Draw a scene over four sprites, two of which share a pool, two backgrounds, two other assets, and something planned."""
    sprites: dict[str, Frames] = {}
    for name in SPRITES:
        each = draw(st.lists(st.lists(st.integers(1, 60), min_size=1, max_size=3), min_size=1, max_size=3))
        sprites[name] = frames(draw(st.integers(1, 40)), *each, animations=(tuple(range(len(each))),))
    facts: dict[str, Facts] = {}
    for name, one in sprites.items():
        moves = played((True, [(rank, 2) for rank in range(len(one.frames))]))
        whole = one.tables + (0 if name in NEEDS else sum(fetch.bytes for fetch in one.frames))
        facts[name] = made_facts(SpriteFacts, name, animations=moves, bytes=whole, unpacked_bytes=whole)
    facts |= {"cells": made_facts(PoolFacts, "cells", bytes=300, unpacked_bytes=300)}
    for name in GROUNDS:
        facts |= background(name, size=(draw(st.sampled_from((48, 96))), 48))
    for name in DATA:
        size = draw(st.integers(1, 90))
        stored = draw(st.booleans())
        made = {"bytes": size if stored else size // 2 + 1, "unpacked_bytes": size, "codec": "stored" if stored else "lz4"}
        facts[name] = made_facts(DataFacts, name, **made)
    members = st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True)
    choose = []
    for _ in range(draw(st.integers(0, 2))):
        of, count = draw(members), draw(st.integers(1, 3))
        choose.append(Choice(count=count, of=of, repeat=draw(st.booleans()) or count > len(of)))
    always = draw(st.lists(st.sampled_from(NAMES), max_size=2, unique=True))
    loads = {asset for name in (*always, *(one for choice in choose for one in choice.of)) for asset in BUNDLES.get(name, [name])}
    said = st.builds(
        Streamed, buffers=st.integers(1, 3), unit=st.sampled_from(("frame", "animation")), role=st.sampled_from(("", "", "hero", "spark"))
    )
    streamed = {name: draw(said) for name in sorted(loads & set(SPRITES)) if draw(st.booleans())}
    window = {
        name: SceneWindow(margin=draw(st.integers(0, 5)), speed=(2, 1)) for name in sorted(loads & set(GROUNDS)) if draw(st.booleans())
    }
    rest = sorted(loads - streamed.keys() - window.keys() - {"later"})
    direct = [name for name in rest if draw(st.integers(0, 4)) == 0]
    packed = [name for name in rest if name in DATA and name not in direct and draw(st.booleans())]
    roles = dict.fromkeys(one.role for one in streamed.values() if one.role)
    sets = {role: draw(st.integers(1, 3)) for role in roles if draw(st.booleans())}
    scene = Scene(always=always, choose=choose, direct=direct, packed=packed, streamed=streamed, sets=sets, window=window)
    return scene, sprites, facts, draw(st.sampled_from((4, 8, 32))), draw(st.sets(st.sampled_from((*SPRITES, *GROUNDS, *DATA)), max_size=2))


def _plan(scene: Scene, sprites: dict[str, Frames], facts: dict[str, Facts], granularity: int, away: set[str]) -> Lists:
    unpacked = {name: one.unpacked_bytes for name, one in facts.items()}
    packed = {name: one.bytes for name, one in facts.items() if one.codec != "stored"}
    sizes = Sizes(unpacked, packed, dict.fromkeys(facts, 4), {"later": PLANNED_BYTES}, granularity, frozenset(away))
    known = Measured(sprites, {}, dict.fromkeys(GROUNDS, pixel_format()), (16, 16), {name: sizes.step(name) for name in facts})
    streams = {"play": scene_streams("play", scene, BUNDLES, facts, known)}
    memory = Memory(base=0, bytes=MOST, granularity=granularity, reserved=[], buffers=[], buffer_alignment=1)
    return make_lists(sizes, BUNDLES, (), {"play": scene}, PLANNED, NEEDS, memory, streams)


Way = tuple[ChoicePlan | None, Counter[str]]  # a choice's slots, None where each member has its own place; and how often each is chosen


def _ways(scene: Scene, plan: ScenePlan, away: set[str]) -> list[list[Way]]:
    """Return what each choice may hold; all members once where each has its own place, as none has buffers for each time it is chosen."""
    left, found = list(plan.choices), []
    parts = {*scene.streamed, *scene.window} - away
    for choice in scene.choose:
        of = list(dict.fromkeys(choice.of))
        again = choice.repeat and choice.count > 1 and any(parts.intersection(BUNDLES.get(name, [name])) for name in of)
        if choice.count < len(of) or again:
            slots = left.pop(0)
            assert ([group.name for group in slots.members], len(slots.slots)) == (of, choice.count)
            pick = itertools.combinations_with_replacement if choice.repeat else itertools.combinations
            found.append([(slots, Counter(way)) for way in pick(of, choice.count)])
        else:
            found.append([(None, Counter(of))])
    assert not left
    return found


def _case_bytes(scene: Scene, plan: ScenePlan, way: tuple[Way, ...], steps: dict[str, int]) -> int:
    """Return the bytes of one case: each asset of it once, buffers each time, those that a role shares as often as it has use for."""
    places = {one.asset: one.bytes for one in plan.common.places} | {"later": PLANNED_BYTES}
    shared = {one.asset: one for one in plan.common.buffers if scene.streamed.get(one.asset, Streamed()).role in scene.sets}
    buffers = sum(one.sets * one.set_bytes for one in plan.common.buffers if one.asset not in shared)
    there = Counter({asset for name in scene.always for asset in BUNDLES.get(name, [name])})
    for choice, chosen in way:
        groups = {one.name: one for one in choice.members} if choice else {}
        for name, times in chosen.items():
            there.update(dict.fromkeys(BUNDLES.get(name, [name]), times))
            if choice:
                places |= {one.asset: one.bytes for one in groups[name].places}
                buffers += times * sum(one.sets * one.set_bytes for one in groups[name].buffers)
    for role in dict.fromkeys(scene.streamed[name].role for name in shared):
        mine = [name for name in shared if scene.streamed[name].role == role]
        buffers += min(sum(there[name] for name in mine), shared[mine[0]].sets) * shared[mine[0]].set_bytes
    whole = [name for name in there if name not in scene.streamed]
    loaded = {*there, *(one for name in whole for one in NEEDS.get(name, ()))}
    return sum(round_up(count, steps[asset]) for asset, count in places.items() if asset in loaded) + buffers


@settings(deadline=None, max_examples=tries(100, 1000), suppress_health_check=[HealthCheck.too_slow])
@given(projects())
def test_worst_case_of_the_plan_is_that_of_the_budget(drawn):
    """All ways to fill the slots of a plan; tables, buffers and windows of each asset are those of the budget too."""
    scene, sprites, facts, granularity, away = drawn
    assume(all(_parts(facts[name], said) for name, said in scene.window.items()))
    plan = _plan(scene, sprites, facts, granularity, away).scenes["play"]
    given_: dict[str, Any] = {"areas": {"far": Area(size=MOST, granularity=granularity)}, "loaded_to": dict.fromkeys(sorted(away), "far")}
    counted_scenes, choices = count_scenes(
        facts, Fetching(sprites, {}), dict.fromkeys(facts, 4), BUNDLES, {"play": scene}, PLANNED, NEEDS,
        room(memory=MOST, granularity=granularity, **given_), dict.fromkeys(GROUNDS, pixel_format()),
    )  # fmt: skip
    budget = counted_scenes.scenes["play"]
    assert max(_added(choices["play"], chosen) for chosen in _all_chosen(choices["play"])) == budget.bytes
    steps = dict.fromkeys([*facts, "later"], granularity)
    counted = max(_case_bytes(scene, plan, way, steps) for way in itertools.product(*_ways(scene, plan, away)))
    assert counted == budget.bytes
    assert plan.top >= counted
    places = {one.asset: one for group in plan.groups() for one in group.places}
    buffers = {one.asset: one for group in plan.groups() for one in group.buffers}
    for one in budget.streamed:
        if one.name in away:
            assert not {one.name} & (places.keys() | buffers.keys())
            continue
        held = buffers[one.name]
        assert (round_up(places[one.name].bytes, granularity), bool(places[one.name].spans)) == (one.tables, True)
        assert (held.count, held.bytes, held.window is not None) == (one.buffers, one.buffer, one.how == "window")
        assert held.count * held.bytes <= held.set_bytes == one.bytes


def _all_chosen(made: SceneChoices) -> Iterator[list[str]]:
    """Yield every case of a scene as the names of its members, one as often as it is chosen."""
    ways = []
    for one in made.choices:
        pick = itertools.combinations_with_replacement if one.repeat else itertools.combinations
        ways.append(list(pick(one.members, one.count if one.repeat else min(one.count, len(one.members)))))
    for way in itertools.product(*ways):
        names = [name for some in way for name in some]
        if not any({*never} <= {*names} for never in made.never):
            yield names


def _added(made: SceneChoices, names: list[str]) -> int:
    """Return the bytes of a case, as ``joints.budget`` says it is added up."""
    loads = {name: assets for one in made.choices for name, assets in one.members.items()}
    there = {*made.always, *(asset for name in names for asset in loads[name])}
    total, roles = sum(made.sizes.get(asset, 0) for asset in there), Counter[str]()
    pairs = [*made.each_always, *(pair for name in names for pair in made.each.get(name, []))]
    for role, amount in sorted(pairs, key=lambda pair: -pair[1]):
        roles[role] += 1
        total += amount if role not in made.most or roles[role] <= made.most[role] else 0
    return total


def _parts(facts: Facts, said: SceneWindow) -> bool:
    """Return whether a window leaves something of its background out; the budget refuses others."""
    assert isinstance(facts, BackgroundFacts)
    size, seen = facts.forms.size, facts.window
    return any(part + 2 * said.margin < whole for part, whole in zip(seen, size, strict=True))
