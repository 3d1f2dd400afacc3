"""Backgrounds as tiles, palettes in lines and layers: everything that a project may not say about them."""

from __future__ import annotations

import pytest

from pipeline.project.loading.load import load_project
from tests.makers import make_project, problems, project_text, write_text

TILES = 'palette = "quay_colours"\narrangement = "tiles"\n'
LINED = ("colours = 8\nfirst = 16", "lines = 3\nfirst = 16")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with the sources of a project; tests write its project file."""
    return make_project(tmp_path_factory.mktemp("tiles") / "ferry", target="lattice16")


def found(folder, *changes, target="lattice16", more="") -> list[str]:
    """Return the problems of the project with some text exchanged."""
    write_text(folder, project_text(*changes, target=target, more=more))
    return problems(folder)


def quay(more: str) -> tuple[str, str]:
    """Return the change that adds keys to the background."""
    return 'palette = "quay_colours"\n', f'palette = "quay_colours"\n{more}\n'


@pytest.mark.parametrize("target", ["lattice16", "pebble8"])
def test_tile_console_takes_tiles_as_they_are(folder, target):
    """Nothing but the arrangement is needed where the target has a tile unit."""
    assert found(folder, quay('arrangement = "tiles"'), target=target) == []


def test_bitmap_console_takes_tiles_with_a_map_entry(folder):
    """A console without a tile unit has whatever map its program reads."""
    said = found(folder, quay('arrangement = "tiles"'), target="basalt32")
    assert len(said) == 1
    assert "[background.quay] arrangement: Basalt 32 has no tile unit\n    give the map_entry your program reads" in said[0]
    assert found(folder, quay('arrangement = "tiles"\ntile = [8, 8]\nmap_entry = "HVtttttttttttttt"'), target="basalt32") == []


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("merge = true", "[background.quay] merge: only tiles have it"),
        ("tiles_at_most = 5", "[background.quay] tiles_at_most: only tiles have it"),
        ("first_tile = 5", "[background.quay] first_tile: only tiles have it"),
        ('map_entry = "HVcc"', "[background.quay] map_entry: HVcc has no tile number"),
        ('arrangement = "tiles"\nfirst_tile = 1024', "first_tile: 1024 leaves no room: tiles are numbered 0 to 1023"),
        ('arrangement = "tiles"\nmap_entry = "cttttttt"\n', None),
        ('arrangement = "tile"', "did you mean"),
        ("tile = [8]", "[background.quay] tile"),
        ("tile = [8, 300]", "[background.quay] tile"),
        ("pan = [-1, 0]", "[background.quay] pan"),
    ],
)
def test_wrong_background_is_refused(folder, keys, said):
    """Each mistake is named with its key; the palette of line 1 does fit an entry with one bit c."""
    text = found(folder, quay(keys))
    assert len(text) == (said is not None)
    assert said is None or said in text[0]


def test_palette_that_no_map_entry_can_choose_is_refused(folder):
    """The palette's line, 3, needs two bits c."""
    text = found(folder, quay('arrangement = "tiles"\nmap_entry = "cttttttt"'), ("first = 16", "first = 48"))
    assert len(text) == 1
    assert "'quay_colours' takes lines 3 to 3, map entry cttttttt can choose of 2" in text[0]


@pytest.mark.parametrize(
    ("palette", "background", "said"),
    [
        ("lines = 3\nfirst = 16", "", None),
        ("lines = 4\nfirst = 16", "", ["takes lines 1 to 4", "4 lines of 16 entries from 16 leave the console's 64"]),
        ("lines = 3\nfirst = 8", "", ["8 is inside a line of 16 entries"]),
        ("lines = 3\nfirst = 16\ncolours = 17", "", ["17 in each line, a line has 16"]),
        ("lines = 3\nfirst = 16\nlocked = ['#ffffff']", "", ["locked: does not go with lines"]),
        ("lines = 3\nfirst = 16\nfile = 'art/quay.png'", "", ["file: does not go with lines"]),
        ("lines = 3\nfirst = 16", 'dither = "ordered"', ["[background.quay] dither: 'quay_colours' has lines"]),
    ],
)
def test_wrong_palette_of_lines_is_refused(folder, palette, background, said):
    """Lines start at whole lines, stay in the console's palette, and are computed."""
    text = found(folder, quay(f'arrangement = "tiles"\n{background}'), ("colours = 8\nfirst = 16", palette))
    assert len(text) == len(said or [])
    assert all(any(one in problem for problem in text) for one in said or [])


def test_only_tiles_use_lines(folder):
    """A bitmap and a sprite cannot choose a line."""
    text = found(folder, LINED, ('palette = "figures"', 'palette = "quay_colours"'), ("transparent = true", "file = 'art/quay.png'"))
    assert [one for one in text if "which only a map of tiles can choose" in one and "[background.quay] palette" in one]
    assert [one for one in text if "which only a map of tiles can choose" in one and "[sprite.ada] palette" in one]


def test_direct_colour_is_not_merged(folder):
    """Merging measures how entries of a palette look."""
    keys = 'pixels = "direct15"\narrangement = "tiles"\nmap_entry = "tttttttttttttttt"\nmerge = true'
    text = found(
        folder, ('palette = "quay_colours"\n', keys + "\n"), ("first = 8\n", "first = 8\nfile = 'art/quay.png'\n"), target="basalt32"
    )
    assert len(text) == 1
    assert "[background.quay] merge: direct colour cannot be merged" in text[0]


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ('[{ background = "quay", factor = 0.5 }]', None),
        ('[{ background = "quai" }]', "there is no background 'quai'\n    did you mean quay?"),
        ('[{ background = "ada" }]', "there is no background 'ada'"),
        ('[{ background = "quay", factor = -0.5 }]', "factor"),
        ('[{ factor = 1 }]', "background"),
    ],
)
def test_wrong_layer_is_refused(folder, layers, said):
    """A layer is a background of the project that moves forwards."""
    text = found(folder, ("[scene.play]\n", f"[scene.play]\nlayers = {layers}\n"))
    assert len(text) == (said is not None)
    assert said is None or said in text[0]


@pytest.mark.parametrize(("first", "count"), [(16, 1), (0, 0), (32, 0)])
def test_layers_palettes_may_not_begin_at_one_entry(folder, first, count):
    """Two layers are seen at once, so the second palette would be loaded over the first; apart from each other they are accepted."""
    more = f"""
[background.near]
file = "art/quay.png"
palette = "near_colours"
[palette.near_colours]
colours = 8
first = {first}
[scene.deep]
always = ["quay", "near"]
layers = [{{ background = "quay" }}, {{ background = "near" }}]
"""
    text = found(folder, more=more)
    assert len(text) == count
    assert not count or "its palette 'near_colours' and 'quay_colours' of another layer both begin at entry 16" in text[0]


def test_layer_must_be_loaded_by_its_scene(folder):
    """A background that a scene shows takes memory there; through a bundle in a choice is enough."""
    more = '[scene.far]\nlayers = [{ background = "quay" }]\nalways = ["bell"]\n'
    text = found(folder, more=more)
    assert len(text) == 1
    assert "[scene.far] layers[0].background: the scene does not load 'quay'" in text[0] or "does not load 'quay'" in text[0]
    choose = more + 'choose = [{ count = 1, of = ["pack"] }]\n'
    assert found(folder, ("[bundle]\n", '[bundle]\npack = ["quay"]\n'), more=choose) == []


def test_tiles_take_the_tile_units_pixels(folder):
    """The format of a tiled background is the target's for tiles unless it gives its own."""
    found(folder, quay('arrangement = "tiles"'))
    project = load_project(folder)
    assert project.pixel_format(project.assets["quay"]) == "tile4"
