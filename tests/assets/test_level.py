"""Levels: numbers as other readers find them in the same files, bounds, what is refused and where, and the image read back."""

from __future__ import annotations

import csv
import struct
import zlib

import msgspec
import numpy as np
import pytest
from PIL import Image

from pipeline.joints.budget import read_budget_file
from pipeline.joints.facts import LevelFacts, read_facts
from pipeline.joints.map import decode_map
from pipeline.joints.places import facts_file
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.reading.verify import verify_image
from tests.makers import TARGETS, make_project, run_steps
from tests.reading.decoding import decode_blob

GRIDS = {
    "commas": b"0,1,2\n255,4,5\n",
    "semicolons and a byte order mark": b"\xef\xbb\xbf10;20\r\n30;40\r\n",
    "blanks": b" 1  2\t3\n 4  5  6\n\n",
    "quotes": b'"7","8"\n"9", 10\n',
    "one row without an end": b"9,8,7,6",
    "one column": b"1\n2\n3\n",
    "old line ends": b"1,2\r3,4\r",
}


def level(tmp_path, content: bytes, keys: str = "", file: str = "cave.csv", target: str = "basalt32"):
    """Return a project with one level of such a file."""
    make_project(tmp_path / "p", more=f'[level.cave]\nfile = "{file}"\n{keys}\n', target=target)
    (tmp_path / "p" / file).write_bytes(content)
    return load_project(tmp_path / "p")


def cells_of(project) -> np.ndarray:
    """Return the cells that the image's own reader finds in the converted blob."""
    run_steps(project, "level:cave")
    return decode_blob("level", (project.folder / "build/blobs/cave.bin").read_bytes(), project.target).cells


def refused(project) -> str:
    """Return why the level cannot be converted."""
    with pytest.raises(ProjectError) as caught:
        run_steps(project, "level:cave")
    return str(caught.value)


@pytest.mark.parametrize("name", GRIDS)
def test_text_is_read_as_other_readers_read_it(tmp_path, name):
    """Sources: Python's csv module (RFC 4180) and numpy.loadtxt, which is given the separator and the quotes."""
    project = level(tmp_path, GRIDS[name])
    parting = {"semicolons and a byte order mark": ";", "blanks": None}.get(name, ",")
    wanted = np.loadtxt(project.folder / "cave.csv", dtype=int, delimiter=parting, quotechar='"', ndmin=2, encoding="utf-8-sig")
    assert cells_of(project).tolist() == wanted.tolist()
    if parting:
        with open(project.folder / "cave.csv", encoding="utf-8-sig", newline="") as file:
            assert [[int(cell) for cell in row] for row in csv.reader(file, delimiter=parting)] == wanted.tolist()


@pytest.mark.parametrize("bits", [1, 2, 4, 8])
def test_pixels_of_an_indexed_picture_are_the_numbers(tmp_path, bits):
    """Source: Pillow, which returns the indices of a picture with a palette at any depth."""
    picture = Image.fromarray((np.arange(35).reshape(5, 7) % (1 << bits)).astype(np.uint8)).convert("P")
    picture.putpalette([rank * 5 % 256 for rank in range(3 << bits)])
    project = level(tmp_path, b"", file="cave.png")
    picture.save(project.folder / "cave.png", bits=bits)
    with Image.open(project.folder / "cave.png") as opened:
        assert (opened.mode, cells_of(project).tolist()) == ("P", np.asarray(opened).tolist())


@pytest.mark.parametrize("target", TARGETS)
@pytest.mark.parametrize("cell_bytes", [1, 2])
def test_image_holds_the_numbers_in_the_console_s_order(tmp_path, target, cell_bytes):
    """The record and the cells lie where the guide's table of the layout says; struct reads them. Every target, both widths."""
    rows = [[1, 2, 3], [4, 5, 255**cell_bytes]]
    content = "\n".join(",".join(map(str, row)) for row in rows).encode()
    project = level(tmp_path, content, f"cell_bytes = {cell_bytes}\nbounds = [1, {255**cell_bytes}]", target=target)
    run_steps(project, "verify", "include")
    order = ">" if project.target.byte_order == "big" else "<"
    image_map = decode_map((project.folder / "build/map.json").read_bytes(), "map.json")
    entry = image_map.by_name()["cave"]
    image = next((project.folder / "build/rom").glob("*.rom")).read_bytes()
    blob = image[entry.offset : entry.offset + entry.bytes]
    version, width_of_cell, width, height, least, most, spare, at = struct.unpack_from(f"{order}BBHHHHHI", blob)
    assert (version, width_of_cell, width, height, least, most, spare) == (1, cell_bytes, 3, 2, 1, 255**cell_bytes, 0)
    assert struct.unpack_from(f"{order}6{'BH'[cell_bytes - 1]}", blob, at) == tuple(number for row in rows for number in row)
    assert (entry.offset + at) % cell_bytes == 0 or entry.alignment < cell_bytes
    constants = (project.folder / "build/include/assets_equ.inc").read_text().splitlines()
    values = {words[0]: words[2] for words in map(str.split, constants) if len(words) > 2 and words[1] == "equ"}
    found = [int(values[f"CAVE_{key}"]) for key in ("WIDTH", "HEIGHT", "CELL_BYTES", "LEAST", "MOST")]
    assert found == [3, 2, cell_bytes, 1, 255**cell_bytes]


def test_verify_finds_other_cells_and_another_size(tmp_path):
    """A cell, the width and a bound that differ from what conversion found are each named. Common practice, no source."""
    project = level(tmp_path, b"1,2,3\n4,5,6\n")
    run_steps(project, "verify")
    build = project.folder / "build"
    image_map = decode_map((build / "map.json").read_bytes(), "map.json")
    facts = {entry.name: read_facts(facts_file(build / "blobs", entry.name)) for entry in image_map.entries}
    image = next((build / "rom").glob("*.rom")).read_bytes()
    known = read_facts(facts_file(build / "blobs", "cave"), LevelFacts)
    wrong_intent = msgspec.structs.replace(known.intent, sha256="0" * 64)
    for changed, said in (
        (msgspec.structs.replace(known, width=2), "cave: its width is 3, not 2"),
        (msgspec.structs.replace(known, height=9), "cave: its height is 2, not 9"),
        (msgspec.structs.replace(known, intent=wrong_intent), "cave: its cells are not the converted ones"),
    ):
        assert said in verify_image(image, project.target, image_map, {**facts, "cave": changed}, {})
    assert verify_image(image, project.target, image_map, facts, {}) == []


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "cave.csv: is empty"),
        (b"\n \n", "cave.csv: is empty"),
        (b"\x1e\n\x0b", "cave.csv: is empty"),
        (b"1,2\x1e\n", "cave.csv, row 1, column 2: '2\\x1e' is not a whole number"),
        (b"1,2\n3\n", "cave.csv, row 2: has 1 number, the first row 2"),
        (b"1,2\n3,4,5\n", "cave.csv, row 2: has 3 numbers, the first row 2"),
        (b"1,2\n\n3,4\n", "cave.csv, row 2: has 1 number, the first row 2"),
        (b"1,2,\n3,4,\n", "cave.csv, row 1, column 3: is empty"),
        (b"1,two\n", "cave.csv, row 1, column 2: 'two' is not a whole number"),
        (b"1,1.5\n", "cave.csv, row 1, column 2: '1.5' is not a whole number"),
        (b"1,2\n3,256\n", "cave.csv, row 2, column 2: 256 is not in 0 to 255"),
        (b"1,-1\n", "cave.csv, row 1, column 2: -1 is not in 0 to 255"),
        (b"1," + b"9" * 500 + b"\n", f"cave.csv, row 1, column 2: '{'9' * 24}...' is not a whole number"),
        (b"1,\xff\n", "cave.csv, byte 2: is not UTF-8 text"),
    ],
)
def test_what_is_no_grid_is_refused_with_its_place(tmp_path, content, said):
    """File, row and column, the value seen, and what to do. Common practice, no source."""
    assert said in refused(level(tmp_path, content))


def test_every_place_at_fault_is_listed(tmp_path):
    """Not the first alone: a letter and a short row in one file, both bounds passed in another. Common practice, no source."""
    said = refused(level(tmp_path / "a", b"x,2\n3\n5,y\n"))
    assert [said.count(part) for part in ("row 1, column 1", "row 2:", "row 3, column 2")] == [1, 1, 1]
    said = refused(level(tmp_path / "b", b"1,2\n3,4\n", "bounds = [2, 3]"))
    assert "row 1, column 1: 1 is not in 2 to 3" in said
    assert "row 2, column 2: 4 is not in 2 to 3" in said


def _changed(data: bytes, at: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 0x55]) + data[at + 1 :]


def test_pictures_that_are_no_level_are_refused(tmp_path):
    """Without a palette, cut short, with a wrong sum, and one whose pixels pass the bounds (PNG specification, third edition)."""
    indexed = Image.fromarray(np.full((4, 4), 9, dtype=np.uint8)).convert("P")
    (tmp_path / "made").mkdir()
    indexed.save(tmp_path / "made/indexed.png")
    Image.new("RGB", (4, 4)).save(tmp_path / "made/rgb.png")
    whole = (tmp_path / "made/indexed.png").read_bytes()
    assert zlib.crc32(whole[12:29]) == int.from_bytes(whole[29:33], "big")
    for rank, (content, keys, said) in enumerate(
        [
            ((tmp_path / "made/rgb.png").read_bytes(), "", "cave.png: is not an indexed picture"),
            (whole[:-30], "", "cave.png: is damaged or cut short"),
            (_changed(whole, whole.index(b"IDAT") + 6), "", "cave.png: is damaged or cut short"),
            (b"1,2\n", "", "cave.png: is not a picture that can be read"),
            (b"", "", "cave.png: is an empty file"),
            (whole, "bounds = [0, 8]", "cave.png, row 1, column 1: 9 is not in 0 to 8"),
        ]
    ):
        assert said in refused(level(tmp_path / f"{rank}", content, keys, file="cave.png")), said


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('file = "cave.json"', "neither a text nor an indexed picture"),
        ('file = "cave.csv"\nbounds = [5, 4]', "5 is above 4"),
        ('file = "cave.csv"\nbounds = [0, 256]', "256 does not fit a cell of 1 byte"),
        ('file = "cave.csv"\ncell_bytes = 3', "cell_bytes"),
        ('file = "cave.csv"\nbounds = [0, 65536]', "bounds"),
        ('file = "gone.csv"', "there is no file 'gone.csv'"),
    ],
)
def test_keys_that_cannot_be_are_refused(tmp_path, keys, said):
    """With the line of the project file. Common practice, no source."""
    make_project(tmp_path / "p", more=f"[level.cave]\n{keys}\n")
    for name in ("cave.csv", "cave.json"):
        (tmp_path / "p" / name).write_bytes(b"1,2\n")
    with pytest.raises(ProjectError) as caught:
        load_project(tmp_path / "p")
    assert said in str(caught.value)
    assert "[level.cave]" in str(caught.value)


def test_packed_level_unpacks_to_the_same_cells(tmp_path):
    """A level of one number packs well; verification unpacks it. The facts name what is in it. Common practice, no source."""
    project = level(tmp_path, b"\n".join([b",".join([b"7"] * 60)] * 40), 'packing = "best"')
    run_steps(project, "verify", "proof:cave")
    entry = decode_map((project.folder / "build/map.json").read_bytes(), "map.json").by_name()["cave"]
    assert entry.codec != "stored"
    assert entry.bytes < 100
    facts = read_facts(facts_file(project.folder / "build/blobs", "cave"), LevelFacts)
    assert (facts.width, facts.height, facts.smallest, facts.largest, facts.different, facts.unpacked_bytes) == (60, 40, 7, 7, 1, 2416)


def test_proof_shows_each_cell_in_the_colour_of_its_number(tmp_path):
    """Equal numbers alike, different ones not, at the places of the grid (reader: Pillow). Common practice, no source."""
    rows = [[rank % 5 for rank in range(start, start + 80)] for start in range(50)]
    project = level(tmp_path, "\n".join(",".join(map(str, row)) for row in rows).encode())
    run_steps(project, "proof:cave")
    with Image.open(project.folder / "build/proofs/cave.png") as opened:
        picture = opened.convert("RGB")
    side = (picture.width - 1) // 80
    seen = {(rows[y][x], picture.getpixel((x * side + side // 2, y * side + side // 2))) for y in range(50) for x in range(80)}
    assert len(seen) == len({number for number, _ in seen}) == len({colour for _, colour in seen}) == 5


def test_budget_counts_it_and_a_planned_one_is_estimated_from_it(tmp_path):
    """Cells of one byte after 16 bytes of record: what one to come takes is in proportion. Common practice, no source."""
    more = '[planned.next]\nkind = "level"\nwidth = 60\nheight = 10\n\n[scene.walk]\nalways = ["cave", "next"]\n'
    project = level(tmp_path, b"\n".join([b",".join([b"7"] * 30)] * 10), more)
    run_steps(project, "memory")
    budget = read_budget_file(project.folder / "build/budget.json")
    assert (budget.planned["next"].bytes, budget.planned["next"].from_assets) == (632, ["cave"])
    assert budget.scenes["walk"].parts[0].bytes == 320 + 640  # each rounded up to the console's 32 bytes
