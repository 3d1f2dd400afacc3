"""Where a transfer may not cross a boundary, no asset does, unless the game fetches it in several.

A boundary of 128 KiB is that of a 16-bit console whose DMA source counts within 128 KiB ("Genesis Technical Overview" 1.00, 1991, DMA
transfer; from memory); smaller ones here keep the projects small.
"""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.plain.errors import ProjectError
from pipeline.reading.verify import _crossing
from pipeline.rom.layout import Item, Placement
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import Target
from tests.makers import as_map, build_here, make_project, target_data, target_problems, toml_text

LATTICE = load_target(shipped_targets()["lattice16"])


def console(boundary: int) -> Target:
    return msgspec.structs.replace(LATTICE, cartridge=msgspec.structs.replace(LATTICE.cartridge, boundary=boundary))


def crosses(offset: int, count: int, boundary: int) -> bool:
    return offset // boundary != (offset + count - 1) // boundary


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.integers(1, 4096), st.sampled_from([2, 32, 256]), st.booleans()), min_size=1, max_size=40))
def test_no_asset_crosses_a_boundary_unless_it_says_so(sizes):
    """Nothing overlaps, all is aligned, and only what is split, or a program, lies across a multiple of 4 KiB."""
    items = [Item(f"a{rank}", "data", size, step, split=split) for rank, (size, step, split) in enumerate(sizes)]
    items.append(Item("main", "program", 6000, 2))
    offsets = Placement(console(4096), len(items)).place(items)
    taken = sorted((offsets[item.name], offsets[item.name] + item.bytes) for item in items)
    assert all(before[1] <= after[0] for before, after in zip(taken, taken[1:], strict=False))
    for item in items:
        assert offsets[item.name] % item.alignment == 0
        assert item.split or item.kind == "program" or not crosses(offsets[item.name], item.bytes, 4096)


def test_without_a_boundary_the_same_assets_do_cross():
    """What the boundary changes: three assets of 3,000 bytes are one after another without it."""
    items = [Item(f"a{rank}", "data", 3000, 2) for rank in range(3)]
    plain, kept = Placement(LATTICE, 3).place(items), Placement(console(4096), 3).place(items)
    assert any(crosses(offset, 3000, 4096) for offset in plain.values())
    assert not any(crosses(offset, 3000, 4096) for offset in kept.values())


def test_larger_than_a_transfer_is_refused_unless_it_is_split():
    """With what to change; a split one may lie across several boundaries."""
    with pytest.raises(ProjectError) as caught:
        Placement(console(4096), 1).place([Item("song", "sound", 9000, 2)])
    assert str(caught.value) == (
        "project.toml, [sound.song]: 8.8 KiB, and no transfer may cross a multiple of 4 KiB\n"
        "    set split = true if the game fetches it in several transfers; or split it into several sounds, pack it, or give it a "
        "lower rate"
    )
    assert Placement(console(4096), 1).place([Item("song", "sound", 9000, 2, split=True)])["song"] < 4096


def test_a_fixed_address_across_a_boundary_is_refused():
    """The reason names the boundary."""
    with pytest.raises(ProjectError) as caught:
        Placement(console(4096), 1).place([Item("song", "sound", 200, 2, address=0x1FC0)])
    assert "200 bytes at 0x1fc0 cross a multiple of 4 KiB, which no transfer may" in str(caught.value)
    assert Placement(console(4096), 1).place([Item("song", "sound", 200, 2, address=0x1FC0, split=True)])["song"] == 0x1FC0


def write(folder: Path, split: bool) -> Path:
    """Write the small project for the tile console with a boundary of 16 KiB, and a sound of 20,000 bytes."""
    data = target_data("lattice16")
    data["cartridge"]["boundary"] = "16 KiB"
    keys = "split = true\n" if split else ""
    more = f'[data.long]\nfile = "long.bin"\n{keys}'
    make_project(folder, ('target = "lattice16"', 'target = "own.toml"'), target="lattice16", more=more)
    (folder / "own.toml").write_text(toml_text(data))
    (folder / "long.bin").write_bytes(bytes(range(250)) * 80)
    text = (folder / "project.toml").read_text()
    # The notice of 320 x 224 pixels takes 35 KiB.
    (folder / "project.toml").write_text(text.replace("[screen.boot]\n", "[screen.boot]\nsplit = true\n"))
    return folder


def test_a_build_keeps_to_it_and_verify_looks(tmp_path):
    """From the project file to the image; what was not declared is refused."""
    built = build_here(write(tmp_path / "ferry", split=True))
    for one in as_map(built.map).entries:
        assert one.name in ("long", "boot") or one.kind == "program" or not crosses(one.offset, one.bytes, 16384)
    entries, target = as_map(built.map).entries, built.project.target
    assert _crossing(entries, target, ("boot", "long")) == []
    assert {fault.split()[0] for fault in _crossing(entries, target, ())} == {"boot", "long"}
    with pytest.raises(ProjectError) as caught:
        build_here(write(tmp_path / "tram", split=False))
    assert "[data.long]: 19.5 KiB, and no transfer may cross a multiple of 16 KiB" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "changes", "wrong"),
    [
        ("lattice16", {"boundary": 3000}, "3000 is not a power of two\n    write for example \"128 KiB\""),
        ("pebble8", {"boundary": "16 KiB"}, "an asset never crosses the end of a bank\n    leave it out"),
        ("lattice16", {"boundary": "128 KiB", "base": 0x1000}, "the cartridge starts at 0x1000, which is not a multiple of 128 KiB"),
    ],
)
def test_a_boundary_that_cannot_be_is_refused(tmp_path, name, changes, wrong):
    """In the target file."""
    data = target_data(name)
    data["cartridge"] |= changes
    said = target_problems(tmp_path, toml_text(data))
    assert any(f"[cartridge] boundary: {wrong}" in one for one in said), said
