"""Placement: where every asset is in the image. Decided from sizes alone, the same for the same input."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up, show_size
from pipeline.rom.banks.bound import fewest_banks
from pipeline.rom.banks.filling import Piece, fits, without
from pipeline.rom.banks.packing import pack_banks
from pipeline.target.fields import directory_place
from pipeline.target.kinds import KINDS
from pipeline.target.records import Target

# What makes one asset smaller, by kind, where it must lie in one bank. A program and a boot notice are never packed or scaled.
_SMALLER = {
    "program": "make it smaller, split off data that can be switched in, or give the target larger banks",
    "screen": "give the target's screen a pixel format of fewer bits, or larger banks, if the console has them",
    "palette": "give it fewer colours, or pack it",
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
        tail: placed after the others, since it may take less in the end.
    """

    name: str
    kind: str
    bytes: int
    alignment: int
    address: int | None = None
    tail: bool = False


class Placement:
    """Free room of an image, filled item by item.

    Phases of ``place``: fixed items, then the others by falling alignment and size into the first gap that fits (banks: as
    ``banks.packing`` finds).
    """

    def __init__(self, target: Target, entry_count: int) -> None:
        self.target = target
        self.room = target.cartridge.sizes[-1]
        banks = target.cartridge.banks
        self.bank = banks.size if banks else None
        self.offsets: dict[str, int] = {}
        self._taken: list[tuple[int, int, str]] = []
        step = self.bank or self.room
        self._gaps = [(start, start + step) for start in range(0, self.room, step)]
        self._take(target.header.offset, target.header.size, "the header")
        self._tables = target.header.size
        directory = directory_place(target, entry_count)
        if directory is not None:
            self._take(directory.start, len(directory), "the directory")
            self._tables += len(directory)

    def place(self, items: list[Item]) -> dict[str, int]:
        """Return name -> offset in the image.

        Raises:
            ProjectError: a fixed place is outside the image or taken, an item is larger than a bank, or not all fit.
        """
        fixed = [(item, item.address) for item in items if item.address is not None]
        free = [item for item in items if item.address is None and not item.tail]
        tails = [item for item in items if item.address is None and item.tail]
        for item, address in sorted(fixed, key=lambda one: one[1]):
            self._place_fixed(item, address)
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
        pieces = [_piece(item) for item in free]
        return pack_banks(self._gaps, pieces, bank, fewest_banks(self.target, bank, [item.bytes for item in items]))

    def _order(self, item: Item) -> tuple:
        if self.bank:
            return (item.kind != "program", -item.bytes, -item.alignment, item.name)
        return (-item.alignment, -item.bytes, item.name)

    def _place_fixed(self, item: Item, address: int) -> None:
        offset = offset_of(self.target, address)
        shown = f"[{item.kind}.{item.name}] address"
        if offset is None:
            base, room = _fixed_room(self.target)
            wrong = f"{address:#x} lies outside the cartridge as the console sees it"
            if self.bank:
                wrong = f"{address:#x} is not in bank 0, the only one whose addresses say which bank is meant"
            remedy = f"use an address from {base:#x} to {base + room - 1:#x}, or leave it out; [cartridge] of the target says where that is"
            raise refuse("project.toml", shown, wrong, remedy)
        if not any(start <= offset and offset + item.bytes <= end for start, end in self._gaps):
            wrong = f"{item.bytes} bytes at {address:#x} {self._in_the_way(offset, item.bytes)}"
            raise refuse("project.toml", shown, wrong, self._free_address(item))
        self._put(item, offset)

    def _in_the_way(self, offset: int, count: int) -> str:
        for start, end, name in sorted(self._taken):
            if start < offset + count and offset < end:
                low, high = (address_of(self.target, place) for place in (start, end - 1))
                return f"overlap {name}, which is at {low:#x} to {high:#x}"
        return "cross the end of a bank" if self.bank else "leave the cartridge"

    def _free_address(self, item: Item) -> str:
        for start, end in self._gaps:
            offset = round_up(start, item.alignment)
            if offset + item.bytes <= end and (not self.bank or offset < self.bank):
                return f"use {address_of(self.target, offset):#x}, the first place where it fits, or leave address out"
        return "leave address out, or make it smaller"

    def _place_free(self, item: Item, items: list[Item]) -> None:
        found = fits(self._gaps, _piece(item), self.bank or self.room)
        place = min(found, default=None) if self.bank else next(found, None)
        if place is None:
            raise self._too_large(item, items)
        self._put(item, place[1])

    def behind(self, alignment: int) -> int:
        """Return the offset after everything placed, where something of unknown size can start."""
        return round_up(self.used(), alignment)

    def _too_large(self, item: Item, items: list[Item]) -> Exception:
        if self.bank and item.bytes > self.bank:
            wrong = f"{show_size(item.bytes)} in one piece, a bank holds {show_size(self.bank)}"
            return refuse("project.toml", f"[{item.kind}.{item.name}]", wrong, _smaller(item.kind))
        if self.bank and item.kind == "program":
            wrong = f"{show_size(item.bytes)} do not fit bank 0, which the console sees when it is switched on"
            return refuse("project.toml", f"[program.{item.name}]", wrong, "make it smaller, or split off data that can be switched in")
        return does_not_fit(sum(one.bytes for one in items) + self._tables, self.target, self.room, items)

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


def _piece(item: Item) -> Piece:
    # A program must be where the console can start it: in the bank that is there when it is switched on.
    return Piece(item.name, item.bytes, item.alignment, home=item.kind == "program")


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


def address_of(target: Target, offset: int) -> int:
    """Return the address at which the console sees an offset of the image (in its bank's window, with banks)."""
    banks = target.cartridge.banks
    if banks is None:
        return target.cartridge.base + offset
    bank, within = divmod(offset, banks.size)
    base = banks.home if bank == 0 and banks.home is not None else banks.window
    return base + within


def bank_of(target: Target, offset: int) -> int:
    """Return the bank an offset lies in; 0 without banks."""
    return offset // target.cartridge.banks.size if target.cartridge.banks else 0


def offset_of(target: Target, address: int) -> int | None:
    """Return the image offset of a fixed address, or None when it is not the cartridge's.

    With banks only bank 0 has addresses of its own (its home, or the window when it has none).
    """
    base, room = _fixed_room(target)
    return address - base if base <= address < base + room else None


def _fixed_room(target: Target) -> tuple[int, int]:
    """Return the first address an asset can be fixed at, and the bytes from there on."""
    banks = target.cartridge.banks
    if banks:
        return banks.window if banks.home is None else banks.home, banks.size
    return target.cartridge.base, target.cartridge.sizes[-1]


def choose_size(target: Target, used: int, wanted: int | None, items: list[Item]) -> int:
    """Return the cartridge size: the one asked for, or the smallest that holds ``used`` bytes.

    Raises:
        ProjectError: it does not fit.
    """
    for size in [wanted] if wanted else target.cartridge.sizes:
        if used <= size:
            return size
    raise does_not_fit(used, target, wanted or target.cartridge.sizes[-1], items)
