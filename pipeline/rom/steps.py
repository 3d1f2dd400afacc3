"""The two steps from blobs to an image: deciding places, then writing image and map."""

from __future__ import annotations

import hashlib
import zlib
from pathlib import Path

from pipeline.joints.facts import ProgramFacts, image_facts
from pipeline.joints.map import MapEntry, MappedImage, write_map
from pipeline.joints.places import FactsFiles
from pipeline.joints.views import SizeView
from pipeline.plain.files import read_json, write_bytes, write_json
from pipeline.plain.sizes import counted, listed
from pipeline.rom.addresses import address_of, bank_of
from pipeline.rom.image import Entry, write_image
from pipeline.rom.layout import Item, Placement, choose_size
from pipeline.rom.runs import runs_of
from pipeline.rom.wish import Wish
from pipeline.target.fields import directory_place, program_fields
from pipeline.target.records import Target


def plan_layout(sizes: dict[str, SizeView], out: Path, wishes: tuple[Wish, ...], target: Target) -> str:
    """Place all assets but those marked last, and write ``work/layout.json``: name -> offset, address, bank.

    For an asset marked last the place is where it will start; its size is not needed for that (without banks).

    Args:
        sizes: of the assets whose size no wish says, by name.

    Raises:
        ProjectError: not everything fits.
    """
    items = [_item(sizes, wish) for wish in wishes if not wish.last]
    placement = Placement(target, len(wishes))
    ranks = {wish.name: wish.run for wish in wishes if wish.run}
    runs = runs_of(items, ranks)
    alone = [item for item in items if item.name not in ranks]
    offsets = dict(placement.place([*alone, *(run.item for run in runs)]))
    for run in runs:
        start = offsets.pop(run.item.name)
        offsets |= {name: start + within for name, within in run.starts.items()}
    for wish in wishes:
        if wish.last:
            offsets[wish.name] = placement.behind(wish.alignment)
    order = sorted(offsets, key=lambda name: offsets[name])
    places = {
        name: {"offset": offsets[name], "address": address_of(target, offsets[name]), "bank": bank_of(target, offsets[name])}
        for name in order
    }
    write_json(out, places)
    return counted(len(places), "asset")


def _item(sizes: dict[str, SizeView], wish: Wish) -> Item:
    size = wish.bytes if wish.bytes is not None else sizes[wish.name].read().bytes
    return Item(wish.name, wish.kind, size, wish.alignment, wish.address, wish.bank, wish.split, wish.tail)


def write_rom(
    contents: dict[str, Path],
    facts: dict[str, FactsFiles],
    layout: Path,
    code_file: Path,
    image_file: Path,
    map_file: Path,
    wishes: tuple[Wish, ...],
    target: Target,
    wanted: int | None,
    values: dict[str, str],
    program: str | None,
) -> str:
    """Write the padded image and ``map.json``; return one line about them.

    Args:
        contents: every asset's bytes in the image, by name.
        facts: of every asset, by name.
        wanted: cartridge size asked for, or None for the smallest that fits.
        values: the ``project.*`` header values.
        program: name of the program that the ``program.*`` header values are about; None for none.

    Raises:
        ProjectError: the image does not fit, or a value does not fit its header field.
    """
    places, known_as = read_json(layout), {wish.name: wish for wish in wishes}
    entries = [_entry(contents[name], facts[name], known_as[name], place) for name, place in places.items()]
    used = max([_tables_end(target, len(entries)), *(entry.offset + len(entry.blob) for entry in entries)])
    items = [Item(entry.facts.name, entry.facts.kind, len(entry.blob), entry.alignment) for entry in entries]
    size = choose_size(target, used, wanted, items)
    build_code = read_json(code_file)["build_code"]
    known = {**values, "build.code": build_code, **_program_values(entries, target, program)}
    image = write_image(target, entries, size, used, known)
    write_bytes(image_file, image)
    write_map(map_file, _mapped_image(image, used, build_code), [_map_entry(entry, target) for entry in entries])
    about = program_fields(target)
    chosen = f", the header's {listed(about)} of {program}" if program and about else ""
    return f"{size:,} bytes, {used / size:.0%} used{chosen}"


def _entry(content: Path, facts: FactsFiles, wish: Wish, place: dict[str, int]) -> Entry:
    return Entry(image_facts(facts), content.read_bytes(), place["offset"], wish.alignment)


def _tables_end(target: Target, count: int) -> int:
    directory = directory_place(target, count)
    header_end = target.header.offset + target.header.size
    return header_end if directory is None else max(header_end, directory.stop)


def _program_values(entries: list[Entry], target: Target, program: str | None) -> dict[str, int]:
    for entry in entries:
        if entry.facts.name == program and isinstance(entry.facts, ProgramFacts):
            address = address_of(target, entry.offset)
            return {
                "program.address": address,
                "program.entry": address + entry.facts.entry,
                "program.bytes": len(entry.blob),
                "program.bank": bank_of(target, entry.offset),
            }
    return {}


def _mapped_image(image: bytes, used: int, build_code: str) -> MappedImage:
    return MappedImage(
        bytes=len(image),
        used=used,
        pad=len(image) - used,
        crc32=f"{zlib.crc32(image):08x}",
        sha256=hashlib.sha256(image).hexdigest(),
        build_code=build_code,
    )


def _map_entry(entry: Entry, target: Target) -> MapEntry:
    return MapEntry(
        name=entry.facts.name,
        kind=entry.facts.kind,
        offset=entry.offset,
        address=address_of(target, entry.offset),
        bytes=len(entry.blob),
        unpacked_bytes=entry.facts.unpacked_bytes,
        codec=entry.facts.codec,
        alignment=entry.alignment,
        crc32=f"{zlib.crc32(entry.blob):08x}",
    )
