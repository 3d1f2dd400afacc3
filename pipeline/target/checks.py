"""What must agree across the parts of a target file."""

from __future__ import annotations

from pipeline.plain.bits import BitPattern
from pipeline.plain.bounds import PIXEL_ASPECT, TARGET_BYTES
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.sizes import counted, show_size
from pipeline.target.alignment import PARTS, align
from pipeline.target.commands import check_commands
from pipeline.target.fields import check_fields
from pipeline.target.kinds import KINDS
from pipeline.target.records import MAIN_AREA, Area, Banks, Memory, PixelFormat, Target
from pipeline.target.tiles import check_tile_unit


def check_target(document: Document, target: Target) -> None:
    """Note what the records alone cannot refuse: parts that do not agree, numbers that no console has."""
    _check_alignment(document, target)
    _check_memory(document, target)
    _check_transfer(document, target)
    _check_formats(document, target)
    _check_orders(document, target)
    _check_cartridge(document, target)
    _check_aspect(document, target)
    _check_safe(document, target)
    check_tile_unit(document, target)
    check_commands(document, target)
    check_fields(document, target)


def _check_alignment(document: Document, target: Target) -> None:
    for kind in target.alignment:
        if kind not in (known := (*KINDS, "default", *PARTS)):
            near = nearest_name(kind, known)
            listed = f"the kinds are {', '.join(KINDS)} and default, the parts of blobs {', '.join(PARTS)}"
            remedy = f"did you mean {near}?" if near else listed
            document.say(("alignment", kind), f"unknown kind {kind!r}", remedy)
    amounts = {("alignment", kind): amount for kind, amount in target.alignment.items()}
    amounts[("memory", "granularity")] = target.memory.granularity
    if target.directory:
        amounts[("directory", "alignment")] = target.directory.alignment
    amounts |= {("pixel_formats", name, "row_unit"): one.row_unit for name, one in target.pixel_formats.items()}
    for path, amount in amounts.items():
        if amount & (amount - 1):
            document.say(path, f"{amount} is not a power of two", "use 1, 2, 4, 8, ...")
    _check_parts(document, target)


def _check_parts(document: Document, target: Target) -> None:
    """Refuse a part that would start less well aligned than the target says, since its blob may start anywhere in between."""
    for part, kinds in PARTS.items():
        amount = target.alignment.get(part, 1)
        # What is not a power of two is refused above.
        short = [kind for kind in kinds if align(target, kind) < amount] if amount & (amount - 1) == 0 else []
        if short:
            starts, it = ("entries start", "them") if part == "entries" else (f"a {part} starts", "it")
            wrong = f"{starts} at multiples of {amount}, but a {short[0]} that holds {it} at multiples of {align(target, short[0])}"
            document.say(("alignment", part), wrong, f"set {' and '.join(f'{kind} = {amount}' for kind in short)} or more")


def _check_memory(document: Document, target: Target) -> None:
    memory = target.memory
    if memory.size > TARGET_BYTES:
        wrong = f"{memory.size:,} bytes, at most {TARGET_BYTES:,} are taken"
        document.say(("memory", "size"), wrong, "write the size of the console's main memory")
    if not memory.size:
        document.say(("memory", "size"), "a memory of 0 bytes", "write the memory's size")
    _check_reserved(document, ("memory", "reserved"), memory)
    _check_areas(document, target)


def _check_reserved(document: Document, path: tuple, memory: Memory | Area) -> None:
    end = memory.base + memory.size
    for rank, part in enumerate(memory.reserved):
        if part.address is not None and not memory.base <= part.address <= part.address + part.bytes <= end:
            wrong = f"{show_size(part.bytes)} at {part.address:#x} leaves the memory, {memory.base:#x} to {end - 1:#x}"
            document.say((*path, rank, "address"), wrong, "correct it, or leave address out")


def _check_areas(document: Document, target: Target) -> None:
    taken: dict[str, str] = {}
    for name, area in target.memory.area.items():
        path = ("memory", "area", name)
        if name == MAIN_AREA:
            document.say(path, "'main' is main memory", "give the area another name")
        if not area.size or area.size > TARGET_BYTES:
            document.say((*path, "size"), f"{area.size:,} bytes", f"write the size of this memory, at most {TARGET_BYTES:,} bytes")
        if area.granularity & (area.granularity - 1):
            document.say((*path, "granularity"), f"{area.granularity} is not a power of two", "use 1, 2, 4, 8, ...")
        for rank, kind in enumerate(area.kinds):
            if kind not in KINDS:
                near = nearest_name(kind, KINDS)
                document.say((*path, "kinds", rank), f"unknown kind {kind!r}", f"did you mean {near}?" if near else ", ".join(KINDS))
            elif taken.setdefault(kind, name) != name:
                document.say((*path, "kinds", rank), f"the area {taken[kind]} takes {kind} already", "name each kind once")
        _check_reserved(document, (*path, "reserved"), area)


def _check_transfer(document: Document, target: Target) -> None:
    blank, picture = target.transfer.blank, target.transfer.picture
    for key, most in (("blank", blank), ("picture", picture)):
        if most == 0:
            document.say(("transfer", key), "0 bytes", "leave it out where nothing limits it")
    if blank is not None and picture is not None and picture < blank:
        wrong = f"{show_size(picture)} in a picture, {show_size(blank)} in its blank alone"
        document.say(("transfer", "picture"), wrong, "count what the whole picture carries, its blank included")


def _check_formats(document: Document, target: Target) -> None:
    if target.screen.pixels not in target.pixel_formats:
        known = ", ".join(target.pixel_formats)
        document.say(("screen", "pixels"), f"unknown pixel format {target.screen.pixels!r}", f"the formats are {known}")
    for name, pixel_format in target.pixel_formats.items():
        path = ("pixel_formats", name, "pixel")
        problem = format_problem(pixel_format)
        if problem:
            document.say(path, *problem)
        tile = pixel_format.tile
        if tile and pixel_format.order == "rows":
            document.say((*path[:2], "tile"), "rows run across the whole picture, not tile after tile", 'set order = "cells" or "columns"')
        elif tile and (target.cells.width % tile[0] or target.cells.height % tile[1]):
            wrong = f"a cell of {target.cells.width} x {target.cells.height} is not whole tiles of {tile[0]} x {tile[1]}"
            document.say((*path[:2], "tile"), wrong, "use sides that divide those of [cells]")
    entry = target.palette.entry
    missing = [letter for letter in "RGB" if not entry.bits(letter)]
    if missing:
        document.say(("palette", "entry"), f"no bits for {', '.join(missing)}", "name R, G and B in the pattern")
    elif entry.width % 8:
        lacking = 8 - entry.width % 8
        whole = "x" * lacking + entry.text
        wrong = f"{entry.text} has {entry.width} bits, {counted(lacking, 'bit')} less than {entry.bytes} whole bytes"
        document.say(("palette", "entry"), wrong, f"write all bits that are stored, x for one that does not count, such as {whole}")


def _check_orders(document: Document, target: Target) -> None:
    """Refuse an order of bytes that is said of what has no second byte: whoever says it expects something else."""
    entry, unit, sound = target.palette.entry, target.tiles, target.sound
    said: list[tuple[tuple[str, ...], str | None, bool, str]] = []  # where, what is said, whether it counts, and for what
    said.append((("palette",), target.palette.byte_order, entry.width > 8, f"entries of {entry.width} bits"))
    for name, one in target.pixel_formats.items():
        counts = one.planes == "by word" or one.planes == "chunky" and one.pixel.width > 8
        said.append((("pixel_formats", name), one.byte_order, counts, f"pixels of {counted(one.pixel.width, 'bit')}, {one.planes}"))
    if unit is not None:
        said.append((("tiles",), unit.byte_order, unit.map_entry.width > 8, f"map entries of {unit.map_entry.width} bits"))
    wide = "s16" in sound.formats or ("adpcm" in sound.formats and sound.adpcm is not None and sound.adpcm.block is not None)
    said.append((("sound",), sound.byte_order, wide, f"samples of the formats {', '.join(sound.formats)}"))
    for path, order, counts, what in said:
        if order is not None and not counts:
            document.say((*path, "byte_order"), f"{order!r} has no effect on {what}", "leave it out")


def format_problem(pixel_format: PixelFormat) -> tuple[str, str] | None:
    """Return what is wrong with a pixel format and the remedy, or None."""
    pattern: BitPattern = pixel_format.pixel
    if pattern.bits("I"):
        return _index_problem(pattern, pixel_format.planes != "chunky")
    if not all(pattern.bits(letter) for letter in "RGB"):
        return f"{pattern.text} names neither I nor all of R, G and B", "write for example xBBBBBGGGGGRRRRR"
    if pattern.width not in (8, 16, 24, 32):
        return f"{pattern.text} has {pattern.width} bits", "write 8, 16, 24 or 32; x for bits that do not count"
    if pixel_format.planes != "chunky":
        return "direct colour cannot be planar here", "set planes = \"chunky\""
    return None


def _index_problem(pattern: BitPattern, planar: bool) -> tuple[str, str] | None:
    whole = set(pattern.fields) == {"I"} and pattern.bits("I") == pattern.width
    if planar and not (whole and pattern.width <= 8):
        return f"{pattern.text} is not an index of 1 to 8 planes", "write one I for each plane"
    if not planar and not (whole and pattern.width in (1, 2, 4, 8)):
        remedy = "write I, II, IIII or IIIIIIII; or say how its planes take turns, if each bit is in its own plane"
        return f"{pattern.text} is not an index of 1, 2, 4 or 8 bits", remedy
    return None


def _check_aspect(document: Document, target: Target) -> None:
    wide, high = target.screen.pixel_aspect
    if max(wide, high) > PIXEL_ASPECT * min(wide, high):
        times = max(wide, high) / min(wide, high)
        wrong = f"[{wide}, {high}]: one side is {times:,.1f} times the other, at most {PIXEL_ASPECT} times can be shown"
        document.say(("screen", "pixel_aspect"), wrong, "write width and height of one pixel, for example [8, 7]")


def _check_safe(document: Document, target: Target) -> None:
    action, title = target.screen.action_safe, target.screen.title_safe
    if title > action:
        wrong = f"{title} % of a side, of which televisions show {action} % (action_safe)"
        document.say(("screen", "title_safe"), wrong, f"use at most {action}, or raise action_safe; 100 for both if nothing is cut off")


def _check_cartridge(document: Document, target: Target) -> None:
    sizes = target.cartridge.sizes
    if not sizes or sorted(set(sizes)) != sizes or sizes[0] == 0:
        document.say(("cartridge", "sizes"), "sizes must rise and none may be 0", "list each size once, smallest first")
        return
    if sizes[-1] > TARGET_BYTES:
        wrong = f"{sizes[-1]:,} bytes, at most {TARGET_BYTES:,} are taken"
        document.say(("cartridge", "sizes", len(sizes) - 1), wrong, "leave out sizes that no cartridge of the console has")
    largest = max((align(target, kind) for kind in KINDS), default=1)
    for rank, size in enumerate(sizes):
        if size % largest:
            wrong = f"{show_size(size)} is not a multiple of the largest alignment, {largest}"
            document.say(("cartridge", "sizes", rank), wrong, f"use a multiple of {largest}")
    banks = target.cartridge.banks
    bases = {("cartridge", "base"): target.cartridge.base}
    if banks:
        bases |= {("cartridge", "banks", "window"): banks.window, ("cartridge", "banks", "home"): banks.home or 0}
    for path, base in bases.items():
        if base % largest:
            document.say(path, f"{base:#x} is not a multiple of the largest alignment, {largest}", f"use a multiple of {largest}")
    for rank, size in enumerate(sizes):
        if banks and banks.size and size % banks.size:
            wrong = f"{show_size(size)} is not a whole number of banks of {show_size(banks.size)}"
            document.say(("cartridge", "sizes", rank), wrong, "use a multiple of the bank size")
    if banks and not banks.size:
        document.say(("cartridge", "banks", "size"), "a bank of 0 bytes", "write the bank's size")
    if target.cartridge.boundary is not None:
        _check_boundary(document, target, target.cartridge.boundary)
    if banks and banks.fixed > 1:
        _check_fixed(document, banks, sizes[0])


def _check_boundary(document: Document, target: Target, boundary: int) -> None:
    place = ("cartridge", "boundary")
    if target.cartridge.banks:
        document.say(place, "an asset never crosses the end of a bank", "leave it out, or describe the cartridge without banks")
    elif not boundary or boundary & (boundary - 1):
        document.say(place, f"{boundary} is not a power of two", 'write for example "128 KiB"')
    elif target.cartridge.base % boundary:
        wrong = f"the cartridge starts at {target.cartridge.base:#x}, which is not a multiple of {show_size(boundary)}"
        document.say(place, wrong, "correct one of them")


def _check_fixed(document: Document, banks: Banks, least: int) -> None:
    """Refuse fixed banks that have no address, leave the cartridge, or lie under the window."""
    place = ("cartridge", "banks", "fixed")
    if banks.home is None:
        document.say(place, f"{banks.fixed} banks are always visible, but home is missing", "write the address of bank 0 as home")
        return
    if banks.fixed_end > least:
        wrong = f"{banks.fixed} banks of {show_size(banks.size)} are more than the smallest cartridge, {show_size(least)}"
        document.say(place, wrong, "correct fixed, or leave out that size")
    low, high = banks.home, banks.home + banks.fixed_end
    if low < banks.window + banks.size and banks.window < high:
        window = f"{banks.window:#x} to {banks.window + banks.size - 1:#x}"
        wrong = f"{banks.fixed} banks from {low:#x} to {high - 1:#x} lie under the window, {window}"
        document.say(place, wrong, "correct home, window or fixed")
