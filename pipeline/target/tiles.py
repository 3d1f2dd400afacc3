"""What a target says about tiles and maps: the checks, and the rules one background is cut by."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.plain.bits import BitPattern, ByteOrder, parse_pattern
from pipeline.plain.checked import Document
from pipeline.target.records import Target

# What a map is taken to need if neither target nor background says: 16 bits an entry, no mirroring.
_PLAIN_ENTRY = parse_pattern("tttttttttttttttt")


@dataclass(frozen=True)
class TileRules:
    """How a background is cut into tiles.

    Attributes:
        tile: width and height of a tile in pixels.
        entry: bit pattern of a map entry.
        entry_order: byte order of a map entry.
        most: tiles that fit the tile memory from tile 0 on; as many as ``entry`` can number, or fewer.
    """

    tile: tuple[int, int]
    entry: BitPattern
    entry_order: ByteOrder
    most: int

    @property
    def flips(self) -> tuple[bool, bool]:
        """Whether a map entry can mirror its tile left to right, and top to bottom."""
        return bool(self.entry.bits("H")), bool(self.entry.bits("V"))


def tile_rules(target: Target, tile: tuple[int, int] | None, entry: BitPattern | None) -> TileRules:
    """Return the rules for a background: its own, else the target's tile unit, else cells and plain 16-bit entries.

    Args:
        tile, entry: what the background says itself; None where it says nothing.
    """
    unit = target.tiles
    if tile is None:
        tile = (unit.width, unit.height) if unit else (target.cells.width, target.cells.height)
    if entry is None:
        entry = unit.map_entry if unit else _PLAIN_ENTRY
    order = target.order_of(unit.byte_order if unit else None)
    numbers = 1 << entry.bits("t")
    return TileRules(tile, entry, order, min(numbers, unit.most or numbers) if unit else numbers)


def map_entry_problem(pattern: BitPattern) -> tuple[str, str] | None:
    """Return what is wrong with the bit pattern of a map entry and the remedy, or None."""
    if not pattern.bits("t"):
        return f"{pattern.text} has no tile number", "write its bits as t, for example HVccPxtttttttttt"
    wide = [letter for letter in "HV" if pattern.bits(letter) > 1]
    if wide:
        return f"{pattern.text} has {pattern.bits(wide[0])} bits {wide[0]}", "mirroring takes one bit; write x for bits that do not count"
    if pattern.width % 8:
        return f"{pattern.text} has {pattern.width} bits", "a map entry takes whole bytes; write x for bits that do not count"
    return None


def check_tile_unit(document: Document, target: Target) -> None:
    """Note every problem of a target's tile unit."""
    unit = target.tiles
    if unit is None:
        return
    problem = map_entry_problem(unit.map_entry)
    if problem:
        document.say(("tiles", "map_entry"), *problem)
    elif unit.most and unit.most > 1 << unit.map_entry.bits("t"):
        wrong = f"{unit.most} tiles, map entry {unit.map_entry.text} can number {1 << unit.map_entry.bits('t')}"
        document.say(("tiles", "most"), wrong, "lower it, or leave it out")
    if unit.pixels is not None and unit.pixels not in target.pixel_formats:
        known = ", ".join(target.pixel_formats)
        document.say(("tiles", "pixels"), f"unknown pixel format {unit.pixels!r}", f"the formats are {known}")
