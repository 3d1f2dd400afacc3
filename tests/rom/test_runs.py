"""Contiguous bundles: their members follow each other in the image. Read from the image's bytes. Common practice, no source."""

from __future__ import annotations

import random
import zlib

import pytest

from pipeline.plain.errors import ProjectError
from pipeline.rom.layout import Item, Placement
from pipeline.rom.runs import runs_of
from pipeline.target.loading import load_target, shipped_targets
from tests.makers import build_here, make_project, problems, project_text, write_text

BUNDLE = '[bundle]\ncrew = ["ada", "figures"]'
TABLE = '[bundle.crew]\nmembers = ["ada", "level", "figures"]\ncontiguous = true'


def _directory(image: bytes) -> dict[int, tuple[int, int]]:
    """Name hash -> (offset, bytes), as the target file of Basalt 32 lays the directory out: read here from the bytes alone."""
    start, count = (int.from_bytes(image[at : at + 4], "big") for at in (0x58, 0x5C))
    start -= 0x0200_0000
    entries = (image[at : at + 32] for at in range(start, start + 32 * count, 32))
    return {
        int.from_bytes(one[:4], "big"): (int.from_bytes(one[8:12], "big") - 0x0200_0000, int.from_bytes(one[12:16], "big"))
        for one in entries
    }


def test_members_follow_each_other_in_the_order_of_the_bundle(tmp_path):
    """Each starts at the next multiple of the larger of its alignment and memory's 32; what is between them is padding."""
    made = build_here(make_project(tmp_path / "ferry", (BUNDLE, TABLE)))
    known, end = _directory(made.image), None
    for name in ("ada", "level", "figures"):
        offset, size = known[zlib.crc32(name.encode())]
        assert end is None or offset == -(-end // 32) * 32
        assert end is None or set(made.image[end:offset]) <= {0xFF}
        assert made.image[offset : offset + size] == (tmp_path / f"ferry/build/blobs/{name}.bin").read_bytes()
        end = offset + size


def test_a_list_and_a_table_without_more_are_the_same(tmp_path):
    """The same image, byte for byte."""
    one = build_here(make_project(tmp_path / "a"))
    other = build_here(make_project(tmp_path / "b", (BUNDLE, '[bundle.crew]\nmembers = ["ada", "figures"]')))
    assert one.image == other.image


@pytest.mark.parametrize("seed", range(40))
def test_a_run_lies_in_one_bank(seed):
    """Random items and bundles: a run crosses no bank's end, or the bundle is refused by its name."""
    target, dice = load_target(shipped_targets()["pebble8"]), random.Random(seed)
    items = [Item(f"a{rank}", "data", dice.randrange(1, 6000), dice.choice((1, 2, 8))) for rank in range(12)]
    ranks = {f"a{rank}": ("first" if rank < 3 else "second", rank) for rank in range(6)}
    runs = runs_of(items, ranks)
    wanted = [*items[6:], *(run.item for run in runs)]
    if any(run.item.bytes > 0x4000 for run in runs):
        with pytest.raises(ProjectError, match=r"\[bundle\.(first|second)\].*a bank holds a contiguous bundle whole"):
            Placement(target, 12).place(wanted)
        return
    offsets = Placement(target, 12).place(wanted)
    for run in runs:
        start = offsets[run.item.name]
        assert start // 0x4000 == (start + run.item.bytes - 1) // 0x4000
        assert list(run.starts) == sorted(run.starts, key=lambda name: run.starts[name])
        assert all((start + run.starts[item.name]) % item.alignment == 0 for item in items if item.name in run.starts)


WRONG = [
    (
        f'{TABLE}\n[bundle.more]\nmembers = ["bell", "level"]\ncontiguous = true',
        "[bundle.more] members[1]: 'level' is in the contiguous bundle 'crew' too",
        "load it by a bundle of its own",
    ),
    (TABLE.replace('"level"', '"ada"'), "[bundle.crew] members[1]: 'ada' is named twice", "name it once"),
    (TABLE.replace('"level"', '"main"'), "[bundle.crew] members[1]: a program has a place of its own", "leave it out here"),
    (TABLE.replace('"level"', '"boot"'), "[bundle.crew] members[1]: a screen has a place of its own", "leave it out here"),
    (TABLE.replace('"level"', '"lvl"'), "[bundle.crew] members[1]: there is no 'lvl'", "did you mean level?"),
    ('[bundle.crew]\nmembers = []\ncontiguous = true', "[bundle.crew] members: a contiguous bundle has no members", "name its assets"),
    (
        '[data.far]\nfile = "level.bin"\naddress = 0x02001000\n' + TABLE.replace('"level"', '"far"'),
        "'far' has an address of its own",
        "remove address from the asset",
    ),
    ('[planned.cy]\nkind = "data"\nbytes = 4\n' + TABLE.replace('"level"', '"cy"'), "'cy' is only planned", "leave it out until"),
]


@pytest.mark.parametrize(("table", "wrong", "remedy"), WRONG, ids=[one[1][:40] for one in WRONG])
def test_a_bundle_that_cannot_be_one_run_is_refused(tmp_path, table, wrong, remedy):
    """One problem, with its place and what to do."""
    folder = make_project(tmp_path / "ferry")
    write_text(folder, project_text((BUNDLE, table)))
    (said,) = problems(folder)
    assert wrong in said
    assert remedy in said
