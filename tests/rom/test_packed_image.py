"""Packed assets through a whole build: image, map, directory, include files, proofs, budget; and mistakes that are found.

What is in the image is unpacked by the LZ4 library, and by the C decoders with the constants of the written header.
"""

from __future__ import annotations

import copy
import hashlib
import json
import subprocess
import zlib

import lz4.block
import msgspec
import pytest

from pipeline.joints.facts import Facts, image_facts
from pipeline.joints.places import facts_files
from pipeline.reading.reader import read_image
from pipeline.reading.verify import verify_image
from pipeline.rom.image import Entry
from tests.conftest import need_tool, some
from tests.graph.looks import looks_of
from tests.makers import TARGETS, Built, as_map, build_here, make_project, problems, project_text, target_data, toml_text, write_text
from tests.reading.test_verify import entries, rank_of, replaced, write
from tests.recorded import differing

KINDS = ("sprite", "background", "palette", "sound", "data")
PACKABLE = ("ada", "quay", "figures", "quay_colours", "bell", "level")


def packing(value: str) -> str:
    """Return the tables that pack every asset that can be."""
    return "".join(f'[defaults.{kind}]\npacking = "{value}"\n' for kind in KINDS)


@pytest.fixture(scope="module", params=some([(target, value) for target in TARGETS for value in ("packbits", "lz4", "best")], 4))
def packed(request, tmp_path_factory) -> Built:
    """The small project, for each target, packed each way."""
    target, value = request.param
    folder = tmp_path_factory.mktemp("packed") / "ferry"
    return build_here(make_project(folder, target=target, more=packing(value)), "verify")


def test_build_looks_as_it_was_looked_at(packed):
    """All that a person and a program get; see ``tests.recorded``."""
    how = f"{packed.project.spec.game.target}, {packed.project.spec.defaults.data['packing']}"
    assert differing(f"build packed, {how}", looks_of(packed.project.folder)) == set()


@pytest.fixture(scope="module")
def basalt(tmp_path_factory) -> Built:
    """The small project packed as best, with all that follows from it."""
    folder = tmp_path_factory.mktemp("packed") / "ferry"
    return build_here(make_project(folder, more=packing("best")), "verify", "include", "unpackers", "proofs", "memory", "report")


def in_image(made: Built, name: str) -> tuple[dict, bytes]:
    """Return an asset's map entry and its bytes in the image."""
    entry = made.map["entries"][rank_of(made, name)]
    return entry, made.image[entry["offset"] : entry["offset"] + entry["bytes"]]


def blob(made: Built, name: str) -> bytes:
    """Return an asset as conversion made it."""
    return (made.project.folder / f"build/blobs/{name}.bin").read_bytes()


def test_map_tells_both_sizes_and_the_codec(packed):
    """Asked-for codecs are kept, best is at most as large as stored, programs and screens stay as they are."""
    for entry in packed.map["entries"]:
        made, name = blob(packed, entry["name"]), entry["name"]
        assert entry["unpacked_bytes"] == len(made)
        wanted = packed.project.assets[name].spec.packing if name in PACKABLE else "stored"
        assert entry["codec"] == wanted or (wanted == "best" and entry["bytes"] <= len(made))
        assert entry["codec"] != "stored" or in_image(packed, name)[1] == made
    assert {entry["name"] for entry in packed.map["entries"]} == {*PACKABLE, "main", "boot"}


def test_library_unpacks_what_stands_in_the_image(packed):
    """Every LZ4 entry, by the map's numbers."""
    for entry in packed.map["entries"]:
        if entry["codec"] == "lz4":
            data = in_image(packed, entry["name"])[1]
            assert lz4.block.decompress(data, uncompressed_size=entry["unpacked_bytes"]) == blob(packed, entry["name"])


def test_verified_image_reads_back(packed):
    """Every part of the check passes, by the image alone and against map and facts."""
    facts = facts_of(packed)
    assert read_image(packed.image, packed.project.target, None).faults == []
    assert verify_image(packed.image, packed.project.target, as_map(packed.map), facts, {}) == []


def facts_of(made: Built) -> dict[str, Facts]:
    """Return facts as the check takes them: those of packed bytes over those of conversion."""
    blobs = made.project.folder / "build/blobs"
    return {name: image_facts(facts_files(blobs, name, (blobs / f"{name}.packed.json").is_file())) for name in made.facts}


def test_directory_holds_codec_and_sizes(basalt):
    """Basalt 32's entries: codec at byte 5, bytes at 12, unpacked bytes at 16; the numbers are fixed for ever."""
    numbers, start = {"stored": 0, "packbits": 1, "lz4": 2}, 256
    for rank, entry in enumerate(basalt.map["entries"]):
        raw = basalt.image[start + 32 * rank : start + 32 * (rank + 1)]
        assert raw[5] == numbers[entry["codec"]]
        assert int.from_bytes(raw[12:16], "big") == entry["bytes"]
        assert int.from_bytes(raw[16:20], "big") == entry["unpacked_bytes"]
    assert {entry["codec"] for entry in basalt.map["entries"]} == {"stored", "packbits", "lz4"}


def as_written(made: Built) -> list[Entry]:
    """Return what is in the image as the writer takes it, with the facts of packed bytes."""
    facts = facts_of(made)
    return [replaced(one, facts=facts[one.facts.name]) for one in entries(made)]


def test_any_flipped_bit_of_packed_bytes_is_found_by_the_image_alone(basalt):
    """Each byte of an LZ4 and of a PackBits asset in turn."""
    for name, codec in (("ada", "lz4"), ("figures", "packbits")):
        entry, data = in_image(basalt, name)
        assert entry["codec"] == codec
        for at in range(entry["offset"], entry["offset"] + len(data)):
            image = bytearray(basalt.image)
            image[at] ^= 1 << at % 8
            found = read_image(bytes(image), basalt.project.target).faults
            assert any("another CRC-32" in fault for fault in found)


def test_flipped_bit_under_right_sums_is_found(basalt):
    """A packer that errs, with every sum and hash made for its bytes: the unpacked blob is compared with conversion's.

    A few changes of a block leave its meaning as it is (another distance in a run of one byte); the library says which.
    """
    entry, data = in_image(basalt, "ada")
    said = []
    for at in range(len(data)):
        spoilt = data[:at] + bytes([data[at] ^ 1 << at % 8]) + data[at + 1 :]
        faults = faults_of_packed(basalt, "ada", data=spoilt)
        assert faults or means_the_same(spoilt, entry, blob(basalt, "ada")), at
        said += faults
    assert any("does not unpack to what conversion made" in fault for fault in said)
    assert any("does not unpack: " in fault for fault in said)


def means_the_same(block: bytes, entry: dict, plain: bytes) -> bool:
    """Return whether the LZ4 library unpacks a block to some bytes."""
    try:
        return lz4.block.decompress(block, uncompressed_size=entry["unpacked_bytes"]) == plain
    except lz4.block.LZ4BlockError:
        return False


def faults_of_packed(made: Built, name: str, data: bytes | None = None, **fields) -> list[str]:
    """Return the faults of an image in which an asset's packed bytes, or what is said of them, are others, sums made again."""
    changed, rank, image_map = as_written(made), rank_of(made, name), copy.deepcopy(made.map)
    data = data if data is not None else changed[rank].blob
    facts = msgspec.structs.replace(changed[rank].facts, **fields | {"sha256": hashlib.sha256(data).hexdigest()})
    changed[rank] = replaced(changed[rank], blob=data, facts=facts)
    image = write(made, changed)
    image_map["image"] |= {"crc32": f"{zlib.crc32(image):08x}", "sha256": hashlib.sha256(image).hexdigest()}
    image_map["entries"][rank] |= {"crc32": f"{zlib.crc32(data):08x}", **fields}
    return verify_image(image, made.project.target, as_map(image_map), facts_of(made) | {name: facts}, {})


def test_wrong_codec_or_size_is_found(basalt):
    """In image, map and facts alike: the bytes themselves do not bear them out."""
    size = len(blob(basalt, "ada"))
    assert faults_of_packed(basalt, "ada") == []
    assert any("does not unpack" in fault for fault in faults_of_packed(basalt, "ada", codec="packbits"))
    assert any("does not unpack" in fault for fault in faults_of_packed(basalt, "ada", unpacked_bytes=size + 1))
    assert any("is said to unpack to" in fault for fault in faults_of_packed(basalt, "ada", codec="stored"))


def test_directory_that_disagrees_with_the_map_is_found(basalt):
    """The map's codec and unpacked size are compared with the image's."""
    for fields in ({"codec": "packbits"}, {"unpacked_bytes": 7}):
        image_map = copy.deepcopy(basalt.map)
        image_map["entries"][rank_of(basalt, "ada")] |= fields
        faults = verify_image(basalt.image, basalt.project.target, as_map(image_map), facts_of(basalt), {})
        assert any(f"the directory's {next(iter(fields))} of ada is" in fault for fault in faults)


def test_codec_that_programs_do_not_unpack_is_found(basalt):
    """An image for a target that unpacks only PackBits must hold no LZ4."""
    target = msgspec.structs.replace(basalt.project.target, codecs=["packbits"])
    faults = verify_image(basalt.image, target, as_map(basalt.map), facts_of(basalt), {})
    assert "ada is packed with lz4, which programs for Basalt 32 do not unpack" in faults


def test_header_and_decoders_suffice_for_a_program(basalt, tmp_path):
    """A C program made with the written assets.h, unpack.h and unpack.c finds and unpacks every kind of codec."""
    include = basalt.project.folder / "build/include"
    (tmp_path / "main.c").write_text(_PROGRAM)
    (tmp_path / "image").write_bytes(basalt.image)
    flags = ["-std=c89", "-pedantic", "-Wall", "-Wextra", "-Werror", f"-I{include}"]
    command = [need_tool("gcc"), *flags, str(tmp_path / "main.c"), str(include / "unpack.c"), "-o", str(tmp_path / "main")]
    subprocess.run(command, check=True, capture_output=True)
    done = subprocess.run([tmp_path / "main", tmp_path / "image"], check=True, capture_output=True)
    assert done.stdout == blob(basalt, "ada") + blob(basalt, "figures") + blob(basalt, "level")


_PROGRAM = """
#include <stdio.h>
#include "assets.h"
#include "unpack.h"
static unsigned char image[1 << 23], out[1 << 16];
static int show(unsigned long address, unsigned long bytes, unsigned long unpacked, int codec)
{
    const unsigned char *at = image + (address - 0x02000000ul);
    if (codec == ASSET_CODEC_STORED)
        return fwrite(at, 1, bytes, stdout) != bytes;
    if (!(codec == ASSET_CODEC_LZ4 ? rw_unpack_lz4 : rw_unpack_packbits)(at, bytes, out, unpacked))
        return 1;
    return fwrite(out, 1, unpacked, stdout) != unpacked;
}
int main(int argc, char **argv)
{
    FILE *file = argc == 2 ? fopen(argv[1], "rb") : NULL;
    if (file == NULL || fread(image, 1, sizeof image, file) == 0)
        return 2;
    return show(ADA_ADDRESS, ADA_BYTES, ADA_UNPACKED_BYTES, ADA_CODEC)
        || show(FIGURES_ADDRESS, FIGURES_BYTES, FIGURES_UNPACKED_BYTES, FIGURES_CODEC)
        || show(LEVEL_ADDRESS, LEVEL_BYTES, LEVEL_UNPACKED_BYTES, LEVEL_CODEC);
}
"""


def test_what_is_seen_and_needed_does_not_depend_on_packing(basalt, tmp_path):
    """Proofs and budget are those of the project stored; only the report shows packing."""
    stored = build_here(make_project(tmp_path / "ferry"), "proofs", "memory", "report").project.folder / "build"
    made = basalt.project.folder / "build"
    names = sorted(path.name for path in (stored / "proofs").iterdir() if not path.stem.startswith("boot"))  # which shows the build code
    assert len(names) == 9
    assert all((stored / f"proofs/{name}").read_bytes() == (made / f"proofs/{name}").read_bytes() for name in names)
    budgets = [json.loads((build / "budget.json").read_bytes()) for build in (stored, made)]
    assert budgets[0]["scenes"] == budgets[1]["scenes"]
    assert budgets[0]["image"]["bytes"] > budgets[1]["image"]["bytes"]
    entry, page = in_image(basalt, "ada")[0], (made / "report.html").read_text()
    assert f"packed with lz4 to {entry['bytes'] / entry['unpacked_bytes']:.0%} of {entry['unpacked_bytes']:,} bytes" in page
    assert "stored: no codec makes it smaller" in page
    assert "<th>packing</th>" in page
    assert "pack" not in (stored / "report.html").read_text().replace("packet", "")


def test_build_code_knows_the_codec(tmp_path):
    """Two bytes FF are FF FF in PackBits too, but an image with another codec in its directory is another build."""
    codes = set()
    for value in ("stored", "packbits"):
        folder = make_project(tmp_path / value, ('"level.bin"', f'"level.bin"\npacking = "{value}"'))
        (folder / "level.bin").write_bytes(b"\xff\xff")
        made = build_here(folder)
        assert in_image(made, "level")[1] == b"\xff\xff"
        codes.add(made.map["image"]["build_code"])
    assert len(codes) == 2


def only_packbits(folder) -> None:
    """Give a project a target of its own, whose programs unpack only PackBits."""
    (folder / "console.toml").write_text(toml_text({**target_data(), "codecs": ["packbits"]}))


def test_codec_the_target_lacks_is_refused_and_best_does_without(tmp_path):
    """The refusal names what there is; best never chooses it."""
    folder = make_project(tmp_path / "ferry")
    only_packbits(folder)
    own = ('"basalt32"', '"console.toml"')
    write_text(folder, project_text(own, ('file = "level.bin"', 'file = "level.bin"\npacking = "lz4"')))
    said = problems(folder)
    assert len(said) == 1
    assert "[data.level] packing" in said[0]
    assert "programs for Basalt 32 do not unpack lz4" in said[0]
    assert "use stored, packbits or best; or add it to codecs of the target file" in said[0]
    write_text(folder, project_text(own, more=packing("best")))
    made = build_here(folder)
    assert {entry["codec"] for entry in made.map["entries"]} == {"stored", "packbits"}


@pytest.mark.parametrize("target", ["basalt32", "pebble8"])
@pytest.mark.parametrize("codec", ["lz4", "packbits", "best"])
def test_packed_notice_is_the_last_and_what_it_saves_is_saved(tmp_path, target, codec):
    """Its place is known before its content is, so it has room for all that it might take, where nothing comes after it."""
    sizes = {}
    for packing in ("stored", codec):
        folder = make_project(tmp_path / packing, target=target)
        write_text(folder, project_text(("[screen.boot]", f'[screen.boot]\npacking = "{packing}"'), target=target))
        made = build_here(folder, "verify")
        sizes[packing] = made.map["image"]["used"]
    boot = next(entry for entry in made.map["entries"] if entry["name"] == "boot")
    assert boot["codec"] in ("lz4", "packbits")
    assert boot["bytes"] < boot["unpacked_bytes"] * 3 // 4
    assert boot == made.map["entries"][-1]
    assert sizes["stored"] - sizes[codec] > boot["unpacked_bytes"] // 5


def test_program_is_not_packed(tmp_path):
    """It runs where it is."""
    folder, table = make_project(tmp_path / "ferry"), "[program.main]"
    write_text(folder, project_text((table, f'{table}\npacking = "best"')))
    assert len(problems(folder)) == 1
    assert "packing" in problems(folder)[0]
