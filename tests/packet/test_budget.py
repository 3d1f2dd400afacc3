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
