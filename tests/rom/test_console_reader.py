"""The generated C reader walks whole images and says what ``reading.kinds`` says, and no corrupt image makes it read outside.

It is built for this machine with address and undefined-behaviour sanitizers; every corrupt image and every asset in it is
in a block of its own, so that the first byte read outside ends the process.
"""

from __future__ import annotations

import random
import subprocess
from pathlib import Path

import numpy as np
import pytest

from pipeline.graph.steps.site import READERS
from pipeline.joints import layouts
from pipeline.plain.rendering import find_template
from pipeline.rom.console_reader import READER_PARTS, reader_values, write_reader
from pipeline.target.fields import directory_offset
from tests.conftest import need_tool, some, tries
from tests.makers import TARGETS, Built, read_target, target_data, toml_text
from tests.rom.reader_walk import (
    FAULT,
    HERE,
    PLAIN,
    SANITIZERS,
    WARNINGS,
    compile_big_endian,
    compile_native,
    every_kind,
    expected,
    own_console,
    shared_kind,
    walk_native,
)

CASES = tries(500, 2000, 4000)  # for each target


@pytest.fixture(scope="module", params=some(TARGETS, 2))
def made(request) -> Built:
    """A project with every kind of asset, built for a shipped target."""
    return shared_kind(request.param)


@pytest.fixture(scope="module")
def program(made, tmp_path_factory) -> Path:
    """Its reader and walk, compiled for this machine."""
    return compile_native(made, tmp_path_factory.mktemp("program"))


def assert_same(said: np.ndarray, wanted: np.ndarray) -> None:
    """Compare walks; a difference is reported by its place."""
    differ = np.flatnonzero(said[: len(wanted)] != wanted[: len(said)])
    assert not len(differ), f"number {differ[0]} is {said[differ[0]]}, not {wanted[differ[0]]}"
    assert len(said) == len(wanted)


def test_walk_says_what_decoding_says(made, program, tmp_path):
    """Frames put together from pieces, boxes and sheets, tiles and maps, glyphs, colours, samples, steps, bytes."""
    said = walk_native(program, made, tmp_path)
    wanted = expected(made)
    assert FAULT not in wanted
    assert len(wanted) > 25_000
    assert_same(said, wanted)


def test_walk_is_the_same_on_a_big_endian_machine(made, program, tmp_path):
    """Emulated by qemu-user; and of the corrupt images each has as many faults as on this machine."""
    big, cases = compile_big_endian(made, tmp_path), corrupt_cases(made, CASES // 10, seed=2)
    assert_same(walk_native(big, made, tmp_path), expected(made))
    faults = walk_native(big, cut(made), tmp_path, cases)
    assert_same(faults, walk_native(program, cut(made), tmp_path, cases))


@pytest.mark.parametrize(
    ("planes", "first", "order"),
    some([("by word", "high", "cells"), ("by row", "low", "rows"), ("by picture", "high", "cells"), ("by byte", "low", "rows"),
     ("chunky", "low", "cells"), ("by word", "low", "rows")], 2),
)  # fmt: skip
def test_other_consoles(planes, first, order, tmp_path):
    """Little-endian planes of every form, cells that are neither square nor a power of two, palette words the other way round."""
    console = own_console(planes=planes, first=first, order=order)
    made = every_kind(tmp_path / "project", "lattice16", console)
    assert_same(walk_native(compile_native(made, tmp_path, *PLAIN), made, tmp_path), expected(made))


@pytest.mark.parametrize(("planes", "bits"), some([("by row", 5), ("by word", 6), ("by picture", 7), ("by byte", 5)], 1))
def test_consoles_of_other_depths(planes, bits, tmp_path):
    """Planes need not be a power of two; the build passes its own checks and the reader in C finds every pixel."""
    made = every_kind(tmp_path / "project", "lattice16", own_console(planes=planes, bits=bits))
    assert_same(walk_native(compile_native(made, tmp_path, *PLAIN), made, tmp_path), expected(made))


@pytest.mark.parametrize(
    ("planes", "order", "bits", "tile", "alignment"),
    some([("by pair", "columns", 4, None, None), ("by pair", "rows", 5, None, None),
     ("by pair", "cells", 4, (8, 6), {"default": 64, "cell": 64}), ("chunky", "columns", 4, (8, 4), None)], 1),
)  # fmt: skip
def test_console_with_pairs_of_planes_and_tiles_down_columns(planes, order, bits, tile, alignment, tmp_path):
    """Cells of several tiles in the order the hardware numbers them; the reader in C finds every pixel."""
    console = own_console(planes=planes, order=order, bits=bits, tile=tile, alignment=alignment)
    made = every_kind(tmp_path / "project", "lattice16", console)
    assert_same(walk_native(compile_native(made, tmp_path, *PLAIN), made, tmp_path), expected(made))


STARTS = {"default": 128, "frame": 128, "cell": 64, "tile": 128, "glyph": 32, "entries": 16}


@pytest.mark.parametrize(
    ("planes", "order", "bits", "row_unit"),
    some([("chunky", "rows", 4, 16), ("chunky", "cells", 4, 16), ("by row", "rows", 4, 4), ("by byte", "cells", 5, 4),
     ("by picture", "rows", 4, 8)], 1),
)  # fmt: skip
def test_console_whose_hardware_fetches_parts_by_themselves(planes, order, bits, row_unit, tmp_path):
    """Frames, cells, tiles, glyphs and entries start where the target says, rows are whole units; the reader in C finds every pixel."""
    console = own_console(planes=planes, order=order, bits=bits, row_unit=row_unit, alignment=STARTS)
    made = every_kind(tmp_path / "project", "lattice16", console)
    assert_same(walk_native(compile_native(made, tmp_path, *PLAIN), made, tmp_path), expected(made))


def test_console_without_directory(tmp_path):
    """There is no rw_find; assets are read from where assets.h says they are."""
    made = every_kind(tmp_path / "project", "lattice16", own_console(without_directory=True))
    assert "rw_find" not in (made.project.folder / "build/include/reader.h").read_text().replace("rw_find_animation", "")
    assert_same(walk_native(compile_native(made, tmp_path, "-DNO_DIRECTORY", *PLAIN), made, tmp_path), expected(made))


@pytest.mark.parametrize("home", [True, False])
def test_console_with_banks(home, tmp_path):
    """Bank 0, with a home of its own or without, holds header and directory: all that rw_look_up reads to find bank and address."""
    made = every_kind(tmp_path / "project", "pebble8", pebble_in_small_banks(home))
    target = made.project.target
    assert {one["offset"] // target.cartridge.banks.size for one in made.map["entries"]} == {0, 1}
    head = directory_offset(target) + target.directory.entry_bytes * len(made.map["entries"])
    flags = [f"-DHEAD_BYTES={head}ul", f"-DBANK_BYTES={target.cartridge.banks.size}ul", f"-DWINDOW={target.cartridge.banks.window}ul"]
    assert_same(walk_native(compile_native(made, tmp_path, *flags, *PLAIN), made, tmp_path), expected(made))


def test_console_with_fixed_banks(tmp_path):
    """The first two banks are seen one after the other, so the boot notice lies in both; the others are seen in a window."""
    data = target_data("pebble8")
    data["cartridge"] |= {"sizes": ["60 KiB", "120 KiB"], "banks": {"size": "3 KiB", "window": 0x8000, "home": 0x1000, "fixed": 2}}
    data["header"]["fields"] = [one for one in data["header"]["fields"] if one["name"] != "size"]
    made = every_kind(tmp_path / "project", "pebble8", toml_text(data))
    ends = [(one["offset"] // 3072, (one["offset"] + one["bytes"] - 1) // 3072) for one in made.map["entries"]]
    assert (0, 1) in ends
    assert max(ends) > (1, 1)
    assert_same(walk_native(compile_native(made, tmp_path, *PLAIN), made, tmp_path), expected(made))


def pebble_in_small_banks(home: bool) -> str:
    """Return the handheld with banks that just hold the boot notice, so that more than one is needed."""
    data = target_data("pebble8")
    if not home:
        del data["cartridge"]["banks"]["home"]
    data["cartridge"]["sizes"] = ["36 KiB", "72 KiB"]
    data["cartridge"]["banks"]["size"] = "6 KiB"
    data["header"]["fields"] = [one for one in data["header"]["fields"] if one["name"] != "size"]
    return toml_text(data)


@pytest.mark.parametrize("codec", ["lz4", "packbits"])
def test_packed_assets_are_read_when_unpacked(codec, tmp_path):
    """Nothing reads a packed asset; unpacked with the sizes of the directory it is read as any other."""
    kinds = ("sprite", "pool", "background", "palette", "sound", "font", "data")
    packing = "".join(f'[defaults.{kind}]\npacking = "{codec}"\n' for kind in kinds)
    made = every_kind(tmp_path / "project", "basalt32", packing=packing)
    assert {one["codec"] for one in made.map["entries"]} == {codec, "stored"}
    assert_same(walk_native(compile_native(made, tmp_path, "-DPACKED", *PLAIN), made, tmp_path), expected(made))


def corrupt_cases(made: Built, count: int, seed: int = 1) -> bytes:
    """Return cases for ``reader_cases.c``: changed bytes in header, directory, records and tables, small assets, images cut short."""
    chance, cases = random.Random(seed), bytearray()
    for _ in range(count):
        if chance.random() < 0.05:
            cases += bytes(4) + chance.randrange(made.map["image"]["used"]).to_bytes(4, "little")
            continue
        changes = _shrunk(made, chance) if chance.random() < 0.2 else [_change(made, chance) for _ in range(chance.randint(1, 4))]
        cases += len(changes).to_bytes(4, "little")
        for place, new in changes:
            cases += place.to_bytes(4, "little") + bytes([new])
    return bytes(cases)


def _change(made: Built, chance: random.Random) -> tuple[int, int]:
    """Return one place of header, directory, records or tables, and what it shall hold."""
    target, one, kind = made.project.target, chance.choice(made.map["entries"]), chance.random()
    if kind < 0.25:
        place = directory_offset(target) + chance.randrange(target.directory.entry_bytes * len(made.map["entries"]))
    elif kind < 0.65:
        place = one["offset"] + chance.randrange(min(64, one["bytes"]))
    elif kind < 0.95:
        place = one["offset"] + chance.randrange(min(700, one["bytes"]))
    else:
        place = target.header.offset + chance.randrange(target.header.size)
    old = made.image[place]
    return place, chance.choice((0, 0xFF, 0x7F, 0x80, old ^ 1 << chance.randrange(8), old + 1 & 0xFF, chance.randrange(256)))


def _shrunk(made: Built, chance: random.Random) -> list[tuple[int, int]]:
    """Return what makes an asset some bytes long, of any arrangement."""
    target, rank, size = made.project.target, chance.randrange(len(made.map["entries"])), chance.randrange(80)
    changes = [(made.map["entries"][rank]["offset"], chance.randint(1, 3))]
    for one in target.directory.fields:
        if one.value in ("asset.bytes", "asset.unpacked_bytes"):
            at = directory_offset(target) + rank * target.directory.entry_bytes + one.offset
            changes += list(enumerate(size.to_bytes(one.bytes, target.byte_order), at))
    return changes


def cut(made: Built) -> Built:
    """Return a build whose image ends with its last asset, without padding."""
    return Built(made.project, made.image[: made.map["image"]["used"]], made.map, made.facts)


def test_corrupt_images_do_no_harm(made, program, tmp_path):
    """No byte outside the image or asset is read, every walk ends, most spoilt ones are noticed. Long form: 34,000 for each target."""
    count = tries(CASES, 4_000, 34_000)
    faults = walk_native(program, cut(made), tmp_path, corrupt_cases(made, count))
    assert len(faults) == count
    assert count // 10 < np.count_nonzero(faults) < count


GUARDS = {
    "where an asset lies": ("|| !lies_inside(asset->offset, asset->bytes, image_bytes)", ""),
    "the directory's end": ("count && left >= ", "count && left != 1 + "),
    "items of tables": ("lies_inside(table, before, bytes) && lies_inside(table + before, size, bytes) ? ", "1 ? "),
    "tables as a whole": ("return lies_inside(table, product(count, size), bytes);", "return table <= bytes + 0 * (count + size);"),
    "pictures of cells and rows": ("    if (!parts || !lies_inside(offset, picture->bytes, bytes))\n        return 0;\n", ""),
    "sizes of records": ("if (sprite->bytes < PIECED_RECORD)", "if (sprite->bytes < 1)"),
}


@pytest.fixture(scope="module")
def guarded() -> Built:
    """The handheld's, whose reader loses its guards."""
    return shared_kind("pebble8")


@pytest.mark.parametrize("name", some(GUARDS, 2))
def test_reader_without_a_guard_is_caught(name, guarded, tmp_path):
    """The same cases end the process of a reader from which one guard was taken, so they would find its loss."""
    made = guarded
    guard, less = GUARDS[name]
    text = (made.project.folder / "build/include/reader.c").read_text()
    assert text.count(guard) == 1
    weak = tmp_path / "weak.c"
    weak.write_text(text.replace(guard, less))
    program = compile_native(made, tmp_path, "-Wno-unused", "-Wno-unused-parameter", "-fno-sanitize=undefined", *PLAIN, reader=weak)
    with pytest.raises(AssertionError, match="AddressSanitizer"):
        walk_native(program, cut(made), tmp_path, corrupt_cases(made, CASES))


def test_every_field_of_every_record_is_rendered():
    """A record or field added to the definitions cannot be forgotten: all there are reach the template of the reader, or the loader's."""
    values = reader_values(read_shipped("basalt32"))
    rendered = {one["name"]: [part["name"] for part in one["parts"]] for one in values["records"]}
    defined = {
        name: [part.name for part in value]
        for name, value in vars(layouts).items()
        if isinstance(value, tuple) and value and isinstance(value[0], layouts.Part) and not name.startswith("LIST")
    }
    assert rendered == defined
    assert {one["name"]: one["bytes"] for one in values["records"]} == {
        name: layouts.record_bytes(getattr(layouts, name)) for name in defined
    }


def read_shipped(name: str):
    """Return a shipped target."""
    from pipeline.target.loading import SHIPPED, load_target

    return load_target(SHIPPED / f"{name}.toml")


def test_wide_fields_and_fields_with_a_table(tmp_path):
    """Of a field wider than four bytes the low ones are read, whichever end they are at; what a table replaces is not taken."""
    data = target_data("basalt32")
    fields = {one["name"]: one for one in data["directory"]["fields"]}
    fields["unpacked bytes"] |= {"bytes": 8, "offset": 20}
    fields["crc"] |= {"offset": 28}
    fields["kind"] |= {"table": {"1": 7}}
    values = reader_values(read_target(tmp_path, toml_text(data)))
    assert values["directory"]["unpacked_bytes"] == {"offset": 24, "bytes": 4, "big": 1}
    assert "kind" not in values["directory"]
    fields["unpacked bytes"]["byte_order"] = "little"
    values = reader_values(read_target(tmp_path, toml_text(data)))
    assert values["directory"]["unpacked_bytes"] == {"offset": 20, "bytes": 4, "big": 0}
    assert write_reader(*reader_files(tmp_path), values) == "reader.h, reader.c"
    command = [need_tool("gcc"), *WARNINGS, *SANITIZERS, f"-I{HERE}", "-c", str(tmp_path / "reader.c"), "-o", str(tmp_path / "reader.o")]
    subprocess.run(command, check=True, capture_output=True)


def reader_files(folder: Path) -> tuple[dict, dict]:
    """Return templates and outputs of the reader's two files."""
    templates = {name: find_template(folder, f"console/{name}.j2") for name in (*READERS, *READER_PARTS)}
    return templates, {name: folder / name for name in READERS}


def test_format_names_that_are_no_identifiers(tmp_path):
    """They become constants all the same, each its own."""
    data = target_data("basalt32")
    data["pixel_formats"] = dict.fromkeys(("index8", "4 bit", "4-bit"), data["pixel_formats"]["index8"])
    text = toml_text(data).replace("4 bit =", '"4 bit" =').replace("4-bit =", '"4-bit" =')
    names = [one["constant"] for one in reader_values(read_target(tmp_path, text))["formats"]]
    assert names == ["INDEX8", "4_BIT", "4_BIT_2"]


def test_reader_of_the_project_wins(tmp_path):
    """As with any template."""
    (tmp_path / "templates/console").mkdir(parents=True)
    (tmp_path / "templates/console/reader.h.j2").write_text("/* {{ target.name }} */\n")
    write_reader(*reader_files(tmp_path), reader_values(read_shipped("pebble8")))
    assert Path(tmp_path / "reader.h").read_text() == "/* Pebble 8 */\n"
