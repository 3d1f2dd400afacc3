"""The generated C finds and fetches what a scene holds in part: runs as they are measured, frames and windows as the cartridge has them.

Runs are compared with ``reading.kinds.fetched``, units of windows with the blobs; no corrupt image makes the program read or write
outside (sanitizers, blocks of exact sizes). On a console with banks only the bank asked for last can be seen.
"""

from __future__ import annotations

import random
import re
import struct
import subprocess
import tomllib
import zlib
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from pipeline.joints.lists import Lists, ScenePlan, Units, read_lists_file
from pipeline.reading.kinds.fetched import measure_frames
from tests.conftest import need_tool, some, tries
from tests.makers import Built, target_data, toml_text
from tests.rom.reader_walk import HERE, SANITIZERS, WARNINGS, every_kind, own_console, shared_kind

MORE = """
[lists.load]
[bundle.ferry]
members = ["cid", "figures"]
[sprite.eve]
frames = "art/bea/*.png"
palette = "figures"
arrangement = "pieces"
prepared = "cells"
prefer = "transfers"
animations.walk = {{ frames = "walk_*", ms = 80 }}
[background.coast]
file = "art/coast.png"
palette = "quay_colours"
arrangement = "bitmap"
[background.shore]
file = "art/coast.png"
palette = "quay_colours"
arrangement = "tiles"
{tiles}
[background.strand]
file = "art/coast.png"
palette = "quay_colours"
arrangement = "tiles"
{tiles}
[scene.relay]
always = ["figures", "bea", "coast"]
[scene.relay.streamed]
ada = {{ buffers = 2 }}
bea = {{ buffers = 2, unit = "animation", role = "crew" }}
ferry = {{ buffers = 3, role = "crew" }}
dot = {{ buffers = 1 }}
eve = {{ buffers = 2 }}
[scene.relay.sets]
crew = 2
[scene.relay.window]
coast = {{ margin = 3, speed = [5, 2] }}
shore = {{ speed = [3, 3] }}
strand = {{ tiles = "streamed" }}
[[scene.relay.choose]]
count = 2
of = ["ada", "ferry", "dot", "eve"]
[[scene.relay.choose]]
count = 1
of = ["shore", "strand"]
"""
CASTS = [["ada", "ferry", "shore"], ["dot", "eve", "strand"], ["ada", "ada", "strand"]]
SPRITES = {"ada": "", "bea": "", "cid": "ferry_cells", "dot": "", "eve": ""}


def _console(form: str) -> tuple[str, str]:
    if form == "planes":
        data = tomllib.loads(own_console(alignment=dict.fromkeys(("cell", "sprite", "pool", "background", "screen", "font"), 128)))
        data["memory"] |= {"size": "512 KiB"}
        return "lattice16", toml_text(data)
    data = target_data("pebble8" if form == "banks" else "basalt32")
    data["memory"] |= {"size": "512 KiB", "granularity": 8 if form == "banks" else 32}
    if form == "banks":
        data["memory"].pop("area", None)
        data["cartridge"]["sizes"] = ["160 KiB", "320 KiB"]
        data["cartridge"]["banks"]["size"] = "16 KiB"
        data["header"]["fields"] = [one for one in data["header"]["fields"] if one["name"] != "size"]
    return ("pebble8" if form == "banks" else "basalt32"), toml_text(data)


def _draw_coast(file: Path, size: tuple[int, int]) -> None:
    file.parent.mkdir(parents=True)
    picture, dice = Image.new("RGB", size, (120, 180, 220)), random.Random(5)
    for left in range(0, size[0], 16):
        top = dice.randrange(0, size[1], 8)
        ImageDraw.Draw(picture).rectangle((left, top, left + 7, top + 7), fill=(60, 90, 60))
    picture.save(file)


@pytest.fixture(scope="module", params=some(["rows", "banks", "planes"], 2))
def made(request, tmp_path_factory) -> Built:
    """A scene that streams every arrangement of sprites and shows backgrounds through windows: as rows, in banks, as planes of cells."""
    form = request.param
    folder = tmp_path_factory.mktemp("stream") / "project"
    target, console = _console(form)
    screen = target_data(target)["screen"]
    _draw_coast(folder / "art/coast.png", (screen["width"] + 48, screen["height"] + 24))
    tiles = 'tile = [16, 16]\nmap_entry = "HVtttttttttttttt"' if target == "basalt32" else ""
    return every_kind(folder, target, console, MORE.format(tiles=tiles), ("loader",))


def _plan(made: Built) -> Lists:
    return read_lists_file(made.project.folder / "build/lists.json")


def _compile(made: Built, folder: Path, compiler: str = "gcc", *flags: str, reader: Path | None = None) -> Path:
    include = made.project.folder / "build/include"
    banks = made.project.target.cartridge.banks
    home = banks and (banks.window if banks.home is None else banks.home)
    seen = [f"-DBANK_BYTES={banks.size}ul", f"-DWINDOW={banks.window}ul", f"-DHOME={home}ul"] if banks else []
    sources = [include / "load.c", reader or include / "reader.c", *include.glob("unpack.c"), HERE / "stream_cases.c"]
    out = folder / f"stream_cases_{compiler}"
    words = [need_tool(compiler), *WARNINGS, *(flags or SANITIZERS), *seen, f"-I{include}", *map(str, sources), "-o", str(out)]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return out


@pytest.fixture(scope="module")
def program(made, tmp_path_factory) -> Path:
    """Its reader and loader, compiled for this machine."""
    return _compile(made, tmp_path_factory.mktemp("program"))


def _slot_of(scene: ScenePlan, cast: list[str], asset: str) -> int | None:
    """Return the slot of the first member chosen that fetches an asset, 0xFFFF for what is always there; None where it is not."""
    slots = [choice for choice in scene.choices for _ in choice.slots]
    for rank, (choice, member) in enumerate(zip(slots, cast, strict=True)):
        group = next(one for one in choice.members if one.name == member)
        if asset in group.in_part:
            return rank
    return 0xFFFF if asset in scene.common.in_part else None


def _views(made: Built, asset: str) -> list[tuple[int, int, int, int]]:
    """Return places of a window: at the first unit, as far right and down as it goes, and a smaller part that wraps around."""
    units, (across, down) = _units(made, asset), _whole(made, asset)
    right, below = across - units.columns, down - units.rows
    assert right > 0 or below > 0
    wrapped = (right, below, units.columns - 1, units.rows - 1) if min(units.columns, units.rows) > 1 else (0, 0, 1, 1)
    return [(0, 0, units.columns, units.rows), (right, below, units.columns, units.rows), wrapped]


def _units(made: Built, asset: str) -> Units:
    scene = _plan(made).scenes["relay"]
    return next(one.window for group in scene.groups() for one in group.buffers if one.asset == asset and one.window)


def _whole(made: Built, asset: str) -> tuple[int, int]:
    """Return units of a background across and down, as its record has it."""
    units, blob, order = _units(made, asset), _blob(made, asset), made.project.target.byte_order
    width, height = (int.from_bytes(blob[at : at + 2], order) for at in (2, 4))
    return -(-width // units.width), -(-height // units.height)


def _orders(made: Built, cast: list[str]) -> bytes:
    scene = _plan(made).scenes["relay"]
    numbers = [zlib.crc32(b"load"), made.project.target.memory.size, zlib.crc32(b"relay"), len(cast)]
    numbers += [zlib.crc32(one.encode()) for one in cast]
    sprites = {name: slot for name in SPRITES if (slot := _slot_of(scene, cast, name)) is not None}
    numbers.append(len(sprites))
    for name, slot in sprites.items():
        numbers += [zlib.crc32(name.encode()), zlib.crc32(SPRITES[name].encode()) if SPRITES[name] else 0, slot]
    grounds = {name: slot for name in ("coast", "shore", "strand") if (slot := _slot_of(scene, cast, name)) is not None}
    numbers.append(len(grounds))
    for name, slot in grounds.items():
        views = _views(made, name)
        numbers += [zlib.crc32(name.encode()), slot, len(views), *(value for view in views for value in view)]
    return struct.pack(f"<{len(numbers)}I", *numbers)


def _run(program: Path, made: Built, folder: Path, cast: list[str], cases: bytes | None = None) -> list[int]:
    image = made.image if cases is None else made.image[: made.map["image"]["used"]]
    files = {"image": image, "orders": _orders(made, cast), "answers": b""} | ({} if cases is None else {"cases": cases})
    for name, content in files.items():
        (folder / name).write_bytes(content)
    done = subprocess.run([program, *(folder / name for name in files)], capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr
    answers = (folder / "answers").read_bytes()
    return list(struct.unpack(f"<{len(answers) // 4}I", answers))


def _blob(made: Built, name: str) -> bytes:
    return (made.project.folder / f"build/blobs/{name}.bin").read_bytes()


def _wanted(made: Built, cast: list[str]) -> list[int]:
    """Return what the program must say, from blobs and plan."""
    scene, numbers = _plan(made).scenes["relay"], []
    places = {one.asset: one for group in scene.groups() for one in group.places}
    buffers = {one.asset: one for group in scene.groups() for one in group.buffers}
    for name, pool in SPRITES.items():
        if _slot_of(scene, cast, name) is None:
            continue
        blob, held = _blob(made, name), buffers[name]
        known = measure_frames(blob, _blob(made, pool) if pool else None, made.project.target)
        numbers += [places[name].bytes, len(blob), held.count, held.bytes]
        for one in known.frames:
            numbers += [*one.runs, 0, 1]
        for one in known.animations:
            numbers += [*one.runs, 0]
    for name in ("coast", "shore", "strand"):
        if _slot_of(scene, cast, name) is not None:
            numbers += [places[name].bytes, len(_blob(made, name)), buffers[name].bytes]
            numbers += [_sum_of(made, name, view) for view in _views(made, name)]
    return [*numbers, 0]


def _sum_of(made: Built, name: str, view: tuple[int, int, int, int]) -> int:
    """Return the CRC-32 of units of a background, row by row, as its blob has them."""
    blob, order, units, across = _blob(made, name), made.project.target.byte_order, _units(made, name), _whole(made, name)[0]
    start = int.from_bytes(blob[12:16], order) if name == "coast" else int.from_bytes(blob[48:52], order)
    found = b""
    for row in range(view[1], view[1] + view[3]):
        for column in range(view[0], view[0] + view[2]):
            at = start + (row * across + column) * units.bytes
            found += blob[at : at + units.bytes]
    return zlib.crc32(found)


@pytest.mark.parametrize("cast", CASTS, ids="-".join)
def test_frames_and_windows_come_from_the_cartridge(made, program, cast, tmp_path):
    """Every run as it is measured, every piece in a buffer as in the cartridge, every unit of a window as in the blob."""
    assert _run(program, made, tmp_path, cast) == _wanted(made, cast)


def test_a_role_with_two_sets_has_them_in_one_place(made):
    """Bea and cid use the same two, whoever fetches into them; each set holds what the larger needs."""
    scene = _plan(made).scenes["relay"]
    bea, cid = (next(one for one in scene.common.buffers if one.asset == name) for name in ("bea", "cid"))
    assert (bea.at, bea.sets, bea.set_bytes) == (cid.at, 2, cid.set_bytes)
    assert bea.set_bytes == max(bea.count * bea.bytes, cid.count * cid.bytes)


REMAINDERS = """
#include "reader.c"
int main(void)
{
    static const unsigned int far[] = { 65535u, 65536u, 0x7FFFFFFFu, 0x80000000u, 0xFFFFFFFEu, 0xFFFFFFFFu };
    unsigned int number, by, rank;

    for (by = 1; by < 300; by++)
        for (number = 0; number < 1000; number++)
            if (rest_of(number, by) != number % by)
                return 1;
    for (rank = 0; rank < 36; rank++)
        for (number = 0; number < 1000; number++)
            if (rest_of(far[rank / 6] - number, far[rank % 6] - number) != (far[rank / 6] - number) % (far[rank % 6] - number)
                || rest_of(far[rank / 6], number + 1) != far[rank / 6] % (number + 1))
                return 2;
    return 0;
}
"""


def test_places_in_a_window_are_remainders_however_far_off(tmp_path):
    """The language's own operator is the reference; by subtraction alone one of these numbers would take seconds."""
    (tmp_path / "remainders.c").write_text(REMAINDERS)
    include, program = shared_kind("basalt32").project.folder / "build/include", tmp_path / "remainders"
    words = [need_tool("gcc"), *WARNINGS, "-O1", f"-I{include}", str(tmp_path / "remainders.c")]
    subprocess.run([*words, "-o", str(program)], check=True, capture_output=True)
    assert subprocess.run([program], timeout=60).returncode == 0


def _cases(made: Built, count: int, seed: int) -> bytes:
    """Return cases for ``stream_cases.c``: changed bytes of the lists and of what is streamed."""
    chance, cases = random.Random(seed), bytearray()
    entries = {one["name"]: one for one in made.map["entries"]}
    streamed = [entries[name] for name in (*SPRITES, "coast", "shore", "strand")]
    for _ in range(count):
        changes = chance.randint(1, 4)
        cases += changes.to_bytes(4, "little")
        for _ in range(changes):
            one = entries["load"] if chance.random() < 0.5 else chance.choice(streamed)
            place = one["offset"] + chance.randrange(min(one["bytes"], 60) if chance.random() < 0.5 else one["bytes"])
            old = made.image[place]
            new = chance.choice((0, 0xFF, 0x7F, 0x80, old ^ 1 << chance.randrange(8), old + 1 & 0xFF, chance.randrange(256)))
            cases += place.to_bytes(4, "little") + bytes([new])
    return bytes(cases)


def _zeroed(made: Built) -> bytes:
    """Return cases that make 0 of each number of two bytes in what the lists say of a window, for a loop that would never end."""
    one = next(one for one in made.map["entries"] if one["name"] == "load")
    lists, order, cases = made.image[one["offset"] : one["offset"] + one["bytes"]], made.project.target.byte_order, bytearray()
    names = [zlib.crc32(name.encode()).to_bytes(4, order) for name in ("coast", "shore", "strand")]
    found = [at for at in range(0, len(lists), 2) if lists[at : at + 4] in names]
    assert len(found) >= 6
    for place in (one["offset"] + at + more for at in found for more in range(4, 40, 2) if at + more < len(lists)):
        cases += struct.pack("<IIBIB", 2, place, 0, place + 1, 0)
    return bytes(cases)


def test_corrupt_images_do_no_harm(made, program, tmp_path):
    """No byte outside image, memory or an asset is touched, every walk ends, and many spoilt images are noticed. Long form: 102,000."""
    for rank, cast in enumerate(CASTS[:2]):
        failures = _run(program, made, tmp_path, cast, _cases(made, tries(100, 1_000, 17_000), seed=rank) + _zeroed(made))
        assert sum(one > 0 for one in failures) > len(failures) // 20


def test_it_compiles_with_other_compilers(made, tmp_path):
    """clang with the same warnings; C++ takes the reader too, and sdcc the reader and the loader where the bytes are in banks."""
    program = _compile(made, tmp_path, "clang", "-O1")
    assert _run(program, made, tmp_path, CASTS[0]) == _wanted(made, CASTS[0])
    include = made.project.folder / "build/include"
    for source in ("reader.c", "load.c"):
        words = [need_tool("g++"), "-Wall", "-Wextra", "-Werror", "-x", "c++", "-c", f"-I{include}", str(include / source)]
        words += ["-o", "/dev/null"]
        done = subprocess.run(words, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr


def test_constants_say_where_buffers_and_windows_are(made):
    """In ``assets.h``, for a program without the loader: addresses of what is always there, places in a slot of what a member has."""
    text = (made.project.folder / "build/include/assets.h").read_text()
    found = {name: int(value, 0) for name, value in re.findall(r"#define (SCENE_RELAY_\w+) (\w+?)(?:ul)? ", text)}
    plan = _plan(made)
    scene = plan.scenes["relay"]
    common = {one.asset: one for one in scene.common.buffers}
    coast = common["coast"].window
    assert coast is not None
    wanted = {
        "COAST_ADDRESS": plan.base + next(one.at for one in scene.common.places if one.asset == "coast"),
        "COAST_WINDOW_ADDRESS": plan.base + common["coast"].at,
        "COAST_WINDOW_BYTES": common["coast"].bytes,
        "COAST_WINDOW_COLUMNS": coast.columns,
        "COAST_WINDOW_ROWS": coast.rows,
        "CID_BUFFERS_ADDRESS": plan.base + common["cid"].at,
        "CID_BUFFERS": 3,
        "CID_SETS": 2,
        "CID_SET_BYTES": common["cid"].set_bytes,
    }
    for choice in scene.choices:
        for group in choice.members:
            for one in group.buffers:
                name = f"{group.name}_{one.asset}".upper()
                wanted |= {f"{name}_{'WINDOW' if one.window else 'BUFFERS'}_AT": one.at}
                wanted |= {f"{name}_{'WINDOW_BYTES' if one.window else 'BUFFER_BYTES'}": one.bytes}
    assert {f"SCENE_RELAY_{name}": value for name, value in wanted.items()}.items() <= found.items()
