"""Notices of tiles in whole images of the shipped tile consoles, from the image's bytes; what a program knows of one before it is there."""

from __future__ import annotations

import re

import numpy as np
import pytest
import zxingcpp

from pipeline.joints.facts import ScreenFacts, read_facts
from pipeline.joints.places import facts_file
from tests.makers import build_here, make_project, target_data
from tests.notices.drawing import Drawn, record, shown


@pytest.mark.parametrize("target", ["lattice16", "pebble8"])
def test_console_shows_the_notice_of_its_image(target, tmp_path):
    """Drawn by the target's patterns alone, both codes name the build (zxing-cpp); assets.h says how large its tables may be."""
    made = build_here(make_project(tmp_path / "ferry", target=target), "verify", "include")
    entry = next(one for one in made.map["entries"] if one["name"] == "boot")
    blob = made.image[entry["offset"] : entry["offset"] + entry["bytes"]]
    build = made.project.folder / "build"
    data, facts = target_data(target), read_facts(facts_file(build / "blobs", "boot"), ScreenFacts)
    rgb = shown(Drawn(blob, facts, made.project.target), data)
    code = made.map["image"]["build_code"]
    found = {one.text for one in zxingcpp.read_barcodes(np.ascontiguousarray(rgb))}
    assert found == {f"https://example.org/f/{code}", f"https://example.org/b/{code}"}
    said = dict(re.findall(r"#define BOOT_(\w+) (\d+) ", (build / "include/assets.h").read_text()))
    head = record(blob, data["byte_order"])
    assert {name: int(said[name.upper()]) for name in ("columns", "rows", "tile_room", "tile_bytes", "entry_count")} == {
        name: head[name] for name in ("columns", "rows", "tile_room", "tile_bytes", "entry_count")
    }
    assert int(said["UNPACKED_BYTES"]) == len(blob)
    numbers = 1 << data["tiles"]["map_entry"].count("t")
    assert head["tile_count"] <= head["tile_room"] <= numbers
    assert head["entry_count"] <= data["palette"]["entries"]


def test_author_may_have_a_picture_on_a_console_of_tiles(tmp_path):
    """For a program that draws it itself; the record is then of version 1, and assets.h says nothing of tiles."""
    picture = ("[screen.boot]\n", '[screen.boot]\narrangement = "bitmap"\n')
    made = build_here(make_project(tmp_path / "ferry", picture, target="lattice16"), "verify", "include")
    entry = next(one for one in made.map["entries"] if one["name"] == "boot")
    assert made.image[entry["offset"]] == 1
    assert "BOOT_TILE_ROOM" not in (made.project.folder / "build/include/assets.h").read_text()
