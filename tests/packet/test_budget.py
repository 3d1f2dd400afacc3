"""The author's own copy of the packet: the testers' pages, and one about memory."""

from __future__ import annotations

import json

import pypdf

from pipeline.packet.document import write_packet
from tests.makers import budget_json
from tests.release.making import DATE, make_spec, packet_files

SCENE = {
    "bytes": 2500,
    "margin": -452,
    "chosen": [["ann", "bob"]],
    "parts": [{"name": "always", "bytes": 400, "assets": ["x"]}, {"name": "ann", "bytes": 2000, "assets": ["a"], "estimated": ["a"]}],
    "next": [{"bytes": 2300, "chosen": [["ann", "cat"]]}],
    "limits": {},
    "estimated": 2000,
}


def pages(folder, budget=None) -> list[str]:
    """Write a packet and return the text of its pages."""
    out = folder / "packet.pdf"
    file = folder / "budget.json"
    file.write_text(json.dumps(budget))
    write_packet(*packet_files(folder), make_spec(), DATE, "Basalt 32", out, None, "kest.rom", file if budget else None)
    return [page.extract_text() for page in pypdf.PdfReader(out, strict=True).pages]


def test_authors_copy_ends_with_what_fills_memory(tmp_path):
    """Every part with its bytes, what is missing, the estimate marked, and the next worst case; nothing of it for testers."""
    (tmp_path / "own").mkdir()
    testers = pages(tmp_path)
    own = pages(tmp_path / "own", budget_json({"race": SCENE}, memory=2048, held={"screen": 100}))
    assert len(own) == len(testers) + 1
    assert "Memory, for the author" in own[-1]
    for words in ("race needs 2.4 KiB at worst, 452 bytes OVER", "screen 100", "ann (estimate) 2,000", "missing 452", "2,300: ann, cat"):
        assert words in " ".join(own[-1].split()), words
    assert not any("for the author" in page for page in testers)


def test_project_without_scenes_says_so(tmp_path):
    """Nothing is known then."""
    assert "The project names no scene" in pages(tmp_path, budget_json({}))[-1]


STREAMED = {
    "name": "ann", "how": "streamed", "unit": "frame", "role": "", "whole": 9000, "tables": 100, "buffers": 2, "buffer": 700, "bytes": 1400,
    "size": None, "picture_bytes": 690, "picture_transfers": 3, "pace_bytes": 200, "ahead": True,
}  # fmt: skip
WINDOW = STREAMED | {"name": "quay", "how": "window", "unit": "window", "bytes": 2048, "size": [40, 32]}
TRAFFIC = {"bytes": 1380, "transfers": 6, "start": 8, "chosen": [["ann", "ann"]], "pace": 400, "pace_chosen": [["ann", "ann"]]}


def test_authors_copy_shows_what_is_there_in_part_and_what_of_a_blank_it_uses(tmp_path):
    """Buffers, window and traffic in words, the blank as a bar; who is there twice is listed once."""
    limits = {"blank": {"used": 1428, "most": 1024, "chosen": [["ann", "ann"]]}}
    parts = [{"name": "ann", "bytes": 2900, "assets": ["ann"], "fetched": 2800}]
    scene = SCENE | {"parts": parts, "streamed": [STREAMED, WINDOW], "traffic": TRAFFIC, "limits": limits, "estimated": 0}
    scene |= {"next": [{"bytes": 2300, "chosen": [["ann", "ann"], ["bob"]]}]}
    text = " ".join(pages(tmp_path, budget_json({"race": scene}, memory=2048))[-1].split())
    for words in (
        "404 bytes of a blank OVER", "Hatched: buffers and windows", "ann is streamed: 2 buffers, 1.4 KiB instead of 8.8 KiB",
        "quay is seen through a window of 40 × 32 pixels, 2 KiB instead of 8.8 KiB",
        "The worst picture fetches 1,380 bytes in 6 transfers, a usual one 400 bytes.",
        "Of a blank 1,428 of 1,024 bytes are used, transfers counted.", "2,300: 2 × ann, bob",
    ):  # fmt: skip
        assert words in text, words
