"""``reader.h`` and ``reader.c``: C for the program that finds and reads assets, made from the same field definitions as blobs.

Record offsets and widths come from ``records``, those of directory and header from the target, so that what a program reads
cannot disagree with what the build writes.
"""

from __future__ import annotations

import re
from dataclasses import asdict
from pathlib import Path
from typing import Any

from msgspec.structs import asdict as asdict_of

from pipeline.joints import layouts
from pipeline.joints.pixel_size import packed_bytes
from pipeline.plain.bits import ByteOrder
from pipeline.plain.files import write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.plain.sizes import round_up
from pipeline.target.fields import CODEC_NUMBERS, directory_offset
from pipeline.target.kinds import KIND_NUMBERS
from pipeline.target.records import AdpcmRules, Banks, Field, PixelFormat, Target, starts_of

_VERSIONS = {
    "plain": layouts.VERSION,
    "sheet": layouts.VERSION,
    "pieced": layouts.PIECED_VERSION,
    "framed": layouts.FRAMED_VERSION,
    "prepared": layouts.PREPARED_VERSION,
    "tiled": layouts.TILED_VERSION,
}
_GETTERS = {(1, False): "get8", (2, False): "get16", (2, True): "get_signed16", (4, False): "get32"}
_MOST = 0xFFFF_FFFF  # a console's numbers of four bytes; of longer addresses the low ones are compared
_NEEDED = ("name_hash", "bytes")


READER_PARTS = ("text.h", "text.c", "notes.h", "notes.c")  # templates whose text the readers hold


def write_reader(templates: dict[str, Template], outs: dict[str, Path], values: dict[str, Any]) -> str:
    """Write ``reader.h`` and ``reader.c`` beside ``assets.h``; return one line.

    Args:
        templates, outs: of each file, by its name. A template that is of no file is a part: what it gives is a value of the others, by
            its name with an underscore for the dot.
        values: see ``reader_values``.

    Raises:
        ProjectError: a template cannot be filled in.
    """
    parts = {name.replace(".", "_"): render(template, values) for name, template in templates.items() if name not in outs}
    for name, out in outs.items():
        write_bytes(out, render(templates[name], {**values, **parts}).encode())
    return ", ".join(outs)


def reader_values(target: Target) -> dict[str, Any]:
    """Return what the two templates are filled with: plain numbers and words, all that reading depends on in a target."""
    banks = target.cartridge.banks
    return {
        "target": {"name": target.name},
        "kinds": KIND_NUMBERS,
        "codecs": CODEC_NUMBERS,
        # Numbers that every reader knows, and of the others those that the target plays.
        "sound_formats": {form: rank for rank, form in enumerate(layouts.SOUND_FORMATS) if rank < 3 or form in target.sound.formats},
        "versions": _VERSIONS,
        "records": [record_values(name, record) for name, record in layouts.RECORDS.items() if name not in layouts.LIST_RECORDS],
        "formats": _formats(target),
        "row_units": any(one.row_unit > 1 for one in target.pixel_formats.values()),
        "pairs": any(one.planes == "by pair" for one in target.pixel_formats.values()),
        "tile_orders": any(one.tile or one.order == "columns" for one in target.pixel_formats.values()),
        "starts": asdict(starts_of(target)),
        "cell": (target.cells.width, target.cells.height),
        "big": _big(target, None),
        "map_big": _big(target, target.tiles.byte_order if target.tiles else None),
        "sound_big": _big(target, target.sound.byte_order),
        "adpcm": asdict_of(target.sound.adpcm or AdpcmRules()),
        "palette": {"bytes": target.palette.entry.bytes, "big": _big(target, target.palette.byte_order)},
        "base": target.cartridge.base & _MOST,
        "banks": banks
        and {
            "size": banks.size,
            "fixed": banks.fixed,
            "window": banks.window & _MOST,
            "home": (banks.window if banks.home is None else banks.home) & _MOST,
        },
        "sorted": target.directory is not None and target.directory.sorted,
        **_directory(target),
    }


def record_values(name: str, record: tuple[layouts.Part, ...]) -> dict[str, Any]:
    """Return a record as templates take it: its bytes, and for each part where it is and what gets it."""
    parts, at = [], 0
    for part in record:
        parts.append({"name": part.name, "offset": at, "getter": _GETTERS[part.bytes, part.signed]})
        at += part.bytes
    return {"name": name, "bytes": at, "parts": parts}


def _formats(target: Target) -> list[dict[str, Any]]:
    found, seen = [], set()
    for rank, (name, one) in enumerate(target.pixel_formats.items()):
        constant = re.sub(r"\W", "_", name, flags=re.ASCII).upper()
        constant = f"{constant}_{rank}" if constant in seen else constant
        seen.add(constant)
        found.append({"constant": constant, "text": f"{one.pixel.text}, {one.planes}, {one.order}", **_format(one, target)})
    return found


def _format(one: PixelFormat, target: Target) -> dict[str, Any]:
    cell = target.cells.width, target.cells.height
    return {
        "depth": one.pixel.width,
        "planes": one.planes.upper().replace(" ", "_"),
        "cells": int(one.order != "rows"),
        "columns": int(one.order == "columns"),
        "part": one.part(cell) or (0, 0),
        "part_stride": _part_stride(one, target),
        "low": int(one.first == "low"),
        "big": _big(target, one.byte_order),
        "row_unit": one.row_unit,
        "cell_bytes": round_up(packed_bytes(*cell, one, cell), starts_of(target).cell),
    }


def _part_stride(one: PixelFormat, target: Target) -> int:
    """Return the bytes from one cell or tile of a picture to the next; 0 where a picture is one part."""
    cell = target.cells.width, target.cells.height
    part = one.part(cell)
    return 0 if part is None else packed_bytes(*part, one, cell, starts_of(target).cell)


def _directory(target: Target) -> dict[str, Any]:
    """Return where the directory is and its fields; nothing when a program cannot read it."""
    none = {
        "directory": None, "directory_offset": 0, "directory_bank": 0, "entry_bytes": 0, "entry_shift": None, "count": None,
    }  # fmt: skip
    start, banks = directory_offset(target), target.cartridge.banks
    if target.directory is None or start is None:
        return none
    counts = [one for one in target.header.fields if one.value == "directory.count" and one.table is None]
    fields = {
        one.value.removeprefix("asset."): _place(one, target)
        for one in target.directory.fields
        if one.value is not None and one.table is None
    }
    if not counts or any(name not in fields for name in _NEEDED) or not {"offset", "address"} & set(fields):
        return none
    width = target.directory.entry_bytes
    return {
        "directory": fields,
        "directory_offset": start,
        **(_in_window(banks, start) if banks and start >= banks.fixed_end else {"directory_bank": 0}),
        "entry_bytes": width,
        "entry_shift": width.bit_length() - 1 if width & (width - 1) == 0 else None,
        "count": _place(counts[0], target),
    }


def _in_window(banks: Banks, start: int) -> dict[str, int]:
    """Return bank and address of a directory that must be switched in, and the bytes from there to the end of its bank."""
    bank, within = divmod(start, banks.size)
    return {"directory_bank": bank, "directory_room": banks.size - within, "directory_address": (banks.window + within) & _MOST}


def _place(one: Field, target: Target) -> dict[str, int]:
    """Return offset, bytes and order of a field, of its four least significant bytes where it is wider: no number is larger."""
    big, spare = _big(target, one.byte_order), max(one.bytes - 4, 0)
    return {"offset": one.offset + (spare if big else 0), "bytes": one.bytes - spare, "big": big}


def _big(target: Target, own: ByteOrder | None) -> int:
    return int(target.order_of(own) == "big")
