"""What scenes hold in part: the budget against adding up every case, and against a program that plays and moves tick by tick."""

from __future__ import annotations

import itertools
import re
import tomllib
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.joints.budget import Budget, write_budget_file
from pipeline.joints.facts import Animation, BackgroundFacts, PoolFacts, SpriteFacts, StoredBitmap
from pipeline.joints.fetched import Fetch, Frames, Windows, WindowTiles
from pipeline.memory.budget import Fetching, count_scenes
from pipeline.memory.budget_text import show_budget
from pipeline.plain.errors import BadAnswer, ProjectError
from pipeline.project.file import Choice, Scene, SceneWindow, Streamed
from pipeline.target.records import Area, Transfer
from tests.conftest import tries
from tests.made_facts import made_facts, stored_tiles
from tests.memory.test_budget import room
from tests.memory.test_windows import pixel_format


def frames(tables: int, *fetches: list[int], animations: tuple[tuple[int, ...], ...] = ()) -> Frames:
    """Return a sprite of these runs for each frame; a cell for each 8 bytes. An animation's runs are those of its frames."""
    each = [Fetch(runs=runs, cells=sum(runs) // 8) for runs in fetches]
    whole = [[run for frame in dict.fromkeys(one) for run in fetches[frame]] for one in animations]
    return Frames(version=1, tables=tables, frames=each, animations=[Fetch(runs=runs, cells=sum(runs) // 8) for runs in whole])


def played(*animations: tuple[bool, list[tuple[int, int]]]) -> list[Animation]:
    """Return animations: whether each loops, and its frames with their screen pictures."""
    return [Animation(name=f"move{rank}", loop=loop, steps=steps) for rank, (loop, steps) in enumerate(animations)]


def counted(scene: Scene, sprites: dict[str, tuple[Frames, list[Animation]]], more: dict | None = None, **given_: Any) -> Budget:
    """Return the budget of one scene over these sprites and assets of other kinds, each 0 bytes beside what it streams."""
    facts: dict[str, Any] = {
        name: made_facts(SpriteFacts, name, animations=moves, bytes=one.tables + sum(f.bytes for f in one.frames),
                         unpacked_bytes=one.tables + sum(f.bytes for f in one.frames))
        for name, (one, moves) in sprites.items()
    }  # fmt: skip
    facts |= more or {}
    fetching = Fetching({name: one for name, (one, _) in sprites.items()}, given_.pop("windows", {}))
    settings_ = {"bundles": {}, "planned": {}, "needs": {}, "formats": {}} | {
        key: given_.pop(key) for key in ("bundles", "needs", "formats") if key in given_
    }
    return count_scenes(
        facts, fetching, dict.fromkeys(facts, 1), scenes={"play": scene}, room=room(**{"memory": 9999} | given_), **settings_
    )[0]


COURIERS = {
    # Tables of 20, 30 and 10 bytes; the largest frames are 100, 90 and 120 bytes.
    "pell": (frames(20, [60, 40], [80]), played((True, [(0, 4), (1, 2)]))),
    "bram": (frames(30, [90], [10, 20, 30]), played((True, [(0, 3), (1, 3)]))),
    "isk": (frames(10, [120], [120]), played((False, [(0, 6), (1, 6)]))),
}
TWO = Choice(count=2, of=list(COURIERS), repeat=False)
BUFFERED = dict.fromkeys(COURIERS, Streamed(buffers=2))


def test_two_couriers_of_three_have_buffers_of_their_own():
    """Isk and pell: 10 + 2 * 120 and 20 + 2 * 100 are 470; isk and bram 460; pell and bram 430."""
    play = counted(Scene(choose=[TWO], streamed=BUFFERED), COURIERS).scenes["play"]
    assert (play.bytes, play.chosen) == (470, [["pell", "isk"]])
    assert [(case.bytes, case.chosen) for case in play.next] == [(460, [["bram", "isk"]]), (430, [["pell", "bram"]])]
    assert [(part.name, part.bytes, part.fetched) for part in play.parts] == [("pell", 220, 200), ("isk", 250, 240)]


def test_couriers_of_one_role_use_the_same_buffers():
    """Each of the two has 2 buffers of the largest frame of all three, 120 bytes: pell and bram have the larger tables, 50 + 480."""
    role = dict.fromkeys(COURIERS, Streamed(buffers=2, role="courier"))
    play = counted(Scene(choose=[TWO], streamed=role), COURIERS).scenes["play"]
    assert (play.bytes, play.chosen) == (530, [["pell", "bram"]])
    play = counted(Scene(choose=[TWO], streamed=role, sets={"courier": 1}), COURIERS).scenes["play"]
    assert (play.bytes, play.parts[1].fetched) == (290, 0), "one set for both, which the first has"


def test_a_role_has_sets_in_each_memory_that_its_members_are_loaded_to():
    """Pell in main memory has 2 buffers of 100 bytes, isk in another 2 of 120: neither needs room where the other is."""
    role = {name: Streamed(buffers=2, role="courier") for name in ("pell", "isk")}
    far = {"areas": {"far": Area(size=999)}, "loaded_to": {"isk": "far"}}
    play = counted(Scene(always=["pell", "isk"], streamed=role), COURIERS, **far).scenes["play"]
    assert (play.bytes, play.limits["area far"].used) == (20 + 2 * 100, 10 + 2 * 120)
    assert [one.bytes for one in play.streamed] == [200, 240]


def test_courier_that_is_chosen_twice_has_two_sets_of_buffers():
    """Isk twice: 10 + 4 * 120 = 490, more than isk and pell."""
    play = counted(Scene(choose=[Choice(count=2, of=list(COURIERS))], streamed=BUFFERED), COURIERS).scenes["play"]
    assert (play.bytes, play.chosen) == (490, [["isk", "isk"]])
    assert [(part.name, part.bytes) for part in play.parts] == [("isk", 490)]


def test_buffers_hold_whole_animations_where_asked():
    """Pell's one animation is 180 bytes: 20 + 2 * 180."""
    pell = {"pell": (frames(20, [60, 40], [80], animations=((0, 1),)), COURIERS["pell"][1])}
    play = counted(Scene(always=["pell"], streamed={"pell": Streamed(unit="animation")}), pell).scenes["play"]
    assert (play.bytes, play.streamed[0].pace_bytes) == (380, 0)
    assert (play.traffic.bytes, play.traffic.transfers) == (180, 3)


def test_members_of_a_role_fetch_into_as_many_sets_as_it_has():
    """Three sparks of 9, 7 and 5 bytes, of which two fly at once: 16 bytes in 2 transfers, a frame of each every 2 pictures."""
    sprites = {name: (frames(1, [size], [size]), played((True, [(0, 2), (1, 2)]))) for name, size in (("a", 9), ("b", 7), ("c", 5))}
    scene = Scene(always=["a", "b", "c"], streamed=dict.fromkeys("abc", Streamed(role="spark")), sets={"spark": 2})
    play = counted(scene, sprites, transfer=Transfer(blank=99, start=1)).scenes["play"]
    assert (play.bytes, play.traffic.bytes, play.traffic.transfers) == (3 + 2 * 18, 16, 2)
    assert (play.limits["blank"].used, play.traffic.pace) == (18, 5 + 4)


PACES = [
    # Worked out by hand for frames of 100 and 80 bytes: what is fetched in one round, over the pictures that it takes.
    ((True, [(0, 4), (1, 2)]), 180, 6),
    ((True, [(0, 2), (1, 2), (0, 2)]), 180, 6),  # frame 0 stays from the end to the beginning
    ((False, [(0, 2), (1, 2), (0, 2)]), 280, 6),  # begun again it is fetched again
    ((True, [(0, 1), (0, 3), (1, 4)]), 180, 8),
    ((True, [(0, 5)]), 0, 5),
]


@pytest.mark.parametrize(("moves", "fetched", "pictures"), PACES)
def test_pace_is_what_an_animation_fetches_in_a_round(moves, fetched, pictures):
    """Rounded up to whole bytes; a frame that stays is not fetched again."""
    play = counted(Scene(always=["pell"], streamed={"pell": Streamed()}), {"pell": (COURIERS["pell"][0], played(moves))}).scenes["play"]
    assert play.traffic.pace == -(-fetched // pictures)


def test_sets_are_rounded_up_as_memory_is_given_out():
    """Steps of 64: tables of 20 take 64, each buffer of 100 takes 128."""
    play = counted(Scene(always=["pell"], streamed=BUFFERED), COURIERS, granularity=64).scenes["play"]
    assert (play.bytes, play.streamed[0].tables, play.streamed[0].buffer) == (64 + 2 * 128, 64, 128)


def test_pool_of_streamed_sprites_stays_in_the_cartridge():
    """The pool of 700 bytes counts while a resident sprite needs it, and not in a case without one."""
    pool = {"crew": made_facts(PoolFacts, "crew", unpacked_bytes=700)}
    needs = {"pell": ("crew",), "bram": ("crew",)}
    scene = Scene(choose=[Choice(count=1, of=["pell", "bram"])], streamed={"pell": Streamed()})
    play = counted(scene, COURIERS, pool, needs=needs).scenes["play"]
    assert [case.bytes for case in (play, *play.next)] == [30 + 150 + 700, 220]


def test_cells_and_video_memory_are_those_of_the_buffers():
    """A cell is 8 bytes here: 2 buffers of 12 cells and 100 bytes of pell's, of 15 and 120 of isk's."""
    play = counted(Scene(choose=[TWO], streamed=BUFFERED), COURIERS, limits={"cells": 60, "video": 400}).scenes["play"]
    assert {key: limit.used for key, limit in play.limits.items()} == {"cells": 2 * 12 + 2 * 15, "video": 440}
    assert play.too_much


def test_frames_that_are_shown_shorter_than_a_fetch_takes_are_refused():
    """Pell's second frame is shown for 2 pictures: a fetch over 3 would come too late."""
    with pytest.raises(ProjectError) as caught:
        counted(Scene(always=["pell"], streamed={"pell": Streamed(within=3)}), COURIERS)
    assert str(caught.value) == (
        "project.toml, [scene.play.streamed]: within = 3: animation move0 of pell shows a frame for 2 only\n"
        "    write 2 at most, or show frames longer"
    )


# ---- Every case added up ---------------------------------------------------------------------------------------------

_fetches = st.lists(st.lists(st.integers(1, 40), max_size=3), min_size=1, max_size=4)


@st.composite
def scenes(draw):
    """Draw four sprites, some streamed in some way, and a scene that chooses of them."""
    sprites = {}
    for name in "abcd":
        each = draw(_fetches)
        steps = [(frame, draw(st.integers(1, 4))) for frame in range(len(each))]
        sprites[name] = (
            frames(draw(st.integers(0, 30)), *each, animations=(tuple(range(len(each))),)),
            played((draw(st.booleans()), steps)),
        )
    said = st.builds(
        Streamed, buffers=st.integers(1, 3), unit=st.sampled_from(["frame", "animation"]), role=st.sampled_from(["", "", "hero", "spark"])
    )
    streamed = draw(st.dictionaries(st.sampled_from("abcd"), said))
    roles = {one.role for one in streamed.values() if one.role}
    names = st.lists(st.sampled_from("abcd"), min_size=1, max_size=4, unique=True)
    choose = [Choice(count=draw(st.integers(1, 3)), of=draw(names), repeat=True) for _ in range(draw(st.integers(0, 2)))]
    sets = {role: draw(st.integers(1, 2)) for role in roles if draw(st.booleans())}
    return Scene(always=draw(st.lists(st.sampled_from("abcd"), max_size=1)), choose=choose, streamed=streamed, sets=sets), sprites


def cases(scene: Scene) -> list[list[str]]:
    """Return who is there in each case, those that are always there first; the same one more than once included."""
    ways = itertools.product(*(itertools.combinations_with_replacement(one.of, one.count) for one in scene.choose))
    return [[*scene.always, *itertools.chain(*way)] for way in ways]


def largest(said: Streamed, sprite: Frames, amount) -> int:
    """Return the most that one fetch of a sprite is."""
    return max(amount(one) for one in (sprite.frames if said.unit == "frame" else sprite.animations))


def added_up(scene: Scene, sprites, there: list[str], amount, alike: bool) -> int:
    """Return the sum of an amount of everything streamed in a case; where a role has fewer sets, of the largest of it."""
    each = {name: amount(said, sprites[name][0]) for name, said in scene.streamed.items()}
    total = 0
    for role in {said.role for said in scene.streamed.values()}:
        mine = [name for name in there if name in each and scene.streamed[name].role == role]
        size = max(each[name] for name, said in scene.streamed.items() if said.role == role)
        amounts = sorted((size if alike and role else each[name] for name in mine), reverse=True)
        total += sum(amounts[: scene.sets.get(role, len(amounts))] if role else amounts)
    return total


@settings(deadline=None, max_examples=tries(60, 400))
@given(scenes(), st.integers(0, 9))
def test_worst_case_is_that_of_adding_up_every_case(drawn, start):
    """Bytes, cells and what the worst picture fetches, of all ways to fill a scene, whoever shares what with whom."""
    scene, sprites = drawn
    play = counted(scene, sprites, limits={"cells": 1}, transfer=Transfer(blank=50, start=start)).scenes["play"]
    whole = {name: one.tables + sum(fetch.bytes for fetch in one.frames) for name, (one, _) in sprites.items()}
    sizes = whole | {name: sprites[name][0].tables for name in scene.streamed}

    def taken(there: list[str]) -> int:
        buffers = added_up(scene, sprites, there, lambda said, one: said.buffers * largest(said, one, lambda f: f.bytes), True)
        return sum(sizes[name] for name in set(there)) + buffers

    def weight(said: Streamed, one: Frames) -> int:
        return largest(said, one, lambda fetch: fetch.bytes + start * len(fetch.runs))

    assert play.bytes == max(map(taken, cases(scene)))
    assert sum(part.bytes for part in play.parts) == play.bytes
    if scene.streamed:
        fetched = max(added_up(scene, sprites, there, weight, False) for there in cases(scene))
        assert play.limits["blank"].used == play.traffic.bytes + start * play.traffic.transfers == fetched


@settings(deadline=None, max_examples=tries(40, 200))
@given(scenes(), st.integers(1, 4))
def test_more_buffers_never_need_less(drawn, more):
    """Memory grows or stays; what is fetched is the same."""
    scene, sprites = drawn
    rich = {name: Streamed(buffers=said.buffers + more, unit=said.unit, role=said.role) for name, said in scene.streamed.items()}
    before = counted(scene, sprites).scenes["play"]
    after = counted(Scene(always=scene.always, choose=scene.choose, streamed=rich, sets=scene.sets), sprites).scenes["play"]
    assert after.bytes >= before.bytes
    assert after.traffic == before.traffic


# ---- Played tick by tick ---------------------------------------------------------------------------------------------


def fetched_at(moves: Animation, sprite: Frames, phase: int, pictures: int, within: int = 1) -> list[tuple[int, int]]:
    """Return bytes and transfers of each picture while a looping animation plays, begun at a phase: a fetch goes on for ``within``.

    A fetch is copied byte by byte, and a byte that does not follow the one before it begins a transfer, as does the first of a picture.
    """
    order = [frame for frame, ticks in moves.steps for _ in range(ticks)]
    found = [(0, 0)] * (pictures + within)
    for tick in range(pictures):
        now, before = order[(tick + phase) % len(order)], order[(tick + phase - 1) % len(order)]
        if now != before:
            bytes_ = [(run, at) for run, count in enumerate(sprite.frames[now].runs) for at in range(count)]
            share = max(-(-len(bytes_) // within), 1)
            for part in range(within):
                mine = bytes_[part * share : (part + 1) * share]
                transfers = sum(1 for rank, (run, _) in enumerate(mine) if not rank or mine[rank - 1][0] != run)
                found[tick + part] = (found[tick + part][0] + len(mine), found[tick + part][1] + transfers)
    return found[:pictures]


@settings(deadline=None, max_examples=tries(30, 150))
@given(st.lists(st.tuples(st.lists(st.lists(st.integers(1, 9), min_size=1, max_size=3), min_size=2, max_size=3),
                          st.integers(2, 4)), min_size=2, max_size=2), st.integers(0, 5), st.integers(1, 2))  # fmt: skip
def test_worst_picture_is_that_of_playing_at_every_phase(couriers, start, within):
    """Two couriers play their loops against each other, begun at every pair of phases: no picture fetches more, one as much."""
    sprites = {}
    for name, (runs, ticks) in zip("ab", couriers, strict=True):
        sprites[name] = (frames(0, *runs), played((True, [(frame, ticks) for frame in range(len(runs))])))
    said = dict.fromkeys("ab", Streamed(buffers=2, within=within))
    play = counted(Scene(always=["a", "b"], streamed=said), sprites, transfer=Transfer(blank=1, start=start)).scenes["play"]
    lengths = [sum(ticks for _, ticks in moves[0].steps) for _, moves in sprites.values()]
    seen, total = [], 0
    for phases in itertools.product(*map(range, lengths)):
        one, other = (
            fetched_at(moves[0], sprite, phase, 3 * length, within)
            for (sprite, moves), phase, length in zip(sprites.values(), phases, lengths, strict=True)
        )
        seen += [a[0] + b[0] + start * (a[1] + b[1]) for a, b in zip(one, other, strict=False)]
    assert play.limits["blank"].used == max(seen)
    for (sprite, moves), length in zip(sprites.values(), lengths, strict=True):
        total += -(-sum(count for count, _ in fetched_at(moves[0], sprite, 0, length)) // length)
    assert play.traffic.pace == total


# ---- Windows ---------------------------------------------------------------------------------------------------------


def background(name: str = "quay", size=(96, 32), seen=(32, 32), stored=None, **more: Any) -> dict[str, Any]:
    """Return facts of a background of 8 bits a pixel whose blob has a record of 20 bytes."""
    plain = made_facts(BackgroundFacts, name)
    forms = {"size": size, "window": seen, "pan": (4, 0), "entry_bytes": 2}
    stored = stored or StoredBitmap(cells=(size[0] // 16, size[1] // 16))
    fields = {"unpacked_bytes": 20 + size[0] * size[1], "window": seen, "stored": stored, "tile": (8, 8)} | more
    return {name: msgspec.structs.replace(plain, **fields, forms=msgspec.structs.replace(plain.forms, **forms))}


def test_window_of_a_bitmap_takes_what_the_screen_shows_and_its_margin():
    """32 of 96 pixels across, 4 more on each side, all 32 rows: 40 * 32 bytes and the record; 3 columns come in with each step."""
    scene = Scene(always=["quay"], window={"quay": SceneWindow(margin=4, speed=(3, 0))})
    play = counted(scene, {}, background(), formats={"quay": pixel_format()}, transfer=Transfer(blank=90), limits={"video": 999}).scenes[
        "play"
    ]
    assert (play.bytes, play.streamed[0].tables, play.streamed[0].size) == (1280 + 20, 20, (40, 32))
    assert (play.traffic.bytes, play.traffic.transfers, play.traffic.pace) == (3 * 32, 64, 3 * 32)
    assert (play.limits["blank"].used, play.limits["video"].used, play.too_much) == (96, 1280, True)
    assert play.streamed[0].ahead


def test_window_without_a_speed_moves_as_its_background_does():
    """The background's pan is 4 across: 4 columns of 32 rows; without a margin they come where something is shown."""
    play = counted(Scene(always=["quay"], window={"quay": SceneWindow()}), {}, background(), formats={"quay": pixel_format()}).scenes[
        "play"
    ]
    assert (play.traffic.bytes, play.streamed[0].ahead) == (128, False)


def test_window_of_a_tiled_background_holds_entries_and_perhaps_its_tiles():
    """12 x 4 tiles of 8 pixels: a record of 56 bytes, 5 x 4 entries of 2; all 40 tiles of 32 bytes, or the window's 18, 5 of them new."""
    tiled = background(stored=stored_tiles(40), unpacked_bytes=56 + 12 * 4 * 2 + 40 * 32)
    stored = msgspec.structs.replace(stored_tiles(40), tile_bytes=32, columns=12, rows=4)
    tiled = {"quay": msgspec.structs.replace(tiled["quay"], stored=stored)}
    known = {"limits": {"cells": 99, "video": 9999}}
    scene = Scene(always=["quay"], window={"quay": SceneWindow(speed=(4, 0))})
    play = counted(scene, {}, tiled, **known).scenes["play"]
    assert (play.bytes, play.traffic.bytes, play.traffic.transfers) == (56 + 40 + 40 * 32, 8, 4)
    assert {key: one.used for key, one in play.limits.items()} == {"cells": 40, "video": 40 + 40 * 32}
    windows = {"quay": Windows(version=1, windows=[WindowTiles(window=(32, 32), speed=(4, 0), tiles=18, moved=5)])}
    scene = Scene(always=["quay"], window={"quay": SceneWindow(speed=(4, 0), tiles="streamed")})
    play = counted(scene, {}, tiled, windows=windows, **known).scenes["play"]
    assert (play.bytes, play.traffic.bytes, play.traffic.transfers) == (56 + 40 + 18 * 32, 8 + 5 * 32, 9)
    assert {key: one.used for key, one in play.limits.items()} == {"cells": 18, "video": 40 + 18 * 32}


@pytest.mark.parametrize(
    ("size", "margin", "wrong"),
    [
        ((96, 32), 32, "a window of 32 x 32 pixels and 32 on each side holds all of quay, which is 96 x 32"),
        ((32, 32), 0, "a window of 32 x 32 pixels holds all of quay, which is 32 x 32"),
        ((20, 16), 0, "a window of 32 x 32 pixels holds all of quay, which is 20 x 16"),
    ],
)
def test_window_that_holds_its_whole_background_is_refused(size, margin, wrong):
    """There would be nothing to fetch."""
    scene = Scene(always=["quay"], window={"quay": SceneWindow(margin=margin)})
    with pytest.raises(ProjectError) as caught:
        counted(scene, {}, background(size=size), formats={"quay": pixel_format()})
    assert str(caught.value).startswith(f"project.toml, [scene.play.window]: {wrong}\n")


def test_margin_that_reaches_the_edge_on_one_axis_holds_all_of_it_there():
    """96 x 40 of which 32 x 32 are seen: 4 more on each side are all rows, so that only columns come in."""
    scene = Scene(always=["quay"], window={"quay": SceneWindow(margin=4, speed=(1, 1))})
    play = counted(scene, {}, background(size=(96, 40)), formats={"quay": pixel_format()}).scenes["play"]
    assert (play.streamed[0].size, play.traffic.bytes) == ((40, 40), 40)


BOTH = [
    # With one buffer, or a window that moves further than its margin, what is shown is written: that is for the blank.
    (Streamed(buffers=1), SceneWindow(margin=0, speed=(4, 0)), 100 + 128),
    (Streamed(buffers=2), SceneWindow(margin=0, speed=(4, 0)), 128),
    (Streamed(buffers=1), SceneWindow(margin=4, speed=(4, 0)), 100),
    (Streamed(buffers=2), SceneWindow(margin=4, speed=(4, 0)), 0),
]


@pytest.mark.parametrize(("said", "window", "blank"), BOTH)
def test_blank_carries_what_is_shown_and_the_picture_all_of_it(said, window, blank):
    """Only where the target states both; else all counts against the one it states. Nothing is judged where it states none."""
    scene = Scene(always=["pell", "quay"], streamed={"pell": said}, window={"quay": window})
    more = (background(),)
    formats = {"formats": {"quay": pixel_format()}}
    play = counted(scene, COURIERS, *more, transfer=Transfer(blank=500, picture=600), **formats).scenes["play"]
    assert {key: one.used for key, one in play.limits.items()} == {"blank": blank, "picture": 228}
    for stated in ("blank", "picture"):
        play = counted(scene, COURIERS, *more, transfer=Transfer(**{stated: 227}), **formats).scenes["play"]
        assert {key: (one.used, one.passed) for key, one in play.limits.items()} == {stated: (228, True)}
    assert counted(scene, COURIERS, *more, **formats).scenes["play"].limits == {}


def test_text_of_the_budget_says_what_is_held_and_fetched(tmp_path):
    """Buffers, role, window, traffic and the blank, each in a line; over the blank it fails, and says what helps."""
    scene = Scene(
        always=["quay"],
        choose=[Choice(count=2, of=["pell", "isk"])],
        streamed={"pell": Streamed(role="hero", within=2), "isk": Streamed(buffers=1, role="hero")},
        window={"quay": SceneWindow(margin=4, speed=(3, 0))},
    )
    budget = counted(scene, COURIERS, background(), formats={"quay": pixel_format()}, transfer=Transfer(blank=300, start=8))
    write_budget_file(tmp_path / "budget.json", budget)
    (tmp_path / "advice.json").write_text('{"changes": []}')
    with pytest.raises(BadAnswer) as caught:
        show_budget(tmp_path / "budget.json", tmp_path / "advice.json")
    lines = [line.strip() for line in str(caught.value).splitlines()]
    for line in (
        "pell streamed: 2 buffers of 100 bytes, a frame each (200 bytes for the role hero), and 20 bytes resident, instead of 200 bytes; "
        "a picture fetches 50 bytes in 2 transfers at worst, 30 on average",
        "quay through a window of 40 × 32 pixels: 1.2 KiB, and 20 bytes resident, instead of 3.0 KiB; "
        "a picture fetches 96 bytes in 64 transfers at worst, 96 on average",
        "fetched in the worst picture: 336 bytes in 66 transfers, each of which counts as 8 bytes more; 156 bytes a picture on average "
        "with 2 × isk",
        "bytes of a blank: 864 of 300, 564 TOO MANY with 2 × isk",
        "The console carries less than is fetched: stream less, spread fetches (within), or move windows more slowly.",
    ):
        assert line in lines, (line, lines)


# ---- The guide -------------------------------------------------------------------------------------------------------

GUIDE = (Path(__file__).parents[2] / "pipeline/guide/memory.md").read_text(encoding="utf-8")


def relay(**changes: Any) -> tuple[Scene, dict, dict[str, Any]]:
    """Return the guide's scene, its sprites by their table, and its pier; a keyword replaces a key of the scene."""
    block = next(one for one in re.findall(r"```toml\n(.*?)```", GUIDE, re.DOTALL) if "[scene.relay]" in one)
    scene = msgspec.convert(tomllib.loads(block)["scene"]["relay"], Scene)
    rows = re.findall(r"^\| (\w+) \| ([\d,]+) \| ([\d,]+) \| (\d+) \| ([\d,]+) \|$", GUIDE, re.MULTILINE)
    sprites = {}
    for name, *numbers in rows:
        tables, largest_, transfers, whole = (int(one.replace(",", "")) for one in numbers)
        runs = [largest_ // transfers] * (transfers - 1)
        runs.append(largest_ - sum(runs))
        rest = whole - tables - largest_
        smaller = [[min(largest_, rest - at)] for at in range(0, rest, largest_)]
        sprites[name] = (frames(tables, runs, *smaller), [])
    pier = background("pier", (640, 240), (320, 240), unpacked_bytes=640 * 240)
    return msgspec.structs.replace(scene, **changes), sprites, pier


def said(number: int) -> bool:
    """Return whether the guide has this number."""
    return re.search(rf"(?<![\d,]){number:,}(?![\d,])", GUIDE) is not None


def test_example_of_the_guide_adds_up():
    """Each number of the worked example, from the scene and the table of the guide."""
    known = {"formats": {"pier": pixel_format()}, "memory": 1 << 20, "transfer": Transfer(blank=16384, start=8)}
    scene, sprites, pier = relay()
    assert len(sprites) == 3
    play = counted(scene, sprites, pier, **known).scenes["play"]
    window = next(one for one in play.streamed if one.how == "window")
    assert (window.size, window.buffer, window.whole) == ((352, 240), 84_480, 153_600)
    assert play.bytes - window.buffer == 29_000
    assert play.chosen == [["ann", "bob"]]
    assert (window.picture_bytes, window.picture_transfers) == (960, 480)
    assert (play.traffic.bytes, play.traffic.transfers, play.traffic.chosen) == (11_960, 488, [["ann", "cyd"]])
    assert (play.limits["blank"].used, play.limits["blank"].most) == (15_864, 16_384)
    own = {name: Streamed(buffers=2) for name in sprites}
    alone = counted(relay(streamed=own, window={}, always=[])[0], sprites, pier, **known).scenes["play"]
    assert (alone.bytes, alone.chosen, alone.traffic.bytes, alone.traffic.transfers) == (25_000, [["ann", "cyd"]], 11_000, 8)
    resident = counted(relay(streamed={}, window={}, always=[])[0], sprites, pier, **known).scenes["play"]
    assert (resident.bytes, resident.chosen) == (160_000, [["bob", "cyd"]])
    for number in (160_000, 25_000, 29_000, 84_480, 153_600, 960, 480, 11_000, 11_960, 488, 15_864, 16_384):
        assert said(number), number
