"""Reading an image back from its bytes and the target alone, and finding whatever is wrong with it.

Shares with the writer only the field definitions (the target, ``target.fields``, ``records``), so that it can find the
writer's mistakes.
"""

from __future__ import annotations

import itertools
import zlib
from dataclasses import dataclass, field

from pipeline.plain.sizes import parse_size
from pipeline.reading.sums import read_checksum
from pipeline.reading.unpack import UnpackFault, unpack
from pipeline.target.fields import CODEC_NUMBERS
from pipeline.target.kinds import KIND_NUMBERS
from pipeline.target.ranges import parse_place
from pipeline.target.records import Directory, Field, Target


@dataclass(frozen=True)
class FoundEntry:
    """One entry of the directory as read.

    ``kind``, ``alignment``, ``name``, ``codec`` and ``unpacked_bytes`` are None where the target's directory does not hold them.
    """

    name_hash: int
    kind: str | None
    offset: int
    bytes: int
    crc32: int
    alignment: int | None = None
    name: str | None = None
    codec: str | None = None
    unpacked_bytes: int | None = None


@dataclass
class FoundImage:
    """What an image says of itself.

    Attributes:
        values: header values by name, texts without their padding.
        entries: the directory, in its order; of one that is sorted by name hash in image order.
        faults: everything wrong, one sentence each; empty when all is well.
    """

    values: dict[str, int | str] = field(default_factory=dict)
    entries: list[FoundEntry] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def read_image(data: bytes, target: Target, entries: list[FoundEntry] | None = None) -> FoundImage:
    """Read an image and check all of it.

    Args:
        data: the image.
        target: what the console demands.
        entries: places of assets, for targets without a directory (from ``map.json``); otherwise read from the image.
    """
    found = FoundImage()
    if len(data) not in target.cartridge.sizes:
        found.faults.append(f"{len(data)} bytes are not a cartridge size of {target.name}")
    _read_header(data, target, found)
    directory = _read_directory(data, target, target.directory, found) if target.directory else (0, 0)
    if entries is not None and not target.directory:
        found.entries = entries
    used = max([target.header.offset + target.header.size, directory[1], *(one.offset + one.bytes for one in found.entries)])
    _check_header_values(data, target, found, directory, used)
    _check_sums(data, target, found, directory, used)
    _check_entries(data, target, found, directory)
    _check_padding(data, target, found, directory)
    return found


def _read_header(data: bytes, target: Target, found: FoundImage) -> None:
    covered = bytearray(target.header.size)
    for one in target.header.fields:
        raw = data[one.offset : one.offset + one.bytes]
        start = one.offset - target.header.offset
        covered[start : start + one.bytes] = b"\1" * one.bytes
        wanted = _fixed(one, target)
        if wanted is not None and raw != wanted:
            found.faults.append(f"header field {one.name!r} holds {raw.hex()}, not {wanted.hex()}")
        if one.value is not None and one.table is None:
            found.values[one.value] = _plain(raw, one, target)
    blank = (data[target.header.offset + rank] for rank, used in enumerate(covered) if not used)
    if len(data) >= target.header.offset + target.header.size and any(blank):
        found.faults.append("header bytes that belong to no field are not 0")


def _fixed(one: Field, target: Target) -> bytes | None:
    if one.text is not None:
        return one.text.encode() + bytes([one.pad]) * (one.bytes - len(one.text))
    if one.hex is not None:
        return bytes.fromhex(one.hex)
    if one.number is not None:
        return one.number.to_bytes(one.bytes, target.order_of(one.byte_order))
    return None


def _plain(raw: bytes, one: Field, target: Target) -> int | str:
    if _is_text(one):
        return raw.rstrip(bytes([one.pad])).decode("ascii", errors="replace")
    return _number(raw, one, target)


def _is_text(one: Field) -> bool:
    return one.value is not None and (one.value in ("asset.name", "build.code") or one.value.startswith("project."))


def _number(raw: bytes, one: Field, target: Target) -> int:
    return int.from_bytes(raw, target.order_of(one.byte_order))


def _read_directory(data: bytes, target: Target, directory: Directory, found: FoundImage) -> tuple[int, int]:
    start, count = directory.offset, found.values.get("directory.count")
    if start is None:
        start = -(-(target.header.offset + target.header.size) // directory.alignment) * directory.alignment
    if not isinstance(count, int):
        found.faults.append("the header does not say how many entries the directory has")
        return start, start
    end = start + count * directory.entry_bytes
    if end > len(data):
        found.faults.append(f"a directory of {count} entries leaves the image")
        return start, start
    for at in range(start, end, directory.entry_bytes):
        raw = data[at : at + directory.entry_bytes]
        _check_fixed(raw, directory, target, found)
        found.entries.append(_entry(raw, directory, target, found))
    if directory.sorted:
        _check_order(found)
    return start, end


def _check_order(found: FoundImage) -> None:
    """Find entries out of order, which a program that halves would not find; then put all in image order, like those of any target."""
    for before, after in itertools.pairwise(found.entries):
        if before.name_hash >= after.name_hash:
            found.faults.append(f"the directory is sorted by name hash, and {after.name_hash:#010x} comes after {before.name_hash:#010x}")
    found.entries.sort(key=lambda entry: entry.offset)


def _check_fixed(raw: bytes, directory: Directory, target: Target, found: FoundImage) -> None:
    free = bytearray(raw)
    for one in directory.fields:
        wanted = _fixed(one, target)
        if wanted is not None and raw[one.offset : one.offset + one.bytes] != wanted:
            found.faults.append(f"directory field {one.name!r} is not {wanted.hex()}")
        free[one.offset : one.offset + one.bytes] = bytes(one.bytes)
    if any(free):
        found.faults.append("directory bytes that belong to no field are not 0")


def _entry(raw: bytes, directory: Directory, target: Target, found: FoundImage) -> FoundEntry:
    parts = [(one, raw[one.offset : one.offset + one.bytes]) for one in directory.fields]
    values = {one.value: _number(part, one, target) for one, part in parts if one.value and not _is_text(one)}
    names = [str(_plain(part, one, target)) for one, part in parts if one.value == "asset.name"]
    kinds = {number: kind for kind, number in KIND_NUMBERS.items()}
    kind = kinds.get(values.get("asset.kind", 0))
    if "asset.kind" in values and kind is None:
        found.faults.append(f"directory names kind {values['asset.kind']}, which there is not")
    codecs = {number: codec for codec, number in CODEC_NUMBERS.items()}
    if values.get("asset.codec", 0) not in codecs:
        found.faults.append(f"directory names codec {values['asset.codec']}, which there is not")
    offset = values.get("asset.offset")
    seen = None if "asset.address" not in values else _offset(values["asset.address"], values.get("asset.bank"), target)
    if offset is None:
        offset = seen
    elif seen is not None and seen != offset:
        found.faults.append(f"an entry's offset {offset} and address {values['asset.address']:#x} disagree")
    if offset is None:
        found.faults.append("an entry has no place in the image")
        offset = 0
    size = values["asset.bytes"]
    if values.get("asset.codec", 0) == 0 and values.get("asset.unpacked_bytes", size) != size:
        found.faults.append(f"a stored asset of {size} bytes is said to unpack to {values['asset.unpacked_bytes']}")
    if "asset.bank" in values and values["asset.bank"] != (offset // target.cartridge.banks.size if target.cartridge.banks else 0):
        found.faults.append(f"an entry at {offset} is said to lie in bank {values['asset.bank']}")
    codec = codecs.get(values["asset.codec"]) if "asset.codec" in values else None
    return FoundEntry(
        values["asset.name_hash"], kind, offset, size, values["asset.crc32"], values.get("asset.alignment"),
        names[-1] if names else None, codec, values.get("asset.unpacked_bytes"),
    )  # fmt: skip


def seen_address(offset: int, target: Target) -> int:
    """Return where the console sees an offset of the image, as the target describes its cartridge."""
    banks = target.cartridge.banks
    if banks is None:
        return target.cartridge.base + offset
    start = banks.window if banks.home is None or offset >= banks.size * banks.fixed else banks.home + offset // banks.size * banks.size
    return start + offset % banks.size


def _offset(address: int, bank: int | None, target: Target) -> int | None:
    banks = target.cartridge.banks
    if banks is None:
        return address - target.cartridge.base if address >= target.cartridge.base else None
    home = banks.window
    if banks.home is not None and (bank is None or bank < banks.fixed):
        home = banks.home + (bank or 0) * banks.size
    within = address - home
    return bank * banks.size + within if bank is not None and 0 <= within < banks.size else None


def _check_header_values(data: bytes, target: Target, found: FoundImage, directory: tuple[int, int], used: int) -> None:
    wanted = {
        "image.bytes": len(data),
        "image.used": used,
        "directory.count": len(found.entries),
        "memory.base": target.memory.base,
        "memory.last": target.memory.base + target.memory.size - 1,
        "memory.end": target.memory.base + target.memory.size,
        "image.first_address": seen_address(0, target),
        "directory.address": seen_address(directory[0], target),
        "directory.bank": directory[0] // target.cartridge.banks.size if target.cartridge.banks else 0,
    }
    if target.cartridge.banks is None:
        wanted["image.last_address"] = target.cartridge.base + len(data) - 1
    for name, value in wanted.items():
        if name in found.values and found.values[name] != value:
            found.faults.append(f"the header says {name} is {found.values[name]}, it is {value}")
    for one in target.header.fields:
        if one.table is not None and one.value in wanted:
            raw = int.from_bytes(data[one.offset : one.offset + one.bytes], target.order_of(one.byte_order))
            meant = {parse_size(key) for key, number in one.table.items() if number == raw and key[:1].isdigit()}
            if wanted[one.value] not in meant:
                found.faults.append(f"header field {one.name!r} holds {raw}, which does not mean {wanted[one.value]}")


def _check_sums(data: bytes, target: Target, found: FoundImage, directory: tuple[int, int], used: int) -> None:
    header = target.header
    marks = {
        "start": 0,
        "header": header.offset,
        "header_end": header.offset + header.size,
        "directory": directory[0],
        "directory_end": directory[1],
        "used": used,
        "end": len(data),
    }
    fields = [one for one in header.fields if one.checksum is not None]
    sums: dict[str, int] = {}
    working = bytearray(data)
    # A sum was taken while those after it still held their placeholders, so they are put back from the last to the first.
    for one in reversed(fields):
        working[one.offset : one.offset + one.bytes] = one.placeholder.to_bytes(one.bytes, target.order_of(one.byte_order))
        if one.checksum not in (None, "same"):
            sums[one.name] = _sum_over(working, target, one, one.checksum, marks)
    for one in fields:
        _check_sum(data, target, found, one, sums)


def _sum_over(working: bytearray, target: Target, one: Field, algorithm: str, marks: dict[str, int]) -> int:
    keep = bytearray()
    if one.mirrored:
        working = _repeated(working)
        marks = marks | {"end": len(working)}
    for covered in one.covers or ():
        low, high = (_mark(place, marks) for place in covered)
        if not one.skip_own:
            keep += working[low:high]
            continue
        keep += working[low : max(low, min(high, one.offset))]
        keep += working[min(high, max(low, one.offset + one.bytes)) : high]
    return read_checksum(algorithm, bytes(keep), target.byte_order, one.each, one.finish)


def _mark(place: int | str, marks: dict[str, int]) -> int:
    """Return the offset that a target file means by a place."""
    if isinstance(place, int):
        return place
    parsed = parse_place(place)
    if parsed is None:
        raise ValueError(f"{place} is not a place")  # a target file with one is refused
    return parsed.shift + (marks[parsed.name] if parsed.name else marks["end"] // parsed.parts * parsed.part)


def _repeated(data: bytearray) -> bytearray:
    """Return an image as its console sees it: the last and smallest block is there twice, until the size is a power of two."""
    seen = bytearray(data)
    while len(seen) & (len(seen) - 1):
        block = len(seen) & -len(seen)
        seen += seen[-block:]
    return seen


def _check_sum(data: bytes, target: Target, found: FoundImage, one: Field, sums: dict[str, int]) -> None:
    raw = data[one.offset : one.offset + one.bytes]
    if one.checksum == "same":
        full = 1 << (8 * one.bytes)
        same = sums[one.of or ""]  # a target is refused unless it names an earlier field
        value = {"as is": same, "negate": -same, "invert": full - 1 - same}[one.finish] % full
        sums[one.name] = value
    else:
        value = sums[one.name]
    wanted = value.to_bytes(32, "big").ljust(one.bytes, b"\0") if one.checksum == "sha256" else None
    wanted = wanted or value.to_bytes(one.bytes, target.order_of(one.byte_order))
    if raw != wanted:
        found.faults.append(f"checksum {one.name!r} ({one.checksum}) is {raw.hex()}, the bytes say {wanted.hex()}")


def _check_entries(data: bytes, target: Target, found: FoundImage, directory: tuple[int, int]) -> None:
    taken = [(target.header.offset, target.header.offset + target.header.size, "the header")]
    if directory[1] > directory[0]:
        taken.append((*directory, "the directory"))
    banks = target.cartridge.banks
    for rank, one in enumerate(found.entries):
        shown = one.name or f"entry {rank}"
        end = one.offset + one.bytes
        if one.bytes == 0 or end > len(data):
            found.faults.append(f"{shown} at {one.offset} with {one.bytes} bytes is empty or leaves the image")
            continue
        owed = target.alignment.get(one.kind or "default", target.alignment.get("default", 1))
        if one.alignment == 0 or one.offset % (one.alignment or 1) or one.offset % owed:
            found.faults.append(f"{shown} is at {one.offset}, which is not aligned")
        if banks and end > banks.size * banks.fixed and one.offset // banks.size != (end - 1) // banks.size:
            found.faults.append(f"{shown} crosses the end of a bank")
        if zlib.crc32(data[one.offset : end]) != one.crc32:
            found.faults.append(f"{shown} at {one.offset} has another CRC-32 than its entry says")
        if one.codec not in (None, "stored") and one.unpacked_bytes is not None:
            _check_packed(data[one.offset : end], one.codec, one.unpacked_bytes, f"{shown} at {one.offset}", found)
        taken.append((one.offset, end, shown))
    taken.sort()
    for (_, end, before), (start, _, behind) in zip(taken, taken[1:], strict=False):
        if start < end:
            found.faults.append(f"{behind} overlaps {before}")


def _check_packed(packed: bytes, codec: str, size: int, shown: str, found: FoundImage) -> None:
    try:
        unpack(codec, packed, size)
    except UnpackFault as fault:
        found.faults.append(f"{shown} does not unpack: {fault}")


def _check_padding(data: bytes, target: Target, found: FoundImage, directory: tuple[int, int]) -> None:
    pad = bytes([target.cartridge.pad])
    taken = [(target.header.offset, target.header.offset + target.header.size), directory]
    taken += [(one.offset, one.offset + one.bytes) for one in found.entries]
    at = 0
    for start, end in sorted(taken):
        gap = data[at:start] if start > at else b""
        if gap.strip(pad):
            found.faults.append(f"padding between {at} and {start} is not all {target.cartridge.pad:02x}")
        at = max(at, end)
    if data[at:].strip(pad):
        found.faults.append(f"padding from {at} to the end is not all {target.cartridge.pad:02x}")
