"""Load lists read back: what is wrong in them is found, by one changed number at a time. Common practice, no source."""

from __future__ import annotations

import copy
import random

import pytest

from pipeline.reading.decoded import BlobFault, Decoded
from pipeline.reading.loads import wrong_places
from pipeline.reading.verify import verify_image
from tests.makers import Built, as_map, build_here, make_project, problems, project_text, write_text
from tests.reading.decoding import decode_blob

BUNDLE = '[bundle]\ncrew = ["ada", "figures"]'
MORE = """
[bundle.view]
members = ["quay", "quay_colours"]
contiguous = true
[lists.load]
[scene.race]
always = ["view", "figures"]
direct = ["bell"]
[[scene.race.choose]]
count = 1
of = ["crew", "level", "bell"]
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Built:
    """A small project with load lists."""
    return build_here(make_project(tmp_path_factory.mktemp("lists") / "ferry", more=MORE))


@pytest.fixture(scope="module")
def decoded(made) -> Decoded:
    """Its lists."""
    return decode_blob("lists", _blob(made), made.project.target)


def _blob(made: Built) -> bytes:
    (entry,) = (one for one in made.map["entries"] if one["kind"] == "lists")
    return made.image[entry["offset"] : entry["offset"] + entry["bytes"]]


def test_good_lists_are_as_the_image(made, decoded):
    """Nothing is said, and there is something to say it of."""
    assert wrong_places(decoded, as_map(made.map).entries, made.project.target) == []
    assert all(decoded.tables[name] for name in ("scene", "slot", "group", "step", "place", "bundle"))
    assert verify_image(made.image, made.project.target, as_map(made.map), made.facts, {}, program="main") == []


CHANGES = [
    ("place", "name_hash", "which there is not"),
    ("place", "kind", "kind of"),
    ("place", "bytes", "bytes of"),
    ("place", "unpacked_bytes", "unpacked bytes of"),
    ("step", "source", "where no asset starts"),
    ("step", "at", "overlaps itself or leaves"),
    ("step", "unpacked_bytes", "overlaps itself or leaves"),
    ("slot", "at", "overlaps itself or leaves memory"),
]


@pytest.mark.parametrize(("table", "field", "said"), CHANGES)
def test_a_wrong_number_is_noticed(made, decoded, table, field, said):
    """The first record's number, one higher for a hash, far too high for a place."""
    changed = copy.deepcopy(decoded)
    row = changed.tables[table][0]
    row[field] += 1 if field in ("name_hash", "kind", "bytes") else 0x7FFF_FFFF
    faults = wrong_places(changed, as_map(made.map).entries, made.project.target)
    assert any(said in fault for fault in faults), faults


def test_two_places_in_one_are_noticed(made, decoded):
    """A step that goes where another goes; a slot over what is always there."""
    changed = copy.deepcopy(decoded)
    common = changed.tables["group"][changed.tables["scene"][-1]["group"]]
    first, second = changed.tables["step"][common["first_step"] : common["first_step"] + 2]
    second["at"] = first["at"]
    assert any("overlaps itself" in fault for fault in wrong_places(changed, as_map(made.map).entries, made.project.target))
    changed = copy.deepcopy(decoded)
    changed.tables["slot"][-1]["at"] = changed.tables["step"][common["first_step"]]["at"]
    assert any("overlaps itself" in fault for fault in wrong_places(changed, as_map(made.map).entries, made.project.target))


def test_a_run_that_is_none_is_noticed(made, decoded):
    """A contiguous bundle's length, first byte and order."""
    for field, value in (("bytes", 1), ("source", 32)):
        changed = copy.deepcopy(decoded)
        row = next(one for one in changed.tables["bundle"] if one["contiguous"])
        row[field] += value
        assert any("contiguous bundle" in fault for fault in wrong_places(changed, as_map(made.map).entries, made.project.target))
    changed = copy.deepcopy(decoded)
    row = next(one for one in changed.tables["bundle"] if one["contiguous"])
    places = changed.tables["place"]
    first = row["first_place"]
    places[first], places[first + 1] = places[first + 1], places[first]
    assert any("order of use" in fault for fault in wrong_places(changed, as_map(made.map).entries, made.project.target))


@pytest.mark.parametrize("seed", range(200))
def test_damaged_lists_are_refused_or_compared(made, seed):
    """Cut short or with a byte changed: a fault in words, or tables that can be compared; never another error."""
    dice, blob = random.Random(seed), bytearray(_blob(made))
    if seed % 4 == 0:
        del blob[dice.randrange(len(blob)) :]
    else:
        blob[dice.randrange(len(blob) if seed % 2 else 40)] = dice.choice((0, 255, dice.randrange(256)))
    try:
        decoded = decode_blob("lists", bytes(blob), made.project.target)
    except BlobFault:
        return
    assert all(isinstance(fault, str) for fault in wrong_places(decoded, as_map(made.map).entries, made.project.target))


def test_lists_that_lie_are_found_by_verify(made):
    """A length that is not the asset's."""
    entry = next(one for one in made.map["entries"] if one["kind"] == "lists")
    image = bytearray(made.image)
    at = entry["offset"] + int.from_bytes(_blob(made)[36:40], "big") + 8  # how many bytes the first asset has
    image[at + 3] ^= 0x20
    faults = verify_image(bytes(image), made.project.target, as_map(made.map), made.facts, {}, program="main")
    assert any("load lists" in fault for fault in faults)


IN_PART = """
[bundle]
crew = ["ada", "figures"]
[lists.load]
[scene.race]
always = ["figures"]
[scene.race.streamed]
ada = { buffers = 2 }
[[scene.race.choose]]
count = 1
of = ["crew", "level"]
"""


@pytest.fixture(scope="module")
def streamed(tmp_path_factory) -> Built:
    """A sprite that a scene streams: its tables are copied, and two buffers are beside them in its slot."""
    return build_here(make_project(tmp_path_factory.mktemp("streamed") / "ferry", (BUNDLE, IN_PART)))


PARTS = [
    ("place", "bytes", 0x7FFF_FFFF, "bytes of ada"),
    ("place", "unpacked_bytes", 1, "unpacked bytes of ada"),
    ("step", "source", 0x7FFF_FFFF, "where no asset starts"),
    ("step", "bytes", 0x7FFF_FFFF, "where no asset starts"),
    ("buffer", "set_bytes", 0x7FFF_FFFF, "overlaps itself or leaves its slot"),
    ("buffer", "sets", 1, "overlaps itself or leaves its slot"),
    ("buffer", "at", -1, "overlaps itself or leaves its slot"),
]


@pytest.mark.parametrize(("table", "field", "more", "said"), PARTS)
def test_a_wrong_number_of_what_is_there_in_part_is_noticed(streamed, table, field, more, said):
    """The lists are good as they are; then one number is changed of the tables' place, of their copy moved off the start, of buffers."""
    target, entries = streamed.project.target, as_map(streamed.map).entries
    lists = decode_blob("lists", _blob(streamed), target)
    assert wrong_places(lists, entries, target) == []
    assert verify_image(streamed.image, target, as_map(streamed.map), streamed.facts, {}, program="main") == []
    place = next(row for row in lists.tables["place"] if row["in_memory"] == 2)
    (ada,) = (one for one in entries if one.name == "ada")
    step = next(row for row in lists.tables["step"] if row["source"] == ada.offset)
    assert step["bytes"] == place["bytes"] < ada.bytes
    if (table, field) == ("step", "bytes"):
        step["source"] += 4
    {"place": place, "step": step, "buffer": lists.tables["buffer"][0]}[table][field] += more
    assert any(said in fault for fault in wrong_places(lists, entries, target))


WRONG = [
    ("[lists.one]\n[lists.two]", "[lists.two]: a project has one table of load lists", "remove this one"),
    ('[lists.load]\nscenes = ["plai"]', "[lists.load] scenes[0]: there is no scene 'plai'", "did you mean play?"),
    ('[lists.load]\n[scene.more]\nalways = ["load"]', "'load' are load lists, which are read in the cartridge", "leave them out"),
    ('[lists.load]\n[scene.more]\nalways = ["bell"]\nafter = ["plai"]', "[scene.more] after[0]: there is no scene 'plai'", "play?"),
]


@pytest.mark.parametrize(("more", "wrong", "remedy"), WRONG, ids=[one[1][:40] for one in WRONG])
def test_wrong_lists_are_refused(tmp_path, more, wrong, remedy):
    """One problem, with its place and what to do."""
    folder = make_project(tmp_path / "ferry")
    write_text(folder, project_text(more=more + "\n"))
    (said,) = problems(folder)
    assert wrong in said
    assert remedy in said


def test_a_built_program_needs_a_size(tmp_path):
    """A program made by a command, whose size is not known when memory is planned."""
    folder = make_project(tmp_path / "ferry")
    text = project_text(('file = "main.bin"', 'command = ["true", "{output}"]'), more='[lists.load]\n[scene.more]\nalways = ["main"]\n')
    write_text(folder, text)
    (said,) = problems(folder)
    assert "the size of 'main' is not known before it is built" in said
    assert "set reserve of [program.main]" in said
