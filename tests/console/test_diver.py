"""The third demo, built once: its image, and its program in C on an emulated Z80, whose pictures are those of the proofs."""

from __future__ import annotations

import importlib.util
import re
import shutil
import subprocess
import sys
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from small_project import DEMO

from pipeline.joints.facts import read_facts
from pipeline.joints.map import ImageMap, MapEntry, read_map
from pipeline.joints.places import facts_file
from pipeline.project.loading.load import load_project
from pipeline.proofs.canvas import on_board
from pipeline.proofs.kinds.sprite import arranged
from pipeline.proofs.subject import Subject
from pipeline.reading.decoded import Decoded
from pipeline.reading.reader import read_image
from pipeline.reading.show import screen_rgb
from pipeline.target.records import Target
from tests.conftest import missing, need_library
from tests.graph.builds import run
from tests.graph.looks import looks_of
from tests.reading.decoding import take
from tests.recorded import differing

need_library("z80")
from pebble_machine import BANK, HEIGHT, LEFT, RIGHT, START, WIDTH, A, B, Machine, colours_of, figures_of, ground_of, picture  # noqa: E402

DIVER = DEMO / "diver"
STARS = {"diver": "tin", "guppy": "coral", "snail": "coral", "crab": "shell", "bubble": "glass"}
ALBUM, PICTURES_A_FRAME = (120, 100), 8  # of its README
RED = (255, 0, 0)
NOTICE = [0, 0, A]
BUTTONS = [0] * 5 + [RIGHT] * 30 + [B] + [0] * 30 + [LEFT] * 150 + [LEFT | B] * 3 + [RIGHT | LEFT] * 4 + [B] + [0] * 70


@dataclass(frozen=True)
class Built:
    """The built project: its folder, its map, its image, its console."""

    folder: Path
    map: ImageMap
    entries: dict[str, MapEntry]
    image: bytes
    target: Target

    def take(self, name: str) -> Decoded:
        """Return what the image holds of an asset, by the image's reader."""
        return take(self.folder / "build/rom/tdiver.rom", name, self.entries, self.target)

    def subject(self, name: str, palette: str) -> Subject:
        """Return what a proof is drawn from."""
        facts = read_facts(facts_file(self.folder / "build/blobs", name))
        return Subject(name, self.take(name), self.take(palette), facts, self.target, self.target.screen.pixel_aspect)

    def proof(self, name: str) -> np.ndarray:
        """Return a picture that the build drew, uint8 in colour."""
        with Image.open(self.folder / f"build/proofs/{name}.png") as file:
            return np.asarray(file.convert("RGB"))


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Built:
    """All of the demo, by the command authors use."""
    folder = tmp_path_factory.mktemp("third") / "diver"
    shutil.copytree(DIVER, folder, ignore=shutil.ignore_patterns("build"))
    done = run(folder)
    assert done.returncode == 0, done.stdout + done.stderr
    described = read_map(folder / "build/map.json")
    image = (folder / "build/rom/tdiver.rom").read_bytes()
    return Built(folder, described, described.by_name(), image, load_project(folder).target)


def album(built: Built) -> list[tuple[str, int]]:
    """Return creature and frame of every picture of the album, as the README says it."""
    pictures = []
    for name in STARS:
        sprite = built.take(name)
        pictures += [(name, rank) for rank in range(len(sprite.pixels)) for _ in range(PICTURES_A_FRAME)]
        pictures += [(name, frame) for _, _, steps in sprite.animations for frame, ticks in steps for _ in range(ticks)]
    return pictures


@pytest.fixture(scope="module")
def machine(built) -> Machine:
    """The console after the notice, the whole album, and some time in the bowl."""
    made = Machine(built.image)
    made.play([*NOTICE, *(0 for _ in album(built)), *BUTTONS, 0])
    return made


def test_image_is_whole_from_its_bytes_alone(built):
    found = read_image(built.image, built.target)
    assert found.faults == []
    assert len(found.entries) == len(built.entries) == 14


def test_nothing_looks_other_than_it_was_looked_at(built):
    """All outputs; no outside source, since taste has none. If a change is meant: see ``tests.recorded``."""
    assert differing("diver", looks_of(built.folder)) == set()


def test_art_is_what_the_scripts_make(tmp_path):
    subprocess.run([sys.executable, str(DIVER / "make/art.py"), str(tmp_path)], check=True)
    made, kept = ({path.relative_to(top) for path in top.rglob("*.png")} for top in (tmp_path, DIVER / "art"))
    assert made == kept
    for name in made:
        with Image.open(tmp_path / name) as new, Image.open(DIVER / "art" / name) as old:
            assert new.convert("RGBA").tobytes() == old.convert("RGBA").tobytes(), name


def test_program_is_what_the_sources_make(built, tmp_path):
    spec = importlib.util.spec_from_file_location("diver_build", DIVER / "program/build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    if module.compiler() is None:
        missing("sdcc is not installed")
    module.build(tmp_path / "again.bin", built.folder / "build/include")
    assert (tmp_path / "again.bin").read_bytes() == (DIVER / "program/diver.bin").read_bytes()


def test_notice_is_its_proof_and_both_codes_read(built, machine):
    """zxing-cpp, which shares nothing with the codes' writer; crops by SMPTE ST 2046-1:2009 and EBU R 95: action-safe and title-safe."""
    shown = picture(machine.shown[1])
    assert np.array_equal(shown, built.proof("boot"))
    assert np.array_equal(shown, screen_rgb(built.take("boot")))
    code = built.map.image.build_code
    for percent in (100, 93, 90):
        high, wide = HEIGHT * percent // 200 * 2, WIDTH * percent // 200 * 2
        middle = shown[(HEIGHT - high) // 2 :][:high, (WIDTH - wide) // 2 :][:, :wide]
        found = {one.text for one in zxingcpp.read_barcodes(np.ascontiguousarray(middle))}
        assert found == {f"https://example.org/d/{code}", f"https://example.org/e/{code}"}, percent


def test_notice_waits_for_a_button(built):
    for button, goes_on in ((0, False), (B, False), (A, True), (START, True)):
        shown = Machine(built.image).play([0, button, 0, 0])
        assert np.array_equal(picture(shown[-1]), built.proof("boot")) != goes_on


def test_background_is_its_proof(built, machine):
    proof = built.proof("bowl")[: 2 * HEIGHT, : 2 * WIDTH]
    for video in machine.shown[3::100]:
        ground = colours_of(video)[ground_of(video)]
        assert np.array_equal(np.repeat(np.repeat(ground, 2, axis=0), 2, axis=1), proof)
    assert len(np.unique(ground_of(video) // 4)) > 2  # lines of the palette


def cut_out(built: Built, name: str, video: bytes) -> np.ndarray:
    """Return what figures show at a frame's place in the album, as numbers of its own four colours."""
    sprite, first = built.take(name), built.take(STARS[name]).head["first"]
    high, wide = sprite.pixels.shape[1:]
    left, top = ALBUM[0] - sprite.head["anchor_x"], ALBUM[1] - sprite.head["anchor_y"]
    numbers = figures_of(video)
    frame = numbers[top : top + high, left : left + wide]
    assert np.count_nonzero(numbers != 255) == np.count_nonzero(frame != 255)  # and nowhere else
    assert set(np.unique(frame // 4)) <= {first // 4, 63}
    return np.where(frame == 255, 0, frame & 3)


def test_every_frame_of_the_album_is_drawn_as_decoded(built, machine):
    """In pieces, of a pool, whole, trimmed and mirrored; stored, and unpacked with both codecs; every step of every animation."""
    assert {(entry.codec, entry.kind) for entry in built.entries.values()} >= {
        ("stored", "sprite"), ("lz4", "sprite"), ("packbits", "sprite"), ("lz4", "pool"),
    }  # fmt: skip
    wanted = album(built)
    for rank, (name, frame) in enumerate(wanted):
        video = machine.shown[len(NOTICE) + rank]
        if rank and wanted[rank - 1] == (name, frame):
            assert video == machine.shown[len(NOTICE) + rank - 1]
        else:
            assert np.array_equal(cut_out(built, name, video), built.take(name).pixels[frame] & 3), f"picture {rank}, {name} {frame}"


@pytest.mark.parametrize("name", STARS)
def test_proofs_show_what_the_album_shows(built, machine, name):
    """The sheet of each sprite, a PNG of the build, holds at every frame's place what the console drew, in the console's own colours."""
    wanted, subject = album(built), built.subject(name, STARS[name])
    count = len(subject.decoded.pixels)
    videos = [machine.shown[len(NOTICE) + wanted.index((name, frame))] for frame in range(count)]
    drawn = np.stack([cut_out(built, name, video) for video in videos])
    first = built.take(STARS[name]).head["first"]
    rgb = np.stack([colours_of(video)[first : first + 4][pixels] for video, pixels in zip(videos, drawn, strict=True)])
    layout, proof = arranged(replace(subject, decoded=replace(subject.decoded, pixels=drawn.astype(np.uint32)))), built.proof(name)
    assert len(layout.places) >= count
    for place in layout.places:
        seen = proof[place.top : place.top + layout.shown[1], place.left : place.left + layout.shown[0]]
        board = on_board(rgb[place.frame], drawn[place.frame] == 0, layout.shown, subject.anchor())
        assert np.array_equal(seen, board), place


def test_colours_are_those_of_the_image(built, machine):
    """Every palette at its place, as it is decoded."""
    for name in ("tin", "coral", "shell", "glass", "water"):
        palette = built.take(name)
        first = palette.head["first"]
        assert np.array_equal(colours_of(machine.shown[-1])[first : first + len(palette.colours)], palette.colours), name


def test_assets_are_in_banks_that_the_macro_switches(built, machine):
    """The program's sources name the bank's port in one macro alone; the reader's do not know it."""
    banks = {entry.offset // BANK for entry in built.entries.values()}
    assert banks == {0, 1}
    for entry in built.entries.values():
        assert entry.offset // BANK == (entry.offset + entry.bytes - 1) // BANK, entry.name
    assert set(machine.switched) == banks
    sources = [*(DIVER / "program").glob("*.[chs]"), built.folder / "build/include/reader8.c", built.folder / "build/include/reader8.h"]
    named = [(path.name, line) for path in sources for line in path.read_text(encoding="utf-8").splitlines() if "bank_port" in line]
    assert len(named) == 2
    assert {name for name, _ in named} == {"hardware.h"}
    assert re.match(r"#define RW_BANK\(", named[1][1])


class Bowl:
    """What the program should show after the album, written from its README, not from the program."""

    def __init__(self, built: Built, ground: np.ndarray) -> None:
        self.ground = ground
        self.sprites = {name: (built.take(name), *built.subject(name, palette).coloured()) for name, palette in STARS.items()}
        self.count, self.at, self.left, self.pad, self.walks, self.since = 0, 120, False, 0, False, 0
        self.bubble: tuple[int, int, int] | None = None  # column, row, pictures

    def frame(self, name: str, label: str, shown: int) -> int | None:
        """Return the frame after so many pictures; None after the end of an animation that does not go round."""
        _, loop, steps = next(one for one in self.sprites[name][0].animations if one[0] == zlib.crc32(label.encode()))
        ranks = [frame for frame, ticks in steps for _ in range(ticks)]
        return ranks[shown % len(ranks)] if loop or shown < len(ranks) else None

    def picture(self) -> np.ndarray:
        """Return one picture in colour."""
        shown, turn, wave = self.ground.copy(), self.count % 96, self.count % 64
        self._put(shown, "guppy", self.frame("guppy", "swim", self.count), self.count % 264 - 12, 60 + min(wave, 63 - wave) // 4)
        self._put(shown, "snail", self.frame("snail", "crawl", self.count), 40 + self.count // 16 % 32, 148)
        way, where = ("right", turn) if turn < 48 else ("left", 96 - turn)
        self._put(shown, "crab", self.frame("crab", way, turn % 48), 160 + where, 154)
        walk = self.frame("diver", "walk" if self.walks else "wait", self.since)
        self._put(shown, "diver", walk, self.at, 140, self.left)
        if self.bubble:
            column, row, pictures = self.bubble
            self._put(shown, "bubble", self.frame("bubble", "rise", pictures), column, row - pictures)
        return shown

    def _put(self, shown: np.ndarray, name: str, rank: int, x: int, y: int, mirrored: bool = False) -> None:
        decoded, rgb, clear = self.sprites[name]
        drawn, seen, anchor = rgb[rank], ~clear[rank], decoded.head["anchor_x"]
        if mirrored:
            drawn, seen, anchor = drawn[:, ::-1], seen[:, ::-1], drawn.shape[1] - anchor
        for row, column in np.argwhere(seen).tolist():
            at = (y - decoded.head["anchor_y"] + row, x - anchor + column)
            if 0 <= at[0] < HEIGHT and 0 <= at[1] < WIDTH:
                shown[at] = drawn[row, column]

    def after(self, pad: int) -> None:
        """Go on by one picture with a state of the pad."""
        fresh, self.pad = pad & ~self.pad, pad
        self.count += 1
        self.since += 1
        walks = pad & (LEFT | RIGHT) in (LEFT, RIGHT)
        if walks != self.walks:
            self.walks, self.since = walks, 0
        if walks:
            self.left = bool(pad & LEFT)
            self.at = min(228, max(12, self.at + (-1 if self.left else 1)))
        if self.bubble:
            column, row, pictures = self.bubble
            going = self.frame("bubble", "rise", pictures + 1) is not None
            self.bubble = (column, row, pictures + 1) if going else None
        if fresh & B and not self.bubble:
            self.bubble = (self.at + (-4 if self.left else 4), 112, 0)


def test_bowl_is_as_its_readme_says(built, machine):
    start = len(NOTICE) + len(album(built))
    ground = machine.shown[start]
    model, bubbles = Bowl(built, colours_of(ground)[ground_of(ground)]), 0
    for rank, (video, pad) in enumerate(zip(machine.shown[start:], [*BUTTONS, 0], strict=True)):
        wrong = np.argwhere((picture(video) != model.picture()).any(axis=2)) if rank % 3 == 0 or rank < 6 else ()
        assert not len(wrong), f"picture {rank}: {len(wrong)} pixels differ, the first at row {wrong[0][0]}, column {wrong[0][1]}"
        bubbles += bool(model.bubble and not model.bubble[2])
        model.after(pad)
    assert bubbles == 2
    assert model.at == 12


def test_button_skips_the_album(built, machine):
    shown = Machine(built.image).play([*NOTICE, 0, 0, START, 0])
    assert shown[-1] == machine.shown[len(NOTICE) + len(album(built))]


def test_program_stays_inside_its_stack(machine):
    assert 0 < machine.stack_used() <= 256


@pytest.mark.parametrize("name", ["bowl", "crab", "bowl_cells"])
def test_damaged_assets_end_in_a_red_screen(built, name):
    image, entry = bytearray(built.image), built.entries[name]
    image[entry.offset : entry.offset + entry.bytes] = b"\xff" * entry.bytes
    shown = Machine(bytes(image)).play([*NOTICE, 0, 0, 0])
    assert (picture(shown[-1]) == RED).all()
