"""Writing the image: blobs at their places, directory, header, checksums, padding."""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.joints.facts import Facts
from pipeline.joints.layouts import name_hash
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import parse_size
from pipeline.rom.addresses import address_of, bank_of
from pipeline.rom.checksum import checksum
from pipeline.target.fields import CODEC_NUMBERS, SUMS, TESTER, directory_place
from pipeline.target.kinds import KIND_NUMBERS
from pipeline.target.ranges import offset_of
from pipeline.target.records import Field, Target


@dataclass(frozen=True)
class Entry:
    """One asset in the image: its blob, the blob's facts, and its place."""

    facts: Facts
    blob: bytes
    offset: int
    alignment: int


def write_image(target: Target, entries: list[Entry], size: int, used: int, values: dict[str, int | str]) -> bytes:
    """Return the finished image.

    Args:
        entries: in image order.
        size: bytes of the padded image; ``used``: the end of the last asset.
        values: ``project.*``, ``build.*`` and ``program.*`` of ``target.fields.HEADER_VALUES``; the rest is added here.

    Raises:
        ProjectError: a value does not fit its header field.
    """
    image = bytearray([target.cartridge.pad]) * size
    for entry in entries:
        image[entry.offset : entry.offset + len(entry.blob)] = entry.blob
    directory = _write_directory(image, target, entries)
    known = {**values, **_places(target, size, used, directory, len(entries))}
    _write_header(image, target, known, directory, used)
    return bytes(image)


def _places(target: Target, size: int, used: int, directory: tuple[int, int], count: int) -> dict[str, int]:
    return {
        "image.bytes": size,
        "image.used": used,
        "image.first_address": address_of(target, 0),
        "image.last_address": target.cartridge.base + size - 1,
        "directory.address": address_of(target, directory[0]),
        "directory.bank": bank_of(target, directory[0]),
        "directory.count": count,
        "memory.base": target.memory.base,
        "memory.last": target.memory.base + target.memory.size - 1,
        "memory.end": target.memory.base + target.memory.size,
        TESTER: 0,
    }


def _write_directory(image: bytearray, target: Target, entries: list[Entry]) -> tuple[int, int]:
    """Write the directory; return its start and end in the image (an empty range when the target has none)."""
    directory, place = target.directory, directory_place(target, len(entries))
    if directory is None or place is None:
        return 0, 0
    width = directory.entry_bytes
    listed = sorted(entries, key=lambda entry: name_hash(entry.facts.name)) if directory.sorted else entries
    for entry, at in zip(listed, place[::width], strict=True):
        image[at : at + width] = bytes(width)
        values = entry_values(target, entry)
        for one in directory.fields:
            image[at + one.offset : at + one.offset + one.bytes] = _content(one, values, target, "directory")
    return place.start, place.stop


def entry_values(target: Target, entry: Entry) -> dict[str, int | str]:
    """Return the ``asset.*`` values of one entry."""
    facts = entry.facts
    return {
        "asset.name": facts.name,
        "asset.name_hash": name_hash(facts.name),
        "asset.kind": KIND_NUMBERS[facts.kind],
        "asset.codec": CODEC_NUMBERS[facts.codec],
        "asset.alignment": entry.alignment,
        "asset.offset": entry.offset,
        "asset.address": address_of(target, entry.offset),
        "asset.bank": bank_of(target, entry.offset),
        "asset.bytes": len(entry.blob),
        "asset.unpacked_bytes": facts.unpacked_bytes,
        "asset.crc32": zlib.crc32(entry.blob),
    }


def _write_header(image: bytearray, target: Target, values: dict, directory: tuple[int, int], used: int) -> None:
    header = target.header
    image[header.offset : header.offset + header.size] = bytes(header.size)
    for one in header.fields:
        if one.checksum is None:
            image[one.offset : one.offset + one.bytes] = _content(one, values, target, "header")
    write_checksums(image, target, directory, used)


def write_checksums(image: bytearray, target: Target, directory: tuple[int, int], used: int) -> None:
    """Write every checksum of the header into an image whose other bytes are as they will be.

    Args:
        directory: its start and end in the image; twice 0 for none.
        used: the end of the last asset.

    Raises:
        ProjectError: a range covers nothing here, or half of a word.
    """
    sums = [(one, one.checksum) for one in target.header.fields if one.checksum is not None]
    for one, _ in sums:
        image[one.offset : one.offset + one.bytes] = one.placeholder.to_bytes(one.bytes, target.order_of(one.byte_order))
    results: dict[str, int | bytes] = {}
    for one, algorithm in sums:
        results[one.name] = _field_checksum(image, target, one, algorithm, results, directory, used)
        image[one.offset : one.offset + one.bytes] = _as_bytes(results[one.name], one, target)


def marked_image(image: bytes, target: Target, number: int, used: int, entries: int) -> bytes:
    """Return the image of one tester: another number in its header, and checksums that are right again.

    Args:
        image: everybody's, in which the number is 0.
        number: of the tester, 1 to 999.
        used: bytes up to the end of the last asset; ``entries``: of the directory.

    Raises:
        ProjectError: a checksum covers a range that it cannot.
    """
    own = bytearray(image)
    for one in target.header.fields:
        if one.value == TESTER:
            own[one.offset : one.offset + one.bytes] = number.to_bytes(one.bytes, target.order_of(one.byte_order))
    place = directory_place(target, entries)
    write_checksums(own, target, (place.start, place.stop) if place else (0, 0), used)
    return bytes(own)


def _field_checksum(
    image: bytearray, target: Target, one: Field, algorithm: str, results: dict, directory: tuple[int, int], used: int
) -> int | bytes:
    if algorithm == "same":
        return _finish(results[one.of], one)
    seen = mirrored(bytes(image)) if one.mirrored else image
    places = range_places(target, directory, used, len(seen))
    covered = bytearray()
    for bounds in one.covers or ():
        start, end = (offset_of(bound, places) for bound in bounds)
        assert start is not None, "a target that names another place is refused"
        assert end is not None, "likewise"
        own = (one.offset, one.offset + one.bytes)
        if one.skip_own and start < own[1] and own[0] < end:
            parts = seen[start : own[0]], seen[own[1] : end]
        else:
            parts = (seen[start:end],)
        _check_range(target, one, algorithm, bounds, (start, end), len(seen), parts)
        for part in parts:
            covered += part
    return checksum(algorithm, bytes(covered), target.byte_order, one.each, one.finish)


def mirrored(image: bytes) -> bytes:
    """Return an image as a console sees it that repeats what is beyond its largest power of two until the next is full."""
    low = 1 << (len(image).bit_length() - 1)
    if low == len(image):
        return image
    rest = mirrored(image[low:])
    return image[:low] + rest * (low // len(rest))


def _check_range(
    target: Target,
    one: Field,
    algorithm: str,
    bounds: tuple[int | str, int | str],
    places: tuple[int, int],
    size: int,
    parts: Iterable[bytes | bytearray],
) -> None:
    """Refuse a range that is known only now, such as one up to the last asset, where it covers nothing, or half of a word."""
    where, shown = f"header field {one.name!r}", f"the range {bounds[0]} to {bounds[1]} is {places[0]:#x} to {places[1]:#x} here"
    if not 0 <= places[0] < places[1] <= size:
        raise refuse(target.name, where, f"{shown}, which covers nothing or leaves the image's {size:,} bytes", "correct covers")
    if SUMS.get(algorithm) == 2 and any(len(part) % 2 for part in parts):
        raise refuse(target.name, where, f"{shown}, no whole number of words, which {algorithm} adds up", "use even places")


def _finish(value: int, one: Field) -> int:
    bits = 8 * one.bytes
    changed = {"as is": value, "negate": -value, "invert": ~value}[one.finish]
    return changed & ((1 << bits) - 1)


def range_places(target: Target, directory: tuple[int, int], used: int, size: int) -> dict[str, int]:
    """Return the offsets that ``covers`` may name."""
    return {
        "start": 0,
        "header": target.header.offset,
        "header_end": target.header.offset + target.header.size,
        "directory": directory[0],
        "directory_end": directory[1],
        "used": used,
        "end": size,
    }


def _content(one: Field, values: dict, target: Target, place: str) -> bytes:
    if one.text is not None:
        return one.text.encode("ascii").ljust(one.bytes, bytes([one.pad]))
    if one.hex is not None:
        return bytes.fromhex(one.hex)
    if one.number is not None:
        return one.number.to_bytes(one.bytes, target.order_of(one.byte_order))
    value = values.get(one.value or "")
    if value is None:
        remedy = "add what it names to the project (a program, for instance), or use another target"
        raise refuse(target.name, f"{place} field {one.name!r}", f"this project has no {one.value}", remedy)
    if one.table is not None:
        value = _look_up(value, one.table, one, target, place)
    if isinstance(value, str):
        return _text(value, one, target, place)
    if value >= 1 << (8 * one.bytes):
        raise refuse(target.name, f"{place} field {one.name!r}", f"{value:#x} does not fit {one.bytes} bytes", "widen the field")
    return value.to_bytes(one.bytes, target.order_of(one.byte_order))


def _look_up(value: int | str, table: dict[str, int], one: Field, target: Target, place: str) -> int:
    for key, number in table.items():
        if key == value or (isinstance(value, int) and key[:1].isdigit() and parse_size(key) == value):
            return number
    raise refuse(target.name, f"{place} field {one.name!r}", f"its table has no entry for {value!r}", "add one to the table")


def _text(value: str, one: Field, target: Target, place: str) -> bytes:
    if not value.isascii():
        wrong = f"{value!r} has letters outside ASCII"
        raise refuse(target.name, f"{place} field {one.name!r}", wrong, "the header takes ASCII; change the title or code")
    if len(value) > one.bytes:
        # A long title is cut, as cartridges have always done; anything else must fit whole.
        if one.value != "project.title":
            wrong = f"{value!r} is longer than {one.bytes} bytes"
            raise refuse(target.name, f"{place} field {one.name!r}", wrong, "shorten it, or widen the field")
        value = value[: one.bytes]
    return value.encode("ascii").ljust(one.bytes, bytes([one.pad]))


def _as_bytes(value: int | bytes, one: Field, target: Target) -> bytes:
    if isinstance(value, bytes):
        return value.ljust(one.bytes, b"\0")
    return value.to_bytes(one.bytes, target.order_of(one.byte_order))
