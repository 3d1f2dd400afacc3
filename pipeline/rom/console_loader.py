"""``load.h`` and ``load.c``: C for the program that follows load lists, made from the same field definitions as the lists."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.joints import layouts
from pipeline.plain.files import write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.rom.console_reader import record_values
from pipeline.target.fields import CODEC_NUMBERS
from pipeline.target.records import Target

_LOW = 0xFFFF_FFFF  # a console's numbers of four bytes


def write_loader(templates: dict[str, Template], outs: dict[str, Path], values: dict[str, Any]) -> str:
    """Write ``load.h`` and ``load.c`` beside ``assets.h``; return one line.

    Args:
        templates, outs: of each file, by its name.
        values: see ``loader_values``.

    Raises:
        ProjectError: a template cannot be filled in.
    """
    for name, template in templates.items():
        write_bytes(outs[name], render(template, values).encode())
    return ", ".join(outs)


def loader_values(target: Target, packed: bool) -> dict[str, Any]:
    """Return what the two templates are filled with; ``packed``: whether the project's program has unpackers."""
    banks = target.cartridge.banks
    return {
        "target": {"name": target.name},
        "version": layouts.LISTS_VERSION,
        "records": [record_values(name, record) for name, record in layouts.RECORDS.items() if name in layouts.LIST_RECORDS],
        "big": int(target.byte_order == "big"),
        "codecs": {name: number for name, number in CODEC_NUMBERS.items() if name in ("stored", *target.codecs)},
        "packed": packed,
        "memory": {"bytes": target.memory.size},
        "banks": banks
        and {
            "size": banks.size,
            "window": banks.window & _LOW,
            "home": (banks.window if banks.home is None else banks.home) & _LOW,
        },
    }
