"""Projects with an asset of every kind and arrangement, and what a walk over their images must say.

``reader_walk.c`` reads an image with the generated reader; ``expected`` is the same numbers, from ``reading.kinds``.
"""

from __future__ import annotations

import atexit
import functools
import hashlib
import os
import shutil
import subprocess
import tempfile
import zlib
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from pipeline.joints.layouts import FRAMED_VERSION, PIECED_VERSION, PREPARED_VERSION
from pipeline.joints.pixel_size import packed_bytes
from pipeline.plain.shipped import REGULAR
from pipeline.reading.decoded import Decoded
from pipeline.reading.unpack import unpack
from pipeline.target.kinds import KIND_NUMBERS
from pipeline.target.records import Target
from tests.conftest import LONG, need_tool
from tests.makers import Built, build_here, draw_frame, make_project, target_data, toml_text
from tests.once import once
from tests.reading.decoding import decode_blob
from tests.warm import SHARED

HERE = Path(__file__).parent
FAULT = 0xDEAD
WARNINGS = ("-std=c89", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror")
SANITIZERS = ("-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")
# Of consoles whose walk alone is of interest: compiling would be most of the time, and most of that for what a fault would print, for
# looks at memory that are not calls, and for looks at pointers, whose mistakes are found where they are followed.
PLAIN = () if LONG else (
    *("-O0", "-fsanitize-undefined-trap-on-error", "-fno-sanitize=null,alignment,pointer-overflow,object-size"),
    *("--param", "asan-instrumentation-with-call-threshold=0"),
)
_MORE = """
[sprite.bea]
frames = "art/bea/*.png"
palette = "figures"
arrangement = "pieces"
[sprite.bea.animations]
walk = { frames = "walk_*", ms = 80, loop = false }
back = { frames = "walk_*", ms = 200 }
[pool.ferry_cells]
[sprite.cid]
frames = "art/cid/*.png"
palette = "figures"
arrangement = "pieces"
pool = "ferry_cells"
[sprite.dot]
frames = "art/dot/*.png"
palette = "figures"
arrangement = "frames"
[background.pier]
file = "art/pier.png"
palette = "quay_colours"
arrangement = "tiles"
{tiles}
[font.words]
file = "fonts/regular.ttf"
size = 10
characters = "Hafen 0123, ż!"
palette = "figures"
[level.near]
file = "near.csv"
bounds = [1, 90]
[level.far]
file = "far.csv"
cell_bytes = 2
[text.said]
font = "words"
languages = { one = "one.txt", other = "other.toml" }
[text.plain]
unit_bytes = 2
languages = { other = "other.toml" }
[note_kinds]
boxes = ["body", "strike"]
points = ["hand", "overhead"]
numbers = ["damage", "push", "wait"]
events = ["step", "whoosh"]
[notes.bea_notes]
of = "bea"
file = "art/bea.notes.toml"
"""
_NOTES = """
[[frame]]
frames = "*"
boxes = { body = [3, 1, 10, 20], strike = [[12, 4, 9, 5], [0, 0, 2, 2]] }
points = { hand = [20, 6] }
numbers = { push = -300, wait = 7 }
[[frame]]
frames = [1]
boxes = { strike = [] }
points = { overhead = [0, 29] }
numbers.damage = 32767
events = ["whoosh"]
ticks = 65535
"""
_OWN_TILES = 'tile = [16, 16]\nmap_entry = "HVtttttttttttttt"'


def every_kind(folder: Path, target: str, own_target: str | None = None, packing: str = "", goals: tuple[str, ...] = ()) -> Built:
    """Build the small project with sprites in all arrangements, a pool, tiles, a font and levels; verified, with its include files."""
    tiles = _OWN_TILES if target == "basalt32" else ""
    changes = ((f'target = "{target}"', 'target = "own.toml"'),) if own_target else ()
    make_project(folder, *changes, target=target, more=_MORE.replace("{tiles}", tiles) + packing)
    if own_target:
        (folder / "own.toml").write_text(own_target)
    for name, moved in (("bea", 0), ("cid", 3), ("dot", 1)):
        (folder / f"art/{name}").mkdir()
        for rank in range(3):
            draw_frame(folder / f"art/{name}/walk_{rank}.png", rank + moved, (36, 30))
    Image.new("RGBA", (36, 30)).save(folder / "art/dot/walk_3.png")  # a frame that shows nothing
    picture = Image.new("RGB", (96, 64), (120, 180, 220))
    for left in range(0, 96, 32):
        ImageDraw.Draw(picture).polygon([(left, 40), (left + 16, 24), (left + 32, 40)], fill=(60, 90, 60))
    picture.save(folder / "art/pier.png")
    (folder / "art/bea.notes.toml").write_text(_NOTES)
    (folder / "one.txt").write_text("near = Hafen 0\nfar = 1, 2,\\n3!\nnone =\n", encoding="utf-8")
    (folder / "other.toml").write_text('far = "ż"\nnear = "Hafen 0"\nnone = ""\n', encoding="utf-8")
    (folder / "fonts").mkdir()
    shutil.copy(REGULAR, folder / "fonts/regular.ttf")
    (folder / "near.csv").write_text("1,2,3\n4,50,90\n")
    (folder / "far.csv").write_text("".join(f"{row},{row * 256},{65535 - row}\n" for row in range(7)))
    return build_here(folder, "verify", "include", "reader", *(goals or (["unpackers"] if "packing =" in packing else [])))


def shared_kind(target: str, own_target: str | None = None, packing: str = "", goals: tuple[str, ...] = ()) -> Built:
    """Return what ``every_kind`` builds, built once for all tests of a run, which leave its folder as it is."""

    def make() -> Built:
        return every_kind(Path(tempfile.mkdtemp(prefix="kind-", dir=_shared())) / "project", target, own_target, packing, goals)

    return once(repr((target, own_target, packing, goals)), make)


def own_console(
    planes: str = "by word",
    first: str = "high",
    order: str = "cells",
    without_directory: bool = False,
    bits: int = 4,
    row_unit: int = 1,
    alignment: dict[str, int] | None = None,
    tile: tuple[int, int] | None = None,
) -> str:
    """Return a console of our own as TOML: little-endian, palette entries big-endian, cells of 16 x 12 at this many bits a pixel."""
    data = target_data("lattice16")
    data["name"] = "Sandstone 16"
    data["byte_order"] = "little"
    data["pixel_formats"]["tile4"] |= {"pixel": "I" * bits, "planes": planes, "first": first, "order": order, "row_unit": row_unit}
    data["pixel_formats"]["tile4"] |= {"tile": list(tile)} if tile else {}
    data["alignment"] |= alignment or {}
    data["cells"] = {"width": 16, "height": 12}
    data["tiles"] |= {"width": 16, "height": 12}
    data["palette"]["byte_order"] = "big"
    if without_directory:
        del data["directory"]
        data["header"]["fields"] = [one for one in data["header"]["fields"] if not str(one.get("value")).startswith("directory")]
    return toml_text(data)


def compile_native(made: Built, folder: Path, *flags: str, reader: Path | None = None) -> Path:
    """Compile reader and walk for this machine with sanitizers; return the program."""
    include = made.project.folder / "build/include"
    sources = [reader or include / "reader.c", *include.glob("unpack.c"), HERE / "reader_walk.c", HERE / "reader_cases.c"]
    return _linked(sources, include, folder / "reader_cases", flags)


def compile_small(made: Built, folder: Path, *flags: str, reader: Path | None = None) -> Path:
    """The same with the reader for eight bits."""
    include, target = made.project.folder / "build/include", made.project.target
    cells = sum(1 << rank for rank, one in enumerate(target.pixel_formats.values()) if one.order == "cells")
    screen, low = target.pixel_formats[target.screen.pixels], int(target.byte_order == "big")
    size = (target.tiles.width, target.tiles.height) if target.tiles else (16, 16)
    tile_bytes = packed_bytes(*size, screen, size)
    known = (f"-DCELLS={cells}u", f"-DCLEAR_MASK={(1 << screen.pixel.width) - 1}u", f"-DTILE_BYTES={tile_bytes}u")
    sources = [reader or include / "reader8.c", include / "reader.c", HERE / "reader8_walk.c", HERE / "reader_cases.c"]
    return _linked(sources, include, folder / "reader8_cases", (*known, f"-DLOW={low}", '-DRW_CONFIG="reader8_console.h"', *flags))


def _linked(sources: list[Path], include: Path, out: Path, flags: tuple[str, ...]) -> Path:
    options = (*WARNINGS, *SANITIZERS, *flags)
    return linked([compiled(source, options, (f"-I{include}", f"-I{HERE}")) for source in sources], SANITIZERS, out)


def linked(objects: list[Path], options: tuple[str, ...], out: Path, compiler: str = "gcc") -> Path:
    """Make a program of compiled sources."""
    _compiler(compiler, *options, *map(str, objects), "-o", str(out))
    return out


def compiled(source: Path, options: tuple[str, ...], folders: tuple[str, ...], compiler: str = "gcc") -> Path:
    """Return a compiled source; what is the same when preprocessed, and compiled in the same way, is compiled once in a run."""
    text = _compiler(compiler, *options, *folders, "-E", "-P", str(source))
    known = (compiler, [one for one in options if not one.startswith("-D")], source.name, text)  # what was defined is in the text
    out = _objects() / f"{hashlib.sha256(repr(known).encode()).hexdigest()}.o"
    if not out.exists():
        making = out.with_suffix(f".{os.getpid()}.o")
        _compiler(compiler, *options, *folders, "-c", str(source), "-o", str(making))
        making.rename(out)
    return out


@functools.cache
def _objects() -> Path:
    """Return the folder of compiled sources, the same for all workers of a run of tests."""
    folder = _shared() / "reader-objects"
    folder.mkdir(exist_ok=True)
    return folder


@functools.cache
def _shared() -> Path:
    if SHARED not in os.environ:  # a measurement, not a run of tests
        folder = tempfile.mkdtemp(prefix="reader-walk-")
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        return Path(folder)
    return Path(os.environ[SHARED])


def _compiler(name: str, *words: str) -> str:
    done = subprocess.run([need_tool(name), *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def compile_big_endian(made: Built, folder: Path) -> list[str]:
    """Compile reader and walk for a big-endian machine, without sanitizers; return the command that runs them here."""
    include = made.project.folder / "build/include"
    sources = [include / "reader.c", *include.glob("unpack.c"), HERE / "reader_walk.c", HERE / "reader_cases.c"]
    out = folder / "reader_cases_big"
    flags = ("-O2", "-static", f"-I{include}", f"-I{HERE}")
    command = [need_tool("m68k-linux-gnu-gcc"), *WARNINGS, *flags, *map(str, sources), "-o", str(out)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return [need_tool("qemu-m68k"), str(out)]


def walk_native(program: Path | list[str], made: Built, folder: Path, cases: bytes | None = None) -> np.ndarray:
    """Return the numbers said (or, of cases, the faults of each): uint32."""
    files = {"image": made.image, "assets": assets_bytes(made), "answers": b""} | ({} if cases is None else {"cases": cases})
    for name, content in files.items():
        (folder / name).write_bytes(content)
    command = program if isinstance(program, list) else [str(program)]
    done = subprocess.run([*command, *(folder / name for name in files)], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return np.frombuffer((folder / "answers").read_bytes(), dtype="<u4")


def assets_bytes(made: Built) -> bytes:
    """Return the list of assets as ``reader_cases.c`` reads it."""
    numbers = [number for one in made.map["entries"] for number in (hash_of(one), KIND_NUMBERS[one["kind"]], one["offset"], one["bytes"])]
    return np.array(numbers, dtype="<u4").tobytes()


def hash_of(entry: dict) -> int:
    """Return an asset's name hash."""
    return zlib.crc32(entry["name"].encode())


def expected(made: Built, small: bool = False) -> np.ndarray:
    """Return the numbers a walk over all assets must say: uint32.

    Args:
        small: with the reader for eight bits, which gives words of maps as they are, and no names of animations.
    """
    said: list[np.ndarray] = []
    for entry in made.map["entries"]:
        blob = blob_of(made, entry)
        decoded = decode_blob(entry["kind"], blob, made.project.target, partial(_pool, made))
        said += [np.asarray(part, dtype=np.int64).ravel() for part in _said(made, entry["kind"], blob, decoded, small)]
    return np.concatenate(said).astype("<u4")


def blob_of(made: Built, entry: dict) -> bytes:
    """Return an asset's bytes from the image, unpacked."""
    return unpack(entry["codec"], made.image[entry["offset"] : entry["offset"] + entry["bytes"]], entry["unpacked_bytes"])


def _pool(made: Built, name_hash: int) -> Decoded | None:
    for entry in made.map["entries"]:
        if hash_of(entry) == name_hash and entry["kind"] == "pool":
            return decode_blob("pool", blob_of(made, entry), made.project.target)
    return None


def _said(made: Built, kind: str, blob: bytes, decoded: Decoded, small: bool) -> Iterator:
    target, head = made.project.target, decoded.head
    if kind == "sprite":
        yield from _sprite(blob, decoded, target, small)
    elif kind == "background":
        yield from _tiles(blob, decoded, target, small) if head["version"] == 2 else ([0], _picture(decoded.pixels[0]))
    elif kind == "palette":
        yield head["first"], head["line_entries"], head["transparent"]
        yield from _colours(blob, head, target)
    elif kind == "screen":
        yield from _colours(blob, head, target)
        if head["version"] == 2:
            yield [head["line_entries"]]
            yield from _tiles(blob, decoded, target, small)
        else:
            yield _picture(decoded.pixels[0])
    elif kind == "sound":
        yield head["rate"], head["sample_count"]
        yield decoded.samples + 0x8000
    elif kind == "font":
        yield head["left"], head["baseline"], head["line_height"], head["clear"], head["glyph_count"]
        for (code, advance), picture in zip(decoded.glyphs, decoded.pixels, strict=True):
            yield code, advance
            yield _picture(picture)
        yield [0]
    elif kind == "level":
        yield head["width"], head["height"], head["least"], head["most"]
        yield decoded.cells
        yield 0, 0
    elif kind == "text":
        yield head["font"], head["end"], head["line_break"]
        for units in (units for language in decoded.texts for units in language):
            end = head["end"].to_bytes(head["unit_bytes"], target.byte_order)[0]
            yield [1 + units.count(head["line_break"]), len(units), *units, end, 0]
        yield 0, 0
    elif kind == "notes":
        yield from _notes(decoded)
    elif kind != "pool":
        yield [len(blob)]
        yield np.frombuffer(blob, dtype=np.uint8)


def _notes(decoded: Decoded) -> Iterator:
    """Boxes and points also come mirrored, column c where column 9 - c was; then whether a box meets its mirror image."""
    yield decoded.head["sprite"], decoded.head["frame_count"]
    for one in decoded.noted:
        yield len(one.boxes), len(one.points), one.events, one.ticks
        for kind, x, y, width, height in one.boxes:
            turned = {9 - column for column in range(x, x + width)}
            yield kind, x + 0x8000, y + 0x8000, width, height, min(turned) + 0x80000, int(bool(turned & {*range(x, x + width)}))
        for kind, x, y in one.points:
            yield kind, x + 0x8000, y + 0x8000, 9 - x + 0x80000
        yield [number + 0x8000 for number in one.numbers]
    yield 0, 0


def _picture(pixels: np.ndarray) -> np.ndarray:
    return np.concatenate([[pixels.shape[1], pixels.shape[0]], pixels.ravel()])


def _sprite(blob: bytes, decoded: Decoded, target: Target, small: bool) -> Iterator:
    head = decoded.head
    yield head["version"], head["width"], head["height"], head["anchor_x"] + 0x8000, head["anchor_y"] + 0x8000, head["frame_count"]
    for rank, frame in enumerate(decoded.pixels):
        count = 1
        if head["version"] in (PIECED_VERSION, PREPARED_VERSION):
            at = head["frames"] + 8 * rank + 4
            count = int.from_bytes(blob[at : at + 2], target.byte_order)
        elif head["version"] == FRAMED_VERSION:
            count = int(bool(np.any(frame != head["clear"])))
        yield [count]
        yield frame
        if head.get("commands"):
            first, size = int.from_bytes(blob[at - 4 : at], target.byte_order), head["draw_bytes"]
            yield list(blob[head["draws"] + first * size : head["draws"] + (first + count) * size])
    yield [head["animation_count"]]
    for name_hash, loop, steps in decoded.animations:
        yield (int(loop), len(steps)) if small else (name_hash, int(loop), len(steps))
        for rank, (frame, ticks) in enumerate(steps):
            following = rank + 1 if rank + 1 < len(steps) else 0 if loop else rank
            yield frame, ticks, following


def _colours(blob: bytes, head: dict[str, int], target: Target) -> Iterator:
    size, order = target.palette.entry.bytes, target.order_of(target.palette.byte_order)
    at = head["entries"]
    yield [head["entry_count"]]
    yield [int.from_bytes(blob[at + size * rank : at + size * (rank + 1)], order) for rank in range(head["entry_count"])]


def _tiles(blob: bytes, decoded: Decoded, target: Target, small: bool) -> Iterator:
    """Tiles are cut from the whole decoded picture, at a place of the map that shows each unmirrored by undoing its flips."""
    head, picture = decoded.head, decoded.pixels[0]
    wide, high, size = head["tile_width"], head["tile_height"], head["entry_bytes"]
    order = target.order_of(target.tiles.byte_order if target.tiles else None)
    tiles, places = {}, []
    for place in range(head["columns"] * head["rows"]):
        at, (row, column) = head["map"] + size * place, divmod(place, head["columns"])
        word = int.from_bytes(blob[at : at + size], order)
        number = _bits(word, head["tile_mask"]) - head["first_tile"]
        flips = bool(word & head["flip_x_mask"]) + 2 * bool(word & head["flip_y_mask"])
        shown = picture[row * high : (row + 1) * high, column * wide : (column + 1) * wide]
        line = _bits(word, head["line_mask"])
        tiles[number] = shown[:: -1 if flips & 2 else 1, :: -1 if flips & 1 else 1] - (line << decoded.pixel_format.pixel.bits("I"))
        places.append((word,) if small else (number, line, flips))
    yield 1, head["tile_count"]
    yield from (_picture(tiles[number]) for number in range(head["tile_count"]))
    yield places


def _bits(word: int, mask: int) -> int:
    text = "".join(str(word >> place & 1) for place in reversed(range(32)) if mask >> place & 1)
    return int(text or "0", 2)
