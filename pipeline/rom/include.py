"""``assets.h`` and ``assets.inc``: what a program must know at build time about where assets are and what is in them.

``assets.inc`` says it as ``NAME = VALUE``, ``assets_equ.inc`` as ``NAME equ VALUE``, for assemblers that take only the other.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from pipeline.joints.facts import BackgroundFacts, SpriteFacts, StoredTiles, TextFacts, image_facts
from pipeline.joints.layouts import name_hash
from pipeline.joints.lists import read_lists_file
from pipeline.joints.places import FactsFiles
from pipeline.plain.errors import refuse
from pipeline.plain.files import read_json, write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.plain.sizes import counted
from pipeline.rom.include_loads import constant, load_groups
from pipeline.target.fields import CODEC_NUMBERS
from pipeline.target.kinds import KIND_NUMBERS, KINDS
from pipeline.target.records import MAIN_AREA

_TILED = {"tile_count": "tiles", "columns": "map entries of a row", "rows": "rows of the map", "first_tile": "number of its first tile"}


_NOTICE = {
    "unpacked_bytes": "size in memory",
    "columns": "map entries of a row",
    "rows": "rows of the map",
    "tile_room": "tiles at most, whatever the build code",
    "tile_bytes": "bytes of one tile",
    "entry_count": "palette entries",
}


def write_include(
    facts: dict[str, FactsFiles],
    layout: Path,
    templates: dict[str, Template],
    outs: dict[str, Path],
    game: dict[str, str],
    kinds: dict[str, str],
    banks: bool,
    notices: dict[str, dict[str, int]],
    words: dict[str, list[str]],
    lists: Path | None = None,
    areas: dict[str, tuple[int, int]] | None = None,
    loaded_to: dict[str, str] | None = None,
) -> str:
    """Write ``assets.h``, ``assets.inc`` and ``assets_equ.inc``; return one line about them.

    Args:
        facts: of every asset but programs and boot notices, by name.
        templates, outs: of each file, by its name.
        game: title and version, for the heading.
        kinds: name -> kind of every asset of the project.
        banks: whether the target has banks, so that every asset has a bank number.
        notices: of every boot notice of tiles, by name: what is known of it before the build code is.
        words: what notes name, by what it is (``box``); each is a constant ``NOTE_BOX_BODY``, whose value is its rank.
        lists: ``lists.json``; None for a project without load lists.
        areas: memories of the target apart from main memory: address of the first byte, and bytes; None for none.
        loaded_to: the area of each asset that is loaded to one.

    Raises:
        ProjectError: two constants would have one name.
    """
    places = read_json(layout)
    groups = [_group(name, kinds[name], place, facts, banks, notices.get(name, {})) for name, place in places.items()]
    count = len(groups)
    groups += _areas(groups, areas, loaded_to or {}) if areas else []
    groups += [_words(words)] if any(words.values()) else []
    groups += load_groups(read_lists_file(lists), places, lambda name: image_facts(facts[name]).bytes, banks) if lists else []
    _check_names(groups)
    values = {"game": game, "groups": groups, "count": count, "kinds": KIND_NUMBERS, "codecs": CODEC_NUMBERS}
    for name, template in templates.items():
        write_bytes(outs[name], render(template, values).encode())
    return f"{sum(len(group['constants']) for group in groups)} constants"


def write_unpackers(templates: dict[str, Template], outs: dict[str, Path]) -> str:
    """Write ``unpack.h`` and ``unpack.c``, the project's own where it has them, beside ``assets.h``; return one line."""
    for name, template in templates.items():
        write_bytes(outs[name], template.file.read_bytes())
    return ", ".join(outs)


def _group(
    name: str, kind: str, place: dict[str, int], facts_of: dict[str, FactsFiles], banks: bool, notice: dict[str, int]
) -> dict[str, Any]:
    prefix = name.upper()
    constants = [
        constant(f"{prefix}_HASH", name_hash(name), "name by which the directory knows it"),
        constant(f"{prefix}_ADDRESS", place["address"], "first byte as the console sees it"),
    ]
    if banks:
        constants.append(constant(f"{prefix}_BANK", place["bank"], "bank to switch in"))
    # A program is built after this file, and a boot notice shows a code computed from the program: no facts yet.
    if KINDS[kind].late:
        constants += [constant(f"{prefix}_{key.upper()}", value, _NOTICE[key]) for key, value in notice.items()]
        return {"name": name, "kind": kind, "constants": constants}
    facts = image_facts(facts_of[name])
    constants.append(constant(f"{prefix}_BYTES", facts.bytes, "size in the image"))
    constants.append(constant(f"{prefix}_UNPACKED_BYTES", facts.unpacked_bytes, "size in memory"))
    constants.append(constant(f"{prefix}_CODEC", CODEC_NUMBERS[facts.codec], facts.codec))
    constants += [constant(f"{prefix}_{key.upper()}", getattr(facts, key), key.replace("_", " ")) for key in KINDS[kind].constants]
    if isinstance(facts, BackgroundFacts) and isinstance(facts.stored, StoredTiles):
        constants += [constant(f"{prefix}_{key.upper()}", getattr(facts.stored, key), note) for key, note in _TILED.items()]
    if isinstance(facts, TextFacts):
        for what, words in (("language", facts.languages), ("text", facts.keys)):
            constants += [constant(f"{prefix}_{what}_{word}".upper(), rank, f"rank of the {what}") for rank, word in enumerate(words)]
    if isinstance(facts, SpriteFacts):
        constants.append(constant(f"{prefix}_ANCHOR_X", facts.anchor[0], "point that stays in place"))
        constants.append(constant(f"{prefix}_ANCHOR_Y", facts.anchor[1], "point that stays in place"))
        for rank, animation in enumerate(facts.animations):
            constants.append(constant(f"{prefix}_ANIMATION_{animation.name.upper()}", rank, counted(len(animation.steps), "step")))
    return {"name": name, "kind": kind, "constants": constants}


def _areas(assets: list[dict[str, Any]], areas: dict[str, tuple[int, int]], loaded_to: dict[str, str]) -> list[dict[str, Any]]:
    """Return the groups of the target's areas, after adding to that of each asset which one it is loaded to."""
    names = {area: f"AREA_{re.sub('[^A-Z0-9]', '_', area.upper())}" for area in (MAIN_AREA, *areas)}
    numbers = {area: rank for rank, area in enumerate(names)}
    for group in assets:
        area = loaded_to.get(group["name"], MAIN_AREA)
        group["constants"].append(constant(f"{group['name'].upper()}_AREA", numbers[area], f"memory it is loaded to: {names[area]}"))
    groups = [{"name": MAIN_AREA, "kind": "memory", "constants": [constant(names[MAIN_AREA], 0, "number of main memory")]}]
    for area, (start, count) in areas.items():
        constants = [
            constant(names[area], numbers[area], "its number"),
            constant(f"{names[area]}_ADDRESS", start, "its first byte"),
            constant(f"{names[area]}_BYTES", count, "its size"),
        ]
        groups.append({"name": area, "kind": "memory", "constants": constants})
    return groups


def _words(words: dict[str, list[str]]) -> dict[str, Any]:
    constants = [
        constant(f"NOTE_{what.upper()}_{word.upper()}", rank, "its bit" if what == "event" else f"kind of {what}")
        for what, some in words.items()
        for rank, word in enumerate(some)
    ]
    return {"name": "of notes", "kind": "words", "constants": constants}


def _check_names(groups: list[dict[str, Any]]) -> None:
    seen: dict[str, str] = {}
    for group in groups:
        for one in group["constants"]:
            if one["name"] in seen:
                wrong = f"{seen[one['name']]!r} and {group['name']!r} both make the constant {one['name']}"
                raise refuse("project.toml", "", wrong, "rename one of the two assets")
            seen[one["name"]] = group["name"]
