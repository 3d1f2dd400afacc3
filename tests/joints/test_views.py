"""Views: what is read of a record equals what was written, and a change of anything else leaves their digest."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import msgspec
import pytest

from pipeline.graph.steps.handed import Depends, In, views_of
from pipeline.joints.facts import FORMAT, ColourError, PaletteFacts, SpriteFacts, write_facts
from pipeline.joints.views import ContentView, PaletteView, SizeView, WorstFrameView
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import write_json
from tests.made_facts import made_facts

FACTS = PaletteFacts(
    version=FORMAT, name="ink", bytes=20, unpacked_bytes=20, codec="stored", crc32="0" * 8, sha256="1" * 64, origin="invented",
    first=4, transparent=True, entry_count=3, line_entries=0, line_used=[3], colours=[(0, 0, 0), (8, 16, 24), (255, 255, 255)],
    colours_seen=7, exact=False,
)  # fmt: skip
OTHER = {"remarks": ["seen by few"], "origin": "drawn again", "colours_seen": 8, "variant_of": "base", "in_place": True}


@pytest.fixture
def file(tmp_path) -> Path:
    write_facts(tmp_path / "ink.json", FACTS)
    return tmp_path / "ink.json"


@pytest.mark.parametrize("view", [PaletteView, SizeView, ContentView])
def test_view_holds_what_was_written(file, view):
    """Each field is that of the record."""
    read = view(file).read()
    assert {name: getattr(read, name) for name in read.__struct_fields__} == {
        name: getattr(FACTS, name) for name in read.__struct_fields__
    }


@pytest.mark.parametrize(
    ("view", "counts"),
    [
        (PaletteView, {"name", "first", "transparent", "entry_count", "line_entries", "line_used", "colours", "exact", "drawn"}),
        (SizeView, {"bytes"}),
        (ContentView, {"sha256"}),
    ],
)
def test_digest_follows_its_fields_alone(file, view, counts):
    """Every field of the record is changed by itself; the digest differs if and only if the view has it."""
    before = view(file).digest()
    changed = {
        "name": "blue", "bytes": 21, "unpacked_bytes": 21, "codec": "lz4", "crc32": "2" * 8, "sha256": "3" * 64, "first": 5,
        "transparent": False, "entry_count": 4, "line_entries": 4, "line_used": [2], "colours": [(1, 1, 1)], "exact": True,
        "drawn": [(1, 2, 3)], "padding": 4, "unpacked_sha256": "4" * 64, "tried": {"lz4": 3}, **OTHER,
    }  # fmt: skip
    assert {*changed, "version"} == {*PaletteFacts.__struct_fields__}
    for name, value in changed.items():
        write_facts(file, msgspec.structs.replace(FACTS, **{name: value}))
        assert (view(file).digest() != before) is (name in counts), name


def test_worst_frame_follows_nothing_else_that_was_lost(tmp_path):
    """A sprite that lost more, in the same frame, is sampled no other way."""
    file = tmp_path / "pell.json"

    def digest(worst_frame: int | None, mean: float) -> str | None:
        lost = ColourError(frames=3, pixels=9, mean=mean, p95=mean, worst_frame=worst_frame, worst_mean=mean)
        write_facts(file, made_facts(SpriteFacts, "pell", colour_error=lost))
        assert WorstFrameView(file).read().colour_error.worst_frame == worst_frame
        return WorstFrameView(file).digest()

    assert digest(2, 1.0) == digest(2, 1.5)
    assert len({digest(2, 1.0), digest(1, 1.0), digest(0, 1.0), digest(None, 1.0)} - {None}) == 4


def test_file_with_unlike_views_counts_whole():
    """What one view leaves out may be what the other reads; a view that is handed over twice is still one."""
    ink, pell = Path("ink.json"), Path("pell.json")
    arguments = {"palette": In(PaletteView(ink)), "others": Depends((ContentView(ink), ContentView(pell))), "again": In(ContentView(pell))}
    assert views_of(arguments) == {pell: ContentView(pell)}
    assert views_of({**arguments, "facts": In(pell)}) == {}


@pytest.mark.parametrize("content", [{"version": FORMAT}, {**msgspec.to_builtins(FACTS), "version": FORMAT + 1}, None])
def test_what_cannot_be_read_is_refused_and_has_no_digest(file, content):
    """A part of the record, another format number, no file at all."""
    file.unlink()
    if content is not None:
        write_json(file, content)
    for view in (PaletteView(file), SizeView(file), ContentView(file)):
        assert dataclasses.astuple(view) == (file,)
        assert view.digest() is None
        with pytest.raises(ProjectError, match="ink.json"):
            view.read()
