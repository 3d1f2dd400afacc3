"""The budget: sizes, rounding, margins, limits, planned assets."""

from __future__ import annotations

import json
import random

import pytest

from pipeline.joints.facts import (
    BackgroundFacts,
    DataFacts,
    PaletteFacts,
    PoolFacts,
    SpriteFacts,
    StoredFrames,
    StoredPieces,
    StoredSheet,
    write_facts,
)
from pipeline.joints.places import facts_file, facts_files
from pipeline.memory.budget import Room, over_budget, write_budget
from pipeline.memory.budget_text import show_budget
from pipeline.plain.errors import BadAnswer, ProjectError
from pipeline.project.file import Choice, Planned, Scene
from tests.made_facts import made_facts, stored_tiles
from tests.makers import as_budget
from tests.recorded import differing, hash_of


def room(**changes) -> Room:
    """Return a console's memory of 1,000 bytes, or what is asked for."""
    usual = {"memory": 1000, "granularity": 1, "held": {}, "cell": (16, 16), "image": 5000, "head": 100, "limits": {}}
    return Room(**usual | changes)


def budget(
    folder, sizes: dict[str, int], scenes: dict[str, Scene], bundles=None, alignment=1, planned=None, facts=None, needs=None, **changes
):
    """Write facts of some assets and a budget over them; return its content and the line reported."""
    for name, size in sizes.items():
        kind, fields = (facts or {}).get(name, (DataFacts, {}))
        write_facts(facts_file(folder, name), made_facts(kind, name, **{"bytes": size, "unpacked_bytes": size} | fields))
    out = folder / "budget.json"
    arguments = (dict.fromkeys(sizes, alignment), bundles or {}, scenes, planned or {}, needs or {}, room(**changes), {})
    said = write_budget({name: facts_files(folder, name, packed=False) for name in sizes}, {}, {}, out, *arguments)
    return json.loads(out.read_bytes()), said


def part(name: str, count: int, *assets: str) -> dict:
    """Return a part of a case, nothing of it planned or fetched."""
    return {"name": name, "bytes": count, "assets": list(assets), "estimated": [], "fetched": 0}


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
        "version": 2,
        "memory": 1000,
        "held": held,
        "scenes": {
            "play": {
                "bytes": 950,
                "margin": 50,
                "margin_now": 50,
                "chosen": [["duo"]],
                "parts": [part("always", 300, "a"), part("duo", 500, "c", "d")],
                "next": [{"bytes": 850, "chosen": [["b"]]}],
                "limits": {},
                "estimated": 0,
                "overlaps": [],
                "tile_overlaps": [],
                "streamed": [],
                "traffic": None,
            },
            "end": {
                "bytes": 1050,
                "margin": -50,
                "margin_now": -50,
                "chosen": [],
                "parts": [part("always", 900, "a", "b", "c")],
                "next": [],
                "limits": {},
                "estimated": 0,
                "overlaps": [],
                "tile_overlaps": [],
                "streamed": [],
                "traffic": None,
            },
        },
        "image": {"bytes": 1300, "planned": 0, "most": 5000},
        "planned": {},
        "loaded": ["a", "b", "c", "d"],
        "over": ["end"],
        "over_planned": [],
    }
    assert said == "play needs 950 bytes at worst, 50 bytes free; end needs 1 KiB at worst, 50 bytes OVER".replace("1 KiB", "1.0 KiB")
    assert over_budget(as_budget(written)) == "end needs 1.0 KiB at worst, 50 bytes OVER"


@pytest.mark.parametrize(("size", "margin", "over"), [(999, 1, []), (1000, 0, []), (1001, -1, ["play"])])
def test_scene_that_fills_memory_exactly_fits(tmp_path, size, margin, over):
    """The last byte may be used; one more is over, and refuses the kit."""
    written, said = budget(tmp_path, {"a": size}, {"play": Scene(always=["a"])})
    assert (written["scenes"]["play"]["margin"], written["over"]) == (margin, over)
    assert ("OVER" in said) == bool(over)
    assert (over_budget(as_budget(written)) is None) == (not over)


@pytest.mark.parametrize(("most", "over"), [(10, []), (9, ["play"])])
def test_limit_that_is_reached_exactly_is_kept(tmp_path, most, over):
    """Ten palette entries of ten fit, of nine they do not."""
    facts = {"p": (PaletteFacts, {"entry_count": 10})}
    written, _ = budget(tmp_path, {"p": 20}, {"play": Scene(always=["p"])}, facts=facts, limits={"palette_entries": most})
    assert written["over"] == over


def test_part_counts_what_members_share_for_the_first_of_them(tmp_path):
    """The parts add up to the whole: a palette that two members load is counted with the first."""
    bundles = {"ann": ["a", "p"], "bob": ["b", "p"]}
    written, _ = budget(tmp_path, {"a": 7, "b": 6, "p": 2}, {"s": Scene(choose=[Choice(count=2, of=["ann", "bob"])])}, bundles)
    assert written["scenes"]["s"]["parts"] == [
        part("ann", 9, "a", "p"),
        part("bob", 6, "b"),
    ]
    assert over_budget(as_budget(written)) is None


def test_project_without_scenes_says_so(tmp_path):
    """No scene, no number."""
    assert budget(tmp_path, {}, {})[1] == "the project names no scene"


def test_scene_without_a_possible_case_is_refused(tmp_path):
    """The refusal names the scene and what to do."""
    scene = Scene(choose=[Choice(count=2, of=["a", "b"], repeat=False)], never=[["a", "b"]])
    with pytest.raises(ProjectError) as caught:
        budget(tmp_path, {"a": 1, "b": 1}, {"play": scene})
    assert str(caught.value) == (
        "project.toml, [scene.play] never: what is never together leaves no choice\n"
        "    take one out, choose fewer, or allow repeat"
    )


def test_what_is_read_from_the_cartridge_takes_no_memory(tmp_path):
    """300 + 200 without the 400 that stay in the cartridge; chosen members count likewise."""
    scene = Scene(always=["a", "b"], choose=[Choice(count=1, of=["c", "b"])], direct=["b"])
    written, _ = budget(tmp_path, {"a": 300, "b": 400, "c": 200}, {"play": scene})
    assert (written["scenes"]["play"]["bytes"], written["scenes"]["play"]["chosen"]) == (500, [["c"]])


def test_what_stays_packed_counts_as_packed(tmp_path):
    """300 as it is and 90 of the 400 that stay packed."""
    facts = {"b": (DataFacts, {"bytes": 90})}
    scene = Scene(always=["a", "b"], packed=["b"])
    written, _ = budget(tmp_path, {"a": 300, "b": 400}, {"play": scene}, facts=facts)
    assert written["scenes"]["play"]["bytes"] == 390


def test_pool_of_what_is_read_from_the_cartridge_stays_for_a_sprite_in_memory(tmp_path):
    """Both sprites need the pool of 400: with one of them direct it is in memory for the other, with both it is not."""
    needs = {"a": ("pool",), "b": ("pool",)}
    sizes = {"a": 30, "b": 50, "pool": 400}
    for direct, total in (([], 480), (["a"], 450), (["a", "b"], 0), (["a", "pool"], 50)):
        scene = Scene(always=["a"], choose=[Choice(count=1, of=["b"])], direct=direct)
        written, _ = budget(tmp_path, sizes, {"play": scene}, needs=needs)
        assert written["scenes"]["play"]["bytes"] == total, direct


def test_target_limits_have_worst_cases_of_their_own(tmp_path):
    """The pair with most palette entries is not the pair with most bytes; 12 of 10 entries are too many, so the scene is over."""
    facts = {name: (PaletteFacts, {"first": 9 * count, "entry_count": count}) for name, count in (("p", 4), ("q", 8), ("r", 3))}
    scene = Scene(choose=[Choice(count=2, of=["p", "q", "r"])])
    written, said = budget(tmp_path, {"p": 5, "q": 1, "r": 9}, {"play": scene}, facts=facts, limits={"palette_entries": 10})
    play = written["scenes"]["play"]
    assert play["chosen"] == [["p", "r"]]
    assert play["limits"] == {"palette_entries": {"used": 12, "most": 10, "chosen": [["p", "q"]]}}
    assert written["over"] == ["play"]
    assert said == "play needs 14 bytes at worst, 986 bytes free, 2 palette entries OVER"
    (tmp_path / "advice.json").write_text('{"changes": ["less of this saves 3 bytes"]}')
    with pytest.raises(BadAnswer) as caught:
        show_budget(tmp_path / "budget.json", tmp_path / "advice.json")
    assert "  palette entries: 12 of 10, 2 TOO MANY with p, q" in str(caught.value).splitlines()
    assert "What would help most, measured by doing it:\n  less of this saves 3 bytes" in str(caught.value)


def test_cells_are_those_that_each_arrangement_stores(tmp_path):
    """4 frames of 2 x 3 cells as a sheet, 7 cells of trimmed frames, 5 of pieces: 24 + 7 + 5."""
    facts = {
        "sheet": (SpriteFacts, {"frames": 4, "stored": StoredSheet(cells=(2, 3), frame_bytes=6)}),
        "frames": (SpriteFacts, {"frames": 4, "stored": StoredFrames(stored_frames=4, stored_cells=7)}),
        "pieces": (SpriteFacts, {"frames": 4, "stored": StoredPieces(pieces=9, cell_count=5, own_cells=5, pool=None)}),
    }
    sizes = dict.fromkeys(facts, 1)
    written, _ = budget(tmp_path, sizes, {"play": Scene(always=list(facts))}, facts=facts, limits={"cells": 40})
    assert written["scenes"]["play"]["limits"]["cells"] == {"used": 36, "most": 40, "chosen": []}


FIGURES = {
    # 2 frames of 32 x 32 padded pixels in 1,024 bytes, half a byte a pixel; and 4 of them in 2,560, 0.625 bytes a pixel.
    "ann": (SpriteFacts, {"frames": 2, "width": 20, "height": 30, "source_width": 40, "source_height": 60, "scale": (0.5, 0.5)}),
    "bob": (SpriteFacts, {"frames": 4, "width": 20, "height": 30, "source_width": 40, "source_height": 60, "scale": (0.5, 0.5)}),
}


def test_planned_assets_are_estimated_from_those_there_are(tmp_path):
    """3,584 bytes for 6,144 pixels; 3 frames of 48 x 32 are 4,608 pixels, so 2,688 bytes. Off by 25 % on ann, 20 % on bob."""
    planned = {"cat": Planned(kind="sprite", width=90, height=60, frames=3, count=2)}
    scene = Scene(always=["ann"], choose=[Choice(count=2, of=["bob", "cat"], repeat=False)])
    sizes = {"ann": 1024, "bob": 2560}
    written, said = budget(tmp_path, sizes, {"play": scene}, planned=planned, facts=FIGURES, memory=10_000)
    assert written["planned"] == {"cat": {"count": 2, "bytes": 2688, "from_assets": ["ann", "bob"], "error": 0.25}}
    play = written["scenes"]["play"]
    assert (play["chosen"], play["bytes"], play["estimated"]) == ([["cat 1", "cat 2"]], 1024 + 2 * 2688, 2 * 2688)
    assert play["parts"][1] == {"name": "cat 1", "bytes": 2688, "assets": ["cat 1"], "estimated": ["cat 1"], "fetched": 0}
    assert written["image"] == {"bytes": 100 + 3584, "planned": 2 * 2688, "most": 5000}
    assert said == "play needs 6.2 KiB at worst, 3.5 KiB free (5.2 KiB of it estimated)"
    answer = show_budget(tmp_path / "budget.json", tmp_path / "advice.json")
    assert "Planned cat: 2 of 2.6 KiB each, estimated from ann, bob; off by at most 25.0% on those" in answer
    assert "Image: 3.6 KiB, and 5.2 KiB planned, of 4.9 KiB, 4.0 KiB MORE than the cartridge holds" in answer


def test_planned_asset_like_another_takes_its_size(tmp_path):
    """Like bob: the same frames and size, so bob's own bytes; with twice the frames twice as many."""
    planned = {"cat": Planned(kind="sprite", like="bob"), "dan": Planned(kind="sprite", like="bob", frames=8)}
    scene = Scene(always=["cat", "dan"])
    written, _ = budget(tmp_path, {"ann": 1024, "bob": 2560}, {"play": scene}, planned=planned, facts=FIGURES, memory=10_000)
    assert [one["bytes"] for one in written["planned"].values()] == [2560, 5120]
    assert written["scenes"]["play"]["bytes"] == 7680


def test_planned_asset_like_one_with_a_pool_brings_its_cells(tmp_path):
    """Bob's 600 bytes and his 10 of the pool's 40 cells, 10,240 bytes in all: 600 + 2,560, not 600 alone."""
    pooled = {"stored": StoredPieces(pieces=12, cell_count=40, own_cells=10, pool="crowd")}
    facts = {"bob": (SpriteFacts, FIGURES["bob"][1] | pooled), "crowd": (PoolFacts, {"cell_count": 40})}
    planned = {"cat": Planned(kind="sprite", like="bob")}
    sizes = {"bob": 600, "crowd": 10_240}
    written, _ = budget(tmp_path, sizes, {"play": Scene(always=["cat"])}, planned=planned, facts=facts, memory=20_000)
    assert written["planned"]["cat"]["bytes"] == 3160


def test_planned_asset_without_anything_to_go_by_is_refused(tmp_path):
    """Width is missing where nothing is named by like."""
    with pytest.raises(ProjectError, match=r"\[planned.cat\] frames: is missing"):
        budget(tmp_path, {"ann": 1}, {}, planned={"cat": Planned(kind="sprite", width=9, height=9)}, facts=FIGURES)


def test_sprite_brings_its_pool_which_counts_once(tmp_path):
    """Two sprites of one pool need it once, whether they are named alone or in a bundle; a third without it does not."""
    sizes = {"ann": 7, "bob": 6, "cyd": 5, "crew": 100}
    scenes = {
        "both": Scene(always=["ann", "bob"]),
        "named": Scene(always=["crew", "ann"]),
        "chosen": Scene(choose=[Choice(count=2, of=["ann", "duo", "cyd"])]),
        "alone": Scene(always=["cyd"]),
    }
    written, _ = budget(tmp_path, sizes, scenes, {"duo": ["bob"]}, needs={"ann": ("crew",), "bob": ("crew",)})
    assert {name: scene["bytes"] for name, scene in written["scenes"].items()} == {"both": 113, "named": 107, "chosen": 113, "alone": 5}
    assert written["scenes"]["chosen"]["parts"] == [
        part("ann", 107, "ann", "crew"),
        part("duo", 6, "bob"),
    ]


def test_what_is_planned_refuses_no_kit(tmp_path):
    """600 now and 500 planned in 1,000: over as planned, so the budget fails, but a kit can be made."""
    scene, planned = Scene(always=["a", "cat"]), {"cat": Planned(kind="data", bytes=500)}
    written, _ = budget(tmp_path, {"a": 600}, {"play": scene}, planned=planned)
    assert (written["scenes"]["play"]["margin"], written["scenes"]["play"]["margin_now"]) == (-100, 400)
    assert (written["over"], written["over_planned"], over_budget(as_budget(written))) == ([], ["play"], None)
    (tmp_path / "advice.json").write_text('{"changes": []}')
    with pytest.raises(BadAnswer, match="Without what is planned play fits, so a kit can be made."):
        show_budget(tmp_path / "budget.json", tmp_path / "advice.json")


def test_palettes_that_may_meet_in_the_console_are_reported(tmp_path):
    """Entries 0 to 15 twice: reported where both may be loaded, not where one is chosen, they exclude each other, or they are apart."""
    facts = {name: (PaletteFacts, {"first": first, "entry_count": 16}) for name, first in (("a", 0), ("b", 8), ("c", 16))}
    sizes = dict.fromkeys(facts, 32)
    scenes = {
        "both": Scene(always=["a"], choose=[Choice(count=1, of=["b", "c"])]),
        "pair": Scene(choose=[Choice(count=2, of=["a", "b"])]),
        "one": Scene(choose=[Choice(count=1, of=["a", "b"])]),
        "never": Scene(choose=[Choice(count=2, of=["a", "b", "c"])], never=[["a", "b"], ["b", "c"]]),
        "apart": Scene(always=["a", "c"]),
    }
    written, _ = budget(tmp_path, sizes, scenes, facts=facts)
    found = {name: scene["overlaps"] for name, scene in written["scenes"].items()}
    assert found == {"both": [["a", "b"]], "pair": [["a", "b"]], "one": [], "never": [], "apart": []}
    answer = show_budget(tmp_path / "budget.json", tmp_path / "advice.json")
    assert answer.count("palettes a and b fill the same entries") == 2


def palettes_of_a_family() -> dict:
    """Facts of a palette of 12 entries, two variants in its place, one at 256, one that begins inside it, and a palette of 9."""
    own = {"variant_of": "day", "entry_count": 12}
    facts = {"day": {"entry_count": 12}, "night": own | {"in_place": True}, "dusk": own | {"in_place": True}}
    facts |= {"apart": own | {"first": 256}, "inside": own | {"first": 4}, "other": {"first": 100, "entry_count": 9}}
    return {name: (PaletteFacts, {"first": 0} | fields) for name, fields in facts.items()}


_FAMILY = [
    (Scene(always=["night"]), 12),
    (Scene(always=["day"]), 12),
    (Scene(always=["day", "night", "dusk"]), 12),
    (Scene(always=["night", "apart"]), 24),
    (Scene(choose=[Choice(count=2, of=["night", "dusk", "other"])]), 21),
    (Scene(always=["other"], choose=[Choice(count=1, of=["night", "lamp"])]), 21),
]


@pytest.mark.parametrize(("scene", "used"), _FAMILY)
def test_entries_of_a_palette_and_its_variants_count_once_where_any_is_loaded(tmp_path, scene, used):
    """Whichever of them a scene loads, 12 entries are taken; a variant with a place of its own takes 12 more."""
    facts = palettes_of_a_family()
    sizes = dict.fromkeys(facts, 32)
    written, _ = budget(tmp_path, sizes, {"play": scene}, {"lamp": ["dusk"]}, facts=facts, limits={"palette_entries": 20})
    play = written["scenes"]["play"]
    assert play["limits"]["palette_entries"]["used"] == used
    assert written["over"] == (["play"] if used > 20 else [])
    assert play["bytes"] == 32 * len({one for part in play["parts"] for one in part["assets"]}), "in memory each variant counts"


def test_variants_that_begin_elsewhere_are_compared_with_their_palette(tmp_path):
    """Entries 0 to 11, and 4 to 15 of a variant of it: the later one spoils the other. In one place they are meant to."""
    facts = palettes_of_a_family()
    written, _ = budget(tmp_path, dict.fromkeys(facts, 32), {"play": Scene(always=list(facts))}, facts=facts)
    assert written["scenes"]["play"]["overlaps"] == [["day", "inside"], ["night", "inside"], ["dusk", "inside"]]


def test_backgrounds_that_may_meet_in_the_tile_memory_are_reported(tmp_path):
    """Tiles 0 to 376 and 300 to 457: reported where both may be loaded on a console with a tile unit, and nowhere else."""
    spans = {"far": (0, 377), "dyke": (300, 158), "marsh": (400, 300)}
    facts = {name: (BackgroundFacts, {"stored": stored_tiles(count, first)}) for name, (first, count) in spans.items()}
    facts["title"] = (BackgroundFacts, {})  # a bitmap
    scenes = {
        "both": Scene(always=["far", "title"], choose=[Choice(count=1, of=["dyke", "marsh"])]),
        "apart": Scene(always=["far", "marsh"]),
    }
    written, _ = budget(tmp_path, dict.fromkeys(facts, 32), scenes, facts=facts, tile_unit=True)
    assert {name: scene["tile_overlaps"] for name, scene in written["scenes"].items()} == {"both": [["far", "dyke"]], "apart": []}
    answer = show_budget(tmp_path / "budget.json", tmp_path / "advice.json")
    assert answer.count("backgrounds far and dyke number the same tiles") == 1
    written, _ = budget(tmp_path, dict.fromkeys(facts, 32), scenes, facts=facts)
    assert written["scenes"]["both"]["tile_overlaps"] == []


@pytest.mark.parametrize(("members", "listed"), [(1, 0), (3, 2), (4, 3), (5, 3), (9, 3)])
def test_three_further_cases_are_listed(tmp_path, members, listed):
    """The ones that need most after the worst, as many as there are, three at most."""
    sizes = {f"a{rank}": 10 * (rank + 1) for rank in range(members)}
    written, _ = budget(tmp_path, sizes, {"play": Scene(choose=[Choice(count=1, of=list(sizes))])})
    further = [one["bytes"] for one in written["scenes"]["play"]["next"]]
    assert further == sorted(sizes.values(), reverse=True)[1 : 1 + listed]


def test_budgets_are_those_they_were(tmp_path):
    """Twenty made by chance: what they hold and what is said of them; no outside source. If a change is meant: see ``tests.recorded``."""
    found = {}
    for seed in range(20):
        chance = random.Random(seed)
        sizes = {f"a{rank}": chance.choice((0, 3, 40, 100, 333)) + rank for rank in range(chance.randint(2, 9))}
        names = list(sizes)
        bundles = {f"b{rank}": chance.sample(names, chance.randint(1, len(names))) for rank in range(chance.randint(0, 3))}
        planned = {"coming": Planned(kind="data", bytes=chance.choice((10, 500)))} if chance.random() < 0.4 else {}
        members = [*names, *bundles, *planned]
        scenes = {
            f"s{rank}": Scene(
                always=chance.sample(members, chance.randint(0, 2)),
                choose=[
                    Choice(count=chance.randint(1, 2), of=chance.sample(members, chance.randint(2, len(members))))
                    for _ in range(chance.randint(0, 2))
                ],
                direct=chance.sample(names, 1) if chance.random() < 0.3 else [],
            )
            for rank in range(chance.randint(1, 3))
        }
        held = {"screen": 100, "stack": 7} if chance.random() < 0.5 else {}
        more = {"memory": chance.choice((150, 500, 1000)), "granularity": chance.choice((1, 1, 16)), "image": chance.choice((400, 5000))}
        written, said = budget(tmp_path, sizes, scenes, bundles, planned=planned, held=held, **more)
        (tmp_path / "advice.json").write_text(json.dumps({"changes": ["pack a1 saves 9 bytes"][: seed % 2]}))
        try:
            shown = show_budget(tmp_path / "budget.json", tmp_path / "advice.json")
        except BadAnswer as answer:
            shown = str(answer)
        found[f"{seed}"] = hash_of(json.dumps(written).encode(), said.encode(), shown.encode())
    assert differing("budgets", found) == set()
