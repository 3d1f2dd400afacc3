"""The table of kinds agrees with the records, layouts and functions that it names. Common practice, no source."""

from __future__ import annotations

import importlib
from typing import get_args, get_type_hints

import pytest

from pipeline.joints.facts import Facts
from pipeline.joints.layouts import RECORDS
from pipeline.plain import bounds
from pipeline.project.assets import Defaults
from pipeline.project.file import Planned, Project
from pipeline.project.model import ASSET_RECORDS
from pipeline.target.calls import Call
from pipeline.target.fields import CODEC_NUMBERS, ENTRY_VALUES
from pipeline.target.kinds import KIND_NUMBERS, KINDS, calls_of, kinds_with


def test_numbers_are_those_that_programs_compare_with():
    """For ever: a new kind gets a number of its own, and no number is given to another kind."""
    first = ["sprite", "background", "palette", "sound", "screen", "program", "data", "pool", "font", "level", "text", "notes", "lists"]
    assert list(KIND_NUMBERS.items())[: len(first)] == [(name, number) for number, name in enumerate(first, 1)]
    assert len(set(KIND_NUMBERS.values())) == len(KINDS)
    assert all(1 <= number <= 255 for number in KIND_NUMBERS.values())  # a byte of the directory holds it


@pytest.mark.parametrize(("value", "numbers"), [("asset.kind", KIND_NUMBERS), ("asset.codec", CODEC_NUMBERS)])
def test_the_page_lists_every_number(value, numbers):
    """What an author of a target file reads of a directory's field."""
    assert ENTRY_VALUES[value] == f"number: {', '.join(f'{number} {name}' for name, number in numbers.items())}"


@pytest.mark.parametrize("name", KINDS)
def test_every_function_of_a_kind_is_there(name):
    """A name that leads nowhere would show only when a project has such an asset."""
    kind = KINDS[name]
    calls = [*kind.proofs.values(), *(value for value in vars(kind).values() if isinstance(value, Call))]
    for call in calls:
        module, _, function = call.name.partition(":")
        assert callable(getattr(importlib.import_module(module), function)), call.name


@pytest.mark.parametrize("name", KINDS)
def test_every_record_of_a_kind_is_there(name):
    """Layouts in the order of their versions, which their own notes say; the project file's table; facts; a bound on its files."""
    kind = KINDS[name]
    assert kind.layouts == () or kind.layouts[-1]
    for version, layout in enumerate(kind.layouts, 1):
        assert not layout or RECORDS[layout][0].note == f"of this layout, {version}"
    assert ASSET_RECORDS[name].__name__.lower() == name
    assert name in [facts.__struct_config__.tag for facts in Facts.__subclasses__()]
    assert not kind.bound or getattr(bounds, kind.bound) > 0
    assert not kind.aligned_as or kind.aligned_as in KINDS
    assert bool(kind.layouts) == bool(kind.decode) == bool(kind.compare)


def test_the_project_file_has_the_kinds_of_the_table():
    """A table for each; defaults for those that may be packed; those that can be planned."""
    assert {name for name in Project.__struct_fields__ if name in KINDS} == set(KINDS)
    assert set(Defaults.__struct_fields__) == {name for name, record in ASSET_RECORDS.items() if "packing" in record.__struct_fields__}
    assert set(get_args(get_type_hints(Planned)["kind"])) == {name for name, kind in KINDS.items() if kind.planned is not None}


# What a kind is, by what is done with it: its page of the guide, and the docstring of ``Kind``, say what each trait means.
TRAITS = {
    "art": "sprite background font",
    "scaled": "sprite background",
    "pixels": "sprite pool background screen font",
    "video": "sprite pool background font",
    "large": "sprite pool background level",
    "late": "screen program",
    "shows_code": "screen",
    "thumbnail": "sprite background palette sound font level",
    "steps": "sprite pool background palette sound screen program data font level",
    "bound": "sprite background palette sound font level",
}


@pytest.mark.parametrize("trait", TRAITS)
def test_traits_of_the_first_ten_kinds(trait):
    """Those that have it, in the order of the table; of a kind that comes later its own page says so."""
    first = [name for name, kind in KINDS.items() if kind.number <= 10]
    assert [name for name in kinds_with(trait) if name in first] == TRAITS[trait].split()
    assert set(calls_of(trait, *first)) == set(TRAITS[trait].split())
    some = [name for name in ("program", "screen") if name in TRAITS[trait]]
    assert calls_of(trait, "screen", "program") == {name: getattr(KINDS[name], trait) for name in some}


def test_what_can_be_planned():
    """Keys that give the size of an asset to come."""
    planned = {name: kind.planned for name, kind in KINDS.items() if kind.number <= 10 and kind.planned is not None}
    assert planned == {
        "sprite": ("width", "height", "frames", "scale"), "background": ("width", "height", "scale"), "sound": ("seconds",), "data": (),
        "level": ("width", "height"),
    }  # fmt: skip
