"""The demo's program streams couriers and moves windows over harbours: right to the pixel, and fetching at most what the budget says."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from PIL import Image
from small_project import CARTRIDGE, Built, make_streamed, places, with_sums

from pipeline.joints.budget import SceneBudget, read_budget_file
from pipeline.joints.lists import ScenePlan, read_lists_file
from tests.conftest import need_library, only_long
from tests.graph.builds import run

need_library("unicorn")

from basalt_machine import LEFT, MEMORY, RIGHT, START, B, C, Machine, Shown, Z  # noqa: E402
from comparing import IDLE, full_scene, rgb, same  # noqa: E402
from unicorn import UC_HOOK_MEM_READ  # noqa: E402
from walk_model import Scene  # noqa: E402

FIRST = IDLE + 2  # the picture after which the race is loaded
# Faster, a turn at the left end, stop, and on again.
BUTTONS = [0] * 8 + [RIGHT, 0, RIGHT, *[0] * 20] + [LEFT, 0] * 8 + [0] * 20 + [Z] + [0] * 12 + [RIGHT, 0, 0, RIGHT] + [0] * 30


class Read(NamedTuple):
    """Bytes that were read of an asset in the cartridge while one picture was made, and in how many runs of adjacent bytes."""

    bytes: int = 0
    runs: int = 0


class FetchMachine(Machine):
    """A console that counts what is read of some assets in the cartridge, picture by picture.

    Attributes:
        fetched: for every vertical sync, by asset, what was read since the one before.
    """

    def __init__(self, image: bytes, spans: dict[str, tuple[int, int]]) -> None:
        super().__init__(image, watch="nothing")
        self.fetched: list[dict[str, Read]] = [{}]
        self._next = -1
        for name, (offset, size) in spans.items():
            self.cpu.hook_add(UC_HOOK_MEM_READ, self._look, name, CARTRIDGE + offset, CARTRIDGE + offset + size - 1)

    def _look(self, _cpu: object, _kind: int, address: int, size: int, _value: int, name: str) -> None:
        if self.shown:  # not while the whole cartridge is checked
            before = self.fetched[-1].get(name, Read())
            self.fetched[-1][name] = Read(before.bytes + size, before.runs + (address != self._next))
            self._next = address + size

    def _sync(self) -> None:
        self.fetched.append({})
        self._next = -1
        super()._sync()


class Streamed(NamedTuple):
    """A built project, where it is, and what its race needs and fetches."""

    built: Built
    folder: Path
    budget: SceneBudget
    plan: ScenePlan


def _make(folder: Path, what: str, *goals: str) -> Streamed:
    built = make_streamed(folder, what)
    done = run(folder, "memory", *goals)
    assert done.returncode == 0, done.stdout + done.stderr
    budget = read_budget_file(folder / "build/budget.json").scenes["race"]
    return Streamed(built, folder, budget, read_lists_file(folder / "build/lists.json").scenes["race"])


@pytest.fixture(scope="module")
def pieces(tmp_path_factory) -> Streamed:
    """Wick's pieces are streamed, and two harbours shown through windows."""
    return _make(tmp_path_factory.mktemp("pieces"), "pieces", "proofs")


@pytest.fixture(scope="module")
def sheet(tmp_path_factory) -> Streamed:
    """Isk's sheet is streamed."""
    return _make(tmp_path_factory.mktemp("sheet"), "sheet")


def _spans(one: Streamed) -> dict[str, tuple[int, int]]:
    """Return offset and bytes in the image of everything drawn, by name."""
    blobs = {name: (one.folder / f"build/blobs/{name}.bin").read_bytes() for name in ("pell", "isk", "wick", "emberdock", "palmsteps")}
    image = one.built.image
    starts = [at for kind, _, at in places(image) if kind in (1, 2)]
    return {name: (next(at for at in starts if image[at : at + len(blob)] == blob), len(blob)) for name, blob in blobs.items()}


def _act(scene: Scene, buttons: int) -> None:
    if buttons & RIGHT:
        scene.change(1)
    if buttons & LEFT:
        scene.change(-1)
    if buttons & Z:
        scene.change(-scene.speed)


def _play(one: Streamed, scene: Scene, buttons: list[int], before: tuple[int, ...] = ()) -> tuple[FetchMachine, list[Shown]]:
    """Play after some buttons that the scene knows of already, and compare every picture."""
    machine = FetchMachine(one.built.image, _spans(one))
    shown = machine.play([0] * IDLE + [START, *before, *buttons, 0, 0])[FIRST + len(before) :]
    machine.fetched = machine.fetched[FIRST + len(before) :]
    assert len(shown) == len(buttons) + 1
    held = before[-1] if before else 0
    for rank, state in enumerate([0, *buttons]):
        if rank:
            _act(scene, state & ~held)
            scene.advance(1)
            held = state
        same(shown[rank], scene.picture(), f"picture {rank}")
    return machine, shown


def _check_fetched(machine: FetchMachine, budget: SceneBudget, names: set[str]) -> None:
    """Assert that each picture reads at most what the budget says of an asset, nothing of others, and something somewhere."""
    said = {one.name: one for one in budget.streamed}
    assert budget.traffic is not None
    limit = budget.limits["blank"]
    assert limit.used <= limit.most
    for picture in machine.fetched:
        assert picture.keys() <= names
        for name, read in picture.items():
            assert read.bytes <= said[name].picture_bytes, name
            assert read.runs <= said[name].picture_transfers, name
        whole = [sum(one) for one in zip(*picture.values(), strict=True)] if picture else [0, 0]
        assert whole[0] + budget.traffic.start * whole[1] <= limit.used
    for name in names:
        assert any(name in picture for picture in machine.fetched), name


def test_a_streamed_sheet_fetches_what_the_budget_says(sheet):
    """Pell leads from memory, Isk follows from two buffers: a whole frame when it changes, and nothing in between."""
    only_long()
    machine, _ = _play(sheet, full_scene(sheet.built), BUTTONS)
    _check_fetched(machine, sheet.budget, {"isk"})
    read = [picture.get("isk", Read()).bytes for picture in machine.fetched]
    assert set(read) == {0, sheet.budget.streamed[0].picture_bytes}
    assert 0 < np.count_nonzero(read) < len(read) // 2


def test_streamed_pieces_and_a_window_fetch_what_the_budget_says(pieces):
    """Isk leads from memory and Wick follows from buffers; the window moves right and left, and stops."""
    only_long()
    scene = full_scene(pieces.built)
    scene.cast([pieces.built.assets["isk"], pieces.built.assets["wick"]])
    scene.advance(1)
    machine, _ = _play(pieces, scene, BUTTONS, before=(C,))
    _check_fetched(machine, pieces.budget, {"wick", "emberdock"})
    assert any(picture["wick"].bytes == pieces.budget.streamed[0].picture_bytes for picture in machine.fetched if "wick" in picture)


def test_another_harbour_comes_through_the_same_window(pieces):
    """After a change the whole window is filled once; then only columns come in."""
    scene = full_scene(pieces.built)
    scene.enter(pieces.built.assets["palmsteps"])
    scene.advance(1)
    machine, _ = _play(pieces, scene, [0] * 60, before=(B,))
    _check_fetched(machine, pieces.budget, {"palmsteps"})
    columns = {picture["palmsteps"].bytes // 240 for picture in machine.fetched if picture}
    assert columns == {1}  # a pixel each picture


def test_the_window_shows_what_the_proof_shows(pieces):
    """Above the couriers, in colour, against the picture of the harbour among the proofs, where it is the one at the left."""
    _, shown = _play(pieces, full_scene(pieces.built), [RIGHT] + [0] * 200)
    height, width = pieces.built.assets["emberdock"].pixels[0].shape
    proof = np.asarray(Image.open(pieces.folder / "build/proofs/emberdock.png").convert("RGB"))[:height, :width]
    lefts = set()
    for picture in shown[::20]:
        seen = rgb(pieces.built, picture)[:60]
        lefts.add(next(at for at in range(width - 319) if np.array_equal(seen, proof[height - 240 : height - 180, at : at + 320])))
    assert len(lefts) > 5


def test_memory_holds_tables_and_nothing_after_the_plan(sheet):
    """Tables of the streamed courier are copied, not its pixels; what is after the plan's last byte is as it was at power-on."""
    machine = Machine(sheet.built.image, watch="nothing")
    machine.play([0] * IDLE + [START, 0, 0, 0])
    plan, slot = sheet.plan, sheet.plan.choices[0].slots[1]
    (isk,) = (one for group in plan.choices[0].members if group.name == "isk_pack" for one in group.places if one.asset == "isk")
    blob = (sheet.folder / "build/blobs/isk.bin").read_bytes()
    assert bytes(machine.cpu.mem_read(MEMORY + slot.at + isk.at, isk.bytes)) == blob[: isk.bytes]
    assert isk.bytes < len(blob) // 10
    end = (2 << 20) - (16 << 10)
    assert set(bytes(machine.cpu.mem_read(MEMORY + plan.top, end - plan.top))) == {0xA5}
    assert machine.stack_used() <= 2048


def test_every_access_while_fetching_is_aligned(pieces):
    """A 68000 stops at words at odd addresses: none, with windows that begin again at odd columns."""
    machine, scene = Machine(pieces.built.image), full_scene(pieces.built)
    buttons = [0, C, *[RIGHT, 0] * 2, *[0] * 4]
    shown = machine.play([0] * IDLE + [START, *buttons[1:], 0, 0])[FIRST:]
    for rank, state in enumerate(buttons):
        if state == C:
            scene.cast([pieces.built.assets["isk"], pieces.built.assets["wick"]])
        if rank:
            _act(scene, state)
            scene.advance(1)
        same(shown[rank], scene.picture(), f"picture {rank}")


@pytest.mark.parametrize(("at", "what"), [(32, "pixels"), (20, "bytes of a frame"), (2, "frames")])
def test_a_streamed_courier_that_is_not_right_is_left_out(sheet, at, what):
    """Numbers far too large in its record, in an image whose sums are right: another one follows."""
    image, (offset, _) = bytearray(sheet.built.image), _spans(sheet)["isk"]
    image[offset + at : offset + at + 2] = b"\x7f\xf0"
    shown = Machine(with_sums(image), watch="nothing").play([0] * IDLE + [START, 0, 0])[FIRST:]
    scene = full_scene(sheet.built)
    scene.cast([sheet.built.assets["pell"], sheet.built.assets["wick"]])
    same(shown[0], scene.picture(), what)
