"""Notices of tiles, as a console's tile unit shows them: read here from the blob's bytes, and their codes by zxing-cpp."""

from __future__ import annotations

import functools
import random
import tempfile
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.assets.notices import tiles as notice_tiles
from pipeline.joints.notice import GROUND, safe_area
from pipeline.pixels.composite import SYSTEMS, sent
from pipeline.pixels.tube_photo import photographed
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Screen
from pipeline.reading.decoded import BlobFault
from pipeline.reading.kinds.screen import compare_screen, decode_screen
from pipeline.reading.show import screen_rgb
from tests.makers import changed, read_target, target_data, toml_text
from tests.notices.drawing import LINKS, TEXT, Drawn, draw, record, shown

TILE_CONSOLES = ("lattice16", "pebble8")
# What a console may be like otherwise: (target, changes of its file). No outside source.
OTHERS = {
    "one line": ("lattice16", ((("tiles", "map_entry"), "HVxxPxtttttttttt"),)),
    "no mirroring": ("lattice16", ((("tiles", "map_entry"), "xxccPxtttttttttt"),)),
    "few tiles, lines": ("lattice16", ((("tiles", "map_entry"), "HVccPxxxtttttttt"),)),
    "two banks of 128 tiles": ("pebble8", ((("tiles", "map_entry"), "xtPHVcccxttttttt"),)),
    "cropped handheld": (
        "pebble8",
        ((("screen", "width"), 256), (("screen", "height"), 192), (("screen", "title_safe"), 90), (("screen", "action_safe"), 93)),
    ),
    "large, few tiles": (
        "lattice16", ((("screen", "width"), 640), (("screen", "height"), 480), (("tiles", "most"), 128), (("tiles", "map_entry"), "t" * 16))
    ),
}


@pytest.fixture(autouse=True)
def _without_television(monkeypatch):
    """What a television leaves is tried below once, and in tests/assets/test_television.py."""
    monkeypatch.setattr(notice_tiles, "on_television", lambda *_: None)


@functools.cache
def console(name: str) -> tuple[dict, Drawn]:
    """Return a console's file as data, and the notice drawn for it."""
    target, changes = OTHERS.get(name, (name, ()))
    data = changed(target_data(target), *changes)
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(notice_tiles, "on_television", lambda *_: None)
        return data, draw(Path(folder), read_target(Path(folder), toml_text(data)))


def texts(rgb: np.ndarray) -> set[str]:
    """Return what zxing-cpp reads in a picture."""
    return {one.text for one in zxingcpp.read_barcodes(np.ascontiguousarray(rgb))}


def cropped(rgb: np.ndarray, percent: int) -> np.ndarray:
    """Return the middle of a picture: this percent of each side, rounded down, computed here."""
    high, wide = rgb.shape[:2]
    down, across = high * percent // 100 // 2 * 2, wide * percent // 100 // 2 * 2
    return rgb[(high - down) // 2 :][:down, (wide - across) // 2 :][:, :across]


@pytest.mark.parametrize("name", [*TILE_CONSOLES, *OTHERS])
def test_console_shows_what_the_proof_shows(name):
    """Tile numbers, lines and mirroring as the target's patterns say; both codes read in full and cut off as televisions do."""
    data, drawn = console(name)
    rgb = shown(drawn, data)
    decoded = decode_screen(drawn.blob, drawn.target)
    proof = screen_rgb(decoded)[: drawn.facts.height, : drawn.facts.width]
    assert np.array_equal(rgb, proof)
    assert compare_screen(decoded, drawn.facts, drawn.target) == []
    assert texts(rgb) == set(LINKS)
    for percent in (drawn.target.screen.action_safe, drawn.target.screen.title_safe):
        assert texts(cropped(rgb, percent)) == set(LINKS)


@pytest.mark.parametrize("name", ["lattice16", "cropped handheld"])
def test_codes_read_from_a_television_that_cuts_the_picture_off(name):
    """SMPTE ST 2046-1:2009 and EBU R 95 give 90 % of each side as safe for titles; the model of a television and a phone does the rest."""
    data, drawn = console(name)
    rgb = np.ascontiguousarray(cropped(shown(drawn, data), 90))
    high, wide = rgb.shape[:2]
    across, down = drawn.target.screen.pixel_aspect
    for system in SYSTEMS:
        photo = photographed(sent(rgb, system), high, (1000, high * 1000 * down // (wide * across)))
        assert texts(photo) == set(LINKS), system.name


@pytest.mark.parametrize("name", [*TILE_CONSOLES, *OTHERS])
def test_nothing_is_drawn_outside_the_title_safe_part(name):
    """All around it there is one colour, the ground."""
    data, drawn = console(name)
    rgb = shown(drawn, data).astype(int)
    left, top, right, bottom = safe_area(drawn.facts.width, drawn.facts.height, drawn.target.screen.title_safe)
    outside = np.ones(rgb.shape[:2], dtype=bool)
    outside[top:bottom, left:right] = False
    around = {tuple(colour) for colour in rgb[outside].tolist()}
    assert len(around) == (0 if drawn.target.screen.title_safe == 100 else 1)
    assert all(abs(one - other) < 37 for colour in around for one, other in zip(colour, GROUND, strict=True))  # 3 bits a channel


def test_handheld_has_room_for_it():
    """From the image's bytes: 256 tile numbers of 16 bytes, 8 lines of 4 entries, a map of 30 x 20, and 8 KiB of memory less 512 bytes."""
    _, drawn = console("pebble8")
    head = record(drawn.blob, "little")
    assert head["version"] == 2
    assert head["tile_count"] <= head["tile_room"] <= 256
    assert (head["columns"], head["rows"], head["tile_bytes"], head["line_entries"]) == (30, 20, 16, 4)
    assert head["entry_count"] <= 32
    assert len(drawn.blob) == head["tiles"] + head["tile_room"] * head["tile_bytes"] <= 8192 - 512


def test_one_tile_holds_two_cells_of_codes_where_numbers_are_few():
    """Two bits a pixel and lines of the palette: the cells that codes touch, counted here, are twice as many as tiles for them."""
    data, drawn = console("pebble8")
    assert drawn.facts.tiles.planes == 2
    rgb = shown(drawn, data)
    cells = set()
    for code in drawn.facts.codes:
        quiet = 4 * drawn.facts.module_pixels
        for y in range((code.top + quiet) // 8, -(-(code.top + code.side - quiet) // 8)):
            for x in range((code.left + quiet) // 8, -(-(code.left + code.side - quiet) // 8)):
                cells.add(rgb[y * 8 : y * 8 + 8, x * 8 : x * 8 + 8].tobytes())
    assert len(cells) > 200
    assert drawn.facts.tiles.tile_count < len(cells)


def test_codes_of_whole_tiles_take_few():
    """Modules of 4 pixels at tiles of 8: at most sixteen patterns of four modules draw both codes."""
    data, drawn = console("large, few tiles")
    assert drawn.facts.module_pixels % 4 == 0
    rgb = shown(drawn, data)
    code = drawn.facts.codes[0]
    inside = rgb[code.top : code.top + code.side, code.left : code.left + code.side]
    left, top = -code.left % 8, -code.top % 8
    inside = inside[top : top + (code.side - top) // 8 * 8, left : left + (code.side - left) // 8 * 8]
    cells = inside.reshape(len(inside) // 8, 8, -1, 8, 3).swapaxes(1, 2).reshape(-1, 8 * 8 * 3)
    assert len(np.unique(cells, axis=0)) <= 16


def test_size_does_not_depend_on_the_build_code(tmp_path):
    """Places in the image are decided before the code is known, so every code must fit the same room."""
    chance = random.Random(4)
    target = read_target(tmp_path, toml_text(target_data("pebble8")))
    sizes, counts = set(), set()
    for _ in range(8):
        code = "".join(chance.choices("0123456789ABCDEFGHJKMNPQRSTVWXYZ", k=6))
        drawn = draw(tmp_path, target, TEXT._replace(build_code=code, feedback=LINKS[0][:-6] + code, bugs=LINKS[1][:-6] + code))
        sizes.add(len(drawn.blob))
        counts.add(drawn.facts.tiles.tile_count)
        assert drawn.facts.tiles.tile_count <= drawn.facts.tiles.tile_room
    assert len(sizes) == 1
    assert len(counts) > 1


def test_words_that_are_longer_wrap_between_words(tmp_path):
    """A warning of 60 characters takes lines of its own; accents stay on their letters."""
    spec = Screen(warning="Version d’essai. Ne la transmettez pas, s’il vous plaît, à personne.", bugs_label="UN DÉFAUT")
    target = read_target(tmp_path, toml_text(target_data("lattice16")))
    drawn = draw(tmp_path, target, TEXT._replace(title="Ælfrède à l’Île"), spec)
    assert compare_screen(decode_screen(drawn.blob, target), drawn.facts, target) == []


def test_letter_without_a_picture_is_refused(tmp_path):
    target = read_target(tmp_path, toml_text(target_data("lattice16")))
    with pytest.raises(ProjectError, match="has no '漢'"):
        draw(tmp_path, target, TEXT._replace(title="漢"))


@settings(max_examples=20)
@given(st.data())
def test_damaged_blob_is_a_fault_or_a_difference(data):
    """Any byte of record, map or tiles that is changed is refused when decoding, or differs from the facts."""
    drawn = console("pebble8")[1]
    place = data.draw(st.integers(0, len(drawn.blob) - 1))
    flip = data.draw(st.integers(1, 255))
    blob = bytearray(drawn.blob)
    blob[place] ^= flip
    head = record(drawn.blob, "little")
    try:
        faults = compare_screen(decode_screen(bytes(blob), drawn.target), drawn.facts, drawn.target)
    except BlobFault:
        return
    unread = set(range(head["entries"] + head["entry_count"] * 2, head["map"]))  # bytes between tables
    unread |= set(range(head["map"] + 2 * head["columns"] * head["rows"], head["tiles"]))
    ignored = place in unread or _does_not_count(place, flip, head)
    assert faults or ignored, place


def _does_not_count(place: int, flip: int, head: dict[str, int]) -> bool:
    """Return whether nothing that is compared was changed: unused bits, mirroring of a symmetric tile, a colour that still reads."""
    if head["map"] <= place < head["tiles"]:
        return (place - head["map"]) % 2 == 1 and not flip & 0b00000111  # xxPHVccc is the upper byte; some tiles are symmetric
    return head["entries"] <= place < head["map"] or place in (1, *range(78, 88))
