"""Packets of many kinds stay as they were looked at; no outside source, since taste has none. For a change: ``tests.recorded``."""

from __future__ import annotations

import itertools
import json
import re
from pathlib import Path

import pytest

import pipeline.project.file as pf
from pipeline.packet import document
from pipeline.packet.content.party import Gap
from pipeline.packet.document import write_packet
from pipeline.plain.shipped import TEMPLATES
from pipeline.project.plan import Grid, Plan, Task
from tests.conftest import some
from tests.graph.looks import pages_of
from tests.makers import budget_json
from tests.packet.test_budget import SCENE
from tests.packet.test_pads import BLOCK, LONG, SIX, SIXTEEN, TALE, THREE
from tests.packet.test_pictures import asset, changes, plain
from tests.packet.test_plan import ALONE, GRID, LINKS
from tests.recorded import differing, hash_of
from tests.release.making import DATE, make_game, make_spec, packet_files, write_boot

PADS = {
    "three": pf.Pad(name="Three-button pad", buttons=THREE), "six": pf.Pad(name="Six-button pad", buttons=SIX),
    "many": pf.Pad(name="Pad of sixteen", buttons=SIXTEEN), "keys": pf.Pad(name="Keys", buttons=BLOCK, grid=(4, 4)),
    "list": pf.Pad(name="Light gun", buttons=["Trigger"]),
}  # fmt: skip
LISTED = {name: pf.Pad(name=f"Pad {name}", buttons=["A", "B"]) for name in ("two", "gun", "third")}  # three go into one table
CONTROLS = [
    pf.Control(action="Hop over the fence", buttons={"three": "A", "six": "Z", "many": "Circle", "keys": "Key11", "list": "Trigger"}),
    pf.Control(action="Dash", buttons={"three": "A + B / C", "six": "Left / Right", "many": "R1 + L2", "keys": "Key23 / Key32"}),
    pf.Control(action=TALE, buttons={"many": "Start", "six": "X"}),
    pf.Control(action=LONG, buttons={"many": "Leaf", "six": "Left"}),
    pf.Control(action="Look up to see what the gulls are at today", buttons={"three": "Up", "six": "Up", "many": "StickLeft"}),
]
PLAN = {"plan": Plan(task=[Task(text="Go"), Task(text=ALONE.text)]), "links": LINKS}
SINCE = changes(
    added=[asset("hoot", "sound", None, plain(5, 300, 60)), asset("nest", "level", None, plain(6, 33, 15))],
    removed=[asset("bat", "sprite", plain(7, 24, 12), None)],
    changed=[
        asset(f"a{rank}", "sprite", plain(rank, 10 + 45 * rank // (1 + rank % 3), 8 + 5 * rank), plain(50 + rank, 24, 12))
        for rank in range(12)
    ],
    recoloured=[asset("jay", "sprite", plain(8, 24, 12), plain(9, 24, 12)), asset("dusk", "background", None, None)],
)  # fmt: skip
PARTS = [{"name": f"part {rank}", "bytes": 190 - 19 * rank, "assets": ["x"]} for rank in range(9)]
SCENES = {
    "race": SCENE | {"limits": {"cells": {"used": 12, "most": 10, "chosen": [["bob"]]}}},
    "menu": {"bytes": 1126, "margin": 922, "parts": PARTS},
}


def grid_of(*shape: int) -> Grid:
    """Return a grid of a task of its own, with a name for each value that is longer the later it comes."""
    sides = tuple(tuple(f"{'Value'[: 1 + rank % 5]}{rank}" for rank in range(count)) for count in shape)
    cells = tuple(itertools.product(*map(range, shape)))
    return Grid(f"Go through {shape}", tuple("abcd"[: len(shape)]), sides, cells, ("",) * len(cells), None, None)


LONG_NAMES = ("A quay with a name that is far too long for a row", "Pier", "Breakwater", "Weir")
LONG_NAMED = Grid("Go", ("place", "tide"), (LONG_NAMES, LONG_NAMES), tuple(itertools.product(range(4), range(4))), ("",) * 16, None, None)
GRIDS = (GRID, ALONE, LONG_NAMED, grid_of(1, 1), grid_of(40, 3), grid_of(3, 30), grid_of(2, 2, 2, 3), grid_of(23), grid_of(5, 5))
SHARES = {3: tuple(tuple(range(0, len(one.cells), 2)) for one in GRIDS), 12: tuple((0,) for _ in GRIDS)}
GAPS = [Gap(0, (1, 3, 5, 7, 9, 11), "gun"), Gap(4, tuple(range(24))), Gap(5, tuple(range(25))), Gap(7, (1,))]
ISSUES = [
    pf.Issue(
        id=f"KESTREL-{10 ** (rank % 5)}", severity=severity, where="Cliff " * (1 + rank % 4),
        what="A feather flickers. " * (1 + rank % 7), workaround="Wait. " * (rank % 3),
    )
    for rank, severity in enumerate(pf.SEVERITIES * 6, 1)
]  # fmt: skip
MORE = {"Rules & more": "https://example.org/r?a=1&b=2"}
LONG_LINKS = pf.Links(feedback="https://example.org/" + "f" * 280, bugs="https://example.org/b", more=MORE)
BUDGET = budget_json(SCENES, memory=2048, held={"screen": 100})
TITLE = "The Long and Winding Search of the Kestrel for Its Breakfast"
# What is in a packet: changed tables, and what else it is made from.
CASES = {
    "as it comes": ({}, {}),
    "pads": ({"pad": PADS, "control": CONTROLS}, {}),
    "plan": (PLAN, {"grids": GRIDS}),
    "a share": (PLAN, {"grids": GRIDS, "shares": {3: SHARES[3]}, "tester": "T3", "name": "Zoë <Ω> & Co"}),
    "all shares": (PLAN, {"grids": GRIDS, "shares": SHARES, "gaps": GAPS, "budget": BUDGET}),
    "issues": ({"issue": ISSUES, "links": LONG_LINKS, "pad": LISTED}, {"changes": SINCE}),
}


def look(folder: Path, changed: dict, more: dict, language: str, **game: str) -> str:
    files = {f"{key}_file": folder / f"{key}.json" for key in ("budget", "changes") if key in more}
    for key, path in files.items():
        path.write_text(json.dumps(more[key.removesuffix("_file")]))
    more = {key: value for key, value in more.items() if f"{key}_file" not in files} | files
    spec = make_spec(**changed | {"game": make_game(**game)})
    write_packet(*packet_files(folder, language), spec, DATE, "Basalt 32", folder / "p.pdf", write_boot(folder), "kest.rom", **more)
    return hash_of(*(page.encode() for page in pages_of(folder / "p.pdf")))


def test_a_wordy_packet_looks_as_it_was_looked_at(tmp_path, monkeypatch):
    """With every short text said twice, so that all columns, fields and headings are as wide as they may be."""
    shipped = (TEMPLATES / "packet.en.toml").read_text(encoding="utf-8")
    head, section, rest = shipped.partition("[severity]")
    (tmp_path / "templates").mkdir()
    monkeypatch.setattr(document, "_guess_pages", lambda _: None)
    monkeypatch.setattr(document, "_PASSES", 1)
    wordy = re.sub(r'(?m)^(\w+ = ")([\w \'-]{3,30})"$', r'\1\2 \2"', rest)
    (tmp_path / "templates/packet.en.toml").write_text(head + section + wordy, encoding="utf-8")
    assert differing("packet, wordy", {"normal": look(tmp_path, *CASES["issues"], "en", text="normal")}) == set()


@pytest.mark.parametrize("case", some(CASES, 3))
def test_no_packet_looks_other_than_it_was_looked_at(tmp_path, monkeypatch, case):
    """Pads, a plan, shares, issues and changes, in both sizes of print, on both papers, in both languages."""
    if case != "as it comes":  # set once, so that page numbers in the text are all 1: that they settle is looked at there
        monkeypatch.setattr(document, "_guess_pages", lambda _: None)
        monkeypatch.setattr(document, "_PASSES", 1)
    found = {}
    if case not in ("as it comes", "all shares"):
        found["normal A4"] = look(tmp_path, *CASES[case], "en", paper="A4", text="normal")
    if case != "a share":
        found["large Letter"] = look(tmp_path, *CASES[case], "de", paper="Letter", text="large", title=TITLE)
    assert differing(f"packet, {case}", found) == set()
