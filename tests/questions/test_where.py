"""``doit where`` against the image, the map, and two outside programs that show bytes: xxd and od."""

from __future__ import annotations

import dataclasses
import json
import re
import subprocess

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.graph.plan import plan_project
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.questions.where import _WIDTH, _short, hex_dump
from pipeline.rom.bank_use import bank_use, show_banks
from pipeline.target.loading import load_target, shipped_targets
from tests.conftest import need_tool, some
from tests.makers import TARGETS, build_here, make_project, map_entry

PEBBLE = load_target(shipped_targets()["pebble8"])


def _ask(folder, name: str = "") -> str:
    step = next(step for step in plan_project(load_project(folder), {"name": name}).steps if step.name == "where")
    return step.run()


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def built(request, tmp_path_factory):
    """A built project for each shipped target, with a packed asset; where there are banks, with their file."""
    folder = make_project(tmp_path_factory.mktemp("where") / "p", ('file = "level.bin"', 'file = "level.bin"\npacking = "packbits"'),
                          target=request.param)  # fmt: skip
    (folder / "level.bin").write_bytes(bytes(200) + b"level")
    made = build_here(folder, "verify", *(["banks"] if request.param == "pebble8" else []))
    return folder, made


def _output(*words: str) -> str:
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def test_dump_is_that_of_xxd_and_od(built):
    """For every asset: xxd prints the same lines, od the same bytes."""
    xxd, od = need_tool("xxd"), need_tool("od")
    folder, made = built
    image = next((folder / "build/rom").glob("*.rom"))
    for entry in made.map["entries"]:
        count = min(64, entry["bytes"])
        answer = _ask(folder, entry["name"])
        dump = [line for line in answer.splitlines() if re.match(r"[0-9a-f]{8}: ", line)]
        lines = _output(xxd, "-s", str(entry["offset"]), "-l", str(count), str(image)).splitlines()
        assert [line.rstrip() for line in dump] == [line.rstrip() for line in lines]
        shown = _output(od, "-An", "-v", "-t", "x1", "-j", str(entry["offset"]), "-N", str(count), str(image)).split()
        assert "".join(line[10:49] for line in dump).replace(" ", "") == "".join(shown)


def test_it_tells_place_record_facts_and_proofs(built):
    """Each number of the map, the sprite's record by field, its facts and the proof's path."""
    folder, made = built
    entry = next(one for one in made.map["entries"] if one["name"] == "ada")
    answer, facts = _ask(folder, "ada"), made.facts["ada"]
    for key, value in {
        "offset": f"{entry['offset']:#x} to {entry['offset'] + entry['bytes'] - 1:#x}",
        "address": f"{entry['address']:#x}",
        "bytes": f"{entry['bytes']:,}",
        "codec": "stored",
        "alignment": str(entry["alignment"]),
        "CRC-32": entry["crc32"],
    }.items():
        assert re.search(rf"^  {key} +{re.escape(value)}$", answer, re.MULTILINE), key
    for field, value in {"frame_count": facts.frames, "frame_bytes": facts.stored.frame_bytes}.items():
        assert re.search(rf"^ +\d+  {field} +{value:,}  ", answer, re.MULTILINE), field
    assert "animations         " in answer
    proofs = ", ".join(f"build/proofs/ada{part}.png" for part in ("", ".anim", ".onion", ".before-after"))
    assert f"Proofs: {proofs}" in answer
    assert ("bank" in answer) == (made.project.target.cartridge.banks is not None)
    packed = _ask(folder, "level")
    assert "packbits" in packed
    assert "Its record" not in packed
    assert "Proofs: none" in packed


def test_every_asset_is_in_the_table(built):
    """One line each, with the map's numbers."""
    folder, made = built
    lines = _ask(folder).splitlines()
    for entry in made.map["entries"]:
        line = next(line for line in lines if line.startswith(f"{entry['name']} "))
        assert f"{entry['offset']:#x}" in line
        assert f"{entry['bytes']:,}" in line
        assert line.endswith(entry["crc32"])


def test_an_unknown_name_is_refused_with_the_nearest(built):
    """Or with what to ask instead."""
    for name, remedy in {"adda": "did you mean ada?", "zzzzzz": "ask without a name for a table of all assets"}.items():
        with pytest.raises(ProjectError) as caught:
            _ask(built[0], name)
        assert f"there is no asset {name!r}" in str(caught.value)
        assert remedy in str(caught.value)


@given(st.binary(max_size=70), st.integers(0, 1 << 24))
def test_dump_reads_back(data, start):
    """Offsets rise by 16 and the pairs are the bytes."""
    lines = hex_dump(data, start)
    assert [int(line[:8], 16) for line in lines] == list(range(start, start + len(data), 16))
    assert b"".join(bytes.fromhex(line[10:49]) for line in lines) == data


def test_banks_add_up():
    """Used, between and end are a bank's bytes; the last bank's end is not lost."""
    entries = [
        map_entry("a", offset=0x200, bytes=0x3000),
        map_entry("b", offset=0x4000, bytes=0x3F00),
        map_entry("c", offset=0x8010, bytes=0x10, alignment=16),
    ]
    use = bank_use(entries, PEBBLE)
    assert [one["used"] + one["between"] + one["end"] for one in use["banks"]] == [0x4000] * 3
    tables = 0x50 + 3 * 16  # header and directory
    assert use["banks"] == [
        {"bank": 0, "used": 0x3000 + tables, "between": 0x200 - tables, "end": 0xE00},
        {"bank": 1, "used": 0x3F00, "between": 0, "end": 0x100},
        {"bank": 2, "used": 0x10, "between": 0x10, "end": 0x3FE0},
    ]
    assert use["lost"] == 0x200 - tables + 0xE00 + 0x100 + 0x10
    assert use["fewest"] == 2
    assert "3 banks of 16 KiB, at least 2 are needed" in show_banks(use)


def test_map_of_a_banked_image_keeps_its_keys_and_banks_have_a_file(tmp_path):
    """What banks hold is beside the map, not in it; a target without banks has no such step."""
    folder = make_project(tmp_path / "p", target="pebble8")
    build_here(folder, "verify", "banks")
    image_map = json.loads((folder / "build/map.json").read_bytes())
    assert set(image_map["entries"][0]) == {
        "name", "kind", "offset", "address", "bytes", "unpacked_bytes", "codec", "alignment", "crc32",
    }  # fmt: skip
    use = json.loads((folder / "build/work/banks.json").read_bytes())
    assert use["size"] == 16384
    assert sum(one["used"] for one in use["banks"]) > sum(one["bytes"] for one in image_map["entries"])
    project = load_project(folder)
    linear = msgspec.structs.replace(project.target, cartridge=msgspec.structs.replace(project.target.cartridge, banks=None))
    steps = plan_project(dataclasses.replace(project, target=linear)).steps
    assert "banks" not in [step.name for step in steps]


@pytest.mark.parametrize("more", [-1, 0, 1])
def test_long_values_are_cut_to_the_width(more):
    """As long as there is room they are whole."""
    text = "m" * (_WIDTH + more)
    assert _short(text) == (text if more <= 0 else "m" * (_WIDTH - 3) + "...")
