"""Layouts of packets that are kept: the same packet with one or without, and none that is damaged or of another text is taken."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pytest

from pipeline.packet import document
from pipeline.packet.document import write_packet
from tests.release.making import make_game, make_spec, packet_files

DATE = datetime.date(2031, 4, 9)
OTHER_BUILD = "Q7Z2TX"


@pytest.fixture
def laid_out(monkeypatch) -> list[object]:
    """Return a list that gets an entry each time a packet is laid out."""
    found, find_pages = [], document.find_pages
    monkeypatch.setattr(document, "find_pages", lambda draft, story: found.append(draft) or find_pages(draft, story))
    return found


def make_packet(folder: Path, cache: Path | None = None, build: str = "", **game) -> bytes:
    files = packet_files(folder)
    if build:
        known = json.loads(files[0].read_bytes())
        known["image"]["build_code"] = build
        files[0].write_text(json.dumps(known))
    write_packet(*files, make_spec(game=make_game(**game)), DATE, "Basalt 32", folder / "packet.pdf", None, "kest.rom", cache=cache)
    return (folder / "packet.pdf").read_bytes()


def test_the_next_build_is_laid_out_as_the_one_before(tmp_path, laid_out):
    """Another build code asks for no other layout, and what comes out is what comes out without the kept one."""
    cache = tmp_path / "layout.results"
    first = make_packet(tmp_path, cache)
    count = len(laid_out)
    assert count
    assert make_packet(tmp_path, cache) == first
    second = make_packet(tmp_path, cache, OTHER_BUILD)
    assert len(laid_out) == count
    assert [make_packet(tmp_path), make_packet(tmp_path, None, OTHER_BUILD)] == [first, second]


def test_other_words_are_laid_out(tmp_path, laid_out):
    """A longer summary and large print each have a layout of their own."""
    cache = tmp_path / "layout.results"
    for changed in ({}, {"summary": "A long way down. " * 9}, {"text": "large"}):
        laid_out.clear()
        kept = make_packet(tmp_path, cache, **changed)
        assert laid_out
        assert kept == make_packet(tmp_path, **changed)


def test_a_damaged_layout_is_not_believed(tmp_path, laid_out):
    cache = tmp_path / "layout.results"
    first = make_packet(tmp_path, cache)
    known = cache.read_bytes()
    for damaged in (known[:-1], known[:-9] + bytes([known[-9] ^ 1]) + known[-8:], b""):
        cache.write_bytes(damaged)
        laid_out.clear()
        assert make_packet(tmp_path, cache) == first
        assert laid_out
