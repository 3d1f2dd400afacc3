"""A mistake of the writer or of a conversion is found in an image whose every checksum is right.

Each image here is written again, sums included, with one thing done wrong, and read by the right target. What decoding
should give is worked out from the tests' own sources: nearest of 2^n - 1 even steps for colours, 128 steps for samples.
"""

from __future__ import annotations

import copy
import hashlib
import zlib

import msgspec
import numpy as np
import pytest
from PIL import Image

from pipeline.cache.results import Results
from pipeline.joints.facts import DataFacts, Facts
from pipeline.joints.layouts import ANIMATION, BACKGROUND, PALETTE, SCREEN, SOUND, SPRITE, STEP
from pipeline.joints.map import MapEntry
from pipeline.plain.errors import ProjectError
from pipeline.reading import verify
from pipeline.reading.decoded import BlobFault, Decoded
from pipeline.reading.reader import read_image
from pipeline.reading.show import clear_mask, frames_rgb
from pipeline.reading.verify import verify_image
from pipeline.rom.image import Entry, write_image
from pipeline.target.calls import Call
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import Target
from tests.conftest import some
from tests.graph.looks import looks_of
from tests.made_facts import made_facts
from tests.makers import TARGETS, Built, as_map, build_here, make_project, wav_levels
from tests.reading.decoding import decode_blob
from tests.recorded import differing


@pytest.fixture(scope="module", params=some(TARGETS, 2))
def made(request, tmp_path_factory) -> Built:
    """The small project built for each shipped target; where colours are few, each is snapped, so that what is shown can be foretold."""
    snapped = []
    if request.param == "lattice16":
        snapped = [(old, f"{old}\nexact = true") for old in ("colours = 8\ntransparent = true", "colours = 8\nfirst = 16")]
    return build_here(make_project(tmp_path_factory.mktemp("verify") / request.param, *snapped, target=request.param))


def test_build_looks_as_it_was_looked_at(made):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing(f"build of all kinds, {made.project.spec.game.target}", looks_of(made.project.folder)) == set()


@pytest.fixture(scope="module")
def basalt(tmp_path_factory) -> Built:
    """The small project built for one target, for mistakes that do not depend on it."""
    return build_here(make_project(tmp_path_factory.mktemp("verify") / "ferry"))


def entries(made: Built) -> list[Entry]:
    """Return what is in the image, as the writer takes it."""
    return [
        Entry(made.facts[one["name"]], made.image[one["offset"] : one["offset"] + one["bytes"]], one["offset"], one["alignment"])
        for one in made.map["entries"]
    ]


def write(made: Built, changed: list[Entry], target: Target | None = None) -> bytes:
    """Write an image of some entries with the values of the build."""
    game = made.project.spec.game
    program = next(one for one in made.map["entries"] if one["kind"] == "program")
    values = {
        "project.title": game.title,
        "project.code": game.code,
        "project.version": game.version,
        "build.code": made.map["image"]["build_code"],
        "program.address": program["address"],
        "program.entry": program["address"],
        "program.bytes": program["bytes"],
    }
    used = max(one.offset + len(one.blob) for one in changed)
    return write_image(target or made.project.target, changed, len(made.image), used, values)


def replaced(one: Entry, **parts) -> Entry:
    """Return an entry with some parts exchanged."""
    return Entry(**{"facts": one.facts, "blob": one.blob, "offset": one.offset, "alignment": one.alignment} | parts)


def rank_of(made: Built, name: str) -> int:
    """Return where an asset is in the order of the image."""
    return [one["name"] for one in made.map["entries"]].index(name)


def test_what_is_written_again_is_the_build(made):
    """The tests' own way of writing gives the build's image, so that a fault found below is the mistake's."""
    image = write(made, entries(made))
    assert image == made.image
    assert verify_image(image, made.project.target, as_map(made.map), made.facts, {}) == []


def test_bytes_found_as_meant_are_not_decoded_again_and_others_are(basalt, tmp_path, monkeypatch):
    """Known are these bytes, what is said of them, this target: whatever else comes is decoded, and its faults are reported each time."""
    decoded, decode = [], verify.decode_blob
    monkeypatch.setattr(verify, "decode_blob", lambda kind, *words: decoded.append(kind) or decode(kind, *words))
    image, target, image_map = basalt.image, basalt.project.target, as_map(basalt.map)

    def faults(data: bytes, facts: dict[str, Facts], target: Target = target) -> list[str]:
        decoded.clear()
        with Results(tmp_path / "known.results") as results:
            return verify_image(data, target, image_map, facts, {}, results=results)

    assert faults(image, basalt.facts) == []
    assert len(decoded) == len(image_map.entries)
    assert faults(image, basalt.facts) == []
    assert decoded == []
    one = next(name for name, facts in basalt.facts.items() if facts.kind == "sprite")
    intent = msgspec.structs.replace(basalt.facts[one].intent, sha256="0" * 64)
    other = basalt.facts | {one: msgspec.structs.replace(basalt.facts[one], intent=intent)}
    for _ in range(2):  # a fault is not remembered, it is found again
        assert any(fault.startswith(f"{one}: ") for fault in faults(image, other))
        assert decoded == ["sprite"]
    place = next(entry.offset for entry in image_map.entries if entry.name == one)
    damaged = image[:place] + bytes([image[place] ^ 1]) + image[place + 1 :]
    assert f"{one} in the image is not what conversion made" in faults(damaged, basalt.facts)
    faults(image, basalt.facts, msgspec.structs.replace(target, name="another"))
    assert len(decoded) == len(image_map.entries)


@pytest.mark.parametrize("other", [{"name": "birds"}, {"codec": "lz4"}, {"unpacked_bytes": 9}, {"offset": 1}, {}], ids=str)
def test_sprite_is_looked_at_again_when_its_pool_may_be_another(other, basalt):
    """A sprite names its pool and is drawn of its cells: which bytes have that name, how they unpack, and who reads them counts."""
    entry = next(one for one in as_map(basalt.map).entries if one.kind == "sprite")
    pool = msgspec.structs.replace(entry, name="fish", kind="pool", offset=0, bytes=8, unpacked_bytes=8)

    def key(pool: MapEntry, decoders: dict[str, Call]) -> bytes:
        around = verify._around(bytes(range(16)), [pool, entry], basalt.project.target)
        return verify._key(entry, b"", basalt.facts[entry.name], around, decoders, verify.COMPARISONS)

    known = key(pool, verify.DECODERS)
    assert key(msgspec.structs.replace(pool), verify.DECODERS) == known
    reads = {} if other else {"pool": verify.DECODERS["font"]}
    assert key(msgspec.structs.replace(pool, **other), {**verify.DECODERS, **reads}) != known


def wrong_order(target: Target) -> Target:
    """Return a target with the other byte order."""
    return msgspec.structs.replace(target, byte_order="little" if target.byte_order == "big" else "big")


def wrong_pad(target: Target) -> Target:
    """Return a target that pads with 00."""
    return msgspec.structs.replace(target, cartridge=msgspec.structs.replace(target.cartridge, pad=0))


def later_directory(target: Target) -> Target:
    """Return a target whose directory is 32 bytes further on."""
    end = target.header.offset + target.header.size
    return msgspec.structs.replace(target, directory=msgspec.structs.replace(target.directory, offset=end + 32))


@pytest.mark.parametrize("mistake", [wrong_order, wrong_pad, later_directory])
def test_image_written_by_another_target_is_found(made, mistake):
    """Bytes in the wrong order, wrong padding, a directory elsewhere: none passes, by the image's bytes alone."""
    assert read_image(write(made, entries(made), mistake(made.project.target)), made.project.target).faults != []


def test_entry_that_is_not_aligned_is_found(basalt):
    """A blob moved by two bytes, its entry with it."""
    changed = entries(basalt)
    changed[-1] = replaced(changed[-1], offset=changed[-1].offset + 2, alignment=1)
    found = read_image(write(basalt, changed), basalt.project.target).faults
    assert found == [f"entry {len(changed) - 1} is at {changed[-1].offset}, which is not aligned"]


def test_alignment_that_is_not_kept_is_found(basalt):
    """An entry that claims a larger alignment than its place has."""
    changed = entries(basalt)
    level = rank_of(basalt, "level")
    changed[level] = replaced(changed[level], alignment=1 << 14)
    found = read_image(write(basalt, changed), basalt.project.target).faults
    assert found == [f"entry {level} is at {changed[level].offset}, which is not aligned"]


def test_entries_that_overlap_are_found(basalt):
    """Two blobs of which the second was written over the first's last bytes."""
    changed = entries(basalt)
    changed[1] = replaced(changed[1], offset=changed[0].offset + 32)
    assert "entry 1 overlaps entry 0" in read_image(write(basalt, changed), basalt.project.target).faults


def test_entry_in_the_directory_is_found(basalt):
    """A blob where the directory is."""
    changed = entries(basalt)
    changed[0] = replaced(changed[0], offset=256 + 32 * len(changed) - 32)
    found = read_image(write(basalt, changed), basalt.project.target).faults
    assert any("overlaps the directory" in one for one in found)


def test_entry_across_two_banks_is_found(tmp_path):
    """A blob over the end of a 16 KiB bank, which the console cannot see in one piece."""
    made = build_here(make_project(tmp_path / "ferry", target="pebble8"))
    changed = entries(made)
    changed[-1] = replaced(changed[-1], offset=0xBFFE)
    assert f"entry {len(changed) - 1} crosses the end of a bank" in read_image(write(made, changed), made.project.target).faults


def exchange_blobs(changed: list[Entry]) -> list[Entry]:
    """Give two assets each other's bytes (and room)."""
    first, second = changed[0], changed[1]
    return [replaced(first, blob=second.blob, offset=second.offset), replaced(second, blob=first.blob, offset=first.offset), *changed[2:]]


def exchange_order(changed: list[Entry]) -> list[Entry]:
    """List two assets in the wrong order."""
    return [changed[1], changed[0], *changed[2:]]


def forget(changed: list[Entry]) -> list[Entry]:
    """Leave the last asset out."""
    return changed[:-1]


def repeat(changed: list[Entry]) -> list[Entry]:
    """List one asset twice."""
    return [*changed, changed[-1]]


def rename(changed: list[Entry]) -> list[Entry]:
    """Write one asset under another name."""
    return [replaced(changed[0], facts=msgspec.structs.replace(changed[0].facts, name="other")), *changed[1:]]


def other_kind(changed: list[Entry]) -> list[Entry]:
    """Write the first asset that is not data as data."""
    rank = next(rank for rank, one in enumerate(changed) if one.facts.kind != "data")
    facts = made_facts(DataFacts, changed[rank].facts.name, bytes=changed[rank].facts.bytes)
    return [*changed[:rank], replaced(changed[rank], facts=facts), *changed[rank + 1 :]]


def other_byte(changed: list[Entry]) -> list[Entry]:
    """Write one asset with another last byte."""
    return [*changed[:-1], replaced(changed[-1], blob=changed[-1].blob[:-1] + bytes([changed[-1].blob[-1] ^ 1]))]


@pytest.mark.parametrize("mistake", [exchange_blobs, exchange_order, forget, repeat, rename, other_kind, other_byte])
def test_image_that_is_not_what_was_meant_is_found(made, mistake):
    """An image that may be sound in itself, but is not the build's, is found when compared with map and facts."""
    image = write(made, mistake(entries(made)))
    image_map = copy.deepcopy(made.map)
    image_map["image"] |= {"crc32": f"{zlib.crc32(image):08x}", "sha256": hashlib.sha256(image).hexdigest()}
    assert verify_image(image, made.project.target, as_map(image_map), made.facts, {}) != []


def test_map_that_is_not_the_images_is_found(basalt):
    """Size and sums in the map are compared with the image's own."""
    image_map = copy.deepcopy(basalt.map)
    image_map["image"] |= {"bytes": 2, "crc32": "00000000", "sha256": "0" * 64}
    seen = basalt.map["image"]
    assert verify_image(basalt.image, basalt.project.target, as_map(image_map), basalt.facts, {}) == [
        f"the map says bytes of the image is 2, it is {seen['bytes']}",
        f"the map says crc32 of the image is 00000000, it is {seen['crc32']}",
        f"the map says sha256 of the image is {'0' * 64}, it is {seen['sha256']}",
        f"the map's used {seen['used']} and pad {seen['pad']} are not its 2 bytes",
    ]


def test_build_code_of_the_map_is_compared(made):
    """The packet and the kit's name take the build code from the map, so one that is not the build's is found."""
    image_map = copy.deepcopy(made.map)
    code = image_map["image"]["build_code"]
    image_map["image"]["build_code"] = "000000"
    faults = verify_image(made.image, made.project.target, as_map(image_map), made.facts, {"build.code": code})
    assert faults == [f"the map says build_code of the image is 000000, it is {code}"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"address": 0x02000000}, "is seen at 0x2000000, not"),
        ({"unpacked_bytes": 1}, "alignment, codec or unpacked size of"),
        ({"codec": "other"}, "alignment, codec or unpacked size of"),
        ({"alignment": 1 << 20}, "alignment, codec or unpacked size of"),
    ],
)
def test_map_entry_that_cannot_be_is_found(basalt, change, said):
    """Addresses, sizes and alignments in the map are computed again from the target."""
    image_map = copy.deepcopy(basalt.map)
    image_map["entries"][0] |= change
    assert any(said in fault for fault in verify_image(basalt.image, basalt.project.target, as_map(image_map), basalt.facts, {}))


@pytest.mark.parametrize(("less", "found"), [(0, False), (1, True)])
def test_map_whose_used_ends_before_its_last_entry_is_found(basalt, less, found):
    """``used`` is where the last entry ends: one byte less, with the padding counted to agree, is a fault."""
    image_map = copy.deepcopy(basalt.map)
    used = max(entry["offset"] + entry["bytes"] for entry in image_map["entries"]) - less
    image_map["image"] |= {"used": used, "pad": image_map["image"]["bytes"] - used}
    faults = verify_image(basalt.image, basalt.project.target, as_map(image_map), basalt.facts, {})
    assert (f"an entry of the map ends after its used {used}" in faults) == found


@pytest.mark.parametrize(("value", "field"), [("program.bytes", "program bytes"), ("program.entry", "entry")])
def test_header_value_fits_its_field_to_the_last_number(basalt, value, field):
    """Four bytes hold 2^32 - 1; 2^32 is refused with the field's name, and never written as 0."""
    target, changed = basalt.project.target, entries(basalt)
    values = dict.fromkeys((one.value for one in target.header.fields if one.value), "")
    values |= {"program.address": 0, "program.entry": 0, "program.bytes": 0}
    used = max(one.offset + len(one.blob) for one in changed)
    full = write_image(target, changed, len(basalt.image), used, values | {value: (1 << 32) - 1})
    at = next(one.offset for one in target.header.fields if one.value == value) + target.header.offset
    assert full[at : at + 4] == b"\xff" * 4
    with pytest.raises(ProjectError, match=f"header field '{field}': 0x100000000 does not fit 4 bytes"):
        write_image(target, changed, len(basalt.image), used, values | {value: 1 << 32})


def header_number(made: Built, one) -> int:
    """Return what a field of the header holds."""
    return int.from_bytes(made.image[one.offset : one.offset + one.bytes], made.project.target.byte_order)


def test_directory_address_that_is_wrong_is_found(made):
    """A program finds the directory by the header's address, in banks as well; one byte further is found by the image alone."""
    fields = [
        msgspec.structs.replace(one, value=None, number=header_number(made, one) + 1) if one.value == "directory.address" else one
        for one in made.project.target.header.fields
    ]
    target = made.project.target
    image = write(made, entries(made), msgspec.structs.replace(target, header=msgspec.structs.replace(target.header, fields=fields)))
    assert any("directory.address" in fault for fault in read_image(image, target).faults)


def test_entry_point_that_is_not_the_programs_is_found(basalt):
    """The header's entry is compared with the program's place and its facts."""
    name = next(entry["name"] for entry in basalt.map["entries"] if entry["kind"] == "program")
    facts = basalt.facts | {name: msgspec.structs.replace(basalt.facts[name], entry=basalt.facts[name].entry + 2)}
    faults = verify_image(basalt.image, basalt.project.target, as_map(basalt.map), facts, {}, program=name)
    assert len(faults) == 1
    assert faults[0].startswith("the header says program.entry is 0x")


def place_of(record, part: str) -> slice:
    """Return where a part of a record is, from its start."""
    at = 0
    for one in record:
        if one.name == part:
            return slice(at, at + one.bytes)
        at += one.bytes
    raise KeyError(part)


def number(blob: bytes, record, part: str, at: int = 0) -> int:
    """Return a number of a big-endian record."""
    where = place_of(record, part)
    return int.from_bytes(blob[at + where.start : at + where.stop], "big")


# asset, record, part, the part of the blob's own record that says where this one starts, new value
CONVERTED_WRONG = [
    ("ada", SPRITE, "frame_count", None, 1),
    ("ada", SPRITE, "anchor_x", None, 3),
    ("ada", SPRITE, "palette", None, zlib.crc32(b"quay_colours")),
    ("ada", SPRITE, "version", None, 9),
    ("ada", SPRITE, "animation_count", None, 0),
    ("ada", ANIMATION, "name_hash", "animations", zlib.crc32(b"run")),
    ("ada", ANIMATION, "loop", "animations", 0),
    ("ada", ANIMATION, "step_count", "animations", 1),
    ("ada", STEP, "frame", "steps", 1),
    ("ada", STEP, "ticks", "steps", 77),
    ("quay", BACKGROUND, "palette", None, zlib.crc32(b"figures")),
    ("quay", BACKGROUND, "version", None, 9),
    ("figures", PALETTE, "transparent", None, 0),
    ("figures", PALETTE, "first", None, 3),
    ("figures", PALETTE, "entry_count", None, 2),
    ("bell", SOUND, "rate", None, 4000),
    ("bell", SOUND, "format", None, 2),
    ("bell", SOUND, "format", None, 3),
    ("bell", SOUND, "sample_count", None, 10),
    ("boot", SCREEN, "entry_count", None, 1),
]


WHICH = [f"{name} {part}" for name, _, part, _, _ in CONVERTED_WRONG]


@pytest.mark.parametrize(("name", "record", "part", "inside", "value"), CONVERTED_WRONG, ids=WHICH)
def test_number_that_conversion_wrote_wrong_is_found(basalt, name, record, part, inside, value):
    """A wrong number in a blob's tables, under facts whose hash is the blob's, is found: it is not what the facts say."""
    own = {"ada": SPRITE, "quay": BACKGROUND, "figures": PALETTE, "bell": SOUND, "boot": SCREEN}[name]
    assert faults_of_change(basalt, name, own, record, part, inside, value) != []


def test_sides_exchanged_in_a_picture_are_found(basalt):
    """Width and height exchanged: the same pixels in the same order, but another picture."""
    for name, record in (("quay", BACKGROUND), ("boot", SCREEN)):
        blob = entries(basalt)[rank_of(basalt, name)].blob
        sides = place_of(record, "width"), place_of(record, "height")
        assert blob[sides[0]] != blob[sides[1]], name
        changed = bytearray(blob)
        changed[sides[0]], changed[sides[1]] = blob[sides[1]], blob[sides[0]]
        assert faults_of_blob(basalt, name, bytes(changed)) != [], name


def faults_of_change(made: Built, name: str, own, record, part: str, inside: str | None, value: int) -> list[str]:
    """Return the faults of a build in which one number of a blob was converted to another value."""
    blob = entries(made)[rank_of(made, name)].blob
    start = number(blob, own, inside) if inside else 0
    where = place_of(record, part)
    assert number(blob, record, part, start) != value
    changed = blob[: start + where.start] + value.to_bytes(where.stop - where.start, "big") + blob[start + where.stop :]
    return faults_of_blob(made, name, changed)


def faults_of_blob(made: Built, name: str, blob: bytes) -> list[str]:
    """Return the faults of a build whose conversion made another blob, with every sum and hash made for that blob."""
    changed, rank = entries(made), rank_of(made, name)
    facts = msgspec.structs.replace(made.facts[name], sha256=hashlib.sha256(blob).hexdigest())
    changed[rank] = replaced(changed[rank], blob=blob, facts=facts)
    image, image_map = write(made, changed), copy.deepcopy(made.map)
    image_map["image"] |= {"crc32": f"{zlib.crc32(image):08x}", "sha256": hashlib.sha256(image).hexdigest()}
    image_map["entries"][rank]["crc32"] = f"{zlib.crc32(blob):08x}"
    return verify_image(image, made.project.target, as_map(image_map), {**made.facts, name: facts}, {})


# What decoding gives, against the sources.


def blob_of(made: Built, name: str) -> bytes:
    """Return an asset's bytes in the image."""
    return entries(made)[rank_of(made, name)].blob


def shown(rgb: np.ndarray, bits: int) -> np.ndarray:
    """Return colours at the nearest of 2^bits levels, each level's bits repeated to eight (as a 3 or 5-bit converter shows)."""
    level = np.rint(rgb.astype(float) * (2**bits - 1) / 255).astype(int)
    return level << 5 | level << 2 | level >> 1 if bits == 3 else level << 3 | level >> 2


def test_pictures_decode_to_the_source_pictures(made):
    """Background and frames, decoded with their palettes, are the source pictures in the console's colours; clear stays clear."""
    target, art = made.project.target, made.project.folder / "art"
    bits = target.palette.entry.bits("R")
    for name, palette, files in (("quay", "quay_colours", ["quay.png"]), ("ada", "figures", ["ada/walk_0.png", "ada/walk_1.png"])):
        colours = decode_blob("palette", blob_of(made, palette), target)
        decoded = decode_blob(made.facts[name].kind, blob_of(made, name), target)
        seen = frames_rgb(decoded, colours.colours, colours.head["first"])
        clear = clear_mask(decoded, colours.head["first"], bool(colours.head["transparent"]))
        assert len(seen) == len(files)
        for rank, file in enumerate(files):
            source = np.asarray(Image.open(art / file).convert("RGBA"))
            height, width = source.shape[:2]
            opaque = source[..., 3] > 0
            assert (clear[rank][:height, :width] == ~opaque).all()
            assert (seen[rank][:height, :width][opaque] == shown(source[..., :3], bits)[opaque]).all()
            whole = -(-height // target.cells.height) * target.cells.height, -(-width // target.cells.width) * target.cells.width
            assert decoded.pixels.shape[1:] == whole


def test_number_outside_the_palette_is_shown_in_magenta(basalt):
    """A colour that is in hardly any art, so that it is seen; pixels count from the palette's place."""
    pixels = np.array([[[2, 3, 1, 4, 255]]], dtype=np.uint32)
    decoded = Decoded({}, pixels, pixel_format=basalt.project.target.pixel_formats["index8"])
    seen = frames_rgb(decoded, np.array([(1, 2, 3), (4, 5, 6)], dtype=np.uint8), 2)
    assert seen[0, 0].tolist() == [[1, 2, 3], [4, 5, 6], *[[255, 0, 255]] * 3]


def test_first_entry_of_every_line_is_clear():
    """Of lines of 16 entries; without a transparent entry none is."""
    pixels = np.array([[[0, 16, 17, 32, 47, 48, 15]]], dtype=np.uint32)
    decoded = Decoded({}, pixels, pixel_format=load_target(SHIPPED / "lattice16.toml").pixel_formats["tile4"], lines=True)
    assert clear_mask(decoded, 0, transparent=True)[0, 0].tolist() == [True, True, False, True, False, True, False]
    assert not clear_mask(decoded, 0, transparent=False).any()


def test_sound_decodes_to_the_recorded_samples(made):
    """A recording at its own rate comes back as its samples in 128 steps; unsigned ones have silence at 128."""
    decoded = decode_blob("sound", blob_of(made, "bell"), made.project.target)
    middle = 128 if made.project.target.sound.formats[0] == "u8" else 0
    assert decoded.head["rate"] == 8000
    assert decoded.samples.tolist() == [level // 256 + middle for level in wav_levels()]


def test_animation_decodes_to_the_projects(made):
    """80 ms at the screen's pictures a second, to the nearest; the name by its CRC-32."""
    decoded = decode_blob("sprite", blob_of(made, "ada"), made.project.target)
    ticks = round(0.08 * made.project.target.screen.refresh)
    assert decoded.animations == [(zlib.crc32(b"walk"), True, [(0, ticks), (1, ticks)])]
    assert (decoded.head["anchor_x"], decoded.head["anchor_y"]) == (10, 24)


def test_bytes_taken_as_they_are_stand_in_the_image(made):
    """Program and data are the files' bytes."""
    for name, file in (("main", "main.bin"), ("level", "level.bin")):
        assert blob_of(made, name) == (made.project.folder / file).read_bytes()


@pytest.mark.parametrize("name", ["ada", "quay", "figures", "bell", "boot"])
def test_blob_cut_anywhere_does_not_decode_or_crash(made, name):
    """A blob that ends too early is a BlobFault, whatever was cut; nothing else is raised."""
    blob, kind = blob_of(made, name), made.facts[name].kind
    for length in sorted({*range(0, min(len(blob), 80)), len(blob) // 2, len(blob) - 1}):
        with pytest.raises(BlobFault):
            decode_blob(kind, blob[:length], made.project.target)
