"""The map of memory in words: it begins with memory's first byte, ends with its last, and names everything once. No outside source."""

from __future__ import annotations

import pytest

from pipeline.joints.facts import SpriteFacts
from pipeline.joints.lists import Lists, write_lists_file
from pipeline.memory.loaded import Sizes
from pipeline.memory.loads import Memory, make_lists
from pipeline.memory.loads_text import notes, show_lists, spans
from pipeline.memory.streaming import Measured, scene_streams
from pipeline.project.file import Choice, Planned, Scene, SceneWindow, Streamed
from tests.made_facts import made_facts
from tests.memory.test_streaming import COURIERS, background
from tests.memory.test_windows import pixel_format

MEMORY = Memory(base=0x8000, bytes=8192, granularity=2, reserved=[("stack", 100, None)], buffers=[512], buffer_alignment=2)


@pytest.fixture(scope="module")
def lists() -> Lists:
    """Two slots, something packed, something read in the cartridge, room for variables."""
    choose = [Choice(count=2, of=["a", "b", "c"], name="figure"), Choice(count=1, of=["d", "e"])]
    scene = Scene(always=["f", "g", "variables"], choose=choose, direct=["g", "e"], packed=["f"])
    sizes = Sizes({name: 101 + rank for rank, name in enumerate("abcdefg")}, {"f": 33}, {}, {"variables": 64}, 2)
    return make_lists(sizes, {}, (), {"play": scene}, {"variables": Planned(kind="data", bytes=64)}, {}, MEMORY, {"play": ()})


def test_the_map_covers_memory_once(lists):
    """One part after another, without a gap or an overlap."""
    shown = spans(lists, lists.scenes["play"])
    assert shown[0][0] == 0
    assert all(at + count == other for (at, count, _), (other, _, _) in zip(shown, shown[1:], strict=False))
    assert shown[-1][0] + shown[-1][1] == MEMORY.bytes
    names = [name for _, _, name in shown if name]
    assert sorted(names) == ["choice 2", "f (packed)", "figure 1", "figure 2", "screen buffer 1", "stack", "variables"]


def test_the_text_says_where_and_what(lists, tmp_path):
    """Addresses as the console sees them, the members of slots, what stays in the cartridge, the copies to make."""
    write_lists_file(tmp_path / "lists.json", lists)
    text = show_lists(tmp_path / "lists.json")
    lines = text.splitlines()
    assert lines[0] == "play, memory from 0x8000 to 0x9fff"
    assert lines[1].split() == ["0x00008000", "screen", "buffer", "1", "512"]
    assert "  figure: 2 slots for a, b, c" in lines
    assert "  read straight from the cartridge: g, e" in lines
    assert "  at most 4 copies load it" in lines
    assert sum("free" in line and "0x" in line for line in lines) == 1


def test_what_is_there_in_part_is_named_with_its_buffers_and_windows():
    """Tables and buffers in the map of what is always there; in words what is fetched into what, alike ones together."""
    sprites = {"pell": COURIERS["pell"][0], "isk": COURIERS["isk"][0]}
    facts = {name: made_facts(SpriteFacts, name, animations=COURIERS[name][1], unpacked_bytes=500, bytes=500) for name in sprites}
    facts |= background("quay") | background("pier")
    choose = [Choice(count=1, of=["quay", "pier"])]
    window = dict.fromkeys(("quay", "pier"), SceneWindow(speed=(2, 0)))
    streamed = {"pell": Streamed(role="hero"), "isk": Streamed(role="hero")}
    scene = Scene(always=["pell", "isk"], choose=choose, streamed=streamed, sets={"hero": 2}, window=window)
    known = Measured(sprites, {}, dict.fromkeys(("quay", "pier"), pixel_format()), (16, 16), dict.fromkeys(facts, 2))
    sizes = Sizes({name: one.unpacked_bytes for name, one in facts.items()}, {}, {}, {}, 2)
    streams = {"play": scene_streams("play", scene, {}, facts, known)}
    plan = make_lists(sizes, {}, (), {"play": scene}, {}, {}, MEMORY, streams).scenes["play"]
    assert notes(plan)[1:4] == [
        "pell is fetched into 2 sets of 2 buffers of 100 bytes",
        "isk is fetched into 2 sets of 2 buffers of 120 bytes",
        "quay, pier are fetched into a window of 32 × 32 pixels, 1,024 bytes",
    ]
    lists = make_lists(sizes, {}, (), {"play": scene}, {}, {}, MEMORY, streams)
    shown = {name: count for _, count, name in spans(lists, plan) if name}
    assert (shown["pell (tables)"], shown["isk (tables)"], shown["buffers of pell, isk"]) == (20, 10, 2 * 2 * 120)
    assert sum(count for _, count, _ in spans(lists, plan)) == MEMORY.bytes


def test_without_lists_it_says_how_to_get_them():
    """A project that asks for none."""
    assert "Add a table [lists.load]" in show_lists(None)
