"""Memories apart from main memory: each has a budget of its own, and an asset a place in one."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from pipeline.joints.budget import Limit
from pipeline.joints.facts import SoundFacts, SpriteFacts
from pipeline.joints.lists import read_lists_file
from pipeline.memory.budget_text import _lines
from pipeline.project.file import Choice, Planned, Scene
from pipeline.project.loading.load import load_project
from pipeline.target.records import Area, Reserved
from tests.conftest import need_tool
from tests.makers import as_budget, build_here, make_project, problems, target_data, target_problems, toml_text
from tests.memory.test_budget import budget

AREAS = {
    "video": Area(size=1000, kinds=["sprite"], granularity=32),
    "sound": Area(size=500, kinds=["sound"], reserved=[Reserved(name="mixer", bytes=100)]),
}


def test_an_asset_counts_in_its_area_and_not_in_main_memory(tmp_path):
    """Two of three sprites of 310 bytes, 320 each in steps of 32; a sound of 450 beside 100 reserved is 50 too many of 500."""
    sizes = {"ann": 310, "bob": 310, "cat": 200, "bell": 450, "level": 600}
    facts = {**dict.fromkeys(("ann", "bob", "cat"), (SpriteFacts, {})), "bell": (SoundFacts, {})}
    loaded_to = {"ann": "video", "bob": "video", "cat": "video", "bell": "sound"}
    scene = Scene(always=["level", "bell"], choose=[Choice(count=2, of=["ann", "bob", "cat"], repeat=False)])
    written, said = budget(tmp_path, sizes, {"play": scene}, facts=facts, areas=AREAS, loaded_to=loaded_to)
    play = written["scenes"]["play"]
    assert (play["bytes"], play["margin"]) == (600, 400)
    assert play["limits"] == {
        "area video": {"used": 640, "most": 1000, "chosen": [["ann", "bob"]]},
        "area sound": {"used": 550, "most": 500, "chosen": [["ann", "bob"]]},
    }
    assert written["over"] == ["play"]
    assert said == "play needs 600 bytes at worst, 400 bytes free, 50 bytes of sound memory OVER"
    shown = _lines(as_budget(written))
    assert "bytes of video memory: 640 of 1,000" in shown
    assert "bytes of sound memory: 550 of 500, 50 TOO MANY" in shown


def test_planned_assets_are_counted_in_the_area_of_their_kind_and_refuse_no_kit(tmp_path):
    """3 planned sprites of 300 bytes and one of 200: 1,120 of 1,000 with them, 224 without."""
    planned = {"more": Planned(kind="sprite", bytes=300, count=3)}
    scene = Scene(always=["ann", "more"])
    areas = {"video": Area(size=1000, granularity=32)}
    loaded_to = {"ann": "video", "more": "video"}
    facts = {"ann": (SpriteFacts, {})}
    written, _ = budget(
        tmp_path, {"ann": 200}, {"play": scene}, planned=planned, facts=facts, areas=areas, loaded_to=loaded_to
    )
    play = written["scenes"]["play"]
    assert play["bytes"] == 0
    assert play["limits"]["area video"] == {"used": 224 + 3 * 320, "most": 1000, "chosen": [], "used_now": 224}
    assert written["over"] == []


def test_what_is_refused_leaves_out_plans_and_warnings():
    """A limit that is only warned about, or passed only by plans, refuses no kit."""
    assert Limit(used=5, most=4, chosen=[]).refused
    assert not Limit(used=5, most=4, chosen=[], used_now=3).refused
    assert not Limit(used=5, most=4, chosen=[], warned=True).refused
    assert Limit(used=5, most=4, chosen=[], warned=True).passed


def project(folder: Path, areas: dict, *changes: tuple[str, str], more: str = "") -> Path:
    data = target_data("lattice16")
    data["memory"]["area"] = areas
    more += '[scene.fair]\nalways = ["ada", "bell", "level"]\n'
    make_project(folder, ('target = "lattice16"', 'target = "own.toml"'), *changes, target="lattice16", more=more)
    (folder / "own.toml").write_text(toml_text(data))
    return folder


VIDEO = {"size": "64 KiB", "kinds": ["sprite", "background"]}


def test_an_asset_chooses_an_area_of_its_own(tmp_path):
    """Kinds have an area in the target, an asset may name another, or main memory."""
    areas = {"video": VIDEO, "sound": {"size": "8 KiB", "base": 0xA00000, "kinds": ["sound"]}}
    places = {"level.bin": "sound", "sound/bell.wav": "main"}
    changes = [(f'file = "{file}"', f'file = "{file}"\narea = "{area}"') for file, area in places.items()]
    folder = project(tmp_path / "ferry", areas, *changes)
    loaded = load_project(folder)
    found = {name: loaded.area(asset) for name, asset in loaded.assets.items()}
    assert {name: found[name] for name in ("ada", "quay", "bell", "level", "figures")} == {
        "ada": "video", "quay": "video", "bell": "main", "level": "sound", "figures": "main",
    }  # fmt: skip
    built = build_here(folder, "verify", "memory")
    limits = json.loads((folder / "build/budget.json").read_text())["scenes"]["fair"]["limits"]
    assert limits["area sound"]["used"] == built.facts["level"].bytes == 100
    assert limits["area video"]["used"] == built.facts["ada"].bytes


def test_a_program_finds_areas_and_what_is_loaded_to_them(tmp_path):
    """In C by a compiler, and for assemblers; a list leaves what goes to another memory in the cartridge."""
    areas = {"video": VIDEO | {"base": 0x40_0000}, "sound 2": {"size": "8 KiB", "base": 0xA0_0000}}
    change = ('file = "level.bin"', 'file = "level.bin"\narea = "sound 2"')
    folder = project(tmp_path / "ferry", areas, change, more="[lists.load]\n")
    build_here(folder, "verify", "include")
    names = {
        "AREA_MAIN": 0, "AREA_VIDEO": 1, "AREA_VIDEO_ADDRESS": 0x40_0000, "AREA_VIDEO_BYTES": 64 << 10, "AREA_SOUND_2": 2,
        "AREA_SOUND_2_ADDRESS": 0xA0_0000, "AREA_SOUND_2_BYTES": 8 << 10, "ADA_AREA": 1, "QUAY_AREA": 1, "LEVEL_AREA": 2, "BELL_AREA": 0,
        "MAIN_AREA": 0,
    }  # fmt: skip
    source = "".join(f'printf("%lu\\n", (unsigned long)({name}));' for name in names)
    (tmp_path / "areas.c").write_text(f'#include <stdio.h>\n#include "assets.h"\nint main(void) {{ {source} return 0; }}\n')
    command = [need_tool("gcc"), "-std=c89", "-Wall", "-Werror", f"-I{folder}/build/include", str(tmp_path / "areas.c")]
    subprocess.run([*command, "-o", str(tmp_path / "areas")], check=True)
    said = subprocess.run([tmp_path / "areas"], check=True, capture_output=True, text=True).stdout
    assert list(map(int, said.split())) == list(names.values())
    for file, form in (("assets.inc", "{} = {}"), ("assets_equ.inc", "{} equ {}")):
        lines = (folder / "build/include" / file).read_text().splitlines()
        assert {form.format(name, value) for name, value in names.items()} <= set(lines)
    fair = read_lists_file(folder / "build/lists.json").scenes["fair"].common
    assert sorted(fair.direct) == ["ada", "level"]
    assert [one.asset for one in fair.places] == ["bell"]


def test_without_areas_there_is_not_a_constant_of_them(tmp_path):
    """Programs for consoles with one memory see what they saw before."""
    build_here(make_project(tmp_path / "ferry"), "verify", "include")
    assert "AREA" not in (tmp_path / "ferry/build/include/assets.h").read_text()


def test_an_area_that_is_not_there_is_refused(tmp_path):
    """With those there are."""
    folder = project(tmp_path / "ferry", {"video": VIDEO}, ('file = "level.bin"', 'file = "level.bin"\narea = "vidio"'))
    assert any('[data.level] area: there is no memory \'vidio\'\n    did you mean video?' in one for one in problems(folder))


@pytest.mark.parametrize(
    ("areas", "wrong"),
    [
        ({"main": {"size": 10}}, "[memory.area.main]: 'main' is main memory\n    give the area another name"),
        ({"one": VIDEO, "two": VIDEO}, "kinds[0]: the area one takes sprite already\n    name each kind once"),
        ({"one": {"size": 0}}, "[memory.area.one] size: 0 bytes"),
        ({"one": {"size": 64, "granularity": 3}}, "[memory.area.one] granularity: 3 is not a power of two"),
        ({"one": {"size": 64, "kinds": ["sprit"]}}, "unknown kind 'sprit'\n    did you mean sprite?"),
        (
            {"one": {"size": 64, "base": 16, "reserved": [{"name": "mixer", "bytes": 8, "address": 76}]}},
            "8 bytes at 0x4c leaves the memory, 0x10 to 0x4f",
        ),
    ],
)
def test_an_area_that_cannot_be_is_refused(tmp_path, areas, wrong):
    """In the target file."""
    data = target_data("lattice16")
    data["memory"]["area"] = areas
    said = target_problems(tmp_path, toml_text(data))
    assert any(wrong in one for one in said), said
