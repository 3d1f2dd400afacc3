"""``doit where``: where an asset is in the image, and what is there, read from the image's own bytes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from pipeline.joints.facts import Facts, image_facts
from pipeline.joints.layouts import RECORDS
from pipeline.joints.map import MapEntry, read_map
from pipeline.joints.places import FactsFiles
from pipeline.plain.errors import nearest_name, refuse
from pipeline.plain.files import read_json
from pipeline.reading.decoded import read_record
from pipeline.reading.unpack import unpack
from pipeline.rom.bank_use import show_banks
from pipeline.target.kinds import KINDS
from pipeline.target.records import Target

_SHOWN = 64  # bytes of the dump
_WIDTH = 96  # columns of a fact's text


def show_where(
    name: str, image: Path, map_file: Path, facts: dict[str, FactsFiles], banks_file: Path | None, proofs: dict[str, tuple[str, ...]],
    target: Target,
) -> str:  # fmt: skip
    """Return where an asset is, as lines for a person; of every asset as a table when no name is given.

    Args:
        facts: of every asset, by name.
        proofs: the proofs of each asset, as a person knows them.
        banks_file: ``banks.json``, for a target with banks.

    Raises:
        ProjectError: no asset has that name.
    """
    entries = read_map(map_file).entries
    banks = read_json(banks_file) if banks_file else None
    if not name:
        return "\n".join(_table(entries, banks))
    entry = next((one for one in entries if one.name == name), None)
    if entry is None:
        near = nearest_name(name, [one.name for one in entries])
        remedy = f"did you mean {near}?" if near else "ask without a name for a table of all assets"
        raise refuse("name=", "", f"there is no asset {name!r}", remedy)
    data = image.read_bytes()[entry.offset : entry.offset + entry.bytes]
    lines = [f"{entry.kind} {name}", "", *_place(entry, banks), "", *_dump(entry, data), ""]
    lines += [*_record(entry, data, target), *_facts(image_facts(facts[name]), entry)]
    lines += ["Proofs: " + (", ".join(proofs[name]) if proofs.get(name) else "none; there is nothing to look at")]
    return "\n".join(lines)


def _table(entries: list[MapEntry], banks: dict[str, Any] | None) -> list[str]:
    wide = max([4, *(len(one.name) for one in entries)])
    bank = f" {'bank':>4}" if banks else ""
    lines = [f"{'asset':<{wide}}  {'kind':<10} {'offset':>10} {'address':>10}{bank} {'bytes':>10} {'unpacked':>10}  {'codec':<9} CRC-32"]
    for one in entries:
        number = f" {one.offset // banks['size']:>4}" if banks else ""
        place = f"{one.offset:>#10x} {one.address:>#10x}{number} {one.bytes:>10,} {one.unpacked_bytes:>10,}"
        lines.append(f"{one.name:<{wide}}  {one.kind:<10} {place}  {one.codec:<9} {one.crc32}")
    return lines + ["", *_bank_table(banks)] if banks else lines


def _bank_table(banks: dict[str, Any]) -> list[str]:
    lines = [f"{'bank':>4} {'used':>10} {'between':>10} {'end':>10}"]
    lines += [f"{one['bank']:>4} {one['used']:>10,} {one['between']:>10,} {one['end']:>10,}" for one in banks["banks"]]
    return [*lines, "", f"{show_banks(banks)}."]


def _place(entry: MapEntry, banks: dict[str, Any] | None) -> list[str]:
    last = entry.offset + max(entry.bytes, 1) - 1
    shown = {"offset": f"{entry.offset:#x} to {last:#x}", "address": f"{entry.address:#x}"}
    if banks:
        number = entry.offset // banks["size"]
        one = banks["banks"][number]
        shown["bank"] = f"{number}, with {one['used']:,} of {banks['size']:,} bytes used and {one['end']:,} free at its end"
    shown |= {"bytes": f"{entry.bytes:,}", "unpacked": f"{entry.unpacked_bytes:,}", "codec": entry.codec}
    shown |= {"alignment": str(entry.alignment), "CRC-32": entry.crc32}
    return [f"  {key:<10} {value}" for key, value in shown.items()]


def _dump(entry: MapEntry, data: bytes) -> list[str]:
    if not data:
        return ["It is empty."]
    shown = "All its bytes in the image" if len(data) <= _SHOWN else f"Its first {_SHOWN} bytes in the image"
    return [f"{shown}, by offset:", *hex_dump(data[:_SHOWN], entry.offset)]


def hex_dump(data: bytes, start: int) -> list[str]:
    """Return lines of 16 bytes: offset in eight digits, bytes two by two, and what is printable ASCII."""
    lines = []
    for at in range(0, len(data), 16):
        row = data[at : at + 16]
        pairs = " ".join(row[place : place + 2].hex() for place in range(0, len(row), 2))
        letters = "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in row)
        lines.append(f"{start + at:08x}: {pairs:<39}  {letters}")
    return lines


def _record(entry: MapEntry, data: bytes, target: Target) -> list[str]:
    """Return the fields of the record an asset begins with, decoded from the image; nothing for a program or data."""
    layouts = KINDS[entry.kind].layouts
    if not layouts:
        return []
    blob = unpack(entry.codec, data, entry.unpacked_bytes)
    record = RECORDS[layouts[blob[0] - 1]]  # its first byte is its version
    values, at = read_record(record, blob, 0, target.byte_order), 0
    lines = ["Its record, unpacked:" if entry.codec != "stored" else "Its record:"]
    for part in record:
        value = values[part.name]
        shown = f"{value:#x}" if "hash" in part.note else f"{value:,}"
        lines.append(f"  {at:>3}  {part.name:<16} {shown:>12}  {part.note}")
        at += part.bytes
    return [*lines, ""]


def _facts(facts: Facts, entry: MapEntry) -> list[str]:
    """Return what conversion noted, without what is shown already."""
    shown = {"version", "name", "kind", "bytes", "unpacked_bytes", "codec", "crc32"}
    known = msgspec.to_builtins(facts)
    known |= known.pop("stored", {})
    return ["Its facts:", *(f"  {key:<18} {_short(value)}" for key, value in known.items() if key not in shown and value != ""), ""]


def _short(value: Any) -> str:
    """Return a fact in one line; long lists and tables by what they begin with."""
    if isinstance(value, dict):
        text = ", ".join(f"{key}: {_short(part)}" for key, part in value.items())
    elif isinstance(value, list | tuple):
        text = ", ".join(_short(part) for part in value)
        if len(text) > _WIDTH:
            text = f"{len(value)} of them: {text}"
    else:
        text = str(value)
    return text if len(text) <= _WIDTH else text[: _WIDTH - 3] + "..."
