"""Sizes of codes, notices and packed pictures: where they change as a number grows, and that they are what sums give.

Sources: ISO/IEC 18004 (sides of codes); the rest as it was looked at, see ``tests.recorded``.
"""

from __future__ import annotations

import itertools
from pathlib import Path

import msgspec
import numpy as np
import pytest

from pipeline.joints import build_names, codes, links, notice
from pipeline.joints.codes import code_matrix
from pipeline.joints.pixel_size import packed_bytes, screen_bytes, screen_pixels_at
from pipeline.plain.bits import parse_pattern
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import picture_rules
from tests.limits import Ramp, recorded
from tests.recorded import differing

LAYOUTS: dict[str, Ramp] = {
    f"notice {name}, version {version}": (
        lambda side, wide=wide, version=version: _said(notice.lay_out_notice(*((side, 240) if wide else (320, side)), version)), 90, 420
    )
    for name, wide in (("by width", True), ("by height", False))
    for version in (1, 4, 7, 12)
}


def _said(layout: notice.NoticeLayout | None) -> str:
    return "none" if layout is None else f"{layout.module} {layout.side} {layout.codes} {layout.lines} {layout.labels}"


def test_layouts_of_notices():
    """The roomiest that leaves three pixels a module, on screens of every width and height; the colours of each depth."""
    colours = {f"colours of {bits} bits": (lambda _, bits=bits: notice.notice_colours(bits), 0, 1) for bits in (1, 2, 4, 8, 16)}
    assert recorded("limits of notices", LAYOUTS | colours) == set()
    problems = {
        f"{width} x {height}, {length}": str(notice.code_problem("https://example.org/" + "a" * length, width, height))
        for width, height in ((160, 144), (256, 192), (320, 240)) for length in (0, 10, 60, 200, 700)
    }  # fmt: skip
    assert differing("problems of notices", problems) == set()


@pytest.mark.parametrize("correction", ["M", "L"])
def test_codes_hold_what_their_version_says(correction):
    """The library's own codes: as many bytes as the table says, and not one more; sides with four modules of margin."""
    capacities = links._CAPACITY[correction]
    for version, capacity in enumerate(capacities, 1):
        versions = [links.code_version(capacity, correction), links.code_version(capacity + 1, correction)]
        assert versions == [version, version + 1 if version < len(capacities) else None]
        side = 17 + 4 * version + 8
        assert links.code_modules(version) == side
        longest = [links.longest_link(side - 1, correction), links.longest_link(side, correction)]
        assert longest == [capacities[version - 2] if version > 1 else 0, capacity]
    for version in (1, 2, 7, 20):
        assert len(code_matrix("a" * capacities[version - 1], correction=correction)) == 17 + 4 * version


def test_packed_bytes_by_counting():
    """Rows of whole bytes, of whole words where planes take turns by words, cell after cell or row after row."""
    plain = load_target(shipped_targets()["basalt32"]).pixel_formats["index8"]
    ways = ("chunky", "by byte", "by word", "by row")
    for letters, planes, order in itertools.product(("I", "II", "IIII", "IIIIIIII"), ways, ("rows", "cells")):
        form = msgspec.structs.replace(plain, pixel=parse_pattern(letters), planes=planes, order=order)
        bits, cell = len(letters), (8, 4)
        for width, height in ((8, 4), (16, 8), (24, 4)):
            wide, high, parts = (*cell, width * height // 32) if order == "cells" else (width, height, 1)
            unit = {"chunky": 8, "by byte": 8}.get(planes, 16)
            row = -(-wide * bits // 8) if planes == "chunky" else -(-wide // unit) * unit // 8 * bits
            assert packed_bytes(width, height, form, cell) == parts * high * row
    for name, path in shipped_targets().items():
        target = load_target(path)
        rules = picture_rules(target, target.screen.pixels)
        for alignment in (1, 4, 32):
            start = screen_pixels_at(rules, alignment)
            entries = len(notice.notice_colours(rules.pixel_format.pixel.width)) if rules.pixel_format.pixel.bits("I") else 0
            record = 1 + 1 + 2 + 2 + 2 + 4 + 4
            assert start == -(-(record + entries * rules.entry.bytes) // max(alignment, 4)) * max(alignment, 4), name
            whole = screen_bytes(target.screen.width - 1, target.screen.height, rules, alignment)
            assert whole == start + packed_bytes(target.screen.width, target.screen.height, rules.pixel_format, rules.cell)


def test_what_a_build_clears(tmp_path):
    """The tool's names and half-written files go, others stay; folders that are empty then go too, and links are not followed."""
    def touch(*names: str) -> None:
        for name in names:
            (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name).write_bytes(b"x")

    zipped = "kit/testers/HREL-1.0.0-ABCDEF-T01.zip"
    touch("map.json", "mine.txt", "blobs/ada.bin", "blobs/ada.json", "blobs/Ada.bin", "rom/hrel.rom", "kit/kit.json")
    touch("blobs/ben.bin.77.part", "work/a/b", "work/c", "work/d/e", "proofs/ada.onion.png", zipped)
    (tmp_path / "proofs/ada.png").symlink_to(tmp_path / "mine.txt")
    gone = build_names.clear(tmp_path, {"map.json", "blobs/ada.json"}, except_for={"kit"})
    assert sorted(gone) == [
        "blobs/ada.bin", "blobs/ben.bin.77.part", zipped, "proofs/ada.onion.png", "proofs/ada.png", "rom/hrel.rom",
    ]  # fmt: skip
    assert sorted(build_names.clear_work(tmp_path, {"work/a/b"})) == ["work/c", "work/d"]
    left = sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*"))
    assert left == ["blobs", "blobs/Ada.bin", "blobs/ada.json", "kit", "kit/kit.json", "map.json", "mine.txt", "work", "work/a", "work/a/b"]
    assert {Path(one).name for one in build_names.own_folders(tmp_path)} >= {"blobs", "work", "testers", tmp_path.name}


def drawn_code(text: str, module: int, light: int = 255, dark: int = 0) -> np.ndarray:
    """Return a picture that is just a code with its margin: uint8, shape (side, side, 3)."""
    modules = np.pad(np.array(code_matrix(text)), 4)
    shown = np.where(modules, dark, light).astype(np.uint8)
    return shown.repeat(module, axis=0).repeat(module, axis=1)[..., None].repeat(3, axis=2)


def test_code_that_just_fits_can_be_relied_on():
    """It may reach all four edges of the screen and no farther; margin and modules are 128 steps of grey apart or more."""
    text, module = "https://example.org/b/ABCDEF", 4
    whole = drawn_code(text, module)
    assert codes.code_fault(whole, 0, 0, module, text) is None
    wider = np.pad(whole, ((3, 3), (5, 5), (0, 0)), constant_values=255)
    assert codes.code_fault(wider, 5, 3, module, text) is None
    for left, top in ((-1, 0), (0, -1), (11, 3), (5, 7)):
        assert codes.code_fault(wider, left, top, module, text) == "leaves the screen"
    apart = np.pad(whole, ((0, 0), (0, 400), (0, 0)), constant_values=255)
    assert codes.code_fault(apart, 300, 0, module, text) == "reads, but at another place"
    for dark, fits in ((72, True), (73, False)):
        fault = codes.code_fault(drawn_code(text, module, 200, dark), 0, 0, module, text)
        assert (fault is None) == fits, fault
    assert codes.code_fault(whole, 0, 0, module, text + "x") == "does not read"
    ((said, middle),) = codes.read_codes(whole)
    assert (said, [abs(at - len(whole) // 2) <= 1 for at in middle]) == (text, [True, True])
