"""Placement: nothing overlaps, everything is aligned, banks are not crossed, and the same input gives the same places."""

from __future__ import annotations

import random

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.plain.errors import ProjectError
from pipeline.rom.addresses import address_of, bank_of, offset_of
from pipeline.rom.layout import Item, Placement, choose_size
from pipeline.target.fields import directory_offset
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import Banks
from tests.recorded import differing, hash_of

BASALT = load_target(shipped_targets()["basalt32"])
PEBBLE = load_target(shipped_targets()["pebble8"])
_BANKS = Banks(size=16 << 10, window=0x8000, home=0, fixed=2)
_SPANNED = msgspec.structs.replace(PEBBLE, cartridge=msgspec.structs.replace(PEBBLE.cartridge, banks=_BANKS))

_items = st.lists(
    st.tuples(st.integers(1, 9000), st.sampled_from([1, 2, 4, 32, 256])), min_size=1, max_size=30
).map(lambda pairs: [Item(f"a{rank}", "data", size, step) for rank, (size, step) in enumerate(pairs)])


def _check(target, items: list[Item], offsets: dict[str, int]) -> None:
    taken = [(target.header.offset, target.header.offset + target.header.size)]
    start = directory_offset(target)
    taken.append((start, start + target.directory.entry_bytes * len(items)))
    bank = target.cartridge.banks.size if target.cartridge.banks else target.cartridge.sizes[-1]
    fixed = target.cartridge.banks.fixed * bank if target.cartridge.banks else 0
    for item in items:
        offset = offsets[item.name]
        assert offset % item.alignment == 0
        assert offset // bank == (offset + item.bytes - 1) // bank or offset + item.bytes <= fixed
        taken.append((offset, offset + item.bytes))
    taken.sort()
    assert all(end <= start for (_, end), (start, _) in zip(taken, taken[1:], strict=False))


@settings(deadline=None)
@given(items=_items, random=st.randoms())
@pytest.mark.parametrize("target", [BASALT, PEBBLE, _SPANNED], ids=["linear", "banked", "fixed banks"])
def test_places_are_legal_and_do_not_depend_on_the_order_of_equals(target, items, random):
    """Any set of assets is placed legally, and listing them in another order gives the same places."""
    offsets = Placement(target, len(items)).place(items)
    _check(target, items, offsets)
    mixed = list(items)
    random.shuffle(mixed)
    again = Placement(target, len(items)).place(mixed)
    # Equal items may change places with each other, so compare what is where by size and alignment.
    kinds = {item.name: (item.bytes, item.alignment) for item in items}
    assert sorted((o, kinds[n]) for n, o in offsets.items()) == sorted((o, kinds[n]) for n, o in again.items())


def test_fixed_address_is_kept_and_others_go_around_it():
    """A fixed asset is where its address says, and nothing overlaps it."""
    items = [Item("here", "program", 4096, 4, address=0x02008000), Item("big", "data", 100_000, 32), Item("small", "data", 3, 4)]
    offsets = Placement(BASALT, 3).place(items)
    assert offsets["here"] == 0x8000
    assert address_of(BASALT, offsets["here"]) == 0x02008000
    _check(BASALT, items, offsets)


def test_place_behind_everything_is_free_to_the_end():
    """What is of unknown size starts after all that is placed, fixed addresses included."""
    placement = Placement(BASALT, 3)
    offsets = placement.place([Item("art", "data", 100_000, 32), Item("far", "data", 10, 4, address=0x02100000)])
    assert placement.behind(32) == 0x100020
    assert offsets["art"] + 100_000 < 0x100000


@pytest.mark.parametrize(
    ("address", "message"),
    [
        (0x01000000, "[data.x] address: 0x1000000 lies outside the cartridge as the console sees it"),
        (
            0x02000010,
            "[data.x] address: 64 bytes at 0x2000010 overlap the header, which is at 0x2000000 to 0x20000ff\n"
            "    use 0x2000120, the first place where it fits, or leave address out",
        ),
    ],
)
def test_impossible_fixed_address_is_refused(address, message):
    """An address outside the cartridge, or inside the header, is refused with the reason."""
    with pytest.raises(ProjectError) as caught:
        Placement(BASALT, 1).place([Item("x", "data", 64, 4, address=address)])
    assert message in str(caught.value)


def test_fixed_address_in_the_window_is_refused_with_the_addresses_there_are():
    """An address in the window is the cartridge's, but of any bank; bank 0 of the handheld is at 0 to 0x3fff (its target file)."""
    with pytest.raises(ProjectError) as caught:
        Placement(PEBBLE, 1).place([Item("x", "data", 64, 4, address=0x4000)])
    assert str(caught.value) == (
        "project.toml, [data.x] address: 0x4000 is not in bank 0, the only one whose addresses say which bank is meant\n"
        "    use an address from 0x0 to 0x3fff, or leave it out; [cartridge] of the target says where that is"
    )


def test_too_large_an_image_says_by_how_much_what_is_largest_and_the_next_size():
    """The refusal has the bytes over, the largest assets and the next cartridge."""
    items = [Item(f"a{rank}", "data", 300_000, 4) for rank in range(4)]
    with pytest.raises(ProjectError) as caught:
        choose_size(BASALT, 1_300_000, 1 << 20, items)
    assert str(caught.value) == (
        "project.toml, [game] cartridge: the image needs at least 1,300,000 bytes, 251,424 more than 1 MiB\n"
        '    set cartridge = "2 MiB", the next size, or make assets smaller or pack them; '
        "the largest: a0 293.0 KiB, a1 293.0 KiB, a2 293.0 KiB, a3 293.0 KiB"
    )


@pytest.mark.parametrize(
    ("kind", "remedy"),
    [
        ("sound", "split it into several sounds, pack it, or give it a lower rate"),
        ("background", "split it into several assets, pack it, scale it down, or use fewer bits a pixel"),
        ("screen", "give the target's screen a pixel format of fewer bits, or larger banks, if the console has them"),
        ("program", "make it smaller, split off data that can be switched in, or give the target larger banks"),
    ],
)
def test_asset_larger_than_a_bank_is_refused(kind, remedy):
    """With banks an asset must lie in one; what the remedy says can be done with that kind (docs: screens and programs never packed)."""
    with pytest.raises(ProjectError) as caught:
        Placement(PEBBLE, 1).place([Item("song", kind, 20_000, 1)])
    assert str(caught.value) == f"project.toml, [{kind}.song]: 19.5 KiB in one piece, a bank holds 16 KiB\n    {remedy}"


def test_addresses_of_banks():
    """Bank 0 is seen at home, the others through the window; linear images start at the base."""
    assert [address_of(PEBBLE, offset) for offset in (0x150, 0x3FFF, 0x4000, 0x8001)] == [0x150, 0x3FFF, 0x4000, 0x4001]
    assert [bank_of(PEBBLE, offset) for offset in (0x150, 0x3FFF, 0x4000, 0x8001)] == [0, 0, 1, 2]
    assert offset_of(PEBBLE, 0x150) == 0x150
    assert offset_of(PEBBLE, 0x4000) is None
    moved = msgspec.structs.replace(PEBBLE.cartridge.banks, home=None)
    homeless = msgspec.structs.replace(PEBBLE, cartridge=msgspec.structs.replace(PEBBLE.cartridge, banks=moved))
    assert address_of(homeless, 0) == 0x4000


@settings(deadline=None, max_examples=25)
@given(st.lists(st.integers(200, 8000), min_size=40, max_size=60))
def test_few_banks_are_wasted(sizes):
    """Banks used stay within 11/9 of the lower bound and one more (the published bound of first-fit decreasing, Dosa 2007)."""
    items = [Item(f"a{rank}", "data", size, 1) for rank, size in enumerate(sizes)]
    roomy = msgspec.structs.replace(PEBBLE, cartridge=msgspec.structs.replace(PEBBLE.cartridge, sizes=[1 << 20]))
    offsets = Placement(roomy, len(items)).place(items)
    banks = {offset >> 14 for offset in offsets.values()}
    assert len(banks) <= -(-sum(sizes) // 16384) * 11 / 9 + 2


def test_program_stands_in_bank_0():
    """A banked console starts what it sees when switched on (common practice, no source); larger assets leave it that room."""
    items = [Item(f"a{rank}", "data", 15_000, 1) for rank in range(3)] + [Item("code", "program", 9000, 1)]
    assert Placement(PEBBLE, 4).place(items)["code"] < 0x4000
    with pytest.raises(ProjectError) as caught:
        Placement(PEBBLE, 1).place([Item("code", "program", 16_200, 1)])
    assert str(caught.value) == (
        "project.toml, [program.code]: 15.8 KiB do not fit bank 0, which the console sees when it is switched on\n"
        "    make it smaller, or split off data that can be switched in"
    )


@pytest.mark.parametrize("target", [BASALT, PEBBLE], ids=["linear", "banked"])
def test_places_are_those_they_were(target):
    """Which of many legal places an asset gets has no outside source. If a change is meant: see ``tests.recorded``."""
    found = {}
    for seed in range(30):
        chance = random.Random(seed)
        most = chance.choice((60, 3000, 16000))
        items = [
            Item(f"a{rank}", chance.choice(("data", "program", "sprite")), chance.randint(1, most), chance.choice((1, 2, 4, 32, 256)))
            for rank in range(chance.randint(1, 30))
        ]
        try:
            offsets = Placement(target, len(items)).place(items)
            used = max(offsets[item.name] + item.bytes for item in items)
            size = choose_size(target, used, chance.choice((None, None, target.cartridge.sizes[0])), items)
            said = [(name, offset, address_of(target, offset), bank_of(target, offset)) for name, offset in sorted(offsets.items())]
            found[f"{seed}"] = hash_of(repr((said, size)).encode())
        except ProjectError as error:
            found[f"{seed}"] = hash_of(str(error).encode())
    assert differing(f"places, {target.name}", found) == set()
