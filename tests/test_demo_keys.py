"""The demos together show every key of the project file, but for a short list with reasons."""

from __future__ import annotations

import tomllib
import types
from pathlib import Path
from typing import Annotated, Any, Union, get_args, get_origin

import msgspec

from pipeline.project.assets import Background, Data, Font, Level, Notes, Palette, Pool, Sound, Sprite, Text
from pipeline.project.file import IssueFile, Project
from pipeline.project.testers import TesterList

DEMOS = (Path("demo_project"), Path("demo_project/veillee"), Path("demo_project/diver"))
ROOT = Path(__file__).parents[1]
KINDS = {
    "sprite": Sprite, "pool": Pool, "background": Background, "palette": Palette, "sound": Sound, "data": Data, "font": Font,
    "level": Level, "notes": Notes, "text": Text,
}  # fmt: skip
_TABLES = ("Level", "Notes", "Text")
UNUSED = {
    "a demo is built on machines without a compiler, so its program is a finished file": {"Program.command", "Program.depends"},
    "a fixed place is shown once, by the programs": {
        f"{kind}.address"
        for kind in ("Sprite", "Pool", "Background", "Palette", "Font", "Sound", "Screen", "Data", *_TABLES, "Lists")
    },
    "alignment is shown once, by data": {
        f"{kind}.alignment"
        for kind in ("Sprite", "Pool", "Background", "Palette", "Font", "Sound", "Screen", "Program", *_TABLES, "Lists")
    },
    "nothing that a demo shows flashes beyond a limit; tests/findings writes cautions": {
        "Project.caution", "Caution.of", "Caution.text", "Caution.kind"
    },
    "no shipped console keeps room for a tester's number; tests/graph/test_marks.py adds it to one": {"Game.mark"},
    "neither demo has a release before its own; tests/graph/test_release.py compares with some": {"Game.since", "Tester.since"},
    "neither console has banks; tests/rom/test_program_banks.py names them": {"Program.bank", "Data.bank"},
    "neither console has a boundary that transfers may not cross; tests/rom/test_boundaries.py sets one": {
        f"{kind}.split" for kind in ("Sprite", "Pool", "Background", "Font", "Sound", "Screen", "Data", *_TABLES)
    },
    "neither console has a memory apart from main memory; tests/memory/test_areas.py gives one to a console": {
        f"{kind}.area"
        for kind in ("Sprite", "Pool", "Background", "Palette", "Font", "Sound", "Screen", "Program", "Data", *_TABLES, "Lists")
    },
    "both demos have one program; tests/rom/test_header_program.py chooses between two": {"Game.program"},
    "a demo's program is a finished file that reads its art as it is; tests/rom/test_prepared.py and test_tables.py ask for both": {
        "Sprite.prepared", "Sprite.prefer", "Game.tables",
    },
    "both consoles have one pixel format for art": {"Sprite.pixels", "Background.pixels"},
    "both consoles take the target's own: one has no tile unit, the other's suits": {"Background.tile", "Background.map_entry"},
    "notice and load lists say by themselves who made them": {"Screen.origin", "Lists.origin"},
    "one courier has notes, in a file; tests/assets/test_notes.py draws layers": {
        "Defaults.notes", "Notes.layer", "Notes.packing", "NoteKinds.colours"
    },
    "each demo has one notice, in the form that suits its console; tests/notices makes others": {
        "Defaults.screen", "Screen.arrangement", "Screen.correction",
    },
    "the demos' map is not of tiles; tests/assets/test_tile_levels.py draws such maps": {"Level.picture", "Level.set"},
    "the demos' forms ask for less than a packet may; tests/intake reads these columns": {
        f"BugColumns.{key}" for key in ("expected", "steps", "known", "console", "cartridge", "screen", "pad")
    },
    "the demos' exports have the year first and no numbers of rows; tests/intake/test_edited.py reads others": {
        "BugColumns.row", "FeedbackColumns.row", "BugForm.dates", "FeedbackForm.dates",
    },
    "one asset of texts is small": {"Defaults.text", "Text.packing"},
    "the demos' own recordings have one channel": {"Sound.channels"},
    "the demos' details have outlines of their own and lie inside; tests/assets/test_parts.py cuts and blends": {"Part.blend", "Part.clip"},
    "a demo's program streams one courier and its harbours in the plainest way; tests/memory/test_streaming.py counts the other ways": {
        "Scene.sets", "Streamed.role", "Streamed.unit", "Streamed.within", "SceneWindow.margin", "SceneWindow.tiles",
    },
    "one scale brings each demo's art in": {"Background.scale"},
    "the demos' art is drawn for them; tests/graph/test_sheets_build.py builds what sheets.md shows of art from elsewhere": {
        *(f"{kind}.{key}" for kind in ("Sprite", "Background", "Part", "Font") for key in ("key", "tolerance")),
        *(f"Sprite.{key}" for key in ("align", "marker")),
        *(f"Sheet.{key}" for key in ("frame", "margin", "gap", "boxes", "join", "cut")),
    },
}


def _records(annotation: Any) -> list[type]:
    """Return the records a field holds, whatever they are wrapped in."""
    if isinstance(annotation, type) and issubclass(annotation, msgspec.Struct):
        return [annotation]
    if get_origin(annotation) in (Annotated, Union, types.UnionType, list, dict, tuple):
        return [record for part in get_args(annotation) for record in _records(part)]
    return []


def _keys(record: type, found: set[str]) -> set[str]:
    """Return RECORD.KEY of a record and all it holds."""
    for field in msgspec.structs.fields(record):
        name = f"{record.__name__}.{field.encode_name}"
        if name not in found:
            found.add(name)
            for inner in _records(field.type):
                _keys(inner, found)
    return found


def _used(record: type, value: Any, found: set[str]) -> set[str]:
    """Return RECORD.KEY of what a file says; ``value`` is one record's table, or tables and lists of them."""
    if isinstance(value, list):
        for one in value:
            _used(record, one, found)
        return found
    if not isinstance(value, dict):  # a bundle as a list of names
        return found
    fields = {field.encode_name: field for field in msgspec.structs.fields(record)}
    for key, inner in value.items():
        if record.__name__ == "Defaults":
            found.add(f"Defaults.{key}")
            _used(KINDS[key], inner, found)
            continue
        found.add(f"{record.__name__}.{key}")
        for one in _records(fields[key].type):
            # A table of named records, or a record itself.
            named = get_origin(fields[key].type) is dict or dict in map(get_origin, get_args(fields[key].type))
            for table in inner.values() if named else [inner]:
                _used(one, table, found)
    return found


def test_two_demos_show_every_key():
    all_keys = _keys(Project, set()) | _keys(IssueFile, set()) | _keys(TesterList, set())
    all_keys |= {key for record in KINDS.values() for key in _keys(record, set())}
    used: set[str] = set()
    for demo in DEMOS:
        for file, record in (("project.toml", Project), ("issues.toml", IssueFile), ("reports/testers.toml", TesterList)):
            if (ROOT / demo / file).is_file():
                _used(record, tomllib.loads((ROOT / demo / file).read_text(encoding="utf-8")), used)
    excused = set().union(*UNUSED.values())
    assert not used - all_keys
    assert sorted(all_keys - used - excused) == [], "show it in a demo, or say in UNUSED why not"
    assert sorted(excused - (all_keys - used)) == [], "no longer unused: take it out of UNUSED"
