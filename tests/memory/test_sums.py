"""What scenes may hold together, what assets use, and what planned ones would take, against sums written out; looks and bars as they were.

No outside source for what is recorded: if a change is meant, see ``tests.recorded``.
"""

from __future__ import annotations

import itertools
import math
import random
from fractions import Fraction
from typing import Any

import msgspec
import pytest

from pipeline.joints import facts as records
from pipeline.joints.budget import ImageNeed, Limit, PlannedNeed
from pipeline.memory import budget_text
from pipeline.memory.largest import Look, largest_scale
from pipeline.memory.members import Members
from pipeline.memory.overlaps import overlapping, overlapping_tiles
from pipeline.memory.planned import estimate, member_names
from pipeline.memory.scenes import Group
from pipeline.memory.usage import CARRIED, HARDWARE, LIMITS, place_of, places, usage
from pipeline.plain.errors import ProjectError
from pipeline.project.file import Choice, Planned, Scene
from tests.limits import recorded
from tests.made_facts import made_facts, stored_tiles
from tests.makers import as_budget, budget_json
from tests.recorded import differing


def palette(name: str, first: int, count: int, variant_of: str | None = None) -> records.PaletteFacts:
    return made_facts(records.PaletteFacts, name, first=first, entry_count=count, variant_of=variant_of)


def ever_together(one: str, other: str, always: frozenset[str], groups: list[Group], never: list[frozenset[str]]) -> bool:
    """Return whether two assets are loaded in some choice of members, by going through all choices of one or two of each group."""
    ways = [
        [(), *itertools.combinations(group.members, 1), *(itertools.combinations(group.members, 2) if group.count > 1 else ())]
        for group in groups
    ]
    for chosen in itertools.product(*ways):
        names = set(itertools.chain(*chosen))
        assets = always.union(*(group.members[name] for group, some in zip(groups, chosen, strict=True) for name in some))
        if {one, other} <= assets and not any(some <= names for some in never):
            return True
    return False


def test_what_may_meet():
    """Palettes that share an entry and backgrounds that share a tile, of scenes made by chance; side by side is not shared."""
    for seed in range(60):
        chance = random.Random(seed)
        spans = {f"p{rank}": (chance.randrange(5), chance.randint(1, 4)) for rank in range(4)}
        assets = [*spans, "x"]
        groups = [
            Group(chance.randint(1, 2), {f"m{rank}{one}": frozenset(chance.sample(assets, 2)) for one in range(3)}) for rank in range(2)
        ]
        members = [name for group in groups for name in group.members]
        never = [frozenset(chance.sample(members, 2)) for _ in range(chance.randint(0, 3))]
        always = frozenset(chance.sample(assets, chance.randint(0, 2)))
        facts = {name: palette(name, *span) for name, span in spans.items()} | {"x": made_facts(records.DataFacts, "x")}
        tiled = {name: made_facts(records.BackgroundFacts, name, stored=stored_tiles(many, first)) for name, (first, many) in spans.items()}
        expected = [
            [one, other] for one, other in itertools.combinations(spans, 2)
            if {*range(spans[one][0], sum(spans[one]))} & {*range(spans[other][0], sum(spans[other]))}
            and ever_together(one, other, always, groups, never)
        ]  # fmt: skip
        assert overlapping(always, groups, never, facts) == expected
        assert overlapping_tiles(always, groups, never, tiled) == expected
    both = frozenset({"a", "b"})
    family = {"a": palette("a", 0, 4), "b": palette("b", 0, 4, "a")}
    assert overlapping(both, [], [], family) == []
    assert overlapping(both, [], [], family | {"b": palette("b", 1, 4, "a")}) == [["a", "b"]]
    assert place_of(family["b"]) == ("a", 0)
    assert places("palette_entries", family) == {"a": "a from 0", "b": "a from 0"}
    assert places("cells", family) == places("video", family) == {}


def test_what_each_kind_uses():
    """Entries of palettes, cells by how they are stored, video memory of what is drawn; nothing else."""
    sheet, boxed = records.StoredSheet(cells=(3, 2), frame_bytes=64), made_facts(records.SpriteFacts, frames=5)
    kinds = {
        "sheet": (msgspec.structs.replace(boxed, stored=sheet), 30, 64), "bitmap": (made_facts(records.BackgroundFacts), 0, 64),
        "tiles": (made_facts(records.BackgroundFacts, stored=stored_tiles(7)), 7, 64),
        "pool": (made_facts(records.PoolFacts, cell_count=9), 9, 64), "font": (made_facts(records.FontFacts), 0, 64),
        "sound": (made_facts(records.SoundFacts), 0, 0), "data": (made_facts(records.DataFacts), 0, 0),
        "level": (made_facts(records.LevelFacts), 0, 0), "palette": (palette("a", 3, 12), 0, 0),
    }  # fmt: skip
    for name, (facts, cells, video) in kinds.items():
        loaded = [limit for limit in LIMITS if limit not in (*CARRIED, *HARDWARE)]
        assert [usage(limit, facts) for limit in loaded] == [12 if name == "palette" else 0, cells, video], name


CELL = (8, 16)


def taken(width: int, height: int, frames: int = 1) -> int:
    return math.ceil(width / CELL[0]) * CELL[0] * math.ceil(height / CELL[1]) * CELL[1] * frames


def facts_of(kind: str, width: int, height: int, frames: int, size: int) -> Any:
    if kind == "sound":
        return made_facts(records.SoundFacts, seconds=width / 8, unpacked_bytes=size)
    shape: dict[str, Any] = {"width": width, "height": height, "unpacked_bytes": size}
    if kind == "level":
        return made_facts(records.LevelFacts, **shape)
    shape |= {"source_width": 2 * width + 1, "source_height": 2 * height, "scale": (0.5, 0.5)}
    return made_facts(records.SpriteFacts, frames=frames, **shape) if kind == "sprite" else made_facts(records.BackgroundFacts, **shape)


def measure_of(kind: str, width: int, height: int, frames: int) -> Fraction:
    if kind in ("sound", "level"):
        return Fraction(str(width / 8)) if kind == "sound" else Fraction(width * height)
    return Fraction(taken(width, height, frames if kind == "sprite" else 1))


@pytest.mark.parametrize("kind", ["sprite", "background", "sound", "level"])
def test_estimates_by_plain_sums(kind):
    """The measure of what is to come times the bytes a unit took in those there are; the error of guessing each from the others."""
    for seed in range(12):
        chance = random.Random(seed)
        shapes = {f"a{rank}": tuple(chance.randint(*ends) for ends in ((1, 40), (1, 40), (1, 5), (50, 5000))) for rank in range(3)}
        known = {name: facts_of(kind, *shape) for name, shape in shapes.items()} | {"other": made_facts(records.DataFacts, "other")}
        measures = {name: measure_of(kind, *shape[:3]) for name, shape in shapes.items()}

        def rate(names: list[str], shapes=shapes, measures=measures) -> Fraction:
            return Fraction(sum(shapes[name][3] for name in names)) / sum(measures[name] for name in names)

        wide, high, many, scale = chance.randint(1, 99), chance.randint(1, 99), chance.randint(1, 6), chance.choice((None, 0.5, 0.77, 2.0))
        if kind == "sound":
            planned, measure = Planned(kind=kind, seconds=wide / 10), Fraction(str(wide / 10))
        elif kind == "level":
            planned, measure = Planned(kind=kind, width=wide, height=high), Fraction(wide * high)
        else:
            factor = Fraction(str(scale or 0.5))
            size = math.ceil(wide * factor), math.ceil(high * factor)
            if kind == "sprite":
                size = 2 * math.floor(wide * factor / 2 + Fraction(1, 2)), math.floor(high * factor + Fraction(1, 2))
            planned = Planned(kind=kind, width=wide, height=high, scale=scale, **({"frames": many} if kind == "sprite" else {}))
            measure = Fraction(taken(max(1, size[0]), max(1, size[1]), many if kind == "sprite" else 1))
        made = estimate("next", planned, known, CELL)
        names = list(shapes)
        errors = []
        for name in names:
            guess = math.ceil(measures[name] * rate([other for other in names if other != name]))
            errors.append(abs(Fraction(guess - shapes[name][3], shapes[name][3])))
        assert (made.bytes, made.from_assets, made.error) == (math.ceil(measure * rate(names)), tuple(names), round(float(max(errors)), 4))
        alike = estimate("next", Planned(kind=kind, like="a1"), known, CELL)
        source = {"sprite": (known["a1"].source_width, known["a1"].source_height)} if kind == "sprite" else {}
        if not source:
            assert kind == "background" or alike.bytes == shapes["a1"][3]
        assert (alike.from_assets, alike.error) == (("a1",), None)
    assert estimate("next", Planned(kind=kind, bytes=77), {}, CELL).bytes == 77
    for wrong, said in ((known, "is missing"), ({}, "there is no converted")):
        if kind != "sound" or not wrong:
            with pytest.raises(ProjectError, match=said):
                estimate("next", Planned(kind=kind, **({"seconds": 1.0} if kind == "sound" else {})), wrong, CELL)


def test_names_of_members():
    """One by its own name, several with numbers; bundles and needs; what is read from the cartridge and what it shares."""
    named = [member_names("x", Planned(kind="data", bytes=1, count=count)) for count in (1, 2, 3)]
    assert named == [["x"], ["x 1", "x 2"], ["x 1", "x 2", "x 3"]]
    planned = {"new": Planned(kind="data", bytes=1, count=2)}
    members = Members({"pack": ["ada", "new"]}, planned, {"ada": ("pool",), "ben": ("pool",)})
    assert members.loads("pack") == {"ada", "pool", "new 1", "new 2"}
    assert members.loads("new 1") == {"new 1"}
    scene = Scene(always=["ben"], choose=[Choice(count=2, of=["pack", "new", "ada"], repeat=False)], direct=["ada"], never=[["ada", "new"]])
    assert members.always(scene) == {"ben", "pool"}
    assert members.direct(scene) == {"ada"}
    assert members.direct(msgspec.structs.replace(scene, always=["new"], choose=[])) == {"ada", "pool"}
    (group,) = members.groups(scene)
    assert (group.count, group.repeat, list(group.members)) == (2, False, ["pack", "new 1", "new 2", "ada"])
    assert members.never(scene) == [{"ada", "new 1"}, {"ada", "new 2"}]
    assert members.packed(msgspec.structs.replace(scene, packed=["pack"])) == {"ada", "pool", "new 1", "new 2"}


def test_scales_are_looked_at_in_the_same_order():
    """Few looks, each of which converts everything: which, from several starts, where sizes grow by steps or are too large to be made."""
    found = {}
    for start, full, room, cell in itertools.product((5, 33, 100), (300, 2000, 9000), (400, 1500), (1, 16)):
        looked: list[int] = []

        def look(at: int, looked=looked, full=full, room=room, cell=cell) -> Look:
            looked.append(at)
            side = -(-160 * at // 100 // cell) * cell
            scaled = full * side * side // 160**2
            return Look(None if at > 90 and full == 9000 else scaled + 100 - room, scaled)

        seen = largest_scale(look, start, 95 if cell == 1 else 100) if start <= 95 or cell > 1 else {}
        assert sorted(looked) == sorted(seen)
        found[f"{start}, {full}, {room}, {cell}"] = " ".join(map(str, looked))
    assert differing("scales looked at", found) == set()


def shown(margin: int) -> str:
    scene = {
        "bytes": 4096 - margin, "margin": margin, "margin_now": margin,
        "parts": [{"name": "always", "bytes": 900, "assets": ["a"], "estimated": []}],
        "limits": {"cells": {"used": 500 - margin // 10, "most": 450, "chosen": [["a", "b"]]}},
    }  # fmt: skip
    return "\n".join(budget_text._scene("play", as_budget(budget_json({"play": scene})).scenes["play"], as_budget(budget_json({}))))


BARS = {
    "bar": (lambda count: budget_text._bar(count, 4096), 0, 9000), "bar of little": (lambda count: budget_text._bar(count, 7), 0, 20),
    "room that is left": (lambda margin: " ".join(line[:28] for line in shown(margin).splitlines()), -400, 600),
    "image": (lambda used: budget_text._image(ImageNeed(bytes=used, planned=3, most=900))[-30:], 890, 905),
    "planned": (
        lambda count: budget_text._planned({"x": PlannedNeed(count=count, bytes=5, from_assets=["a"] * (count % 3), error=0.1)})[0], 1, 6
    ),
    "limit": (lambda used: Limit(used=used, most=4, chosen=[]).passed, 0, 9),
    "members": (lambda many: budget_text._with([[f"member{rank}" for rank in range(many)]]), 0, 20),
}  # fmt: skip


def test_words_and_bars():
    """Where a line about a budget changes as a number grows."""
    assert recorded("limits of budget lines", BARS) == set()
