"""What a font's table may say: keys of the right source, characters asked for, palettes and formats that fit."""

from __future__ import annotations

import shutil

import pytest
from PIL import Image

from pipeline.plain.shipped import MONO
from pipeline.project.loading.load import load_project
from tests.makers import make_project, problems, project_text, write_text

TABLE = '[font.small]\nfile = "fonts/a.ttf"\nsize = 10\ncharacters = "ABC"\npalette = "figures"\n'


@pytest.fixture
def folder(tmp_path):
    """A project folder with a font, a strip of two letters, and two texts."""
    folder = make_project(tmp_path / "project")
    (folder / "fonts").mkdir()
    (folder / "text").mkdir()
    shutil.copy(MONO, folder / "fonts/a.ttf")
    Image.new("RGBA", (16, 8)).save(folder / "fonts/a.png")
    (folder / "text/a.txt").write_text("abc")
    (folder / "text/b.txt").write_text("def")
    return folder


def said(folder, *lines: str, start: str = TABLE, **changed: str) -> list[str]:
    """Return what loading says of the font's table with keys changed (None leaves one out) and lines added."""
    keys = dict(line.split(" = ", 1) for line in start.splitlines()[1:])
    keys.update(changed)
    rows = ["[font.small]", *(f"{key} = {value}" for key, value in keys.items() if value is not None), *lines]
    write_text(folder, project_text(more="\n".join(rows) + "\n"))
    found = problems(folder)
    assert all(one.startswith("project.toml, line ") for one in found)
    return [one.partition("[font.small]")[2].strip() for one in found]


STRIP_KEYS = ("cell", "order", "gap", "space", "baseline")
STRIP = '[font.small]\nfile = "fonts/a.png"\ncell = [8, 8]\norder = "AB"\npalette = "figures"\n'


def test_right_tables_are_taken(folder):
    """A font file and a strip, with every key that belongs to them."""
    assert said(folder) == []
    assert said(folder, texts='["text/*.txt", "text/a.txt"]', colour='"#ff8800"', spacing='"fixed"', box="[8, 16]") == []
    files = load_project(folder).assets["small"].files
    assert files == ("fonts/a.ttf", "text/a.txt", "text/b.txt")
    more = {"gap": "0", "space": "4", "baseline": "7", "line_height": "10", "alpha": "1", "characters": '"B"'}
    assert said(folder, start=STRIP, **more) == []
    assert [asset.name for asset in load_project(folder).users_of("figures")] == ["ada", "small"]


@pytest.mark.parametrize(
    ("start", "changed", "expected"),
    [
        (TABLE, {"size": None}, ["size: is missing: the size to draw the font at\n    add it, for example: size = 10"]),
        (
            TABLE,
            {"characters": None},
            [
                "characters: is missing: which characters the game needs\n"
                "    list characters, or the game's text files under texts; or name the font in a [text.NAME]"
            ],
        ),
        (
            TABLE,
            {"cell": "[8, 8]", "order": '"AB"', "gap": "0", "space": "0", "baseline": "0"},
            [f"{key}: is for a strip of letters, this is a font file\n    leave it out" for key in STRIP_KEYS],
        ),
        (
            TABLE,
            {"file": '"main.bin"'},
            [
                "file: 'main.bin' has the ending of neither a font nor a picture\n"
                "    name a font (.ttf, .otf) or a picture of letters (.png, .gif, .bmp and others)"
            ],
        ),
        (TABLE, {"file": '"fonts/b.ttf"'}, ["file: there is no file 'fonts/b.ttf'\n    did you mean a.ttf?"]),
        (
            TABLE,
            {"texts": '["text/*.md"]'},
            ["texts[0]: no file matches 'text/*.md'\n    check the pattern; it starts at the project folder"],
        ),
        (TABLE, {"size": "3"}, ["size: expected a whole number, 4 to 256, saw 3\n    write a whole number, 4 to 256"]),
        (TABLE, {"colour": '"white"'}, ["colour: expected text, a colour such as #ff8800, saw 'white'\n    for example: \"#ff8800\""]),
        (
            STRIP,
            {"size": "10", "colour": '"#ffffff"'},
            [f"{key}: is for a font file, this is a strip of letters\n    leave it out" for key in ("size", "colour")],
        ),
        (
            STRIP,
            {"spacing": '"fixed"', "gap": "1", "space": "2"},
            [f"{key}: is for proportional spacing, this is fixed\n    leave it out" for key in ("gap", "space")],
        ),
        (
            STRIP,
            {"cell": None, "order": None},
            [
                "cell: is missing: the size of one letter's cell\n    add it, for example: cell = [8, 8]",
                "order: is missing: the strip's characters in reading order\n    add it, for example: order = \"ABC\"",
            ],
        ),
        (
            STRIP,
            {"order": '"""\nAB\nBA"""'},
            [
                "order: 'AB' occur twice\n"
                "    name each cell's character once; for a cell that is not used take one no text needs"
            ],
        ),
        (STRIP, {"baseline": "9"}, ["baseline: 9 lies below the cell's 8 rows\n    count from the cell's top"]),
        (
            TABLE,
            {"palette": '"quay_colours"'},
            ["palette: 'quay_colours' keeps no entry for transparent pixels\n    set transparent = true in that palette"],
        ),
        (
            TABLE,
            {"palette": None, "pixels": '"direct15"', "alignment": "3"},
            ["alignment: 3 is not a power of two\n    use 1, 2, 4, 8, ..."],
        ),
    ],
)
def test_refusal(folder, start, changed, expected):
    """Word for word; all problems of one table are reported."""
    assert said(folder, start=start, **changed) == expected


def test_box_of_cells_is_whole_cells(tmp_path):
    """Where pixels are stored cell by cell; elsewhere any box will do."""
    folder = make_project(tmp_path / "project", target="lattice16")
    shutil.copy(MONO, folder / "a.ttf")
    table = '[font.small]\nfile = "a.ttf"\nsize = 10\ncharacters = "ABC"\npalette = "figures"\nbox = [8, 12]\n'
    write_text(folder, project_text(target="lattice16", more=table))
    (problem,) = problems(folder)
    assert problem.endswith("[font.small] box: 8 x 12 pixels are not whole cells of 8 x 8\n    use a multiple of the cell, or leave it out")


def test_defaults_of_fonts(folder):
    """Keys of [defaults.font] count for every font that does not give its own."""
    write_text(folder, project_text(more=TABLE + '[defaults.font]\nspacing = "fixed"\nsize = 20\n'))
    spec = load_project(folder).assets["small"].spec
    assert (spec.spacing, spec.size) == ("fixed", 10)
