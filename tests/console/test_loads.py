"""The demo's program loads a race by the load lists: memory holds the blobs at the planned addresses, and pictures come from there."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_project import Built, make_listed, places, with_sums

from pipeline.joints.lists import Lists, read_lists_file
from tests.conftest import need_library

need_library("unicorn")

from basalt_machine import MEMORY, START, B, C, Machine, Shown  # noqa: E402
from comparing import IDLE, full_scene, same  # noqa: E402
from unicorn import UC_HOOK_MEM_READ  # noqa: E402

CARTRIDGE = 0x0200_0000


class CountingMachine(Machine):
    """A console that counts how often the program reads pixels and colours from the cartridge, picture by picture.

    Attributes:
        reads: for every vertical sync, those since the one before.
    """

    def __init__(self, image: bytes) -> None:
        super().__init__(image, watch="nothing")
        self.reads: list[int] = [0]
        for kind, entry, _ in places(image):
            if kind in (1, 2, 3):
                offset, size = _span(image, entry)
                self.cpu.hook_add(UC_HOOK_MEM_READ, self._count_read, None, CARTRIDGE + offset, CARTRIDGE + offset + size - 1)

    def _count_read(self, *_: object) -> None:
        if self.shown:  # not while the whole cartridge is checked
            self.reads[-1] += 1

    def _sync(self) -> None:
        self.reads.append(0)
        super()._sync()


def _span(image: bytes, entry: int) -> tuple[int, int]:
    address, size = (int.from_bytes(image[entry + at : entry + at + 4], "big") for at in (8, 12))
    return address - CARTRIDGE, size


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """The folder of the project."""
    return tmp_path_factory.mktemp("listed")


@pytest.fixture(scope="module")
def listed(folder) -> Built:
    """Three couriers, two harbours, and load lists for a race of two and one."""
    return make_listed(folder)


@pytest.fixture(scope="module")
def plan(listed, folder) -> Lists:
    """Where everything goes."""
    return read_lists_file(folder / "build/lists.json")


def _slots(plan: Lists) -> list[tuple[int, dict]]:
    return [(slot.at, {group.name: group for group in one.members}) for one in plan.scenes["race"].choices for slot in one.slots]


def _holds(machine: Machine, folder: Path, plan: Lists, chosen: list[str]) -> None:
    """Assert that memory holds every asset of a case where the plan says, byte for byte."""
    groups = [(0, plan.scenes["race"].common)]
    groups += [(at, members[name]) for (at, members), name in zip(_slots(plan), chosen, strict=True)]
    for start, group in groups:
        assert group.places
        for one in group.places:
            blob = (folder / f"build/blobs/{one.asset}.bin").read_bytes()
            assert bytes(machine.cpu.mem_read(MEMORY + start + one.at, len(blob))) == blob, one.asset


def test_one_call_fills_memory_as_planned(listed, folder, plan):
    """After the first picture: the pair, the harbour and the shared colours; nothing else was written but buffers and stack."""
    machine = Machine(listed.image, watch="nothing")
    machine.play([0] * IDLE + [START, 0, 0])
    _holds(machine, folder, plan, ["pell_pack", "isk_pack", "emberdock_pack"])
    scene = plan.scenes["race"]
    stack = next(area for area in plan.areas if area.name == "stack")
    free = bytes(machine.cpu.mem_read(MEMORY + scene.top, stack.at - scene.top))
    assert set(free) == {0xA5}  # what memory held at power-on


def test_a_courier_that_stays_keeps_its_slot(listed, folder, plan):
    """Pell and Isk, then Isk and Wick: Isk is where it was, Wick takes Pell's slot; then another harbour takes the first one's."""
    machine = Machine(listed.image, watch="nothing")
    machine.play([0] * IDLE + [START, 0, 0, C, 0, 0])
    _holds(machine, folder, plan, ["wick_pack", "isk_pack", "emberdock_pack"])
    machine = Machine(listed.image, watch="nothing")
    machine.play([0] * IDLE + [START, 0, 0, C, 0, B, 0, 0])
    _holds(machine, folder, plan, ["wick_pack", "isk_pack", "palmsteps_pack"])


def _compare(shown: list[Shown], listed: Built, count: int) -> None:
    scene = full_scene(listed)
    pictures = shown[IDLE + 2 :]
    assert len(pictures) >= count
    for rank, picture in enumerate(pictures[:count]):
        if rank:
            scene.advance(1)
        same(picture, scene.picture(), f"picture {rank}")


def test_pictures_come_from_memory(listed):
    """Once a race is loaded, no picture reads any art from the cartridge, and all are right, pixel for pixel."""
    machine = CountingMachine(listed.image)
    shown = machine.play([0] * IDLE + [START] + [0] * 14)
    _compare(shown, listed, 12)
    loading, later = sum(machine.reads[: IDLE + 2]), machine.reads[IDLE + 2 :]
    assert loading > 10_000
    assert set(later) == {0}


def test_without_lists_pictures_come_from_the_cartridge(listed):
    """The same image whose lists have another name: as right, and read there, which the count notices."""
    image = bytearray(listed.image)
    entry = next(entry for kind, entry, _ in places(image) if kind == 13)
    image[entry : entry + 4] = bytes(4)
    machine = CountingMachine(with_sums(image))
    shown = machine.play([0] * IDLE + [START] + [0] * 6)
    _compare(shown, listed, 4)
    assert min(machine.reads[IDLE + 2 : IDLE + 6]) > 1000


def test_every_access_while_loading_is_aligned(listed, folder, plan):
    """A 68000 stops at words at odd addresses: none from the notice on."""
    machine = Machine(listed.image, watch="all")
    machine.play([0] * IDLE + [START, 0, 0])
    _holds(machine, folder, plan, ["pell_pack", "isk_pack", "emberdock_pack"])
    assert machine.stack_used() <= 2048
