"""The reader finds any single flipped bit, and the writer's mistakes, from the image's bytes and the target alone."""

from __future__ import annotations

import json
import random

import msgspec
import pytest

from pipeline.joints.facts import BackgroundFacts, IntentFacts, PaletteFacts, ScreenFacts, SpriteFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.project.loading.load import load_project
from pipeline.reading.reader import read_image
from pipeline.reading.verify import verify_image
from pipeline.target.fields import directory_offset
from tests.conftest import LONG, some
from tests.graph.builds import build, for_target, make_project
from tests.makers import as_map
from tests.reading.decoding import decode_blob
from tests.recorded import differing, hash_of

TARGETS = ("basalt32", "lattice16", "pebble8")


@pytest.fixture(scope="module", params=some(TARGETS, 2))
def made(request, tmp_path_factory):
    """A built small project for each shipped target: its image, target, map and facts."""
    project = for_target(make_project(tmp_path_factory.mktemp(request.param) / "project"), request.param)
    build(project, "verify")
    folder = project / "build"
    image_map = json.loads((folder / "map.json").read_bytes())
    facts = {entry["name"]: read_facts(facts_file(folder / "blobs", entry["name"])) for entry in image_map["entries"]}
    target = load_project(project).target
    return (folder / "rom/small.rom").read_bytes(), target, image_map, facts


def _flipped(data: bytes, bit: int) -> bytes:
    changed = bytearray(data)
    changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)


def _tables(target, image_map) -> tuple[range, range]:
    header = range(target.header.offset, target.header.offset + target.header.size)
    start = directory_offset(target)
    return header, range(start, start + target.directory.entry_bytes * len(image_map["entries"]))


def test_good_image_has_no_fault(made):
    """Every shipped target's image reads back without a fault, by bytes alone and against the build's intent."""
    data, target, image_map, facts = made
    assert read_image(data, target).faults == []
    assert verify_image(data, target, as_map(image_map), facts, {}) == []


def test_every_flipped_bit_of_header_and_directory_is_found(made):
    """A bit of each byte of header and directory, or each bit in the long form, makes the reader complain without the map's help."""
    data, target, image_map, _ = made
    said: dict[str, bytes] = {}
    for part in _tables(target, image_map):
        for byte in part:
            for rank in {byte % 8, *(range(8) if LONG else ())}:
                faults = read_image(_flipped(data, byte * 8 + rank), target).faults
                assert faults, f"bit {rank} of byte {byte} passed"
                if rank == byte % 8:
                    said[f"from byte {byte // 16 * 16}"] = said.get(f"from byte {byte // 16 * 16}", b"") + repr(faults).encode()
    # What is said of each has no outside source.
    assert differing(f"faults of flipped bits, {target.name}", {place: hash_of(faults) for place, faults in said.items()}) == set()


def test_flipped_bits_of_blobs_and_padding_are_found(made):
    """Bits of every blob and of the padding, spread over each and chosen with a fixed seed, are found by bytes alone."""
    data, target, image_map, _ = made
    chosen = random.Random(20261120)
    spans = [(entry["offset"], entry["offset"] + entry["bytes"]) for entry in image_map["entries"]]
    spans.append((image_map["image"]["used"], len(data)))
    for start, end in spans:
        bits = {start * 8, end * 8 - 1, *(chosen.randrange(start * 8, end * 8) for _ in range(12))}
        for bit in bits:
            assert read_image(_flipped(data, bit), target).faults, f"bit {bit} passed"


def test_every_bit_of_a_small_blob_is_found(made):
    """Every bit of the smallest palette, one at a time."""
    data, target, image_map, _ = made
    entry = min((one for one in image_map["entries"] if one["kind"] == "palette"), key=lambda one: one["bytes"])
    for bit in range(entry["offset"] * 8, (entry["offset"] + entry["bytes"]) * 8):
        assert read_image(_flipped(data, bit), target).faults, f"bit {bit} passed"


def test_decoding_gives_what_conversion_meant(made):
    """Kinds decode to the recorded sizes: frames, cells, colours; and a wrong hash of the pixels is a fault."""
    data, target, image_map, facts = made
    for entry in image_map["entries"]:
        blob = data[entry["offset"] : entry["offset"] + entry["bytes"]]
        decoded = decode_blob(entry["kind"], blob, target)
        known = facts[entry["name"]]
        if isinstance(known, SpriteFacts | BackgroundFacts | ScreenFacts):
            assert list(decoded.pixels.shape) == known.intent.shape
            intent = IntentFacts(shape=known.intent.shape, sha256="0" * 64)
            wrong = {**facts, entry["name"]: msgspec.structs.replace(known, intent=intent)}
            assert f"{entry['name']}: its pixels are not the converted ones" in verify_image(data, target, as_map(image_map), wrong, {})
        if isinstance(known, PaletteFacts):
            assert [tuple(colour) for colour in decoded.colours.tolist()] == known.colours


def test_swapped_directory_entries_are_found_against_the_map(made):
    """Two whole entries exchanged read well by themselves where no checksum covers them, but are not what was meant."""
    data, target, image_map, facts = made
    _, directory = _tables(target, image_map)
    width = target.directory.entry_bytes
    changed = bytearray(data)
    first, second = directory.start, directory.start + width
    changed[first : first + width], changed[second : second + width] = data[second : second + width], data[first : first + width]
    assert verify_image(bytes(changed), target, as_map(image_map), facts, {})


def test_shortened_image_is_found(made):
    """An image of no cartridge's size is a fault."""
    data, target, _, _ = made
    assert f"{len(data) - 1} bytes are not a cartridge size of {target.name}" in read_image(data[:-1], target).faults


def test_header_value_that_is_not_the_projects_is_found(made):
    """The title in the header is compared with the project's."""
    data, target, image_map, facts = made
    faults = verify_image(data, target, as_map(image_map), facts, {"project.title": "Another Game"})
    assert faults == ["the header says project.title is 'Small Game', the project says 'Another Game'"]


def test_directory_is_read_as_the_map_says(made):
    """What the reader finds in the directory's bytes is what the writer put into the map."""
    data, target, image_map, _ = made
    assert [(one.offset, one.bytes, f"{one.crc32:08x}") for one in read_image(data, target).entries] == [
        (entry["offset"], entry["bytes"], entry["crc32"]) for entry in image_map["entries"]
    ]
