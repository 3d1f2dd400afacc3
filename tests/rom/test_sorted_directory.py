"""A directory sorted by name hash: written, read, checked, and searched by halving on a 68000."""

from __future__ import annotations

import subprocess
import zlib

import pytest

from pipeline.reading.reader import read_image
from pipeline.target.fields import directory_offset
from tests.conftest import need_library, need_tool
from tests.makers import Built, target_data, toml_text
from tests.rom.reader_walk import FAULT, compile_native, every_kind, expected, walk_native
from tests.rom.test_console_reader import PLAIN, assert_same, corrupt_cases, cut

MANY = 211


def sorted_target(name: str, width: int | None = None) -> str:
    """Return a shipped target whose directory is sorted, with entries of some bytes."""
    data = target_data(name)
    data["directory"]["sorted"] = True
    data["directory"]["entry_bytes"] = width or data["directory"]["entry_bytes"]
    return toml_text(data)


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Built:
    """Every kind on the console with a linear screen."""
    return every_kind(tmp_path_factory.mktemp("sorted") / "project", "basalt32", sorted_target("basalt32"))


def hashes(made: Built, image: bytes) -> list[int]:
    """Return the name hashes in the order of the image's directory."""
    start, width = directory_offset(made.project.target), made.project.target.directory.entry_bytes
    return [int.from_bytes(image[start + rank * width :][:4], "big") for rank in range(len(made.map["entries"]))]


def test_entries_are_in_order_and_the_map_is_as_ever(made):
    """Hashes rise; map.json stays in image order; the reader in Python finds nothing wrong and gives entries in image order."""
    names = [one["name"] for one in made.map["entries"]]
    assert hashes(made, made.image) == sorted(zlib.crc32(name.encode()) for name in names)
    assert hashes(made, made.image) != [zlib.crc32(name.encode()) for name in names]
    offsets = [one["offset"] for one in made.map["entries"]]
    assert offsets == sorted(offsets)
    found = read_image(made.image, made.project.target)
    assert found.faults == []
    assert [one.offset for one in found.entries] == offsets


def test_two_entries_that_changed_places_are_found(made):
    """The image is otherwise as it was, apart from its sums."""
    start, width = directory_offset(made.project.target), made.project.target.directory.entry_bytes
    image = bytearray(made.image)
    image[start : start + 2 * width] = image[start + width : start + 2 * width] + image[start : start + width]
    faults = read_image(bytes(image), made.project.target).faults
    assert any("sorted by name hash" in one for one in faults)


@pytest.mark.parametrize("width", [32, 36])
def test_program_finds_everything(width, tmp_path):
    """By shifting or by multiplying, as the size of an entry demands; missing names are not found, corrupt images do no harm."""
    made = every_kind(tmp_path / "project", "basalt32", sorted_target("basalt32", width))
    program = compile_native(made, tmp_path, *PLAIN)
    wanted = expected(made)
    assert FAULT not in wanted
    assert_same(walk_native(program, made, tmp_path), wanted)
    walk_native(program, cut(made), tmp_path, corrupt_cases(made, 400))
    missing = Built(made.project, made.image, {**made.map, "entries": [{**made.map["entries"][0], "name": "nobody"}]}, made.facts)
    assert walk_native(program, missing, tmp_path).tolist() == [FAULT]


def test_halving_is_a_fraction_of_going_through(made, tmp_path):
    """On an emulated 68000, of 211 entries: each is found in at most 1,600 instructions; one after another took 13,402 for the last."""
    need_library("unicorn")
    need_tool("m68k-linux-gnu-gcc")
    from unicorn import UC_HOOK_CODE

    from tests.rom.reader_68000 import OUTPUT, Console, link_walk

    names = sorted((f"asset_{rank}" for rank in range(MANY)), key=lambda name: zlib.crc32(name.encode()))
    target, image = made.project.target, bytearray(made.image)
    (count,) = [one for one in target.header.fields if one.value == "directory.count"]
    image[count.offset : count.offset + count.bytes] = MANY.to_bytes(count.bytes, "big")
    start, width = directory_offset(target), target.directory.entry_bytes
    for rank, name in enumerate(names):
        entry = bytearray(image[start : start + width])
        entry[:4], entry[4], entry[5] = zlib.crc32(name.encode()).to_bytes(4, "big"), 6, 0
        entry[8:20] = (0x0200_0000 + 64 * rank).to_bytes(4, "big") + (64).to_bytes(4, "big") * 2
        image[start + rank * width : start + (rank + 1) * width] = entry
    console = Console(link_walk(made.project.folder / "build/include", tmp_path, "-Os"), bytes(image), watch=False)
    counted = [0]
    console.cpu.hook_add(UC_HOOK_CODE, lambda *_: counted.__setitem__(0, counted[0] + 1))
    most = 0
    for rank, name in enumerate(names):
        counted[0] = 0
        assert console.call("rw_find", console.at, len(image), zlib.crc32(name.encode()), 6, OUTPUT) == 1
        most = max(most, counted[0])
        assert int.from_bytes(console.cpu.mem_read(OUTPUT, 4), "big") == console.at + 64 * rank
    assert most <= 1600


def test_readers_of_sorted_directories_compile_as_c89(made, tmp_path):
    """With gcc and clang, without a warning."""
    for compiler in ("gcc", "clang"):
        command = [need_tool(compiler), "-std=c89", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror", "-c"]
        source = made.project.folder / "build/include/reader.c"
        subprocess.run([*command, str(source), "-o", str(tmp_path / f"{compiler}.o")], check=True, capture_output=True)
