"""A handheld's program in C, made with sdcc for a Z80 and run on an emulated one: every frame it draws is the one of the proof."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from intelhex import IntelHex
from PIL import Image

from pipeline.proofs.canvas import on_board
from pipeline.proofs.kinds.sprite import arranged
from pipeline.proofs.subject import Subject
from tests.conftest import need_library, need_tool
from tests.makers import Built, build_here
from tests.reading.decoding import decode_blob
from tests.rom.reader_walk import blob_of, every_kind

need_library("z80")
from pebble_machine import BANK, WELL, Machine  # noqa: E402

HERE = Path(__file__).parent / "handheld"
START, DATA = 0x0400, 0xC000
WIDE, HIGH = 64, 64
STARS = ("ada", "bea", "cid", "dot")
PARTS = ("SHOW", "FIND", "SPRITE", "FRAMES", "ANIMATION", "PALETTE", "UNPACK", "BACKGROUND")
TICKS = 2_000_000_000


def compile_program(include: Path, folder: Path, banks: int) -> tuple[bytes, dict[str, int]]:
    """Return the linked program, from START on, and where its names are."""
    need_tool("sdcc")
    parts = dict(re.findall(r"#define RW8_PART_(\w+) (\d+)", (include / "reader8.h").read_text()))
    chosen = sum(int(parts[name]) for name in PARTS)
    flags = ["-mz80", "--opt-code-size", "--max-allocs-per-node", "300", '-DRW_CONFIG="console.h"', f"-I{HERE}", f"-I{include}"]
    flags += [f"-DBANKS={banks}", f"-DRW8_PARTS={chosen}"]
    _run("sdasz80", "-o", str(folder / "start.rel"), str(HERE / "start.s"))
    for source in (HERE / "main.c", include / "reader8.c"):
        _run("sdcc", *flags, "-c", str(source), "-o", str(folder / f"{source.stem}.rel"))
    places = ("--no-std-crt0", "--code-loc", f"{START:#x}", "--data-loc", f"{DATA:#x}")
    objects = [str(folder / f"{name}.rel") for name in ("start", "main", "reader8")]
    _run("sdcc", "-mz80", *places, *objects, "-o", str(folder / "main.ihx"))
    linked = IntelHex(str(folder / "main.ihx"))
    listed = re.findall(r"^\s*([0-9A-F]{8})\s+(_\w+)", (folder / "main.map").read_text(), re.MULTILINE)
    names = {name: int(at, 16) for at, name in listed}
    return linked.tobinstr(START, linked.maxaddr()), names


def _run(*command: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def played(tmp_path_factory) -> tuple[Built, Machine]:
    """The image with the program in it, and the console after it stopped. Placed first, so that it can be linked for where it is."""
    folder = tmp_path_factory.mktemp("handheld")
    project, compiled = folder / "project", folder / "compiled"
    compiled.mkdir()
    packing = '[defaults.pool]\npacking = "packbits"\n'
    made = every_kind(project, "pebble8", packing=packing)
    text = (project / "project.toml").read_text()
    text = text.replace('file = "main.bin"', f'file = "main.bin"\naddress = {START}')
    text = text.replace("[sprite.dot]", '[sprite.dot]\npacking = "lz4"')
    (project / "project.toml").write_text(text)
    build_here(project, "include")
    binary, names = compile_program(project / "build/include", compiled, len(made.image) // BANK)
    (project / "main.bin").write_bytes(binary)
    made = build_here(project, "verify", "reader", *(f"proof:{name}" for name in STARS))
    machine = Machine(made.image, (names["_canvas"], WIDE * HIGH))
    assert machine.run(TICKS) == WELL
    return made, machine


def decoded(made: Built, name: str):
    """Return an asset as ``reading`` decodes it."""
    (entry,) = [one for one in made.map["entries"] if one["name"] == name]

    def pool(_hash: int):
        return decoded(made, "ferry_cells")

    return decode_blob(entry["kind"], blob_of(made, entry), made.project.target, pool)


def wanted_pictures(made: Built) -> list[np.ndarray]:
    """Return the canvas of every picture: each frame of a sprite, then its animations up to their last step but one or their end."""
    pictures = []
    for name in STARS:
        sprite, palette = decoded(made, name), decoded(made, "figures")
        clear = sprite.head.get("clear", palette.head["first"] & 3)
        frames = []
        for pixels in sprite.pixels:
            canvas = np.full((HIGH, WIDE), clear, dtype=np.uint8)
            canvas[: pixels.shape[0], : pixels.shape[1]] = pixels
            frames.append(canvas)
        pictures += frames
        for _, _, steps in sprite.animations:
            pictures += [frames[frame] for frame, ticks in steps[: max(1, len(steps) - 1)] for _ in range(ticks)]
    return pictures


def test_every_frame_is_drawn_as_decoded(played):
    """In pieces, of a pool, whole, trimmed and mirrored; stored and unpacked; steps of animations; a background from map and tiles."""
    made, machine = played
    wanted = wanted_pictures(made)
    assert len(wanted) > 20
    assert len(machine.shown) == len(wanted) + 1
    pier = decoded(made, "pier")
    wanted.append(pier.pixels[0][:HIGH, :WIDE].astype(np.uint8) & 3)  # without the palette's line
    for rank, (shown, picture) in enumerate(zip(machine.shown, wanted, strict=True)):
        assert np.array_equal(np.frombuffer(shown, dtype=np.uint8).reshape(HIGH, WIDE), picture), f"picture {rank}"


def test_proofs_show_what_was_drawn(played):
    """The sheet of each sprite, a PNG of the build, holds at every frame's place the canvas in the palette's colours."""
    made, machine = played
    pictures, target, rank = machine.shown, made.project.target, 0
    for name in STARS:
        sprite = decoded(made, name)
        count, high, wide = sprite.pixels.shape
        drawn = [np.frombuffer(one, dtype=np.uint8).reshape(HIGH, WIDE)[:high, :wide] for one in pictures[rank : rank + count]]
        rank += count + sum(_played(steps) for _, _, steps in sprite.animations)
        shown = replace(sprite, pixels=np.stack(drawn).astype(np.uint32))
        subject = Subject(name, shown, decoded(made, "figures"), made.facts[name], target, target.screen.pixel_aspect)
        layout, (rgb, clear) = arranged(subject), subject.coloured()
        proof = np.asarray(Image.open(made.project.folder / f"build/proofs/{name}.png").convert("RGB"))
        assert len(layout.places) >= count
        for place in layout.places:
            seen = proof[place.top : place.top + layout.shown[1], place.left : place.left + layout.shown[0]]
            assert np.array_equal(seen, on_board(rgb[place.frame], clear[place.frame], layout.shown, subject.anchor())), (name, place)


def _played(steps: list[tuple[int, int]]) -> int:
    """Return for how many pictures the program plays an animation: up to its last step but one, or its end."""
    return sum(ticks for _, ticks in steps[: max(1, len(steps) - 1)])


def test_every_bank_is_switched_in(played):
    """The image has assets in several banks, and the program got at them."""
    made, machine = played
    (dot,) = [one for one in made.map["entries"] if one["name"] == "ada"]
    assert {one["offset"] // BANK for one in made.map["entries"]} <= {*range(len(made.image) // BANK)}
    assert dot["offset"] // BANK in machine.switched


def test_colours_are_those_of_the_image(played):
    """Both bytes of each entry, for each of the sprites."""
    made, machine = played
    (entry,) = [one for one in made.map["entries"] if one["name"] == "figures"]
    blob, head = blob_of(made, entry), decoded(made, "figures").head
    colours = blob[head["entries"] : head["entries"] + 2 * head["entry_count"]]
    assert bytes(machine.colours) == colours * len(STARS)
