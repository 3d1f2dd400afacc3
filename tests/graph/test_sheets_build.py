"""The worked example of sheets.md built: boxes found, kept, edited; its pictures; and what loading refuses of such keys."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.graph.plan import plan_project
from pipeline.plain import bounded
from pipeline.plain.bounded import open_regular
from pipeline.project.assets import Sheet
from pipeline.project.boxes import boxes_file
from pipeline.project.loading.load import load_project
from tests.graph.builds import ROOT, build, run
from tests.graph.looks import looks_of
from tests.makers import problems
from tests.recorded import differing

GUIDE = (ROOT / "pipeline/guide/sheets.md").read_text(encoding="utf-8")
PROJECT, FOUND = (block for block in re.findall(r"```toml\n(.*?)```", GUIDE, re.DOTALL) if "[game]" in block or block.startswith("join"))


def make_fair(folder: Path) -> Path:
    """Write the project of the guide; a juggler with a ball above the head, on magenta."""
    (folder / "art").mkdir(parents=True)
    picture = Image.new("RGB", (90, 40), (255, 0, 255))
    draw = ImageDraw.Draw(picture)
    for left, top, right in ((4, 6, 16), (30, 2, 42), (60, 6, 76)):
        draw.rectangle((left, 12, right - 1, 31), fill=(200, 60, 40))
        draw.rectangle((left + 4, top, left + 7, top + 3 if top > 2 else 8), fill=(40, 60, 200))
    picture.save(folder / "art/fair.png")
    (folder / "main.bin").write_bytes(b"\x60\xfe" * 8)
    (folder / "project.toml").write_text(PROJECT, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def fair(tmp_path_factory) -> Path:
    folder = make_fair(tmp_path_factory.mktemp("fair"))
    build(folder, "proofs", "report")
    return folder


def test_build_looks_as_it_was_looked_at(fair):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing("build with a sheet", looks_of(fair)) == set()


def test_the_guides_example_finds_what_the_guide_shows(fair):
    """The boxes file is the guide's; the facts say where the feet are; nothing of the magenta is left in the prepared frames."""
    text = (fair / "art/fair.boxes.toml").read_text()
    assert tomllib.loads(text) == tomllib.loads(FOUND)
    facts = json.loads((fair / "build/blobs/juggler.json").read_text())
    assert (facts["frames"], facts["width"], facts["height"]) == (3, 16, 30)
    assert facts["anchor"] == [8, 30]
    assert facts["wander"] == {"juggle": [0, 0]}
    pixels = np.fromfile(fair / "build/work/juggler.rgba", dtype=np.uint8).reshape(-1, 4)
    assert not ((pixels[:, 0] == 255) & (pixels[:, 2] == 255)).any()


def test_boxes_are_never_written_again(fair):
    """A build after the first makes the same bytes and leaves the file; an edited box makes other frames; a deleted file is found again."""
    file, blob = fair / "art/fair.boxes.toml", fair / "build/blobs/juggler.bin"
    text, first = file.read_text(), blob.read_bytes()
    build(fair, "proofs")
    assert (file.read_text(), blob.read_bytes()) == (text, first)
    assert build(fair, "proofs") == []
    file.write_text(text.replace("anchor = [68, 32]", "anchor = [62, 32]"))
    build(fair, "proofs")
    assert json.loads((fair / "build/blobs/juggler.json").read_text())["wander"] == {"juggle": [6, 0]}
    assert "anchor = [62, 32]" in file.read_text()
    file.unlink()
    build(fair, "proofs")
    assert (file.read_text(), blob.read_bytes()) == (text, first)


def test_names_of_boxes_are_read_once_per_start(tmp_path, monkeypatch):
    """What was checked is what is built: the check and the steps open the boxes file once in all, and it changes nothing in between."""
    folder = make_fair(tmp_path)
    boxes = [f'[[frame]]\nbox = [{left}, 2, 16, 30]\nname = "juggle_{rank}"\n' for rank, left in enumerate((4, 28, 60))]
    (folder / "art/fair.boxes.toml").write_text("".join(boxes))
    text = re.sub(r"frames = \[0, 1, 2\]", 'frames = "juggle_*"', (folder / "project.toml").read_text())
    assert "juggle_*" in text
    (folder / "project.toml").write_text(text)
    opened = []
    monkeypatch.setattr(bounded, "open_regular", lambda path: opened.append(path.name) or open_regular(path))
    plan = plan_project(load_project(folder))
    (step,) = (one for one in plan.steps if one.name == "sprite:juggler")
    assert step.arguments["files"] == ("juggle_0", "juggle_1", "juggle_2")
    assert opened.count("fair.boxes.toml") == 1


def test_the_onion_skin_shows_who_jumps(fair):
    """A proof with a cross in the alarm colour, in the report; its caption is drawn, so only the cross is looked for."""
    build(fair, "proofs", "report")
    shown = np.asarray(Image.open(fair / "build/proofs/juggler.onion.png").convert("RGB"))
    assert (shown == (255, 0, 255)).all(axis=-1).sum() > 15
    assert "juggler.onion.png" in (fair / "build/report.html").read_text() or "over one another" in (fair / "build/report.html").read_text()


def test_a_cut_is_refused_by_the_build_with_its_picture(tmp_path):
    """The picture is where the refusal says, and goes once the grid is right."""
    folder = make_fair(tmp_path / "fair")
    grid = PROJECT.replace('boxes = "found"', "columns = 5, rows = 1").replace('align = "anchors"\n', "")
    (folder / "project.toml").write_text(grid)
    said = run(folder, "prepare:juggler")
    assert said.returncode != 0
    assert "art/fair.png: is cut through opaque pixels: frame" in said.stdout
    assert (folder / "build/work/juggler.cuts.png").is_file()
    (folder / "project.toml").write_text(grid.replace("rows = 1", 'rows = 1, cut = "anyway"'))
    build(folder, "prepare:juggler")
    assert not (folder / "build/work/juggler.cuts.png").exists()


SHEET, ALIGN = 'sheet = { file = "art/fair.png", boxes = "found" }', 'align = "anchors"\n'


@pytest.mark.parametrize(
    ("was", "now", "where", "wrong"),
    [
        (SHEET, 'sheet = { file = "art/fair.png", columns = 3 }', "sheet", "neither rows nor frame given"),
        (SHEET, 'sheet = { file = "art/fair.png", columns = 3, boxes = "found" }', "sheet.boxes", "columns given as well"),
        (SHEET, 'sheet = { file = "art/fair.png", frame = [9, 9], join = 2 }', "sheet.join", "the frames of a grid are not joined"),
        (SHEET, 'sheet = { file = "art/fair.png", boxes = "art/no.toml" }', "sheet.boxes", "there is no file 'art/no.toml'"),
        ('key = "#ff00ff"\n', "tolerance = 3\n", "tolerance", "there is no key colour"),
        ('key = "#ff00ff"\n', "key = []\n", "key", "an empty list"),
        ('key = "#ff00ff"\n', 'key = "magenta"\n', "key", "magenta"),
        (ALIGN, 'align = "anchors"\nanchor = [1, 2]\n', "anchor", "is one point"),
        (ALIGN, 'anchor = "feet"\n', "anchor", "gives each frame its own anchor"),
        (ALIGN, 'marker = "#ff0000"\n', "marker", "gives each frame its own anchor"),
        (SHEET, 'sheet = { file = "art/fair.png", frame = [9, 9] }', "align", "nothing says where the anchors are"),
    ],
)
def test_keys_that_do_not_agree_are_refused(tmp_path, was, now, where, wrong):
    """With the key at fault."""
    folder = make_fair(tmp_path / "fair")
    assert was in PROJECT
    (folder / "project.toml").write_text(PROJECT.replace(was, now))
    key = where.rpartition(".")[2]
    assert [said for said in problems(folder) if key in said.split(":")[0] and wrong in said]


def test_sprites_that_find_one_sheets_figures_agree(tmp_path):
    """Whichever is built first would decide; once the file is there it does."""
    folder = make_fair(tmp_path / "fair")
    other = f'[sprite.other]\n{SHEET}\nkey = "#ff00ff"\nalpha = 9\nalign = "anchors"\npalette = "figures"\n'
    (folder / "project.toml").write_text(PROJECT + other)
    [said] = problems(folder)
    assert "figures are found for juggler too, with another alpha, and both would write art/fair.boxes.toml" in said
    (folder / "art/fair.boxes.toml").write_text(FOUND)
    assert problems(folder) == []


def test_names_in_the_boxes_file_are_matched_by_patterns(tmp_path):
    """Where the file is there; before it is, numbers are asked for. A damaged file is refused when the project is loaded."""
    folder = make_fair(tmp_path / "fair")
    (folder / "project.toml").write_text(PROJECT.replace("frames = [0, 1, 2]", 'frames = "throw_*"'))
    [said] = problems(folder)
    assert "'throw_*' is a pattern over names of frames" in said
    named = iter(("throw_0", "rest", "throw_1"))
    file = folder / "art/fair.boxes.toml"
    file.write_text(re.sub(r"\[\[frame\]\]", lambda _: f'[[frame]]\nname = "{next(named)}"', FOUND))
    build(folder, "sprite:juggler")
    facts = json.loads((folder / "build/blobs/juggler.json").read_text())
    assert [frame for frame, _ in facts["animations"][0]["steps"]] == [0, 2]
    file.write_text(file.read_text().replace("throw", "toss"))
    assert "no frame matches 'throw_*'" in problems(folder)[0]
    file.write_text("[[frame]]\nbox = 3\n")
    assert problems(folder)[0].startswith("art/fair.boxes.toml, line 2, [[frame]] number 1 box")


def test_boxes_file_is_beside_its_sheet():
    """For any ending; a name is taken as it is."""
    assert boxes_file(Sheet(file="art/a.b.png", boxes="found")) == "art/a.b.boxes.toml"
    assert boxes_file(Sheet(file="art/a.png", boxes="x.toml")) == "x.toml"
    assert boxes_file(Sheet(file="art/a.png", columns=1, rows=1)) is None
