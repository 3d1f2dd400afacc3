"""Small projects around the demo's program, with a few of the demo's pictures, built by the command authors use."""

from __future__ import annotations

import json
import shutil
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.project.loading.load import load_project
from pipeline.reading.decoded import Decoded
from pipeline.target.records import Target
from tests.graph.builds import run
from tests.reading.decoding import decode_blob

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_project"
HEAD = """
format = 1
[game]
title = "Harbour Relay"
code = "SMALL"
version = "0.1.0"
phase = "alpha"
target = "basalt32"
cartridge = "1 MiB"
[links]
feedback = "https://example.org/f/{build}"
bugs = "https://example.org/b/{build}"
[program.main]
file = "harbour.bin"
address = 0x02008000
reserve = "32 KiB"
entry = 0
[defaults.sprite]
scale = 0.77
anchor = [60, 152]
palette = "couriers"
"""
CARTRIDGE = 0x0200_0000
COURIERS = {"pell": ("walk_0[0-3]", "idle_0[01]", "run_0[0-2]"), "isk": ("walk_0[0-3]",), "wick": ("walk_0[0-2]", "idle_00")}
HARBOURS = ("emberdock", "palmsteps")
ARRANGEMENTS = {"pell": "pieces", "isk": "sheet", "wick": "pieces"}  # the program draws both


TINY_BYTES = 160 << 10


@dataclass(frozen=True)
class Built:
    """A built image, and what is in it by name."""

    image: bytes
    build_code: str
    assets: dict[str, Decoded]
    target: Target


def full_text() -> str:
    """Return a project file of three couriers, two harbours and the boot notice."""
    text = HEAD + "[screen.boot]\n[palette.couriers]\ncolours = 80\ntransparent = true\n"
    text += "[palette.wick_colours]\ncolours = 32\nfirst = 80\ntransparent = true\n"
    for name, patterns in COURIERS.items():
        text += f'[sprite.{name}]\nframes = "art/couriers/{name}/*.png"\narrangement = "{ARRANGEMENTS[name]}"\n'
        text += f'palette = "{"wick_colours" if name == "wick" else "couriers"}"\n[sprite.{name}.animations]\n'
        for pattern in patterns:
            text += f'{pattern.partition("_")[0]} = {{ frames = "{pattern.partition("_")[0]}_*", ms = 50 }}\n'
    for name in HARBOURS:
        text += f'[background.{name}]\nfile = "art/harbours/{name}.png"\npalette = "{name}_colours"\n'
        text += f"[palette.{name}_colours]\ncolours = 144\nfirst = 112\n"
    return text


def bare_text() -> str:
    """Return a project file of the program and one courier without animations: no notice, no harbour."""
    text = HEAD + '[sprite.tove]\nframes = "art/couriers/tove/*.png"\narrangement = "pieces"\n'
    return text + "[palette.couriers]\ncolours = 64\ntransparent = true\n"


def tiny_text(arrangement: str) -> str:
    """Return a project file of one courier so arranged, the notice, and a harbour smaller than the screen."""
    text = HEAD + "[screen.boot]\n[palette.couriers]\ncolours = 64\ntransparent = true\n"
    text += '[sprite.tove]\nframes = "art/couriers/tove/*.png"\nanimations.walk = { frames = "walk_*", ms = 33 }\n'
    text += f'arrangement = "{arrangement}"\n'
    text += '[background.northpier]\nfile = "art/harbours/northpier.png"\nscale = 0.25\npalette = "few"\n'
    return text + "[palette.few]\ncolours = 64\nfirst = 64\n"


NOTES = """
[[frame]]
frames = "*"
boxes.body = [38, 18, 48, 134]
boxes.throw = [[1, 1, 9, 7], [100, 90, 20, 30]]
points.overhead = [68, 6]
[[frame]]
frames = "walk_01"
boxes.strike = [90, 58, 27, 22]
points.hand = [97, 28]
"""


def make_noted(folder: Path) -> Built:
    """Build the project of ``tiny_text``, its courier in pieces and with notes."""
    _copy(folder, "art/couriers/tove", "walk_0[01].png")
    _copy(folder, "art/harbours", "northpier.png")
    (folder / "tove.notes.toml").write_text(NOTES, encoding="utf-8")
    kinds = '[note_kinds]\nboxes = ["body", "strike", "throw"]\npoints = ["hand", "overhead"]\n'
    return _build(folder, tiny_text("pieces") + kinds + '[notes.tove_notes]\nof = "tove"\nfile = "tove.notes.toml"\n')


def make_full(folder: Path, more: str = "") -> Built:
    """Build the project of ``full_text`` and further tables."""
    for name, patterns in COURIERS.items():
        for pattern in patterns:
            _copy(folder, f"art/couriers/{name}", f"{pattern}.png")
    for name in HARBOURS:
        _copy(folder, "art/harbours", f"{name}.png")
    return _build(folder, full_text() + more)


LISTS = """
[bundle]
pell_pack = ["pell", "couriers"]
isk_pack = ["isk", "couriers"]
[bundle.wick_pack]
members = ["wick", "wick_colours"]
contiguous = true
[bundle.emberdock_pack]
members = ["emberdock", "emberdock_colours"]
contiguous = true
[bundle.palmsteps_pack]
members = ["palmsteps", "palmsteps_colours"]
contiguous = true
[lists.load]
[scene.race]
[[scene.race.choose]]
count = 2
of = ["pell_pack", "isk_pack", "wick_pack"]
[[scene.race.choose]]
count = 1
of = ["emberdock_pack", "palmsteps_pack"]
"""


def make_listed(folder: Path) -> Built:
    """Build the project of ``full_text`` with load lists for a race; its folder keeps blobs and plan."""
    return make_full(folder, LISTS)


# Wick's pieces are streamed and harbours shown through windows; or Isk's sheet is streamed.
STREAMED = {
    "pieces": """
[scene.race.streamed]
wick_pack = { buffers = 2 }
[scene.race.window]
emberdock_pack = { speed = [2, 0] }
palmsteps_pack = { speed = [2, 0] }
""",
    "sheet": """
[scene.race.streamed]
isk_pack = { buffers = 2 }
""",
}


def make_streamed(folder: Path, what: str) -> Built:
    """Build the project of ``full_text`` with load lists for a race that holds some of it in part; see ``STREAMED``."""
    return make_full(folder, LISTS.replace("count = 2\n", "count = 2\nrepeat = false\n") + STREAMED[what])


def make_bare(folder: Path) -> Built:
    """Build the project of ``bare_text``."""
    _copy(folder, "art/couriers/tove", "idle_00.png")
    return _build(folder, bare_text())


def make_tiny(folder: Path, arrangement: str) -> Built:
    """Build the project of ``tiny_text`` and cut the image's padding, so that checking it takes few steps."""
    _copy(folder, "art/couriers/tove", "walk_0[01].png")
    _copy(folder, "art/harbours", "northpier.png")
    built = _build(folder, tiny_text(arrangement))
    assert int.from_bytes(built.image[0x64:0x68], "big") <= TINY_BYTES
    image = bytearray(built.image[:TINY_BYTES])
    image[0x60:0x64] = TINY_BYTES.to_bytes(4, "big")
    return replace(built, image=with_sums(image))


def _firsts(assets: dict[str, Decoded]) -> list[tuple[int, int]]:
    """Return name hash and place in the console's palette of every palette."""
    return [(zlib.crc32(name.encode()), one.head["first"]) for name, one in assets.items() if "transparent" in one.head]


def with_sums(image: bytes | bytearray) -> bytes:
    """Return an image whose two sums are right again."""
    image = bytearray(image)
    image[0x68:0x6C] = zlib.crc32(image[0x100:]).to_bytes(4, "big")
    image[0xFC:0x100] = zlib.crc32(image[:0xFC]).to_bytes(4, "big")
    return bytes(image)


def places(image: bytes | bytearray) -> list[tuple[int, int, int]]:
    """Return kind, place of the directory entry and place of the blob of every asset."""
    found = []
    start = int.from_bytes(image[0x58:0x5C], "big") - CARTRIDGE
    for entry in range(start, start + 32 * int.from_bytes(image[0x5C:0x60], "big"), 32):
        found.append((image[entry + 4], entry, int.from_bytes(image[entry + 8 : entry + 12], "big") - CARTRIDGE))
    return found


def _copy(folder: Path, place: str, pattern: str) -> None:
    (folder / place).mkdir(parents=True, exist_ok=True)
    found = sorted((DEMO / place).glob(pattern))
    assert found, f"no {place}/{pattern} in the demo"
    for file in found:
        shutil.copy(file, folder / place)


def _build(folder: Path, text: str) -> Built:
    (folder / "project.toml").write_text(text, encoding="utf-8")
    shutil.copy(DEMO / "program" / "harbour.bin", folder)
    done = run(folder, "verify")
    assert done.returncode == 0, done.stdout + done.stderr
    build = folder / "build"
    described = json.loads((build / "map.json").read_text(encoding="utf-8"))
    image, target = (build / "rom" / "small.rom").read_bytes(), load_project(folder).target
    assets = {}
    for one in described["entries"]:
        blob = image[one["offset"] : one["offset"] + one["bytes"]]
        assets[one["name"]] = decode_blob(one["kind"], blob, target)
    for one in assets.values():
        if "frame_bytes" in one.head:  # a sheet's record does not say, one of pieces does
            one.head["clear"] = next(firsts for mark, firsts in _firsts(assets) if mark == one.head["palette"])
    return Built(image, described["image"]["build_code"], assets, target)
