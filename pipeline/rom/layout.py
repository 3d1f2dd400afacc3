"""Placement: where every asset is in the image. Decided from sizes alone, the same for the same input."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up, show_size
from pipeline.rom.addresses import address_of, offset_of, seen_room
from pipeline.rom.banks.bound import fewest_banks
from pipeline.rom.banks.filling import Gap, Piece, fits, without
from pipeline.rom.banks.packing import pack_banks
from pipeline.target.fields import directory_place
from pipeline.target.kinds import KINDS
from pipeline.target.records import Target

# What makes one asset smaller, by kind, where it must lie in one bank. A program and a boot notice are never packed or scaled.
_SMALLER = {
    "program": "make it smaller, split off data that can be switched in, or give the target larger banks",
    "screen": "give the target's screen a pixel format of fewer bits, or larger banks, if the console has them",
    "palette": "give it fewer colours, or pack it",
    "bundle": "a bank holds a contiguous bundle whole: move members to another bundle, make them smaller, or leave out contiguous",
    "sound": "split it into several sounds, pack it, or give it a lower rate",
}
_SMALLER_PIXELS = "split it into several assets, pack it, scale it down, or use fewer bits a pixel"
_SMALLER_BYTES = "split it into several files, or pack it"


def _smaller(kind: str) -> str:
    return _SMALLER.get(kind) or (_SMALLER_PIXELS if KINDS[kind].pixels else _SMALLER_BYTES)


@dataclass(frozen=True)
class Item:
    """Something to place.

    Attributes:
        name, kind: of the asset.
        bytes: room it takes.
        alignment: power of two.
        address: fixed place as the console sees it, or None.
        split: fetched in several transfers, so that it may cross the target's boundary of transfers.
        bank: the bank it must start in, ``any`` where it may be in each that the window shows, or None where its kind decides.
        tail: placed after the others, since it may take less in the end.
    """

    name: str
    kind: str
    bytes: int
    alignment: int
    address: int | None = None
    bank: int | Literal["any"] | None = None
    split: bool = False
    tail: bool = False


class Placement:
    """Free room of an image, filled item by item.

    Phases of ``place``: fixed items, those of one bank, those linked for the window, then the others by falling alignment and size into the
    first gap that fits (banks: as ``banks.packing`` finds).
    """

    def __init__(self, target: Target, entry_count: int) -> None:
        self.target = target
        self.room = target.cartridge.sizes[-1]
        banks = target.cartridge.banks
        self.bank = banks.size if banks else None
        self.offsets: dict[str, int] = {}
        self._taken: list[tuple[int, int, str]] = []
        self._home = banks.fixed_end if banks else self.room
        self._boundary = target.cartridge.boundary
        step = self.bank or self._boundary or self.room
        first = self._home if self.bank else min(step, self.room)
        self._gaps = [(0, first), *((start, min(start + step, self.room)) for start in range(first, self.room, step))]
        self._take(target.header.offset, target.header.size, "the header")
        self._tables = target.header.size
        directory = directory_place(target, entry_count)
        if directory is not None:
            self._check_directory(directory)
            self._take(directory.start, len(directory), "the directory")
            self._tables += len(directory)

    def place(self, items: list[Item]) -> dict[str, int]:
        """Return name -> offset in the image.

        Raises:
            ProjectError: a fixed place is outside the image or taken, an item is larger than a bank, or not all fit.
        """
        fixed = [(item, item.address) for item in items if item.address is not None and item.bank != "any"]
        banked = [(item, item.bank) for item in items if item.address is None and isinstance(item.bank, int)]
        linked = [(item, item.address) for item in items if item.address is not None and item.bank == "any"]
        free = [item for item in items if item.address is None and not isinstance(item.bank, int) and not item.tail]
        tails = [item for item in items if item.address is None and not isinstance(item.bank, int) and item.tail]
        for item, address in sorted(fixed, key=lambda one: (one[1], one[0].name)):
            self._place_fixed(item, address)
        for item, bank in sorted(banked, key=_largest_first):
            self._place_in_bank(item, bank)
        for item, address in sorted(linked, key=_largest_first):
            self._place_in_window(item, address)
        free.sort(key=self._order)
        packed = self._packed(free, items, self.bank) if self.bank else None
        for item in free:
            if packed:
                self._put(item, packed[item.name])
            else:
                self._place_free(item, items)
        for item in sorted(tails, key=self._order):
            self._place_free(item, items)
        return self.offsets

    def _packed(self, free: list[Item], items: list[Item], bank: int) -> dict[str, int] | None:
        """Return places in banks, or None when not all fit: placing them one by one then shows which."""
        pieces = [self._piece(item) for item in free]
        return pack_banks(self._gaps, pieces, bank, fewest_banks(self.target, bank, [item.bytes for item in items]))

    def _order(self, item: Item) -> tuple:
        if self.bank:
            return (not self._at_home(item), -item.bytes, -item.alignment, item.name)
        return (-item.alignment, -item.bytes, item.name)

    def _place_fixed(self, item: Item, address: int) -> None:
        bank = item.bank if isinstance(item.bank, int) else None
        offset = offset_of(self.target, address, bank)
        shown = f"[{item.kind}.{item.name}] address"
        if offset is None:
            base, _, room = seen_room(self.target, bank)
            wrong = f"{address:#x} lies outside the cartridge as the console sees it"
            if bank is not None:
                wrong = f"{address:#x} is not in bank {bank} as the console sees it"
            elif self.bank:
                wrong = f"{address:#x} is not in {self._fixed_banks()} whose addresses say which bank is meant"
            remedy = f"use an address from {base:#x} to {base + room - 1:#x}, or leave it out; [cartridge] of the target says where that is"
            raise refuse("project.toml", shown, wrong, remedy)
        if not any(start <= offset and offset + item.bytes <= end for start, end in self._room_of(item)):
            wrong = f"{item.bytes} bytes at {address:#x} {self._in_the_way(offset, item.bytes)}"
            raise refuse("project.toml", shown, wrong, self._free_address(item))
        self._put(item, offset)

    def _in_the_way(self, offset: int, count: int) -> str:
        for start, end, name in sorted(self._taken):
            if start < offset + count and offset < end:
                low, high = (address_of(self.target, place) for place in (start, end - 1))
                return f"overlap {name}, which is at {low:#x} to {high:#x}"
        if self._boundary and offset + count <= self.room:
            return f"cross a multiple of {show_size(self._boundary)}, which no transfer may; set split = true if the game takes several"
        return "cross the end of a bank" if self.bank else "leave the cartridge"

    def _free_address(self, item: Item) -> str:
        for start, end in self._room_of(item):
            offset = round_up(start, item.alignment)
            if offset + item.bytes <= end and offset < self._home:
                return f"use {address_of(self.target, offset):#x}, the first place where it fits, or leave address out"
        return "leave address out, or make it smaller"

    def _fixed_banks(self) -> str:
        fixed = self._home // self.bank if self.bank else 1
        return "bank 0, the only one" if fixed == 1 else f"banks 0 to {fixed - 1}, the only ones"

    def _at_home(self, item: Item) -> bool:
        # A program must be where the console can start it: in what is there when it is switched on. Whoever names a bank knows better.
        return item.kind == "program" and item.bank is None

    def _check_directory(self, directory: range) -> None:
        """Refuse a directory that is not seen as one: a program walks it from its first entry to its last."""
        if not self.bank or directory.stop <= self._home or directory.start // self.bank == (directory.stop - 1) // self.bank:
            return
        wrong = f"the directory takes {directory.start:#x} to {directory.stop - 1:#x}, across the end of a bank"
        remedy = f"set [directory] offset to {round_up(directory.start, self.bank):#x}, the next bank, with a header field directory.bank"
        if len(directory) > self.bank:
            remedy = "use fewer assets, smaller entries, or larger banks"
        raise refuse(self.target.name, "[directory]", wrong, remedy)

    def _place_in_bank(self, item: Item, bank: int) -> None:
        if self.bank is None:
            raise refuse("project.toml", _bank_of(item), f"the cartridge of {self.target.name} has no banks", "leave it out")
        low, high = bank * self.bank, (bank + 1) * self.bank
        inside = [(max(start, low), end) for start, end in self._gaps if start < high and end > low]
        found = min(fits(inside, Piece(item.name, item.bytes, item.alignment), self.bank), default=None)
        if found is None:
            wrong = f"{show_size(item.bytes)} do not fit bank {bank} beside what has its place there"
            raise refuse("project.toml", _bank_of(item), wrong, 'make it smaller, name another bank, or write "any"')
        self._put(item, found[1])

    def _place_in_window(self, item: Item, address: int) -> None:
        """Place an item that is linked for an address in the window in the first bank where that is free."""
        banks = self.target.cartridge.banks
        if banks is None:
            raise refuse("project.toml", _bank_of(item), f"the cartridge of {self.target.name} has no banks", "leave it out")
        within = address - banks.window
        if not 0 <= within <= banks.size - item.bytes:
            wrong = f"{item.bytes} bytes at {address:#x} leave the window, {banks.window:#x} to {banks.window + banks.size - 1:#x}"
            remedy = "link it for an address in the window, or make it smaller"
            raise refuse("project.toml", f"[{item.kind}.{item.name}] address", wrong, remedy)
        first = self._home if banks.home is not None else 0
        for offset in range(first + within, self.room, banks.size):
            if any(start <= offset and offset + item.bytes <= end for start, end in self._gaps):
                self._put(item, offset)
                return
        wrong = f"{item.bytes} bytes at {address:#x} are free in none of the banks that the window shows"
        raise refuse("project.toml", _bank_of(item), wrong, "link it for another address, or use a larger cartridge")

    def _place_free(self, item: Item, items: list[Item]) -> None:
        found = fits(self._room_of(item), self._piece(item), self.bank or self.room)
        place = min(found, default=None) if self.bank else next(found, None)
        if place is None:
            raise self._too_large(item, items)
        self._put(item, place[1])

    def _room_of(self, item: Item) -> list[Gap]:
        """Return the free room for an item: without the boundaries of transfers for a program, which is run, and for what is split."""
        if not self._boundary or not (item.split or item.kind == "program"):
            return self._gaps
        whole: list[Gap] = []
        for start, end in self._gaps:
            if whole and whole[-1][1] == start:
                start = whole.pop()[0]
            whole.append((start, end))
        return whole

    def behind(self, alignment: int) -> int:
        """Return the offset after everything placed, where something of unknown size can start."""
        return round_up(self.used(), alignment)

    def _too_large(self, item: Item, items: list[Item]) -> Exception:
        if self.bank and item.bytes > (self.bank if item.bank == "any" else self._home):
            holds = f"a bank holds {show_size(self.bank)}"
            if item.bank != "any" and self._home > self.bank:
                holds = f"the {self._home // self.bank} fixed banks hold {show_size(self._home)}"
            wrong = f"{show_size(item.bytes)} in one piece, {holds}"
            return refuse("project.toml", f"[{item.kind}.{item.name}]", wrong, _smaller(item.kind))
        if self.bank and self._at_home(item):
            fixed = "bank 0" if self._home == self.bank else f"banks 0 to {self._home // self.bank - 1}"
            wrong = f"{show_size(item.bytes)} do not fit {fixed}, which the console sees when it is switched on"
            return refuse("project.toml", f"[program.{item.name}]", wrong, "make it smaller, or split off data that can be switched in")
        if self._boundary and item.bytes > self._boundary and self._room_of(item) is self._gaps:
            wrong = f"{show_size(item.bytes)}, and no transfer may cross a multiple of {show_size(self._boundary)}"
            remedy = "set split = true if the game fetches it in several transfers"
            remedy += "" if item.kind == "screen" else f"; or {_smaller(item.kind)}"
            return refuse("project.toml", f"[{item.kind}.{item.name}]", wrong, remedy)
        return does_not_fit(sum(one.bytes for one in items) + self._tables, self.target, self.room, items)

    def _piece(self, item: Item) -> Piece:
        return Piece(item.name, item.bytes, item.alignment, home=self._home if self.bank and self._at_home(item) else 0)

    def _put(self, item: Item, offset: int) -> None:
        self._take(offset, item.bytes, item.name)
        self.offsets[item.name] = offset

    def used(self) -> int:
        """Return the offset after the last thing placed."""
        if not self._gaps or self._gaps[-1][1] != self.room:
            return self.room
        end = self.room
        for start, stop in reversed(self._gaps):
            if stop != end:
                break
            end = start
            if self.bank and start % self.bank:
                break
        return end

    def _take(self, start: int, count: int, name: str) -> None:
        self._taken.append((start, start + count, name))
        self._gaps = without(self._gaps, start, start + count)


def _bank_of(item: Item) -> str:
    return f"[{item.kind}.{item.name}] bank"


def _largest_first(one: tuple[Item, int]) -> tuple:
    return (-one[0].bytes, -one[0].alignment, one[0].name)


def does_not_fit(needed: int, target: Target, room: int, items: list[Item]) -> Exception:
    """Return the refusal of an image that is larger than a cartridge: bytes over, what is largest, the next size."""
    largest = sorted(items, key=lambda item: (-item.bytes, item.name))[:5]
    listed = ", ".join(f"{item.name} {show_size(item.bytes)}" for item in largest)
    wrong = f"the image needs at least {needed:,} bytes, {max(needed - room, 1):,} more than {show_size(room)}"
    larger = [size for size in target.cartridge.sizes if size >= needed and size > room]
    if larger:
        remedy = f"set cartridge = \"{show_size(larger[0])}\", the next size, or make assets smaller or pack them; the largest: {listed}"
    else:
        remedy = f"no larger cartridge of {target.name} holds it; make assets smaller or pack them; the largest: {listed}"
    return refuse("project.toml", "[game] cartridge", wrong, remedy)


def choose_size(target: Target, used: int, wanted: int | None, items: list[Item]) -> int:
    """Return the cartridge size: the one asked for, or the smallest that holds ``used`` bytes.

    Raises:
        ProjectError: it does not fit.
    """
    for size in [wanted] if wanted else target.cartridge.sizes:
        if used <= size:
            return size
    raise does_not_fit(used, target, wanted or target.cartridge.sizes[-1], items)
