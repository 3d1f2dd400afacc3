"""A pool of cells for several sprites, through whole builds: shared, verified, built again as little as can be, counted once."""

from __future__ import annotations

import json
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from pipeline.assets.sprites.cut import cut_sprite
from pipeline.joints.layouts import PIECED, POOL, record_bytes
from pipeline.joints.places import cut_files, facts_file, frame_files
from pipeline.joints.views import PaletteView
from pipeline.project.loading.load import load_project
from pipeline.reading.decoded import BlobFault, read_record
from pipeline.reading.verify import verify_image
from pipeline.target.alignment import align
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import picture_rules
from tests.assets.test_arrangements_random import prepare
from tests.conftest import some, tries
from tests.graph.builds import build, clean_outputs, draw_frame, for_target, make_project, outputs, reasons
from tests.graph.looks import looks_of
from tests.makers import TARGETS, as_map, build_here, problems
from tests.reading.decoding import decode_blob
from tests.reading.test_verify import faults_of_blob
from tests.recorded import differing

POOLED = '[defaults.sprite]\narrangement = "pieces"\npool = "crew"\n'


def pooled_project(folder: Path, target: str = "basalt32") -> Path:
    """The small project with both sprites' cells in one pool; the second sprite is a figure of the first one's colour."""
    project = for_target(make_project(folder), target)
    for rank in range(4):
        draw_frame(project / f"art/two/f{rank}.png", (200, 60, 40, 255), 3 - rank)
    change(project, "[defaults.sprite]\n", POOLED)
    change(project, "[palette.figures]", "[pool.crew]\norigin = \"Drawn for this test.\"\n[palette.figures]")
    return project


def change(project: Path, old: str, new: str) -> None:
    """Exchange the first of some words of the project file."""
    path = project / "project.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def made(request, tmp_path_factory):
    """The small project with a pool, built and verified for each shipped target, with proofs and report."""
    folder = pooled_project(tmp_path_factory.mktemp("pool") / request.param, request.param)
    return build_here(folder, "verify", "proofs", "report", "include")


def test_build_looks_as_it_was_looked_at(made):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing(f"build with a pool, {made.project.spec.game.target}", looks_of(made.project.folder)) == set()


def blob_of(made, name: str) -> bytes:
    """Return an asset's bytes in the image."""
    entry = next(one for one in made.map["entries"] if one["name"] == name)
    return made.image[entry["offset"] : entry["offset"] + entry["bytes"]]


def test_pool_is_an_asset_like_others(made):
    """It is in the map where sprites may be, its record says what its facts say, and sprites name it and hold no pixel."""
    target = made.project.target
    entry = next(one for one in made.map["entries"] if one["name"] == "crew")
    assert entry["kind"] == "pool"
    assert entry["offset"] % align(target, "sprite") == 0
    facts, pool = made.facts["crew"], decode_blob("pool", blob_of(made, "crew"), target)
    assert (facts.origin, facts.users) == ("Drawn for this test.", ["one", "two"])
    assert pool.head["cell_count"] == facts.cell_count == len(pool.pixels)
    for name in ("one", "two"):
        head = read_record(PIECED, blob_of(made, name), 0, target.byte_order)
        assert (head["cell_count"], head["pixels"], head["clear"]) == (facts.cell_count, 0, pool.head["clear"])
        constants = (made.project.folder / "build/include/assets.h").read_text()
        assert f"#define CREW_HASH {head['pool']:#x}" in constants.lower().replace("crew_hash", "CREW_HASH")
    assert f"#define CREW_CELL_COUNT {facts.cell_count} " in constants
    assert "#define ASSET_KIND_POOL 8" in constants


def test_equal_figures_share_all_their_cells(made):
    """The second sprite is the first one's frames in another order: it adds pieces but no cell."""
    facts = made.facts
    assert facts["crew"].cell_count == facts["one"].stored.own_cells == facts["two"].stored.own_cells
    assert facts["crew"].pieces == facts["one"].stored.pieces + facts["two"].stored.pieces


def test_report_tells_what_the_pool_saves(made):
    """Bytes of pool and tables against those of sheets: four frames of 24 x 32 x 0.77, in whole cells, twice."""
    target, facts = made.project.target, made.facts
    across, down = (-(-side // cell) * cell for side, cell in ((24 * 0.77, target.cells.width), (32 * 0.77, target.cells.height)))
    sheets = 8 * int(across * down) * target.pixel_formats[target.screen.pixels].pixel.width // 8
    assert facts["crew"].sheet_bytes == sheets
    taken = sum(facts[name].bytes for name in ("one", "two", "crew")) / sheets
    page = (made.project.folder / "build/report.html").read_text()
    line = f"{facts['crew'].cell_count} cells for {facts['crew'].pieces} pieces of one, two; with their tables {taken:.0%} of"
    assert line in page
    assert f"{facts['one'].stored.pieces} pieces of {facts['one'].stored.own_cells} cells in the pool crew" in page


@pytest.mark.parametrize("name", TARGETS)
def test_mirror_image_costs_no_cell_where_the_console_mirrors(name, tmp_path):
    """A second sprite that is the first one mirrored, no frame of it alike unmirrored."""
    project = pooled_project(tmp_path / name, name)
    for rank in range(4):
        draw_hole(project / f"art/one/f{rank}.png", rank)
        with Image.open(project / f"art/one/f{rank}.png") as picture:
            ImageOps.mirror(picture).save(project / f"art/two/f{rank}.png")
    change(project, "scale = 0.77", "scale = 1.0")
    made = build_here(project)
    own, both = made.facts["one"].stored.own_cells, made.facts["crew"].cell_count
    assert both == own if made.project.target.sprites.flip_x else both > own


def test_flipped_bit_of_a_cell_is_found(made):
    """One wrong pixel in the pool, with every sum made for it, is reported for the pool; if all are wrong, of its sprites too."""
    blob = bytearray(blob_of(made, "crew"))
    pixels_at = decode_blob("pool", bytes(blob), made.project.target).head["pixels"]
    wrong = "its pixels are not the converted ones"
    for at in (pixels_at, len(blob) - 1):
        for bit in (0x01, 0x80):
            harmed = bytearray(blob)
            harmed[at] ^= bit
            assert f"crew: {wrong}" in faults_of_blob(made, "crew", bytes(harmed))
    harmed = blob[:pixels_at] + bytes(byte ^ 0xFF for byte in blob[pixels_at:])
    assert {f"{name}: {wrong}" for name in ("crew", "one", "two")} == set(faults_of_blob(made, "crew", bytes(harmed)))


@pytest.mark.parametrize("part", ["pixel_format", "clear", "cell_count"])
def test_pool_whose_record_is_not_the_sprites_is_found(made, part):
    """A pool that says another format, clear pixel or number of cells than the sprites is reported for each of them."""
    at = sum(one.bytes for one in POOL[: [one.name for one in POOL].index(part)])
    width = next(one.bytes for one in POOL if one.name == part)
    blob, order = blob_of(made, "crew"), made.project.target.byte_order
    number = int.from_bytes(blob[at : at + width], order) + (-1 if part == "cell_count" else 1)
    harmed = blob[:at] + number.to_bytes(width, order) + blob[at + width :]
    found = faults_of_blob(made, "crew", harmed)
    assert any(one.startswith("one") for one in found), found
    assert any(one.startswith("crew") for one in found), found


def test_piece_that_leaves_the_pool_and_pool_that_is_not_there(made):
    """A sprite's cell number is checked against the pool; without the pool nothing can be decoded."""
    target, blob = made.project.target, blob_of(made, "one")
    head = read_record(PIECED, blob, 0, target.byte_order)
    at = head["pieces"] + 4
    harmed = blob[:at] + b"\xff\xff" + blob[at + 2 :]
    found = faults_of_blob(made, "one", harmed)
    assert found == [f"one does not decode: piece 0 uses cell 65535 of {head['cell_count']}, mirrored 0"]
    with pytest.raises(BlobFault, match="its cells are in a pool of name hash 0x"):
        decode_blob("sprite", blob, target)
    gone = {**made.map, "entries": [one for one in made.map["entries"] if one["name"] != "crew"]}
    assert any("which is not there" in one for one in verify_image(made.image, target, as_map(gone), made.facts, {}))


@pytest.mark.parametrize("length", [0, 7, record_bytes(POOL) - 1, -1])
def test_pool_cut_anywhere_is_a_fault(made, length):
    """A pool that ends too early is reported and nothing else is raised."""
    with pytest.raises(BlobFault):
        decode_blob("pool", blob_of(made, "crew")[:length], made.project.target)


def test_sprites_in_a_pool_are_those_of_their_own_cells(tmp_path):
    """The same frames, anchors and animations come out of the image with and without a pool."""
    pooled = build_here(pooled_project(tmp_path / "pooled"), "verify", "proofs")
    proofs = {name: (pooled.project.folder / f"build/proofs/{name}.png").read_bytes() for name in ("one", "two")}
    change(pooled.project.folder, 'pool = "crew"\n', "")
    change(pooled.project.folder, "[pool.crew]\norigin = \"Drawn for this test.\"\n", "")
    alone = build_here(pooled.project.folder, "verify", "proofs")
    target = alone.project.target
    pool = decode_blob("pool", blob_of(pooled, "crew"), target)
    for name in ("one", "two"):
        shared = decode_blob("sprite", blob_of(pooled, name), target, lambda _: pool)
        own = decode_blob("sprite", blob_of(alone, name), target)
        assert np.array_equal(shared.pixels, own.pixels)
        assert shared.animations == own.animations
        assert pooled.facts[name].intent == alone.facts[name].intent
        assert proofs[name] == (alone.project.folder / f"build/proofs/{name}.png").read_bytes()
    both = [sum(built.facts[name].bytes for name in built.facts if name in ("one", "two", "crew")) for built in (pooled, alone)]
    assert both[0] < both[1]


def test_change_of_one_sprite_leaves_the_other_alone(tmp_path):
    """A moved figure cuts its own sprite, makes the pool and its own tables; a new cell changes the other sprite's tables too."""
    project = pooled_project(tmp_path / "project")
    build(project)
    cuts = {"prepare:one", "cut:one", "pool:crew", "sprite:one"}

    draw_frame(project / "art/one/f2.png", (200, 60, 40, 255), 8)
    ran = set(build(project))
    assert cuts <= ran, reasons(project)
    assert not {"prepare:two", "cut:two", "sprite:two", "proof:two"} & ran
    assert outputs(project) == clean_outputs(project, tmp_path)

    change(project, "ms = 80", "ms = 120")
    ran = set(build(project))
    assert "sprite:one" in ran
    assert not {"cut:one", "pool:crew", "sprite:two"} & ran

    draw_hole(project / "art/one/f3.png", 3)
    ran = set(build(project))
    assert cuts | {"sprite:two"} <= ran
    assert not {"prepare:two", "cut:two"} & ran
    assert reasons(project)["sprite:two"] == ["file changed: build/work/two.index"]
    assert outputs(project) == clean_outputs(project, tmp_path)


def draw_hole(path: Path, rank: int) -> None:
    """Draw a frame of the figure with a clear spot, not in its middle."""
    draw_frame(path, (200, 60, 40, 255), rank)
    with Image.open(path) as picture:
        picture = picture.copy()
    picture.paste((0, 0, 0, 0), (8, 8, 12, 12))
    picture.save(path)


def test_scene_with_two_sprites_holds_their_pool_once(tmp_path):
    """A scene that names no pool needs the one its sprites use, once; each asset rounded up to 32 here."""
    project = pooled_project(tmp_path / "project")
    build(project, "budget")
    scene = json.loads((project / "build/budget.json").read_bytes())["scenes"]["play"]
    assert {"one", "two", "crew"} <= set(scene["parts"][0]["assets"])
    target = load_project(project).target
    sizes = {name: json.loads((project / f"build/blobs/{name}.json").read_bytes())["bytes"] for name in scene["parts"][0]["assets"]}
    assert (target.memory.granularity, align(target, "pool")) == (32, 32)
    assert scene["parts"][0]["bytes"] == sum(-(-size // 32) * 32 for size in sizes.values())


def test_memory_does_not_grow_with_frames_that_bring_no_cell(tmp_path):
    """Cutting 45 frames takes, at its peak, little more than cutting 30 of them; 15 more would be 576,000 bytes."""
    target = load_target(SHIPPED / "basalt32.toml")
    rules, colours = picture_rules(target, "index8"), np.array([[0, 0, 0], [255, 0, 0]])
    figure = np.pad(np.ones((1, 40, 40), np.uint8), ((0, 0), (40, 40), (20, 20)))

    def peak(count: int) -> int:
        prepare(tmp_path, "many", np.tile(figure, (count, 1, 1)), colours)
        given = frame_files(tmp_path, "many"), PaletteView(facts_file(tmp_path, "colours")), cut_files(tmp_path, "many")
        tracemalloc.start()
        cut_sprite(*given, "many", "none", rules, (False, False))
        found = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return found

    peak(2)  # what is kept for good is made now
    assert peak(tries(45, 160)) - peak(tries(30, 60)) < 100 * 1000


# What cannot be, word for word.

ONE, TWO = "[sprite.one]\n", "[sprite.two]\n"
REFUSED = [
    (
        [("[pool.crew]", "[pool.crew]\n[pool.spare]")],
        "line 25, [pool.spare]: no sprite uses it\n    name it in a sprite in pieces, or remove it",
    ),
    (
        [(TWO, TWO + 'pool = "crwe"\n')],
        "line 23, [sprite.two] pool: there is no pool 'crwe'\n    did you mean crew?",
    ),
    (
        [(TWO, TWO + 'pool = "other"\n')],
        "line 23, [sprite.two] pool: there is no pool 'other'\n    add a [pool.NAME] table and name it here",
    ),
    (
        [(TWO, TWO + 'arrangement = "frames"\n')],
        "line 22, [sprite.two] pool: arrangement 'frames' has no cells that a pool could hold\n"
        "    set arrangement = \"pieces\", or pool = \"\"",
    ),
    (
        [(TWO, TWO + 'pixels = "index4"\n')],
        "line 22, [sprite.two] pool: 'crew' would hold index4 pixels from 0 of 'two' and index8 pixels from 0 of 'one'\n"
        "    give both one pixel format, and palettes that begin at the same pixel value; or use two pools",
    ),
    (
        [(TWO, TWO + 'palette = "twos"\n'), ("[palette.figures]", "[palette.twos]\nfirst = 64\ntransparent = true\n[palette.figures]")],
        "line 22, [sprite.two] pool: 'crew' would hold index8 pixels from 64 of 'two' and index8 pixels from 0 of 'one'\n"
        "    give both one pixel format, and palettes that begin at the same pixel value; or use two pools",
    ),
    (
        [("[pool.crew]\n", "[pool.crew]\nalignment = 16\n")],
        "line 25, [pool.crew] alignment: 16 is less than the target demands\n    use 32 or more, or leave it out",
    ),
]


@pytest.mark.parametrize(("changes", "said"), REFUSED, ids=["unused", "near", "unknown", "frames", "format", "base", "alignment"])
def test_what_cannot_share_is_refused(tmp_path, changes, said):
    """Each refusal names the sprite or pool, what is wrong and what to do."""
    project = pooled_project(tmp_path / "project")
    for old, new in changes:
        change(project, old, new)
    assert problems(project) == [f"project.toml, {said}"]


def test_one_sprite_may_keep_its_own_cells(tmp_path):
    """An empty name takes a sprite out of the pool of the defaults."""
    project = pooled_project(tmp_path / "project")
    change(project, TWO, TWO + 'pool = ""\n')
    made = build_here(project)
    assert made.facts["crew"].users == ["one"]
    assert made.facts["two"].stored.pool is None
