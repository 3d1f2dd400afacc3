"""Programs and data in banks of their own, over fixed banks and linked for a window; the directory in a bank; what is refused.

The console is of our own making: like eight-bit machines with three slots of 16 KiB (common practice, no source) it sees banks 0 and 1
at 0 to 0x7fff at all times, and one of the others at 0x8000.
"""

from __future__ import annotations

import json
import subprocess
import zlib
from pathlib import Path

import pytest

from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.reading.verify import verify_image
from pipeline.rom.layout import Item, Placement
from pipeline.target.kinds import calls_of
from tests.conftest import need_tool
from tests.makers import Built, as_map, build_here, make_project, problems, read_target, target_data, target_problems, toml_text

BANK = 0x4000
ALL = ("sprite", "background", "palette", "sound", "screen", "program", "data")


def slots(directory: int | None = None, fields: tuple[str, ...] = (), fixed: int = 2) -> str:
    """Return the console as TOML; ``fields`` are further values of two bytes each in its header."""
    data = target_data("pebble8")
    data["cartridge"]["banks"] = {"size": "16 KiB", "window": 0x8000, "home": 0, "fixed": fixed}
    data["header"]["size"] = 0x70
    more = [{"name": name, "offset": 0x150 + 2 * rank, "bytes": 2, "value": name} for rank, name in enumerate(fields)]
    data["header"]["fields"] = [one for one in data["header"]["fields"] if one["name"] != "header check"] + more
    if directory is not None:
        data["directory"]["offset"] = directory
    return toml_text(data)


def project(folder: Path, console: str, more: str, main: int = 64) -> Path:
    """Write the small project for the console, with a main program of this many bytes and another of 300."""
    make_project(folder, ('target = "pebble8"', 'target = "own.toml"'), target="pebble8", more=more)
    (folder / "own.toml").write_text(console, encoding="utf-8")
    (folder / "main.bin").write_bytes(bytes(range(1, 251)) * (main // 250) + bytes(main % 250))
    (folder / "part.bin").write_bytes(b"\x3e\x07" * 150)
    return folder


def place(built: Built, name: str) -> tuple[int, int]:
    """Return offset and address of an asset as the map says."""
    return next((one.offset, one.address) for one in as_map(built.map).entries if one.name == name)


def part(keys: str) -> str:
    return f'[program.part]\nfile = "part.bin"\n{keys}\n'


@pytest.mark.parametrize(
    ("keys", "offset", "address"),
    [
        ("bank = 3", 3 * BANK, 0x8000),
        ("bank = 3\naddress = 0x8100", 3 * BANK + 0x100, 0x8100),
        ("bank = 1", 1 * BANK, 0x4000),
        ("bank = 1\naddress = 0x4120", 1 * BANK + 0x120, 0x4120),
        ('bank = "any"\naddress = 0x8200', 2 * BANK + 0x200, 0x8200),
        ("address = 0x7000", 0x7000, 0x7000),
    ],
)
def test_a_program_is_where_it_says(tmp_path, keys, offset, address):
    """In the bank it names, at an address in that bank, or at one that it is linked for in the window, in the first bank with room."""
    built = build_here(project(tmp_path / "ferry", slots(), part(keys)))
    assert place(built, "part") == (offset, address)
    assert built.image[offset : offset + 300] == b"\x3e\x07" * 150


def test_a_program_spans_fixed_banks(tmp_path):
    """Its 20,000 bytes are seen in one piece from 0 to 0x7fff; with one fixed bank it is refused."""
    built = build_here(project(tmp_path / "ferry", slots(), "", main=20_000))
    offset, address = place(built, "main")
    assert address == offset
    assert offset + 20_000 <= 2 * BANK
    with pytest.raises(ProjectError) as caught:
        build_here(project(tmp_path / "tram", slots(fixed=1), "", main=20_000))
    assert "19.5 KiB in one piece, a bank holds 16 KiB" in str(caught.value)
    with pytest.raises(ProjectError) as caught:
        build_here(project(tmp_path / "bus", slots(), "", main=33_000))
    assert "32.2 KiB in one piece, the 2 fixed banks hold 32 KiB" in str(caught.value)


def test_two_programs_linked_for_one_place_take_two_banks(tmp_path):
    """Overlays: both are linked for 0x8000, so each gets a bank of its own; data goes around them."""
    console = read_target(tmp_path, slots())
    overlays = [Item(name, "program", 9000, 1, address=0x8000, bank="any") for name in ("near", "far")]
    offsets = Placement(console, 5).place([*overlays, Item("main", "program", 100, 1), Item("tune", "data", 12_000, 1)])
    assert sorted(offsets[name] for name in ("near", "far")) == [2 * BANK, 3 * BANK]
    assert offsets["main"] < 2 * BANK


def test_the_header_says_banks_and_verify_finds_a_wrong_one(tmp_path):
    """``program.bank`` and ``directory.bank``: 5 and 4 of the places asked for; a wrong number in either field is found."""
    console = slots(directory=4 * BANK, fields=("directory.bank", "program.bank"))
    folder = project(tmp_path / "ferry", console, "")
    text = (folder / "project.toml").read_text()
    (folder / "project.toml").write_text(text.replace('file = "main.bin"', 'file = "main.bin"\nbank = 5'))
    built = build_here(folder)
    assert [int.from_bytes(built.image[at : at + 2], "little") for at in (0x150, 0x152)] == [4, 5]
    assert int.from_bytes(built.image[0x130:0x132], "little") == 0x8000  # the directory as the window shows it
    assert place(built, "main") == (5 * BANK, 0x8000)
    for at, said in ((0x150, "directory.bank is 6, it is 4"), (0x152, "program.bank is 0x6, of main it is 0x5")):
        wrong = bytearray(built.image)
        wrong[at] = 6
        faults = faults_of(built, bytes(wrong))
        assert any(said in fault for fault in faults), faults


def faults_of(built: Built, image: bytes) -> list[str]:
    target, program = built.project.target, built.project.header_program()
    calls = calls_of("decode", *ALL), calls_of("compare", *ALL)
    return verify_image(image, target, as_map(built.map), built.facts, {}, *calls, program=program)


def test_build_code_counts_the_bank(tmp_path):
    """The bank is where a program is, which another build code shows."""
    codes = {build_here(project(tmp_path / f"a{bank}", slots(), part(f"bank = {bank}"))).map["image"]["build_code"] for bank in (3, 4)}
    assert len(codes) == 2


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        ("bank = 32", "[program.part] bank: 32 is not one of the 32 banks of a cartridge of 512 KiB\n    use 0 to 31"),
        ("bank = 3\naddress = 0x4100", "0x4100 is not in bank 3 as the console sees it\n    use an address from 0x8000 to 0xbfff"),
        ("address = 0x8100", "0x8100 is not in banks 0 to 1, the only ones whose addresses say which bank is meant"),
        ('bank = "any"\naddress = 0x4100', "300 bytes at 0x4100 leave the window, 0x8000 to 0xbfff"),
        ('bank = "any"\naddress = 0xbff0', "300 bytes at 0xbff0 leave the window, 0x8000 to 0xbfff"),
        ('bank = "some"', "[program.part] bank"),
    ],
)
def test_what_cannot_be_reached_as_declared_is_refused(tmp_path, keys, wrong):
    """Each with the numbers seen and what to change."""
    folder = project(tmp_path / "ferry", slots(), part(keys))
    said = problems(folder)
    if not said:
        with pytest.raises(ProjectError) as caught:
            build_here(folder)
        said = [str(caught.value)]
    assert any(wrong in one for one in said), said


def test_the_program_that_is_started_must_be_there_when_the_console_is_switched_on(tmp_path):
    """Unless the header says which bank to switch in."""
    for fields, refused in (((), True), (("program.bank",), False)):
        folder = project(tmp_path / f"ferry{refused}", slots(fields=fields), "")
        text = (folder / "project.toml").read_text()
        (folder / "project.toml").write_text(text.replace('file = "main.bin"', 'file = "main.bin"\nbank = "any"'))
        wanted = "'any': the header's entry start this program, and only banks 0 to 1 are there when the console is switched on"
        assert any(wanted in one for one in problems(folder)) == refused


def test_banks_without_banks_are_refused(tmp_path):
    """For programs and for data."""
    more = '[program.part]\nfile = "part.bin"\nbank = 1\n[data.tables]\nfile = "level.bin"\nbank = "any"\n'
    folder = make_project(tmp_path / "ferry", more=more)
    (folder / "part.bin").write_bytes(b"\x4e\x71")
    said = problems(folder)
    assert any("[program.part] bank: 1, but the cartridge of Basalt 32 has no banks\n    leave it out" in one for one in said)
    assert any("[data.tables] bank: 'any', but the cartridge of Basalt 32 has no banks\n    leave it out" in one for one in said)


def test_a_directory_across_the_end_of_a_bank_is_refused(tmp_path):
    """A program walks it from its first entry to its last, through a window that shows one bank."""
    console = read_target(tmp_path, slots(directory=3 * BANK - 32, fields=("directory.bank",)))
    Placement(console, 2)
    with pytest.raises(ProjectError) as caught:
        Placement(console, 3)
    assert str(caught.value) == (
        "Pebble 8, [directory]: the directory takes 0xbfe0 to 0xc00f, across the end of a bank\n"
        "    set [directory] offset to 0xc000, the next bank, with a header field directory.bank"
    )


@pytest.mark.parametrize(
    ("console", "wrong"),
    [
        (
            slots(directory=4 * BANK),
            '0x10000 is in bank 4, which is not always visible, and no header field holds directory.bank\n'
            '    add a header field with value = "directory.bank", or move the directory into the 2 fixed banks',
        ),
        (slots(fixed=3), "3 banks from 0x0 to 0xbfff lie under the window, 0x8000 to 0xbfff\n    correct home, window or fixed"),
        (slots(fixed=5).replace("32768", "1048576"), "5 banks of 16 KiB are more than the smallest cartridge, 64 KiB"),
        (slots().replace('"home" = 0, ', ""), "2 banks are always visible, but home is missing\n    write the address of bank 0 as home"),
    ],
)
def test_a_console_that_cannot_be_is_refused(tmp_path, console, wrong):
    """What the target file says of fixed banks and of the directory must agree."""
    assert any(wrong in one for one in target_problems(tmp_path, console)), target_problems(tmp_path, console)


def test_a_command_is_handed_its_bank(tmp_path):
    """``{bank}`` beside ``{address}``: what the linker needs for a part that is switched in."""
    keys = 'command = ["sh", "link.sh", "{output}", "{address}", "{bank}"]\ndepends = ["link.sh"]\nreserve = 512\nbank = "any"'
    folder = project(tmp_path / "ferry", slots(), f"[program.part]\n{keys}\n")
    (folder / "link.sh").write_text('printf "%s of bank %s" "$2" "$3" > "$1"\n')
    built = build_here(folder)
    offset, address = place(built, "part")
    said = f"{address:#x} of bank {offset // BANK}".encode()
    assert built.image[offset : offset + len(said)] == said
    assert json.loads((folder / "build/work/layout.json").read_text())["part"]["bank"] == offset // BANK


LOOKING = """#include <stdio.h>
#include <stdlib.h>
#include "reader.h"
int main(int count, char **words)
{
    static unsigned char image[1 << 20];
    RwAsset asset;
    FILE *file = fopen(words[1], "rb");
    unsigned char *bank = malloc(%d);
    unsigned int at;
    (void)count;
    fread(image, 1, sizeof image, file);
    for (at = 0; at < %d; at++)
        bank[at] = image[%dul * RW_DIRECTORY_BANK + at];
    at = image[0x132] | image[0x133] << 8;
    if (!rw_look_up_in(bank + (RW_DIRECTORY_ADDRESS - 0x8000ul), at, %uul, RW_KIND_PROGRAM, &asset))
        return 1;
    printf("%%lu %%lu %%lu", asset.bank, asset.address, asset.bytes);
    at = (unsigned int)rw_look_up_in(bank + (RW_DIRECTORY_ADDRESS - 0x8000ul), 60000ul, 1ul, RW_KIND_PROGRAM, &asset);
    free(bank);
    return (int)at;
}
"""


def test_the_reader_in_c_walks_a_directory_in_a_bank(tmp_path):
    """A copy of that bank alone, from 0x8200 on as the window shows it, is enough; with a wrong count no byte beyond it is read."""
    console = slots(directory=4 * BANK + 0x200, fields=("directory.bank",))
    folder = project(tmp_path / "ferry", console, part("bank = 6"))
    built = build_here(folder, "verify", "include", "reader")
    (tmp_path / "looking.c").write_text(LOOKING % (BANK, BANK, BANK, zlib.crc32(b"part")))
    include, out = folder / "build/include", tmp_path / "looking"
    words = [need_tool("gcc"), "-fsanitize=address,undefined", f"-I{include}", tmp_path / "looking.c", include / "reader.c", "-o", out]
    subprocess.run(words, check=True, capture_output=True)
    image = next((folder / "build/rom").glob("*.rom"))
    done = subprocess.run([out, image], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (0, f"6 {0x8000} 300", "")
    assert place(built, "part") == (6 * BANK, 0x8000)


def test_loading_knows_the_program_of_a_bank(tmp_path):
    """The record keeps what was written."""
    assert load_project(project(tmp_path / "ferry", slots(), part('bank = "any"'))).spec.program["part"].bank == "any"
