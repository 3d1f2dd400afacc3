"""The reader for eight bits: its walk says what decoding says, through banks that are really switched; its parts link alone; its size.

What it says of an image is compared with ``reading.kinds``; no corrupt image makes it read outside (address and undefined-behaviour
sanitizers, blocks of exact sizes). The Z80's compiler is sdcc.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from tests.conftest import LONG, need_tool, some, tries
from tests.makers import Built, target_data, toml_text
from tests.rom.reader_walk import FAULT, HERE, WARNINGS, compile_small, every_kind, expected, shared_kind, walk_native
from tests.rom.test_console_reader import PLAIN, assert_same, corrupt_cases, cut

ROOM = 4096  # bytes of code for what a game needs on an eight-bit console
COMPILERS = ("gcc", "clang", "g++", "clang++") if LONG else ("gcc", "clang++")
GAME = ("SHOW", "FIND", "SPRITE", "ANIMATION", "PALETTE", "UNPACK")
STORED = GAME[:-1]


@pytest.fixture(scope="module")
def made() -> Built:
    """A project with every kind of asset for the handheld."""
    return shared_kind("pebble8")


@pytest.fixture(scope="module")
def program(made, tmp_path_factory) -> Path:
    """Its small reader and walk."""
    return compile_small(made, tmp_path_factory.mktemp("program"))


@pytest.fixture(scope="module")
def streaming(made, tmp_path_factory) -> Path:
    """The same with tables of sprites in memory, and every frame fetched into a buffer."""
    return compile_small(made, tmp_path_factory.mktemp("streaming"), "-DSTREAMED", *PLAIN)


@pytest.mark.parametrize("walking", ["program", "streaming"])
def test_walk_says_what_decoding_says(made, walking, request, tmp_path):
    """Every kind and arrangement."""
    wanted = expected(made, small=True)
    assert FAULT not in wanted
    assert len(wanted) > 25_000
    assert_same(walk_native(request.getfixturevalue(walking), made, tmp_path), wanted)


def other_banks(**changes) -> str:
    """Return the handheld with small banks; ``offset``: entries have it instead of bank and address."""
    data = target_data("pebble8")
    banks, directory = data["cartridge"]["banks"], data["directory"]
    data["cartridge"]["sizes"] = ["60 KiB", "120 KiB"]
    banks["size"] = "6 KiB"
    if not changes.get("home", True):
        del banks["home"]
    if changes.get("offset"):
        directory["fields"] = [one for one in directory["fields"] if one["name"] not in ("bank", "address")]
        directory["fields"].append({"name": "offset", "offset": 6, "bytes": 4, "value": "asset.offset"})
    data["byte_order"] = changes.get("order", "little")
    data["pixel_formats"]["tile2"]["order"] = "rows" if changes.get("rows") else "cells"
    directory["sorted"] = changes.get("sorted", False)
    data["header"]["fields"] = [one for one in data["header"]["fields"] if one["name"] != "size"]
    return toml_text(data)


@pytest.mark.parametrize(
    "changes",
    some([{"home": False, "order": "big", "rows": True}, {"sorted": True}, {"offset": True}], 1),
    ids=some(["big-endian rows", "sorted", "offsets"], 1),
)
def test_other_banks(changes, tmp_path):
    """Bank 0 with and without a home, other orders, entries with offsets alone."""
    made = every_kind(tmp_path / "project", "pebble8", other_banks(**changes))
    assert len({one["offset"] // 6144 for one in made.map["entries"]}) > 1
    assert_same(walk_native(compile_small(made, tmp_path, *PLAIN), made, tmp_path), expected(made, small=True))


@pytest.mark.parametrize("codec", ["lz4", "packbits"])
def test_packed_assets_are_read_when_unpacked(codec, tmp_path):
    """With sizes from the directory; the codecs' reference is what unpacks in ``reading``."""
    data = target_data("pebble8")
    data["directory"]["entry_bytes"] = 20
    data["directory"]["fields"].append({"name": "unpacked", "offset": 16, "bytes": 4, "value": "asset.unpacked_bytes"})
    kinds = ("sprite", "pool", "background", "palette", "sound", "font", "data")
    packing = "".join(f'[defaults.{kind}]\npacking = "{codec}"\n' for kind in kinds)
    made = every_kind(tmp_path / "project", "pebble8", toml_text(data), packing)
    assert codec in {one["codec"] for one in made.map["entries"]}
    program = compile_small(made, tmp_path, *PLAIN)
    assert_same(walk_native(program, made, tmp_path), expected(made, small=True))
    faults = walk_native(program, cut(made), tmp_path, corrupt_cases(made, tries(400, 4000), seed=3))
    assert np.count_nonzero(faults) > 40


@pytest.mark.parametrize(("walking", "short"), [("program", 800), ("streaming", 300)])
def test_corrupt_images_do_no_harm(made, walking, short, request, tmp_path):
    """No byte outside a bank, asset or buffer is read, every walk ends, most spoilt images are noticed. 100,000 in the longest form."""
    count = tries(short, 6_000, 100_000)
    faults = walk_native(request.getfixturevalue(walking), cut(made), tmp_path, corrupt_cases(made, count))
    assert len(faults) == count
    assert count // 10 < np.count_nonzero(faults) < count


GUARDS = {
    "parts of places": ("    if (!lies_inside(offset, bytes))\n        return 0;\n", ""),
    "tables": ("return bytes != MOST && lies_inside(table, bytes);", "return bytes != MOST && table <= bytes + 70000u;"),
    "a bank's end": ("found.place.bytes <= RW_BANK_BYTES - found.place.offset", "found.place.bytes <= RW_BANK_BYTES + 30000u"),
    "banks": ("        if (bank >= banks)\n            return 0;\n", ""),
    "sizes of records": ("|| asset->place.bytes < record)", "|| asset->place.bytes < (unsigned char)(record >> 7))"),
}


@pytest.mark.parametrize("name", some(GUARDS, 2))
def test_reader_without_a_guard_is_caught(name, made, tmp_path):
    """The same cases end the process of a reader from which one guard was taken, so they would find its loss."""
    guard, less = GUARDS[name]
    text = (made.project.folder / "build/include/reader8.c").read_text()
    assert text.count(guard) == 1
    weak = tmp_path / "weak8.c"
    weak.write_text(text.replace(guard, less))
    program = compile_small(made, tmp_path, "-Wno-unused", "-Wno-unused-parameter", "-fno-sanitize=undefined", *PLAIN, reader=weak)
    with pytest.raises(AssertionError, match=r"AddressSanitizer|assert -"):
        walk_native(program, cut(made), tmp_path, corrupt_cases(made, 3000))


def parts_of(header: Path) -> dict[str, int]:
    """Return name -> number of every part a header lists."""
    found = re.findall(r"#define RW8_PART_(\w+) (\d+)", header.read_text())
    return {name: int(number) for name, number in found if name != "ALL"}


@pytest.mark.parametrize("compiler", some(COMPILERS, 1))
def test_every_part_links_alone_and_with_all_others(made, compiler, tmp_path):
    """No warning in C89 or C++; each part asks for nothing, and no two bring the same."""
    include, brought = made.project.folder / "build/include", []
    flags = [flag for flag in WARNINGS if flag != "-std=c89" or "+" not in compiler]
    language = ["-x", "c++"] if "+" in compiler else []
    for name, number in parts_of(include / "reader8.h").items():
        out = tmp_path / f"{name}.o"
        command = [need_tool(compiler), *language, *flags, f"-DRW8_PARTS={number}", '-DRW_CONFIG="reader8_console.h"', f"-I{HERE}"]
        command += ["-O0", "-ffreestanding", "-c", str(include / "reader8.c"), "-o", str(out)]
        subprocess.run(command, check=True, capture_output=True)
        listed = [line.split() for line in subprocess.run(["nm", str(out)], check=True, capture_output=True, text=True).stdout.splitlines()]
        assert {one[-1] for one in listed if one[-2] == "U"} <= {"console_banks", "console_bank", "memcpy"}
        brought += [one[-1] for one in listed if one[-2] == "T"]
    assert len(brought) == len(set(brought)) > 20


@pytest.mark.parametrize("compiler", some(COMPILERS, 1))
def test_parts_of_the_large_reader_link_alone(made, compiler, tmp_path):
    """The same of reader.c: together they bring what the whole brings; compiled without RW_PARTS it is whole."""
    include, flags = made.project.folder / "build/include", [flag for flag in WARNINGS if flag != "-std=c89" or "+" not in compiler]
    language, brought = ["-x", "c++"] if "+" in compiler else [], {}
    listed = re.findall(r"#define RW_PART_(\w+) (\d+)", (include / "reader.h").read_text())
    for name, number in [*listed, ("WHOLE", "")]:
        out, some = tmp_path / f"{name}.o", [f"-DRW_PARTS={number}"] if number else []
        command = [need_tool(compiler), *language, *flags, *some, "-O0", "-ffreestanding", "-c", str(include / "reader.c")]
        subprocess.run([*command, "-o", str(out)], check=True, capture_output=True)
        symbols = subprocess.run(["nm", str(out)], check=True, capture_output=True, text=True).stdout.splitlines()
        assert not [one for one in symbols if one.split()[-2] == "U"]
        brought[name] = {one.split()[-1] for one in symbols if one.split()[-2] == "T"}
    whole = brought.pop("WHOLE")
    assert brought.pop("ALL") == whole
    assert sorted(name for names in brought.values() for name in names) == sorted(whole)
    assert all(brought.values())


def test_example_of_the_page_compiles(made, tmp_path):
    """All C on the page, as it is there."""
    page = Path(__file__).parents[2] / "pipeline/guide/eight-bits.md"
    examples = re.findall(r"^```c\n(.*?)^```$", page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    assert len(examples) == 2
    (tmp_path / "example.c").write_text("\n".join(examples))
    include = made.project.folder / "build/include"
    command = [need_tool("sdcc"), "-mz80", f"-I{include}", "-c", str(tmp_path / "example.c"), "-o", str(tmp_path / "example.rel")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "warning" not in done.stderr


def sdcc_bytes(include: Path, folder: Path, *parts: str) -> int:
    """Return the bytes of code and constants of some parts of the reader, compiled for a Z80 with what sdcc tries by itself."""
    numbers = parts_of(include / "reader8.h")
    out = folder / "reader8.rel"
    switch = "-DRW_BANK(number)=(*(volatile unsigned char *)0x2000=(unsigned char)(number))"
    command = [need_tool("sdcc"), "-mz80", "--opt-code-size", switch]
    chosen = f"-DRW8_PARTS={sum(numbers[part] for part in parts)}"
    subprocess.run([*command, chosen, "-c", str(include / "reader8.c"), "-o", str(out)], check=True, capture_output=True)
    areas = re.findall(r"^A (\w+) size ([0-9A-F]+)", out.read_text(), re.MULTILINE)
    return sum(int(size, 16) for name, size in areas if name in ("_CODE", "_INITIALIZER", "_GSINIT"))


TOGETHER = [(*GAME, "FRAMES"), (*GAME, "STREAM"), *([(*STORED, "FRAMES", "STREAM")] if LONG else [])]


@pytest.mark.parametrize("parts", some(TOGETHER, 1), ids="-".join)
def test_what_a_game_needs_fits_four_kibibytes(made, parts, tmp_path):
    """Finding, sprites, animations, palettes: with unpacking also sprites of every arrangement, or fetching single frames.

    In the long form also both, without unpacking. 16 bytes are for what the compiler's library adds.
    """
    assert 2000 < sdcc_bytes(made.project.folder / "build/include", tmp_path, *parts) <= ROOM - 16
