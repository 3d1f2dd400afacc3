"""A whole build with fonts: what the image holds, what shares its palette, what a change of the game's words rebuilds."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from pipeline.joints.facts import read_facts
from pipeline.joints.places import facts_file
from pipeline.pixels.colours.colour import to_rgb
from pipeline.plain.shipped import MONO, REGULAR
from pipeline.project.loading.load import load_project
from pipeline.reading.verify import verify_image
from tests.conftest import only_long, some, tries
from tests.graph.builds import build, clean_outputs, for_target, make_project, outputs, reasons, run
from tests.graph.looks import looks_of
from tests.makers import TARGETS, as_map
from tests.reading.decoding import decode_blob
from tests.recorded import differing

WORDS = "Żaglowiec, 12:45?\r\nna morze!\n"
FONTS = """
[font.words]
file = "fonts/regular.ttf"
size = 10
colour = "#f8f0e8"
texts = ["text/*.txt"]
palette = "figures"
[font.numbers]
file = "art/numbers.png"
cell = [6, 8]
order = "0123456789"
spacing = "fixed"
palette = "figures"
[bundle]
letters = ["words", "numbers"]
[scene.talk]
always = ["letters", "figures"]
"""


def with_fonts(folder: Path, target: str) -> Path:
    """Write the small project with a font of the words of a text and a strip of ten numbers."""
    project = for_target(make_project(folder), target)
    for name in ("fonts", "text"):
        (project / name).mkdir()
    shutil.copy(REGULAR, project / "fonts/regular.ttf")
    shutil.copy(MONO, project / "fonts/mono.ttf")
    (project / "text/harbour.txt").write_bytes(WORDS.encode())
    strip = Image.new("RGBA", (30, 16))
    for rank in range(10):
        strip.paste((200, 60, 40, 255), (rank % 5 * 6, rank // 5 * 8, rank % 5 * 6 + 1 + rank // 2, rank // 5 * 8 + 2 + rank % 5))
    strip.save(project / "art/numbers.png")
    path = project / "project.toml"
    path.write_text(path.read_text() + FONTS)
    return project


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def built(request, tmp_path_factory) -> Path:
    """The project built for each shipped target."""
    project = with_fonts(tmp_path_factory.mktemp("fonts") / "project", request.param)
    build(project)
    return project


def from_image(project: Path, name: str):
    """Return an asset decoded from the image's own bytes, and its place there."""
    image = next((project / "build/rom").glob("*.rom")).read_bytes()
    (entry,) = [one for one in json.loads((project / "build/map.json").read_bytes())["entries"] if one["name"] == name]
    blob = image[entry["offset"] : entry["offset"] + entry["bytes"]]
    return decode_blob(entry["kind"], blob, load_project(project).target), entry, image


def test_build_looks_as_it_was_looked_at(built):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing(f"build with fonts, {load_project(built).spec.game.target}", looks_of(built)) == set()


def test_image_holds_every_character_of_the_text_and_no_other(built):
    """Line ends apart; the strip without texts is whole, its numbers as drawn, all six pixels wide."""
    words, entry, _ = from_image(built, "words")
    assert "".join(chr(code) for code, _ in words.glyphs) == "".join(sorted(set(WORDS) - {"\r", "\n"}))
    assert entry["kind"] == "font"
    numbers, _, _ = from_image(built, "numbers")
    assert numbers.glyphs == [(0x30 + rank, 6) for rank in range(10)]
    for rank, picture in enumerate(numbers.pixels):
        drawn = np.zeros(picture.shape, dtype=bool)
        drawn[: 2 + rank % 5, : 1 + rank // 2] = True
        assert np.array_equal(picture != numbers.head["clear"], drawn)
    palette, _, _ = from_image(built, "figures")
    assert set(np.unique(numbers.pixels[numbers.pixels != numbers.head["clear"]])) <= set(range(1, len(palette.colours)))


def test_computed_palette_holds_the_font_colour(built):
    """Sprites and fonts share it: of all the console's colours hardly one is nearer to the light letters' (scikit-image's CIEDE2000)."""
    palette, _, _ = from_image(built, "figures")
    words, _, _ = from_image(built, "words")
    (used,) = set(np.unique(words.pixels)) - {words.head["clear"]}
    entry = load_project(built).target.palette.entry
    every = to_rgb(np.arange(1 << entry.width, dtype=np.uint32) | np.uint32(entry.fixed), entry)
    lab = rgb2lab(np.concatenate([[[0xF8, 0xF0, 0xE8], palette.colours[used]], every])[None] / 255)[0]
    far = deltaE_ciede2000(lab[1:], np.broadcast_to(lab[0], lab[1:].shape))
    assert far[0] <= far[1:].min() + 1


def test_fonts_count_in_scenes_include_and_report(built):
    """As any asset does."""
    budget = json.loads((built / "build/budget.json").read_bytes())
    sizes = {name: json.loads((built / f"build/blobs/{name}.json").read_bytes())["bytes"] for name in ("words", "numbers")}
    assert budget["scenes"]["talk"]["bytes"] >= sum(sizes.values())
    header = (built / "build/include/assets.h").read_text()
    numbers, entry, _ = from_image(built, "numbers")
    for name, value in {
        "ASSET_KIND_FONT": 9,
        "NUMBERS_GLYPH_COUNT": 10,
        "NUMBERS_WIDTH": numbers.head["width"],
        "NUMBERS_HEIGHT": numbers.head["height"],
        "NUMBERS_LEFT": 0,
        "NUMBERS_BASELINE": 8,
        "NUMBERS_LINE_HEIGHT": 8,
        "NUMBERS_ADVANCE": 6,
        "NUMBERS_BYTES": entry["bytes"],
        "WORDS_ADVANCE": 0,
    }.items():
        assert f"#define {name} {value}" in header
    page = (built / "build/report.html").read_text()
    assert "10 glyphs, fixed, in boxes of" in page
    with Image.open(built / "build/proofs/words.png") as proof:
        assert proof.width >= 800


def test_every_flipped_bit_of_a_font_is_found(built):
    """One bit of each byte of its record and tables, a third of them on each console in the short form, and of some of its pixels."""
    target = load_project(built).target
    first = TARGETS.index(load_project(built).spec.game.target)
    _, entry, image = from_image(built, "numbers")
    image_map = json.loads((built / "build/map.json").read_bytes())
    facts = {one["name"]: read_facts(facts_file(built / "build/blobs", one["name"])) for one in image_map["entries"]}
    assert verify_image(image, target, as_map(image_map), facts, {}) == []
    for place in [*range(tries(first, 0), 120, tries(3, 1)), *range(120, entry["bytes"], tries(111, 37))]:
        wrong = bytearray(image)
        wrong[entry["offset"] + place] ^= 1 << place % 8
        assert any("numbers" in fault for fault in verify_image(bytes(wrong), target, as_map(image_map), facts, {})), place


def test_words_that_change_rebuild_what_depends_on_them(tmp_path):
    """Other words of the same letters end at the glyphs; a new letter reaches the image; a missing one stops the build."""
    only_long()
    project = with_fonts(tmp_path / "project", "basalt32")
    build(project)
    text = project / "text/harbour.txt"
    text.write_text("na morze, Żaglowiec! 45:12? 12:45\n", encoding="utf-8")
    assert build(project) == ["prepare:words", "advice"]  # which would try the font at other sizes, were something over budget
    text.write_text("na morze, Żaglowiec! 45:12? Ü\n", encoding="utf-8")
    ran = build(project)
    assert {"prepare:words", "font:words", "proof:words", "image", "kit"} <= set(ran)
    assert not {"prepare:numbers", "prepare:one", "background:hill", "proof:hill"} & set(ran)
    assert reasons(project)["prepare:words"] == ["file changed: text/harbour.txt"]
    assert outputs(project) == clean_outputs(project, tmp_path)
    (project / "text/more.txt").write_text("漢", encoding="utf-8")
    done = run(project)
    assert done.returncode != 0
    assert "text/more.txt, line 1, column 1: '漢' (U+6F22) has no glyph in fonts/regular.ttf" in done.stdout + done.stderr
