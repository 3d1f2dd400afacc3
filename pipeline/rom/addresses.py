"""Offsets in the image and addresses as the console sees them, with banks or without."""

from __future__ import annotations

from pipeline.target.records import Target


def address_of(target: Target, offset: int) -> int:
    """Return the address at which the console sees an offset of the image (in its bank's window, with banks)."""
    banks = target.cartridge.banks
    if banks is None:
        return target.cartridge.base + offset
    if banks.home is not None and offset < banks.fixed_end:
        return banks.home + offset
    return banks.window + offset % banks.size


def bank_of(target: Target, offset: int) -> int:
    """Return the bank an offset lies in; 0 without banks."""
    return offset // target.cartridge.banks.size if target.cartridge.banks else 0


def offset_of(target: Target, address: int, bank: int | None = None) -> int | None:
    """Return the image offset of a fixed address, or None when it is not the cartridge's.

    Args:
        bank: the bank meant; left out only addresses of fixed banks (of bank 0 in the window, where none is fixed) say which is meant.
    """
    base, first, room = seen_room(target, bank)
    return first + address - base if base <= address < base + room else None


def seen_room(target: Target, bank: int | None = None) -> tuple[int, int, int]:
    """Return what is seen of a bank, or without one of all whose addresses say which bank is meant: address, offset, and bytes."""
    banks = target.cartridge.banks
    if banks is None:
        return target.cartridge.base, 0, target.cartridge.sizes[-1]
    if bank is None:
        return address_of(target, 0), 0, banks.fixed_end
    return address_of(target, bank * banks.size), bank * banks.size, banks.size
