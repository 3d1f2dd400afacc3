"""The demo's program on its invented console: it is what its sources make, checks the cartridge and shows the notice."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest
from small_project import DEMO, Built, places

from tests.conftest import missing, need_library, only_long

need_library("unicorn")

import zxingcpp  # noqa: E402
from basalt_machine import CARTRIDGE, CPU_68000, MEMORY, START, A, B, Machine, MachineFault  # noqa: E402
from comparing import IDLE, full_scene, rgb, same, wanted_rgb  # noqa: E402
from unicorn import UC_ARCH_M68K, UC_MODE_BIG_ENDIAN, Uc, UcError  # noqa: E402

RED = 0x001F
CODE_LIMIT = 20 << 10
STACK_LIMIT = 2 << 10


def _build_module():
    spec = importlib.util.spec_from_file_location("demo_program_build", DEMO / "program" / "build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def strict_run(full: Built) -> Machine:
    """A run in which every access is checked, long enough for the notice and some steps."""
    machine = Machine(full.image, watch="all")
    machine.play([0] * IDLE + [START] + [0] * 14)
    return machine


def test_program_is_what_the_sources_make(tmp_path):
    module = _build_module()
    if module.compiler() is None:
        missing("m68k-linux-gnu-gcc is not installed")
    module.build(tmp_path / "again.bin")
    assert (tmp_path / "again.bin").read_bytes() == (DEMO / "program" / "harbour.bin").read_bytes()


def test_program_holds_no_path_and_little_code():
    program = (DEMO / "program" / "harbour.bin").read_bytes()
    assert len(program) <= CODE_LIMIT
    assert str(DEMO.parent).encode() not in program
    assert b"/tmp" not in program
    assert b"GCC" not in program


def test_program_holds_no_asset_address(full):
    only_long()
    program = (DEMO / "program" / "harbour.bin").read_bytes()
    for kind, entry, _ in places(full.image):
        assert kind == 6 or full.image[entry + 8 : entry + 12] not in program


def test_model_is_the_68000():
    cpu = Uc(UC_ARCH_M68K, UC_MODE_BIG_ENDIAN)
    cpu.ctl_set_cpu_model(CPU_68000)
    cpu.mem_map(0x1000, 0x1000)
    cpu.mem_write(0x1000, bytes.fromhex("e9c00008"))  # bfextu, which came with a later model
    with pytest.raises(UcError):
        cpu.emu_start(0x1000, 0x1004)
    cpu = Uc(UC_ARCH_M68K, UC_MODE_BIG_ENDIAN)
    cpu.ctl_set_cpu_model(CPU_68000)
    cpu.mem_map(0x1000, 0x1000)
    cpu.mem_write(0x1000, bytes.fromhex("51c8fffe"))  # dbra, which every model has
    cpu.emu_start(0x1000, 0x1004)


@pytest.mark.parametrize(("code", "odd"), [("20390010 0001", True), ("20390010 0002", False), ("33c00010 0003", True)])
@pytest.mark.parametrize("compiled", [True, False])
def test_machine_refuses_odd_words(code, odd, compiled):
    image = bytearray(b"\0" * 4096)
    image[0x50:0x54] = (CARTRIDGE + 0x100).to_bytes(4, "big")
    image[0x100:0x108] = bytes.fromhex(code + "4afc")  # then an illegal instruction ends the run
    with pytest.raises(MachineFault if odd else UcError):
        Machine(bytes(image), watch="all", compiled=compiled).play([0])


def test_check_draws_a_full_bar_before_the_notice(strict_run):
    wanted = np.zeros((240, 320), dtype=np.uint8)
    wanted[116:124, 32:288] = 1
    same(strict_run.shown[0], wanted, "bar")
    assert set(strict_run.shown[0].palette.tolist()) == {0, 0x294A}


def test_notice_is_the_one_in_the_image(full, strict_run):
    boot = full.assets["boot"]
    for shown in strict_run.shown[1 : IDLE + 2]:
        same(shown, boot.pixels[0], "notice")
        assert np.array_equal(rgb(full, shown), boot.colours[boot.pixels[0]])


def test_links_read_from_the_notice_in_order(full, strict_run):
    found = zxingcpp.read_barcodes(rgb(full, strict_run.shown[2]))
    links = [code.text for code in sorted(found, key=lambda code: code.position.top_left.x)]
    assert links == [f"https://example.org/{form}/{full.build_code}" for form in "fb"]


def test_couriers_walk_pixel_for_pixel(full, strict_run):
    scene = full_scene(full)
    pictures = strict_run.shown[IDLE + 2 :]
    assert len(pictures) >= 10
    names = ("couriers", "emberdock_colours")
    seen = set()
    for rank, shown in enumerate(pictures):
        wanted = scene.picture()
        same(shown, wanted, f"picture {rank}")
        assert np.array_equal(rgb(full, shown), wanted_rgb(full, wanted, names))
        seen.add(shown.pixels.tobytes())
        scene.advance(1)
    assert len(seen) == len(pictures)


def test_stack_stays_small(strict_run):
    assert 0 < strict_run.stack_used() <= STACK_LIMIT


def test_boot_leaves_memory_outside_buffers_and_stack_alone(strict_run):
    memory = bytes(strict_run.cpu.mem_read(MEMORY, 2 << 20))
    buffers = 0x4000 + 2 * 76800
    assert memory[:0x4000].strip(b"\xa5") == b""
    assert memory[buffers : (2 << 20) - STACK_LIMIT].strip(b"\xa5") == b""


def test_a_leaves_the_notice_too_and_b_does_not(full):
    shown = Machine(full.image, watch="nothing").play([0, B, 0, A, 0, 0, 0])
    boot = full.assets["boot"].pixels[0]
    same(shown[4], boot, "still the notice")
    same(shown[5], full_scene(full).picture(), "harbour")


def test_button_held_since_power_on_does_not_skip_the_notice(full):
    shown = Machine(full.image, watch="nothing").play([START] * 6)
    same(shown[-1], full.assets["boot"].pixels[0], "notice")


@pytest.mark.parametrize("where", ["directory", "art", "last byte", "header"])
def test_one_wrong_byte_gives_the_red_screen(full, where):
    image = bytearray(full.image)
    at = {"directory": 0x108, "art": 0x20000, "last byte": len(image) - 1, "header": 0x63}[where]
    image[at] ^= 0x10
    for shown in Machine(bytes(image), watch="nothing").play([START, 0, A, 0])[1:]:
        assert not shown.pixels.any()
        assert shown.palette[0] == RED
