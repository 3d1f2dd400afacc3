"""The second demo, built once: its outputs, its image, its burn files and kits, and its program on the console it is for."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import shutil
import subprocess
import sys
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

import bincopy
import numpy as np
import pypdf
import pytest
import zxingcpp
from PIL import Image
from small_project import DEMO, ROOT

from pipeline.joints.layouts import PIECE, record_bytes
from pipeline.joints.map import MapEntry, read_map
from pipeline.project.loading.load import load_project
from pipeline.proofs.subject import coloured
from pipeline.questions.reductions import changes
from pipeline.reading.decoded import Decoded
from pipeline.reading.reader import read_image
from pipeline.reading.show import screen_rgb
from pipeline.reading.unpack import unpack
from pipeline.target.kinds import KINDS
from pipeline.target.records import Target
from tests.conftest import missing, need_library
from tests.graph.builds import run
from tests.graph.looks import looks_of
from tests.reading.decoding import take
from tests.recorded import differing

VEILLEE = DEMO / "veillee"
NAMES = {1: "Camille Exemple", 2: "Dominique Modèle"}  # in its reports/testers.toml


@dataclass(frozen=True)
class Built:
    """The built project: its folders, its map by name, its image, its console."""

    folder: Path
    entries: dict[str, MapEntry]
    image: bytes
    target: Target

    @property
    def out(self) -> Path:
        return self.folder / "build"

    def take(self, name: str) -> Decoded:
        """Return what the image holds of an asset, by the image's reader."""
        return take(self.out / "rom/lueurs.rom", name, self.entries, self.target)

    def rgb(self, name: str, palette: str) -> tuple[np.ndarray, np.ndarray]:
        """Return frames in colour and where they are clear."""
        return coloured(self.take(name), self.take(palette))


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Built:
    """All of the demo, by the command authors use."""
    folder = tmp_path_factory.mktemp("second") / "veillee"
    shutil.copytree(VEILLEE, folder, ignore=shutil.ignore_patterns("build"))
    done = run(folder)
    assert done.returncode == 0, done.stdout + done.stderr
    entries = read_map(folder / "build/map.json").by_name()
    return Built(folder, entries, (folder / "build/rom/lueurs.rom").read_bytes(), load_project(folder).target)


def _texts(data: Path | object) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(data).pages)


def test_nothing_looks_other_than_it_was_looked_at(built):
    """If this is meant: see ``tests.recorded``; no outside source."""
    assert differing("veillee", looks_of(built.folder)) == set()


def test_image_is_whole_from_its_bytes_alone(built):
    found = read_image(built.image, built.target)
    assert found.faults == []
    assert len(found.entries) == len(built.entries) == 28


def test_no_asset_crosses_a_bank(built):
    banks = {one.offset // 0x8000 for one in built.entries.values()}
    assert len(banks) == 3
    for one in built.entries.values():
        assert one.offset // 0x8000 == (one.offset + one.bytes - 1) // 0x8000, one.name


def test_every_codec_is_used(built):
    assert {one.codec for one in built.entries.values()} == {"stored", "packbits", "lz4"}
    for one in built.entries.values():
        assert one.bytes <= one.unpacked_bytes


def test_sprites_share_cells_and_mirror_them(built):
    """The records are read here from the blob page's offsets, not by the decoder."""
    cells, flips = {}, set()
    for name in ("mielle", "tobin", "phalene", "lampe"):
        blob = (built.out / f"blobs/{name}.bin").read_bytes()
        at, whole, size = int.from_bytes(blob[44:48], "big"), [], record_bytes(PIECE)
        assert int.from_bytes(blob[20:24], "big") == zlib.crc32(b"cellules")
        for place in range(at, len(blob), size):
            whole.append(int.from_bytes(blob[place + 4 : place + 6], "big"))
            flips.add(int.from_bytes(blob[place + 6 : place + 8], "big"))
        cells[name] = set(whole)
    assert cells["mielle"] & cells["tobin"]  # one coat
    assert 1 in flips
    assert max(set().union(*cells.values())) + 1 == built.take("cellules").head["cell_count"]


def test_ways_take_two_lines_of_the_palette(built):
    for name in ("digue", "marais"):
        assert set(np.unique(built.take(name).pixels // 16)) == {2, 3}


def test_layers_are_compared(built):
    facts = json.loads((built.out / "backgrounds.json").read_bytes())
    assert [one["background"] for one in facts["scenes"]["ronde"]["layers"]] == ["lointain", "digue", "marais"]


def test_every_asset_with_a_picture_has_its_proofs(built):
    for name, one in built.entries.items():
        if KINDS[one.kind].proofs:
            with Image.open(built.out / f"proofs/{name}.png") as picture:
                low, high = picture.convert("L").getextrema()
                assert low < high, name
    assert (built.out / "proofs/phalene.anim.png").is_file()
    assert (built.out / "proofs/titre.before-after.png").is_file()


def test_burn_files_carry_the_image(built):
    """bincopy reads the S-records; even and odd bytes are put together here."""
    even, odd = ((built.out / "burn" / name).read_bytes() for name in ("LUEUEV.BIN", "LUEUOD.BIN"))
    assert bytes(byte for pair in zip(even, odd, strict=True) for byte in pair) == built.image
    records = bincopy.BinFile(str(built.out / "burn/LUEU.S28"))
    assert bytes(records.as_binary()) == built.image


def test_kits_hold_the_image_and_a_packet_of_their_own(built):
    kits = {path.stem.rpartition("-")[2]: path for path in (built.out / "kit").rglob("*.zip")}
    numbered = {f"T{number:02}" for number in (1, 2, 5)}
    assert len(kits) == 4
    assert numbered < set(kits)
    for label, path in kits.items():
        with zipfile.ZipFile(path) as archive:
            held = {Path(name).suffix: archive.read(name) for name in archive.namelist()}
            packet = next(name for name in archive.namelist() if name.endswith(".pdf"))
            with archive.open(packet) as file:
                text = _texts(file)
        assert hashlib.sha256(held[".rom"]).digest() == hashlib.sha256(built.image).digest()
        for number, name in NAMES.items():
            assert (name in text) == (label == f"T{number:02}"), f"{name} in {label}"


def test_packet_is_french_and_large(built):
    text = _texts(built.out / "packet.pdf")
    assert "Dossier de test" in text
    assert "Build code" not in text
    sizes: list[float] = []
    page = pypdf.PdfReader(built.out / "packet.pdf").pages[1]
    page.extract_text(visitor_text=lambda text, *rest: sizes.append(rest[3]) if text.strip() else None)
    assert sorted(sizes)[len(sizes) // 2] >= 14  # points: large print as the reference page has it


def test_no_words_of_the_packet_were_left_in_english():
    files = (ROOT / "templates/packet.en.toml", VEILLEE / "templates/packet.fr.toml")
    english, french = (file.read_text(encoding="utf-8") for file in files)
    same = {line for line in english.splitlines() if len(line) > 40 and not line.startswith("#")} & set(french.splitlines())
    assert not same


def test_both_codes_read_back_from_the_notice(built):
    """zxing-cpp, a reader of codes that shares nothing with their writer."""
    notice = Image.fromarray(screen_rgb(built.take("boot"))).resize((1024, 768), Image.Resampling.NEAREST)
    found = {one.text for one in zxingcpp.read_barcodes(notice)}
    code = json.loads((built.out / "map.json").read_bytes())["image"]["build_code"]
    assert found == {f"https://example.org/v?b={code}", f"https://example.org/w/{code}"}


def _module(path: Path):
    spec = importlib.util.spec_from_file_location(f"veillee_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_art_sound_and_tables_are_what_the_scripts_make(tmp_path):
    for script, kind in (("art.py", "art"), ("sound.py", "sound"), ("data.py", "data")):
        subprocess.run([sys.executable, str(VEILLEE / "make" / script), str(tmp_path / kind)], check=True)
        made = sorted(path.relative_to(tmp_path) for path in (tmp_path / kind).rglob("*") if path.is_file())
        kept = sorted(path.relative_to(VEILLEE) for path in (VEILLEE / kind).rglob("*") if path.is_file())
        assert made == kept
        for name in made:
            if name.suffix == ".png":  # its bytes depend on the machine's zlib
                with Image.open(tmp_path / name) as new, Image.open(VEILLEE / name) as old:
                    assert new.convert("RGBA").tobytes() == old.convert("RGBA").tobytes(), name
            else:
                assert (tmp_path / name).read_bytes() == (VEILLEE / name).read_bytes(), name


def test_program_is_what_the_sources_make(built, tmp_path):
    module = _module(VEILLEE / "program/build.py")
    if module.compiler() is None:
        missing("m68k-linux-gnu-gcc is not installed")
    module.build(tmp_path / "again.bin", built.out / "include")
    assert (tmp_path / "again.bin").read_bytes() == (VEILLEE / "program/lueurs.bin").read_bytes()


need_library("unicorn")

from brindille_machine import COLOURS, LEFT, MAP, RIGHT, START, VIDEO, VIDEO_BYTES, A, B, L, Machine, picture  # noqa: E402

WALK, IDLE, RAISE = 0, 1, 2
BEFORE = [0, START, 0, START]  # notice, title
BUTTONS = [0] * 20 + [RIGHT] * 40 + [A] + [0] * 60 + [LEFT] * 30 + [B] + [L] + [RIGHT] * 30


class Round:
    """What the program should show, written from its README, not from the program."""

    def __init__(self, built: Built) -> None:
        self.ways = [built.rgb(name, "chemins")[0][0] for name in ("digue", "marais")]
        self.far = built.rgb("lointain", "ciel")[0][0]
        self.sprites = {name: (built.take(name), *built.rgb(name, "figures")) for name in ("mielle", "tobin", "phalene", "lampe")}
        numbers = np.frombuffer((VEILLEE / "data/lampes.bin").read_bytes(), dtype=">u2").reshape(-1, 2).tolist()
        self.lamps = [(way, at, False) for way, at in numbers]
        self.keeper, self.way, self.at, self.count, self.looks_left, self.pad = "mielle", 0, 128, 0, False, START
        self.animation, self.shown = IDLE, 0

    def frame(self, name: str, animation: int, shown: int) -> tuple[int, bool]:
        """Return the frame after so many pictures, and whether the animation has ended once."""
        _, loop, steps = self.sprites[name][0].animations[animation]
        ranks = [frame for frame, ticks in steps for _ in range(ticks)]
        return ranks[shown % len(ranks) if loop else min(shown, len(ranks) - 1)], shown >= len(ranks)

    def picture(self) -> np.ndarray:
        """Return one picture in colour."""
        left, wave = (self.at - 128) % 1024, self.count % 64
        far, near = np.roll(self.far, -(left // 2), axis=1), np.roll(self.ways[self.way], -left, axis=1)
        shown = np.concatenate([far, near])[:, :256].copy()
        for way, at, lit in self.lamps:
            if way == self.way:
                x = (at - left) % 512
                self._put(shown, "lampe", self.count // 8 % 2 if lit else 2, x if x < 384 else x - 512, 120)
        self._put(shown, self.keeper, self.frame(self.keeper, self.animation, self.shown)[0], 128, 124, self.looks_left)
        row = 56 + min(wave, 64 - wave) // 2
        self._put(shown, "phalene", self.frame("phalene", 0, self.count)[0], 300 - self.count % 344, row)
        return shown

    def _put(self, shown: np.ndarray, name: str, rank: int, x: int, y: int, mirrored: bool = False) -> None:
        decoded, rgb, clear = self.sprites[name]
        picture, seen, anchor = rgb[rank], ~clear[rank], decoded.head["anchor_x"]
        if mirrored:
            picture, seen, anchor = picture[:, ::-1], seen[:, ::-1], picture.shape[1] - anchor
        left, top = x - anchor, y - decoded.head["anchor_y"]
        canvas = np.zeros((192 + 128, 256 + 1024, 3), dtype=np.uint8)
        mask = np.zeros(canvas.shape[:2], dtype=bool)
        canvas[top + 64 : top + 64 + picture.shape[0], left + 512 : left + 512 + picture.shape[1]] = picture
        mask[top + 64 : top + 64 + picture.shape[0], left + 512 : left + 512 + picture.shape[1]] = seen
        inside = mask[64:256, 512:768]
        shown[inside] = canvas[64:256, 512:768][inside]

    def after(self, pad: int) -> None:
        """Go on by one picture with a state of the pad."""
        fresh, self.pad = pad & ~self.pad, pad
        self.count += 1
        self.shown += 1
        if fresh & L:
            self.keeper = "tobin" if self.keeper == "mielle" else "mielle"
            self.animation, self.shown = IDLE, 0
        if fresh & B:
            self.way ^= 1
        if fresh & A:
            here = self.at % 512
            near = [min((at - here) % 512, (here - at) % 512) <= 20 and way == self.way for way, at, _ in self.lamps]
            self.lamps = [(way, at, lit or close) for (way, at, lit), close in zip(self.lamps, near, strict=True)]
            self.animation, self.shown = RAISE, 0
        wanted = WALK if pad & (LEFT | RIGHT) else IDLE
        busy = self.animation == RAISE and not self.frame(self.keeper, RAISE, self.shown)[1]
        if self.animation != wanted and not busy:
            self.animation, self.shown = wanted, 0
        if self.animation == WALK:
            self.looks_left = bool(pad & LEFT)
            self.at += -1 if self.looks_left else 1


@pytest.fixture(scope="module")
def machine(built) -> Machine:
    """The console after a walk through both ways."""
    made = Machine(built.image)
    made.play([*BEFORE, *BUTTONS, 0])
    return made


def _rgb(words: np.ndarray) -> np.ndarray:
    """Return palette words xBBBBBGGGGGRRRRR in colour, the upper bits repeated below; common practice, no source."""
    parts = np.stack([words & 31, words >> 5 & 31, words >> 10 & 31], axis=-1)
    return (parts << 3 | parts >> 2).astype(np.uint8)


def test_program_shows_notice_and_title(built, machine):
    assert np.array_equal(_rgb(machine.shown[1]), screen_rgb(built.take("boot")))
    assert np.array_equal(_rgb(machine.shown[3]), built.rgb("titre", "titre_couleurs")[0][0])


def test_program_copies_the_notice_to_the_console_s_memories(built):
    """On the emulated 68000: tiles, map and palette in video memory are the blob's own bytes; drawn from there, both codes read."""
    machine = Machine(built.image)
    machine.play([0, 0])
    video = bytes(machine.cpu.mem_read(VIDEO, VIDEO_BYTES))
    head, blob = built.take("boot").head, _unpacked(built, "boot")
    assert head["version"] == 2
    tiles = blob[head["tiles"] :][: head["tile_count"] * head["tile_bytes"]]
    assert video[: len(tiles)] == tiles
    for row in range(head["rows"]):
        entries = blob[head["map"] + row * head["columns"] * 2 :][: head["columns"] * 2]
        assert video[MAP + row * 128 : MAP + row * 128 + len(entries)] == entries
    assert video[COLOURS : COLOURS + head["entry_count"] * 2] == blob[head["entries"] :][: head["entry_count"] * 2]
    shown = _rgb(picture(video))
    assert np.array_equal(shown, screen_rgb(built.take("boot")))
    code = json.loads((built.out / "map.json").read_bytes())["image"]["build_code"]
    for percent in (100, 93, 90):  # SMPTE ST 2046-1:2009, EBU R 95: action-safe and title-safe
        high, wide = 192 * percent // 200 * 2, 256 * percent // 200 * 2
        middle = shown[(192 - high) // 2 :][:high, (256 - wide) // 2 :][:, :wide]
        found = {one.text for one in zxingcpp.read_barcodes(np.ascontiguousarray(middle))}
        assert found == {f"https://example.org/v?b={code}", f"https://example.org/w/{code}"}, percent


def _unpacked(built: Built, name: str) -> bytes:
    one = built.entries[name]
    return unpack(one.codec, built.image[one.offset : one.offset + one.bytes], one.unpacked_bytes)


def test_program_walks_the_round_as_its_readme_says(built, machine):
    model, states = Round(built), [*BUTTONS, 0]
    for rank, shown in enumerate(machine.shown[len(BEFORE) :]):
        wrong = np.argwhere((_rgb(shown) != model.picture()).any(axis=2))
        assert not len(wrong), f"picture {rank}: {len(wrong)} pixels differ, the first at row {wrong[0][0]}, column {wrong[0][1]}"
        model.after(states[rank])
    assert any(lit for *_, lit in model.lamps)
    assert model.way == 1


def test_program_stays_inside_its_stack(machine):
    assert machine.stack_used() <= 1536


def test_damaged_assets_end_in_a_red_screen(built):
    image = bytearray(built.image)
    at = built.entries["titre"].offset
    image[at : at + 64] = b"\xff" * 64
    shown = Machine(bytes(image)).play([0, START, 0, 0, 0])
    assert (shown[-1] == 0x001F).all()


def test_savings_name_nothing_the_project_may_not_say(built):
    """A pixel format of 1 bit would put the ways' palette on lines that no map entry can choose: no advice, and no fault."""
    done = run(built.folder, "savings")
    assert done.returncode == 0, done.stdout + done.stderr
    assert 'packing = "best" and the scene\'s packed for lointain' in done.stdout
    project = load_project(built.folder)
    tried = {f"tried {rank}": f"{one.words}; {one.lost}" for rank, one in enumerate(changes(project, set(project.assets)))}
    assert differing("answer, savings, veillee", tried | {"savings": done.stdout}) == set()
    assert "mask1" not in done.stdout
