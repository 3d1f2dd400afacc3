"""Fonts from sources to what the image holds: widths, bitmaps, boxes, shared pictures, refusals.

Widths are compared with fontTools; bitmaps with whole lines drawn by Pillow (FreeType), which places glyphs by itself.
Where a line is as a whole is compared in test_outline.
"""

from __future__ import annotations

import dataclasses
import io
import shutil
from pathlib import Path

import msgspec
import numpy as np
import pytest
from fontTools.ttLib import TTFont
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from pipeline.assets.fonts.font import convert_font, prepare_font
from pipeline.assets.sources.prepared import read_frames, write_frames
from pipeline.joints.facts import FontFacts, PaletteFacts, read_facts, write_facts
from pipeline.joints.places import Sources, blob_files, facts_file, frame_files
from pipeline.joints.views import PaletteView
from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import MONO, REGULAR
from pipeline.project.assets import Font
from pipeline.reading.decoded import Decoded
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import Target, picture_rules
from tests.assets.fonts import made_font, made_otf
from tests.assets.test_outline import in_one_call, ink
from tests.conftest import tries
from tests.made_facts import made_facts
from tests.makers import TARGETS
from tests.reading.decoding import decode_blob

BASALT = load_target(shipped_targets()["basalt32"])


@pytest.fixture
def folder(tmp_path) -> Path:
    """A project folder with two fonts and a palette's facts: transparent, white, red, blue."""
    for path in (REGULAR, MONO):
        shutil.copy(path, tmp_path / path.name)
    return with_palette(tmp_path)


def with_palette(folder: Path) -> Path:
    """Write facts of a palette of four into the folder's ``blobs``."""
    colours = [(0, 0, 0), (255, 255, 255), (255, 0, 0), (0, 0, 255)]
    (folder / "blobs").mkdir(exist_ok=True)
    facts = made_facts(PaletteFacts, "ink", transparent=True, entry_count=4, colours=colours)
    write_facts(facts_file(folder / "blobs", "ink"), facts)
    return folder


def made(folder: Path, files: list[str], target: Target = BASALT, pixels: str | None = None, **keys) -> tuple[Decoded, dict]:
    """Make a font and return what decodes from its blob, and its facts."""
    spec = Font(file=files[0], **keys)
    prepare_font(Sources(folder, tuple(files)), frame_files(folder / "work", "small"), "small", spec)
    rules = picture_rules(target, pixels or target.screen.pixels)
    palette = None if pixels == "direct15" else PaletteView(facts_file(folder / "blobs", "ink"))
    convert_font(frame_files(folder / "work", "small"), palette, blob_files(folder / "blobs", "small"), "small", spec.spacing, "", rules, 4)
    facts = read_facts(facts_file(folder / "blobs", "small"), FontFacts)
    return decode_blob("font", (folder / "blobs/small.bin").read_bytes(), target), facts


def set_line(font: Decoded, words: str, margin: int = 8) -> np.ndarray:
    """Set a line as a program would, from the decoded numbers alone; bool, with a margin on all sides."""
    ranks = {code: rank for rank, (code, _) in enumerate(font.glyphs)}
    width = sum(font.glyphs[ranks[ord(one)]][1] for one in words)
    head = font.head
    canvas = np.zeros((head["height"] + 2 * margin, width + head["width"] + 2 * margin), dtype=bool)
    pen = margin
    for one in words:
        rank = ranks[ord(one)]
        left, top = pen - head["left"], margin
        canvas[top : top + head["height"], left : left + head["width"]] |= font.pixels[rank] != head["clear"]
        pen += font.glyphs[rank][1]
    return canvas


@pytest.mark.parametrize("target", TARGETS)
@pytest.mark.parametrize(("path", "size"), [(MONO, 8), (MONO, 13), (MONO, 40), (REGULAR, 10), (REGULAR, 16)], ids=str)
def test_line_set_from_the_blob_is_the_line_the_renderer_draws(folder, target, path, size):
    """Widths, pens, baselines and pixels together, also where a letter reaches back; no pair here is kerned."""
    words = "Hamburg 0369 jumps: (żółw)"
    font, facts = made(folder, [path.name], load_target(shipped_targets()[target]), size=size, characters=words)
    assert np.array_equal(ink(set_line(font, words)), ink(in_one_call(path, size, words)))
    assert font.head["glyph_count"] == len(set(words)) == len(facts.characters)


@given(
    words=st.text(st.sampled_from(sorted(map(chr, TTFont(MONO).getBestCmap()))).filter(str.isprintable), min_size=1, max_size=12),
    size=st.integers(9, 24),
)
@settings(max_examples=tries(25, 60), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_characters_of_a_font_are_stored_as_drawn(folder, words, size):
    """Over all characters of a font that kerns nothing: the table has each once, and the line is the renderer's.

    Fixed spacing gives all the widest advance; hints make some letters of this font of one width a pixel narrower.
    """
    try:
        font, _ = made(folder, [MONO.name], size=size, characters=words)
    except ProjectError as error:
        wrongs = [problem.wrong for problem in error.problems]
        if all("vanishes at" in one for one in wrongs):
            return
        raise
    assert [code for code, _ in font.glyphs] == sorted(set(map(ord, words)))
    assert font.head["advance"] == 0
    line = set_line(font, words, 40)
    if line.any():
        assert np.array_equal(ink(line), ink(in_one_call(MONO, size, words)))
    fixed, _ = made(folder, [MONO.name], size=size, characters=words, spacing="fixed")
    widest = max(advance for _, advance in font.glyphs)
    assert fixed.glyphs == [(code, widest) for code, _ in font.glyphs]
    assert fixed.head["advance"] == widest


@pytest.mark.parametrize("path", [REGULAR, MONO], ids=lambda path: path.stem)
@pytest.mark.parametrize("size", [10, 16, 33])
def test_widths_are_those_of_the_font(folder, path, size):
    """Within two pixels of the width the font's own table gives, scaled: hints may move both sides of a letter."""
    words = "".join(map(chr, range(0x21, 0x7F)))
    font, _ = made(folder, [path.name], size=size, characters=words)
    source = TTFont(path)
    for code, advance in font.glyphs:
        width, _ = source["hmtx"][source.getBestCmap()[code]]
        assert abs(advance - width * size / source["head"].unitsPerEm) < 2


def test_glyph_numbers_of_a_square_font(folder):
    """A font of squares half an em wide: known pixels, width and box without any renderer to ask."""
    (folder / "squares.ttf").write_bytes(made_font([0x41, 0x42, 0x10400]))
    font, _ = made(folder, ["squares.ttf"], size=10, characters="BA\U00010400", colour="#ff0000")
    assert font.glyphs == [(0x41, 6), (0x42, 6), (0x10400, 6)]
    assert font.pixels.tolist() == [[[2] * 5] * 5] * 3
    assert {key: font.head[key] for key in ("left", "baseline", "line_height", "picture_count")} == {
        "left": 0, "baseline": 5, "line_height": 10, "picture_count": 1
    }  # fmt: skip


def test_postscript_outlines_are_drawn_too(folder):
    """An .otf file with a letter that reaches a tenth of an em back and as far below the line."""
    (folder / "a.otf").write_bytes(made_otf({0x41: (-100, -100, 300, 500), 0x1F600: (0, 0, 500, 300)}))
    font, _ = made(folder, ["a.otf"], size=20, characters="A\U0001f600")
    assert font.glyphs == [(0x41, 12), (0x1F600, 12)]
    assert {key: font.head[key] for key in ("left", "baseline", "width", "height")} == {
        "left": 2, "baseline": 10, "width": 12, "height": 12
    }  # fmt: skip
    letter, face = font.pixels
    assert letter[:, :8].all()
    assert not letter[:, 8:].any()
    assert np.argwhere(face).tolist() == [[y, x] for y in range(4, 10) for x in range(2, 12)]


def test_glyphs_that_look_alike_share_a_picture(folder):
    """Latin, Greek and Cyrillic capitals A of this font are one drawing."""
    font, facts = made(folder, [REGULAR.name], size=12, characters="AΑАB")
    assert (font.head["glyph_count"], font.head["picture_count"]) == (4, 2)
    assert np.array_equal(font.pixels[0], font.pixels[2])
    assert facts.intent.shape[0] == 4


def test_box_is_whole_cells_only_where_pixels_are_stored_so(folder):
    """Rows across: the smallest box. Cell by cell: padded to the target's cells. Or what the author asks for."""
    shapes = {}
    for name in TARGETS:
        shapes[name] = made(folder, [MONO.name], load_target(shipped_targets()[name]), size=10, characters="Ag")[0].pixels.shape[1:]
    assert shapes == {"basalt32": (9, 6), "lattice16": (16, 8), "pebble8": (16, 8)}
    font, _ = made(folder, [MONO.name], size=10, characters="Ag", box=(8, 12))
    assert font.pixels.shape == (2, 12, 8)
    with pytest.raises(ProjectError) as caught:
        made(folder, [MONO.name], size=10, characters="Ag", box=(8, 8))
    assert str(caught.value) == (
        "project.toml, [font.small] box: 8 x 8 pixels do not hold the glyphs, which need 6 x 9\n"
        "    make box larger or the font smaller, or leave box out"
    )


def test_direct_colour_keeps_clear_pixels_clear(folder):
    """A word with the A bit where the letter is, without it elsewhere."""
    font, _ = made(folder, [MONO.name], pixels="direct15", size=10, characters="A", colour="#ff0000")
    assert set(np.unique(font.pixels)) == {0, 0x801F}
    assert font.head["clear"] == 0
    assert font.head["palette"] == 0


LETTERS = {"A": "010111101", "B": "110110111", "i": "010000010", " ": "000000000"}


def draw_strip(path: Path, order: str, columns: int, cell: tuple[int, int] = (5, 4)) -> None:
    """Draw letters of 3 x 3 pixels one from the left and the top of their cells, in red with a blue first row."""
    rows = -(-len(order) // columns)
    picture = Image.new("RGBA", (columns * cell[0], rows * cell[1]))
    for rank, one in enumerate(order):
        for place, dot in enumerate(LETTERS[one]):
            if dot == "1":
                at = rank % columns * cell[0] + 1 + place % 3, rank // columns * cell[1] + 1 + place // 3
                picture.putpixel(at, (0, 0, 255, 255) if place < 3 else (255, 0, 0, 255))
    picture.save(path)


def test_proportional_strip(folder):
    """Empty columns are cut off, a gap is added, a space is half a cell; rows above all letters are not stored."""
    draw_strip(folder / "a.png", "AB i", 3)
    font, _ = made(folder, ["a.png"], cell=(5, 4), order="AB \ni", baseline=4)
    assert font.glyphs == [(0x20, 3), (0x41, 4), (0x42, 4), (0x69, 2)]
    assert font.pixels[:, :, :].tolist() == [
        [[0, 0, 0], [0, 0, 0], [0, 0, 0]],
        [[0, 3, 0], [2, 2, 2], [2, 0, 2]],
        [[3, 3, 0], [2, 2, 0], [2, 2, 2]],
        [[3, 0, 0], [0, 0, 0], [2, 0, 0]],
    ]
    assert {key: font.head[key] for key in ("left", "baseline", "line_height", "advance")} == {
        "left": 0, "baseline": 3, "line_height": 4, "advance": 0
    }  # fmt: skip
    wider, _ = made(folder, ["a.png"], cell=(5, 4), order="AB i", gap=2, space=7, baseline=3, line_height=6)
    assert wider.glyphs == [(0x20, 7), (0x41, 5), (0x42, 5), (0x69, 3)]
    assert (wider.head["baseline"], wider.head["line_height"], wider.pixels.shape[1]) == (2, 6, 3)


def test_fixed_strip_is_stored_cell_by_cell_as_drawn(folder):
    """The author's own placing in the cell is kept; only the characters asked for are stored."""
    draw_strip(folder / "a.png", "AB i", 4)
    font, _ = made(folder, ["a.png"], cell=(5, 4), order="AB i", spacing="fixed", characters="iA")
    assert font.glyphs == [(0x41, 5), (0x69, 5)]
    assert font.head["advance"] == 5
    assert font.pixels[0].tolist() == [[0] * 5, [0, 0, 3, 0, 0], [0, 2, 2, 2, 0], [0, 2, 0, 2, 0]]


@given(
    order=st.lists(st.characters(min_codepoint=0x21, max_codepoint=0x24F, categories=["L", "N"]), min_size=1, max_size=20, unique=True),
    columns=st.integers(1, 6),
    cell=st.tuples(st.integers(1, 9), st.integers(1, 9)),
    seed=st.integers(0, 2**32 - 1),
)
@settings(max_examples=tries(25, 60), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_strip_comes_back_as_drawn(folder, order, columns, cell, seed):
    """Random pixels on any grid: fixed gives the cells back, proportional the same ink moved to the pen."""
    rows, drawn = -(-len(order) // columns), np.random.default_rng(seed)
    cells = drawn.integers(0, 4, (rows * columns, cell[1], cell[0]))
    cells[:, 0, 0] = 1
    cells[len(order) :] = 0  # drawn cells beyond order are refused
    if cells.all():
        cells[0, -1, -1] = 0
        cells[0, 0, 0] = 0 if cells[0].any() and cell != (1, 1) else cells[0, 0, 0]
    colours = np.array([[0, 0, 0, 0], [255, 255, 255, 255], [255, 0, 0, 255], [0, 0, 255, 255]], dtype=np.uint8)
    whole = cells.reshape(rows, columns, cell[1], cell[0]).swapaxes(1, 2).reshape(rows * cell[1], columns * cell[0])
    Image.fromarray(colours[whole]).save(folder / "a.png")
    keys = {"cell": cell, "order": "".join(order)}
    if not cells[: len(order)].any(axis=(1, 2)).all() or whole.all():
        return
    fixed, _ = made(folder, ["a.png"], spacing="fixed", **keys)
    loose, _ = made(folder, ["a.png"], spacing="proportional", gap=0, **keys)
    for rank, (code, advance) in enumerate(fixed.glyphs):
        meant = cells[order.index(chr(code))]
        assert np.array_equal(fixed.pixels[rank], meant)
        columns_used = np.flatnonzero(meant.any(axis=0))
        ink = meant[:, columns_used[0] : columns_used[-1] + 1]
        top = cell[1] - loose.head["baseline"]
        seen = loose.pixels[rank][:, : ink.shape[1]]
        assert np.array_equal(seen, ink[top : top + loose.head["height"]])
        assert not loose.pixels[rank][:, ink.shape[1] :].any()
        assert (advance, loose.glyphs[rank][1]) == (cell[0], ink.shape[1])
        assert ink.sum() == seen.sum()


def refused(folder: Path, files: list[str], **keys) -> list[str]:
    """Return what preparing a font refuses, word for word."""
    with pytest.raises(ProjectError) as caught:
        prepare_font(Sources(folder, tuple(files)), frame_files(folder / "work", "small"), "small", Font(file=files[0], **keys))
    assert not (folder / "work/small.rgba").exists()
    return [str(problem) for problem in caught.value.problems]


def test_every_missing_character_is_reported_at_once_with_its_places(folder):
    """This font has no Chinese, no emoji; the texts' own problems are reported with them."""
    (folder / "a.txt").write_text("漢字\nok 漢\t\n漢漢漢 😀", encoding="utf-8")
    (folder / "b.txt").write_bytes(b"fine\n\xff")
    assert refused(folder, [MONO.name, "a.txt", "b.txt"], size=10, characters="Aह", texts=["*.txt"]) == [
        "b.txt, line 2: not UTF-8 text\n    save the file as UTF-8",
        "a.txt, line 2, column 5: U+0009 is a control character, which has no glyph\n"
        "    write spaces for a tab; take other control characters out",
        "project.toml, [font.small] characters, character 2: 'ह' (U+0939) has no glyph in DejaVuSansMono.ttf\n"
        "    choose a font that has it, or change the text",
        "a.txt, line 1, column 2: '字' (U+5B57) has no glyph in DejaVuSansMono.ttf\n"
        "    choose a font that has it, or change the text",
        "a.txt, line 1, column 1: '漢' (U+6F22) has no glyph in DejaVuSansMono.ttf; used 5 times, "
        "also at line 2, column 4; line 3, column 1 and 2 more\n"
        "    choose a font that has it, or change the text",
        "a.txt, line 3, column 5: '😀' (U+1F600) has no glyph in DejaVuSansMono.ttf\n"
        "    choose a font that has it, or change the text",
    ]


def test_letters_that_vanish_are_refused(folder):
    """At 6 pixels this acute accent leaves no pixel; a space has no shape and is not one of them."""
    assert refused(folder, [REGULAR.name], size=6, characters="a ´ˋ") == [
        "project.toml, [font.small] characters, character 4: 'ˋ' (U+02CB) vanishes at 6 pixels\n"
        "    choose a larger size, or change the text"
    ]


def test_strip_problems_are_reported(folder):
    """A character not in order, and one whose cell was never drawn; one that only order asks for is reported there."""
    draw_strip(folder / "a.png", "AB  ", 2)
    assert refused(folder, ["a.png"], cell=(5, 4), order="AB c") == [
        "project.toml, [font.small] order, character 4: 'c' (U+0063) has an empty cell in a.png\n    draw it, or change the text"
    ]
    assert refused(folder, ["a.png"], cell=(5, 4), order="AB c", characters="Acx ") == [
        "project.toml, [font.small] characters, character 2: 'c' (U+0063) has an empty cell in a.png\n"
        "    draw it, or change the text",
        "project.toml, [font.small] characters, character 3: 'x' (U+0078) has no glyph in a.png\n"
        "    draw it and add it to order, or change the text",
    ]
    assert refused(folder, ["a.png"], cell=(4, 4), order="AB c") == [
        "a.png: 10 x 8 pixels do not part into cells of 4 x 4\n    correct cell, or the picture's size"
    ]
    assert refused(folder, ["a.png"], cell=(5, 4), order="ABCDE") == [
        "a.png: has 4 cells, order names 5 characters\n    draw the others, or shorten order"
    ]
    draw_strip(folder / "a.png", "ABiB", 2)
    assert refused(folder, ["a.png"], cell=(5, 4), order="ABi") == [
        "a.png, pixel (5, 4): the cell in row 2, column 2 is drawn, but order names only 3 characters\n"
        "    add its character to order, or clear the cell"
    ]
    assert refused(folder, ["a.png"], cell=(5, 16), order="A") == [
        "a.png: 10 x 8 pixels do not part into cells of 5 x 16\n    correct cell, or the picture's size"
    ]
    Image.new("RGB", (10, 8)).save(folder / "b.png")
    assert refused(folder, ["b.png"], cell=(5, 4), order="A") == [
        "b.png: has no transparent pixel, so no letter ends\n    make the ground between the letters transparent"
    ]


def test_texts_without_a_character_are_refused(folder):
    """There would be nothing to store."""
    (folder / "a.txt").write_bytes(b"\xef\xbb\xbf\r\n\n")
    assert refused(folder, [MONO.name, "a.txt"], size=10, texts=["a.txt"]) == [
        "project.toml, [font.small]: its texts hold no character\n    put words in them, or list characters"
    ]


def test_damaged_fonts_are_refused_in_words(folder):
    """Cut anywhere, with bytes changed, of another kind: a refusal or a font, never a traceback."""
    whole = REGULAR.read_bytes()
    (folder / "a.ttf").write_bytes(b"")
    assert refused(folder, ["a.ttf"], size=10, characters="A") == ["a.ttf: is an empty file\n    put something in it, or remove the asset"]
    (folder / "a.ttf").write_bytes(b"\x89PNG\r\n\x1a\n")
    assert refused(folder, ["a.ttf"], size=10, characters="A") == [
        "a.ttf: is not a TrueType or OpenType font\n    use a whole .ttf or .otf file with Unicode characters"
    ]
    reasons = set()
    cut = [whole[:length] + bytes(max(0, 400_000 - length)) for length in range(0, len(whole), 29_989)]
    for damaged in (*cut, whole.replace(b"head", b"none", 1)):
        (folder / "a.ttf").write_bytes(damaged)
        try:
            files, spec = frame_files(folder / "work", "small"), Font(file="a.ttf", size=10, characters="Ag")
            prepare_font(Sources(folder, ("a.ttf",)), files, "small", spec)
        except ProjectError as error:
            reasons.update(problem.wrong.split(":")[0] for problem in error.problems)
    assert reasons == {"is not a TrueType or OpenType font", "is damaged or cut short"}


def test_without_its_squares_a_font_cannot_be_drawn(folder):
    """The table of characters is whole, the shapes are not."""
    data = bytearray(made_font([0x41]))
    shapes = TTFont(io.BytesIO(bytes(data))).reader.tables["glyf"]
    data[shapes.offset : shapes.offset + shapes.length] = b"\x7f" * shapes.length
    (folder / "a.ttf").write_bytes(data)
    (said,) = refused(folder, ["a.ttf"], size=10, characters="A")
    assert said.startswith("a.ttf: cannot be drawn whole: ")
    assert said.endswith("\n    use another size, a whole copy of the font, or another font")


def test_number_that_leaves_its_field_is_refused(folder):
    """A line height is stored in 16 bits; no key can ask for more, a font file can."""
    files = frame_files(folder / "work", "small")
    prepare_font(Sources(folder, (MONO.name,)), files, "small", Font(file=MONO.name, size=10, characters="A"))
    described = files.described
    table = read_frames(described).table
    write_frames(described, 1, (6, 6), (6, 6), table=msgspec.structs.replace(table, line_height=70_000))
    rules = dataclasses.replace(picture_rules(BASALT, "index8"))
    given = files, PaletteView(facts_file(folder / "blobs", "ink")), blob_files(folder / "blobs", "small")
    with pytest.raises(ProjectError, match=r"\[font.small\]: a number leaves its field in the blob"):
        convert_font(*given, "small", "proportional", "", rules, 4)
