"""Levels of a background's tiles: numbers checked against the set, and pictures whose cells are looked up in it, mirrored ones too."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.graph.steps.assets import makers
from pipeline.joints.facts import LevelFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.questions.trial import Trials
from tests.makers import make_project, run_steps
from tests.reading.decoding import decode_blob

SET = """
[background.blocks]
file = "art/blocks.png"
palette = "block_colours"
arrangement = "tiles"
tile = [8, 8]
map_entry = "HVtttttttttttttt"
KEYS
[palette.block_colours]
colours = 16
first = 32
"""
COLOURS = [(200, 40, 40), (40, 200, 40), (40, 40, 200), (220, 220, 40), (20, 20, 20), (240, 240, 240)]


def blocks(count: int = 6, seed: int = 1) -> list[np.ndarray]:
    """Return tiles of 8 x 8 without any symmetry, no one the mirror image of another: uint8, shape (8, 8, 3)."""
    chance = random.Random(seed)
    return [np.array([[COLOURS[chance.randrange(6)] for _ in range(8)] for _ in range(8)], dtype=np.uint8) for _ in range(count)]


def joined(rows: list[list[np.ndarray]]) -> Image.Image:
    """Return a picture of tiles."""
    return Image.fromarray(np.concatenate([np.concatenate(row, axis=1) for row in rows]))


def project_of(folder: Path, level: str, keys: str = "", entry: str = "HVtttttttttttttt", target: str = "basalt32") -> Path:
    """Return a project with a set of six tiles, two of them twice, once mirrored, and a level."""
    tiles = blocks()
    text = SET.replace("KEYS", keys).replace("HVtttttttttttttt", entry)
    make_project(folder, more=f'{text}[level.cave]\nset = "blocks"\n{level}\n', target=target)
    joined([[*tiles[:4]], [tiles[1][:, ::-1], tiles[4], tiles[5], tiles[0]]]).save(folder / "art/blocks.png")
    return folder


def cells_of(folder: Path) -> list[list[int]]:
    """Convert and return the level's numbers, as the image's own reader finds them."""
    project = load_project(folder)
    run_steps(project, "level:cave")
    return decode_blob("level", (folder / "build/blobs/cave.bin").read_bytes(), project.target).cells.tolist()


def refused(folder: Path) -> str:
    """Return why the level cannot be converted."""
    with pytest.raises(ProjectError) as caught:
        run_steps(load_project(folder), "level:cave")
    return str(caught.value)


def test_picture_becomes_the_numbers_of_its_tiles(tmp_path):
    """Each number, and how it is mirrored, shows the cell again: tiles are taken from the background's blob by the image's reader."""
    folder = project_of(tmp_path / "p", 'picture = "cave.png"\ncell_bytes = 2')
    tiles, chance = blocks(), random.Random(2)
    rows = [[(chance.randrange(6), chance.randrange(4)) for _ in range(9)] for _ in range(5)]
    drawn = [[tiles[number][:: -1 if flip & 2 else 1, :: -1 if flip & 1 else 1] for number, flip in row] for row in rows]
    joined(drawn).save(folder / "cave.png")
    assert cells_of(folder) == [[number + 0x4000 * flip for number, flip in row] for row in rows]
    run_steps(load_project(folder), "verify", "proof:cave")
    facts = read_facts(facts_file(folder / "build/blobs", "cave"), LevelFacts)
    assert (facts.set, facts.least, facts.most) == ("blocks", 0, 5 + 0xC000)


def test_cells_of_one_byte_hold_no_mirrored_tile(tmp_path):
    """The same picture: where a tile is mirrored there is no number for it, and its place is named."""
    folder = project_of(tmp_path / "p", 'picture = "cave.png"')
    tiles = blocks()
    joined([[tiles[3], tiles[5]], [tiles[0], tiles[1]]]).save(folder / "cave.png")
    assert cells_of(folder) == [[3, 5], [0, 1]]
    joined([[tiles[3], tiles[5]], [tiles[0][::-1], tiles[1]]]).save(folder / "cave.png")
    found = refused(folder)
    assert found.startswith("cave.png, row 2, column 1: is not one of the tiles of blocks (pixels 0, 8 and on)\n    draw it with a tile")
    assert found.count("is not one") == 1


def test_a_console_that_mirrors_nothing_finds_no_mirrored_tile(tmp_path):
    """Without H and V in the map entry a mirrored cell of the set is a tile of its own."""
    folder = project_of(tmp_path / "p", 'picture = "cave.png"\ncell_bytes = 2', entry="xxtttttttttttttt")
    tiles = blocks()
    joined([[tiles[1][:, ::-1], tiles[1], tiles[5]]]).save(folder / "cave.png")
    assert cells_of(folder) == [[4, 1, 6]]
    joined([[tiles[2][:, ::-1]]]).save(folder / "cave.png")
    assert "row 1, column 1: is not one of the tiles of blocks" in refused(folder)


def test_a_pixel_that_differs_is_another_tile(tmp_path):
    """Up to twenty cells are named."""
    folder = project_of(tmp_path / "p", 'picture = "cave.png"')
    tile = blocks()[2].copy()
    tile[7, 0] = 255 - tile[7, 0]
    joined([[tile] * 30]).save(folder / "cave.png")
    assert refused(folder).count("is not one of the tiles") == 20


@pytest.mark.parametrize(
    ("level", "said"),
    [
        ('picture = "cave.png"\nbounds = [0, 4]', "cave.png, row 1, column 2: shows tile 5, not in 0 to 4"),
        ('picture = "odd.png"', "odd.png: 17 x 8 pixels are not whole tiles of 8 x 8"),
        ('file = "cave.csv"', "cave.csv, row 2, column 1: 6 is not one of the 6 tiles of blocks\n    use numbers from 0 to 5"),
        ('file = "cave.csv"\ncell_bytes = 2', "use numbers from 0 to 5, and 16384 or 32768 more for mirrored tiles"),
    ],
)
def test_what_is_not_in_the_set_is_refused_with_its_place(tmp_path, level, said):
    """File, row and column, and what to do. Common practice, no source."""
    folder = project_of(tmp_path / "p", level)
    joined([[blocks()[3], blocks()[5]]]).save(folder / "cave.png")
    Image.new("RGB", (17, 8)).save(folder / "odd.png")
    (folder / "cave.csv").write_text("0,5\n6,1\n")
    assert said in refused(folder)


def test_numbers_of_a_text_are_checked_against_the_set(tmp_path):
    """Mirrored ones only where a cell has two bytes and the console can."""
    folder = project_of(tmp_path / "a", 'file = "cave.csv"\ncell_bytes = 2')
    (folder / "cave.csv").write_text(f"0,5\n{5 + 0xC000},{1 + 0x4000}\n")
    assert cells_of(folder) == [[0, 5], [5 + 0xC000, 1 + 0x4000]]
    folder = project_of(tmp_path / "b", 'file = "cave.csv"\ncell_bytes = 2', entry="xxtttttttttttttt")
    (folder / "cave.csv").write_text(f"0,6\n{5 + 0x4000},1\n")
    assert f"{5 + 0x4000} is not one of the 7 tiles of blocks\n    use numbers from 0 to 6" in refused(folder)
    (folder / "cave.csv").write_text("0,6\n")
    assert cells_of(folder) == [[0, 6]]
    assert read_facts(facts_file(folder / "build/blobs", "cave"), LevelFacts).most == 6


@pytest.mark.parametrize(
    ("level", "keys", "said"),
    [
        ("", "", "has neither file nor picture"),
        ('file = "cave.csv"\npicture = "cave.png"', "", "has both file and picture"),
        ('picture = "gone.png"', "", "there is no file 'gone.png'"),
        ('picture = "cave.png"', 'arrangement = "bitmap"', "'blocks' is a bitmap and has no tiles"),
        ('picture = "cave.png"', "NAME", "there is no background or sprite 'blocs'\n    did you mean blocks?"),
        ('picture = "cave.png"', "NONE", "is missing: the background or sprite whose tiles or frames the picture shows"),
    ],
)
def test_keys_that_cannot_be_are_refused(tmp_path, level, keys, said):
    """With the line of the project file. Common practice, no source."""
    folder = project_of(tmp_path / "p", level)
    joined([[blocks()[3]]]).save(folder / "cave.png")
    (folder / "cave.csv").write_text("1\n")
    text = (folder / "project.toml").read_text()
    text = text.replace('arrangement = "tiles"', keys) if keys.startswith("arr") else text
    text = text.replace('set = "blocks"', {"NAME": 'set = "blocs"', "NONE": ""}.get(keys, 'set = "blocks"'))
    (folder / "project.toml").write_text(text)
    with pytest.raises(ProjectError) as caught:
        load_project(folder)
    assert said in str(caught.value)


FRAMES = """
[sprite.stones]
frames = "art/stones/*.png"
scale = 1
palette = "figures"
arrangement = "ARRANGEMENT"
KEYS
"""


def stones(folder: Path, level: str, arrangement: str = "sheet", keys: str = "") -> list[np.ndarray]:
    """Make a project with a set of five frames of 12 x 10, the last as the second, and a level; return the frames: uint8, (10, 12, 4)."""
    chance, frames = random.Random(7), []
    for _ in range(4):
        frame = np.array([[[*COLOURS[chance.randrange(6)], 255] for _ in range(12)] for _ in range(10)], dtype=np.uint8)
        frame[0, :5] = 0
        frames.append(frame)
    frames.append(frames[1])
    text = FRAMES.replace("ARRANGEMENT", arrangement).replace("KEYS", keys)
    make_project(folder, more=f'{text}[level.cave]\nset = "stones"\n{level}\n')
    (folder / "art/stones").mkdir()
    for rank, frame in enumerate(frames):
        Image.fromarray(frame).save(folder / f"art/stones/walk_{rank}.png")
    return frames


@pytest.mark.parametrize("arrangement", ["sheet", "pieces", "frames"])
def test_frames_of_a_sprite_are_tiles_too(tmp_path, arrangement):
    """Looked for as drawn, whatever hardware makes of them; of equal frames the first counts, and none is mirrored."""
    frames = stones(tmp_path / "p", 'picture = "cave.png"\ncell_bytes = 2', arrangement)
    joined([[frames[3], frames[1]], [frames[0], frames[4]]]).save(tmp_path / "p/cave.png")
    assert cells_of(tmp_path / "p") == [[3, 1], [0, 1]]
    facts = read_facts(facts_file(tmp_path / "p/build/blobs", "cave"), LevelFacts)
    assert (facts.set, facts.least, facts.most) == ("stones", 0, 4)
    faint = frames[2].copy()
    faint[0, 0] = (1, 2, 3, 100)  # less opaque than the sprite's alpha of 128: clear
    faint[5, 5, 3] = 200
    joined([[faint, frames[2][:, ::-1]]]).save(tmp_path / "p/cave.png")
    said = refused(tmp_path / "p")
    assert said.startswith("cave.png, row 1, column 2: is not one of the tiles of stones (pixels 12, 0 and on)")
    assert said.count("is not one") == 1


def test_frames_as_scaled_are_the_tiles(tmp_path):
    """At half the size a picture is drawn with the frames as the console has them."""
    frames = stones(tmp_path / "p", 'picture = "cave.png"', keys='resample = "nearest"')
    text = (tmp_path / "p/project.toml").read_text()
    (tmp_path / "p/project.toml").write_text(text.replace("scale = 1\n", "scale = 0.5\n"))
    joined([[frames[0]]]).save(tmp_path / "p/cave.png")
    run_steps(load_project(tmp_path / "p"), "prepare:stones")
    small = np.fromfile(tmp_path / "p/build/work/stones.rgba", dtype=np.uint8).reshape(len(frames), 5, 6, 4)
    joined([[small[2], small[0]]]).save(tmp_path / "p/cave.png")
    assert cells_of(tmp_path / "p") == [[2, 0]]


def test_numbers_of_a_text_are_checked_against_frames(tmp_path):
    """Five frames are counted from 0 to 4."""
    stones(tmp_path / "p", 'file = "cave.csv"\ncell_bytes = 2')
    (tmp_path / "p/cave.csv").write_text("0,5\n")
    assert "5 is not one of the 5 tiles of stones\n    use numbers from 0 to 4\n" in refused(tmp_path / "p") + "\n"
    (tmp_path / "p/cave.csv").write_text("0,4\n")
    assert cells_of(tmp_path / "p") == [[0, 4]]


def test_merged_tiles_are_no_set_for_a_picture(tmp_path):
    """Their art does not show them."""
    folder = project_of(tmp_path / "p", 'picture = "cave.png"', "merge = true\ntiles_at_most = 4")
    joined([[blocks()[3]]]).save(folder / "cave.png")
    assert "[level.cave] set: the tiles of blocks were merged" in refused(folder)


def test_trials_make_the_same_level(tmp_path):
    """A question that tries other settings of another asset comes to the same bytes."""
    folder = project_of(tmp_path / "p", 'picture = "cave.png"')
    joined([[blocks()[3]]]).save(folder / "cave.png")
    project = load_project(folder)
    run_steps(project, "level:cave", "sprite:ada")
    ada = project.assets["ada"]
    with Trials(project, folder / "build/.state/trials", makers(late=False)) as trials:
        assert trials.change([ada]).facts("cave") == read_facts(facts_file(folder / "build/blobs", "cave"))
        assert trials.ran == []
