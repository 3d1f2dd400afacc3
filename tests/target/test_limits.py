"""Every number and every text of a target file changed: what is refused then, and what is taken.

No outside source: the limits are choices, of which the reference page lists those of single keys. What is recorded was looked at; if a
change is meant, see ``tests.recorded``.
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Iterator
from typing import Any

from pipeline.plain.bounds import PIXEL_ASPECT, TARGET_BYTES
from pipeline.plain.checked import Document, build
from pipeline.target.burn_devices import KNOWN, WIDTHS, choose_devices, device_sizes
from pipeline.target.checks import check_target
from pipeline.target.ranges import mirrored_size, offset_of, parse_place
from pipeline.target.records import Target, picture_rules, pixel_base
from tests.makers import changed, read_target, target_data, toml_text
from tests.recorded import differing, hash_of

PARTS = {
    ("tiles",): {"width": 8, "height": 8, "map_entry": "HVccPxtttttttttt", "most": 700, "pixels": "planar"},
    ("cartridge", "banks"): {"size": "16 KiB", "window": 0x8000, "home": 0x4000},
    ("memory", "reserved"): [{"name": "stack", "bytes": 512, "address": 0x11_FE00}],
    ("memory", "size"): 0x2_0000,
    ("limits",): {"palette_entries": 256, "cells": 900, "video": "64 KiB"},
    ("pixel_formats", "planar"): {"pixel": "IIII", "planes": "by word", "byte_order": "little"},
}
FIELDS = [
    {"name": "magic", "offset": 0, "bytes": 8, "text": "BASALT32", "pad": 32},
    {"name": "number", "offset": 8, "bytes": 2, "number": 0xFFFF, "byte_order": "big"},
    {"name": "digits", "offset": 10, "bytes": 3, "hex": "01ff7e"},
    {"name": "size", "offset": 13, "bytes": 1, "value": "image.bytes", "table": {"64 KiB": 255, "1 MiB": 7}},
    {"name": "words", "offset": 14, "bytes": 2, "checksum": "sum16-words", "covers": [["header_end", "end-2"], [0, 512]], "each": 255},
    {"name": "again", "offset": 16, "bytes": 2, "checksum": "same", "of": "words", "placeholder": 0xFFFF},
    {"name": "whole", "offset": 18, "bytes": 32, "checksum": "sha256", "covers": [["1/2", "end"]]},
    {"name": "part", "offset": 50, "bytes": 4, "checksum": "CRC-32/ISO-HDLC", "covers": [["start", 1 << 20]], "mirrored": True},
    {"name": "count", "offset": 252, "bytes": 4, "value": "directory.count"},
]
NEEDED = ("asset.name_hash", "asset.address", "asset.bank", "asset.bytes", "asset.crc32")
ENTRY = [{"name": value, "offset": 4 * rank, "bytes": 4, "value": value} for rank, value in enumerate(NEEDED)]
CHANGES = ((("header", "fields"), FIELDS), (("directory", "fields"), ENTRY), (("alignment",), {"default": 4, "sprite": 64}))
CHANGES += ((("cartridge", "sizes"), ["1 MiB", "2 MiB"]), (("pixel_formats", "index4"), None))
DATA = changed(target_data("basalt32"), *PARTS.items(), *CHANGES)


def leaves(value: Any, path: tuple = ()) -> Iterator[tuple[tuple, Any]]:
    """Yield every number, text and word of raw data with its path."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in inner:
        yield from leaves(part, (*path, key))
    if not isinstance(value, dict | list):
        yield path, value


def others(value: Any) -> list[Any]:
    """Return what a number or a text is replaced with."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return sorted({0, 1, value - 1, value + 1, 2 * value, 256, 4097, 65536, TARGET_BYTES, TARGET_BYTES + 1} - {value, -1})
    if isinstance(value, str):
        return ["", f"{value}x", value[:-1], "big", "IIIIIIII", "xRRRRGGGGBBBBx", "project.title"]
    return [0, 1.5]


def problems(data: dict[str, Any]) -> list[str]:
    """Return what is wrong with raw data of a target file."""
    document = Document("console.toml", data)
    target = build(document, (), data, Target)
    if target is not None:
        check_target(document, target)
    return [str(one) for one in document.problems]


def test_one_thing_changed_or_left_out():
    """All that is said of it, word for word; the file itself has nothing wrong."""
    assert problems(DATA) == []
    found, data = {}, copy.deepcopy(DATA)
    for path, value in leaves(DATA):
        if path[:2] == ("directory", "fields") and path[2] > 1:
            continue  # as the first two
        owner = functools.reduce(lambda part, key: part[key], path[:-1], data)
        said = []
        for other in others(value):
            owner[path[-1]] = other
            said.append(problems(data))
        owner[path[-1]] = value
        if isinstance(path[-1], str):
            said.append(problems(changed(DATA, (path, None))))
        found[" ".join(map(str, path))] = hash_of(repr(said).encode())
    for name in [*DATA, *(f"tiles {key}" for key in DATA["tiles"])]:
        found[f"{name} left out"] = hash_of(repr(problems(changed(DATA, (tuple(name.split()), None)))).encode())
    assert differing("targets with one change", found) == set()


def test_shapes_of_pixels():
    """As wide or high as can be shown, and a step more."""
    most = PIXEL_ASPECT
    for shape, fits in (((most, 1), True), ((1, most), True), ((most + 1, 1), False), ((1, most + 1), False)):
        assert (problems(changed(DATA, (("screen", "pixel_aspect"), list(shape)))) == []) == fits
    assert PIXEL_ASPECT > 1


def test_places_of_ranges():
    """Names, parts in halves and quarters, shifts either way, as the guide to target files has them."""
    places = {"start": 0, "header": 16, "header_end": 272, "end": 4096}
    for text, offset in {
        "start": 0, "header": 16, "header_end+0x10": 288, "header_end + 10": 282, "end-2": 4094, "end": 4096, "0/2": 0, "1/1": 4096,
        "1/2": 2048, "3/4-1": 3071, "1/1024": 4, "1/4 +4": 1028, "directory": None, "used": None, "3/2": None, "1/3": None, "1/0": None,
        "end-": None, "ends": None, "end*2": None, "1/12345": None, "": None, "-2": None,
    }.items():  # fmt: skip
        assert offset_of(text, places) == offset, text
        assert offset_of(text, {}) == (None if offset is None or text else offset)
    assert offset_of(7, places) == 7
    assert parse_place("end-0xA") == ("end", 0, 1, -10)
    assert parse_place("3/8+3") == ("", 3, 8, 3)
    for size in range(1, 70):
        assert mirrored_size(size) == min(1 << bits for bits in range(8) if 1 << bits >= size)


def test_devices_by_looking_at_each():
    """The smallest that holds a part, or the largest and then several; a width that the form takes, the preferred one first."""
    for form in WIDTHS:
        sizes = sorted({size for size, widths in KNOWN.values() if any(width in WIDTHS[form] for width in widths)})
        assert device_sizes(form) == sizes
        for wanted in (None, *sizes):
            for part in (1, sizes[0], sizes[0] + 1, sizes[-1] - 1, sizes[-1], sizes[-1] + 1, 3 * sizes[-1]):
                found = choose_devices(form, [part, part], wanted)
                fitting = [size for size in sizes if size >= part]
                assert found.bytes == (wanted or (fitting[0] if fitting else sizes[-1]))
                assert found.count == 2 * -(-part // found.bytes)
                made = {width for size, widths in KNOWN.values() if size == found.bytes for width in widths}
                assert found.width == next(one for one in WIDTHS[form] if one in made)
                assert found.names
                assert all(KNOWN[name][0] == found.bytes and found.width in KNOWN[name][1] for name in found.names)
    assert [str(choose_devices("whole", [32 * 1024] * count)).split()[0] for count in (1, 2, 12, 13)] == ["one", "two", "twelve", "13"]


def test_rules_of_pictures(tmp_path):
    """Each part's own byte order, else the target's; the rank of a format; a palette's place in what a pixel holds."""
    changes = (("palette", "byte_order"), "little"), (("cells", "height"), 8)
    target = read_target(tmp_path, toml_text(changed(DATA, *changes)))
    rules = [picture_rules(target, name) for name in target.pixel_formats]
    assert [one.rank for one in rules] == [0, 1, 2]
    assert [one.pixel_order for one in rules] == ["big", "big", "little"]
    assert {(one.byte_order, one.entry_order, one.cell) for one in rules} == {("big", "little", (16, 8))}
    assert [pixel_base(first, bits) for first, bits in ((0, 8), (255, 8), (16, 4), (17, 4), (35, 4), (5, 2))] == [0, 255, 0, 1, 3, 1]
