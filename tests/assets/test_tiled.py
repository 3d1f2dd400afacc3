"""A background as tiles is the same picture: what its blob decodes to equals the bitmap, on every shipped target."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.joints.layouts import TILED, TILED_VERSION
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.colours.difference import difference_map
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.reading.show import frames_rgb
from tests.makers import changed, make_project, run_steps, target_data, toml_text
from tests.reading.decoding import decode_blob

TARGETS = {
    "basalt32": 'map_entry = "HVtttttttttttttt"',
    "lattice16": "",
    "pebble8": "",
}


def draw(path: Path, size: tuple[int, int] = (200, 100)) -> None:
    """Draw a shore that repeats and mirrors itself, with one tile of its own."""
    picture = Image.new("RGB", size, (120, 180, 220))
    drawing = ImageDraw.Draw(picture)
    for left in range(0, size[0], 32):
        drawing.polygon([(left, 60), (left + 16, 40), (left + 32, 60)], fill=(60, 90, 60))
    drawing.rectangle((0, 60, size[0], size[1]), fill=(60, 90, 60))
    drawing.ellipse((50, 10, 61, 19), fill=(250, 250, 240))
    picture.save(path)


def shore(folder: Path, target: str, keys: str, palette: str | None = None) -> Path:
    """Write a project with a larger background and some keys of its own."""
    changes = [('palette = "quay_colours"\n', f'palette = "quay_colours"\n{keys}\n')]
    if palette is not None:
        old = {"basalt32": "colours = 8\nfirst = 8", "lattice16": "colours = 8\nfirst = 16", "pebble8": "colours = 4\nfirst = 4"}
        changes.append((old[target], palette))
    make_project(folder, *changes, target=target)
    draw(folder / "art/quay.png")
    return folder


def convert(folder: Path):
    """Convert the background; return its facts, what its blob decodes to, the palette decoded, and the blob."""
    project = load_project(folder)
    run_steps(project, "background:quay")
    blob = (folder / "build/blobs/quay.bin").read_bytes()
    palette = decode_blob("palette", (folder / "build/blobs/quay_colours.bin").read_bytes(), project.target)
    facts = json.loads((folder / "build/blobs/quay.json").read_bytes())
    return facts, decode_blob("background", blob, project.target), palette, blob


@pytest.mark.parametrize("target", TARGETS)
def test_tiles_put_together_equal_the_bitmap(target, tmp_path):
    """The same colours at every pixel of the picture, and less of them stored; the record says what the facts say."""
    keys = f'arrangement = "tiles"\n{TARGETS[target]}'
    _, bitmap, palette, _ = convert(shore(tmp_path / "bitmap", target, ""))
    facts, tiled, _, blob = convert(shore(tmp_path / "tiles", target, keys))
    first = palette.head["first"]
    shown = [frames_rgb(one, palette.colours, first)[0, :100, :200] for one in (bitmap, tiled)]
    assert np.array_equal(*shown)
    assert blob[0] == TILED_VERSION
    assert tiled.head["columns"] * facts["tile"][0] == tiled.head["width"] >= 200
    assert facts["stored"]["tile_count"] == tiled.head["tile_count"] < tiled.head["columns"] * tiled.head["rows"] // 3
    assert facts["stored"]["tile_bytes"] == facts["forms"]["tile_bytes"]
    assert len(blob) == tiled.head["tiles"] + facts["stored"]["tile_count"] * facts["stored"]["tile_bytes"]
    assert tiled.head["map"] == sum(part.bytes for part in TILED)


@pytest.mark.parametrize("planes", ["chunky", "by byte", "by word", "by row", "by picture"])
@pytest.mark.parametrize(("first", "order"), [("high", "rows"), ("low", "cells")])
def test_every_layout_of_pixels_holds_tiles(planes, first, order, tmp_path):
    """Tiles of 16 x 8 in little-endian words, and maps of one byte an entry or of little-endian words, come back as the drawn picture."""
    pixels = {"pixel": "IIII", "planes": planes, "first": first, "order": order}
    pixels |= {"byte_order": "little"} if planes == "by word" else {}
    entry = {"map_entry": "Httttttt"} if first == "high" else {"map_entry": "Hxxxxxxxxttttttt", "byte_order": "little"}
    unit = {"width": 16, "height": 8, **entry}
    data = changed(target_data("lattice16"), (("pixel_formats", "tile4"), pixels), (("tiles",), unit))
    keys = ("palette = \"quay_colours\"\n", "palette = \"quay_colours\"\narrangement = \"tiles\"\n")
    picture = ("[screen.boot]\n", '[screen.boot]\narrangement = "bitmap"\n')  # 128 tiles are too few for a notice
    folder = make_project(tmp_path / "p", keys, picture, ('target = "lattice16"', 'target = "console.toml"'), target="lattice16")
    (folder / "console.toml").write_text(toml_text(data), encoding="utf-8")
    draw(folder / "art/quay.png")
    facts, tiled, palette, blob = convert(folder)
    assert len(blob) == tiled.head["tiles"] + facts["stored"]["tile_count"] * facts["forms"]["tile_bytes"]
    assert hashlib.sha256(tiled.pixels.astype("<u4").tobytes()).hexdigest() == facts["intent"]["sha256"]
    seen = frames_rgb(tiled, palette.colours, 16)[0, :100, :200]
    drawn = np.asarray(Image.open(folder / "art/quay.png"))
    assert len(np.unique(seen.reshape(-1, 3), axis=0)) == 3
    assert all(len(np.unique(drawn[(seen == colour).all(axis=-1)], axis=0)) == 1 for colour in np.unique(seen.reshape(-1, 3), axis=0))


def test_distinct_tiles_as_numpy_counts_them(tmp_path):
    """numpy.unique over the cells of the decoded picture finds as many tiles as are stored without mirroring."""
    keys = 'arrangement = "tiles"\ntile = [8, 8]\nmap_entry = "tttttttttttttttt"'
    facts, tiled, _, _ = convert(shore(tmp_path / "p", "basalt32", keys))
    cells = tiled.pixels[0].reshape(13, 8, 25, 8).swapaxes(1, 2).reshape(-1, 64)
    variants = np.stack([cells.reshape(-1, 8, 8)[:, rows, columns] for rows in (slice(None), slice(None, None, -1))
                         for columns in (slice(None), slice(None, None, -1))])  # fmt: skip
    smallest = np.array(sorted(min(variant.tobytes() for variant in variants[:, rank]) for rank in range(len(cells))))
    assert facts["stored"]["tile_count"] == facts["forms"]["distinct"] == len(np.unique(cells, axis=0))
    assert facts["forms"]["distinct_mirrored"] == len(np.unique(smallest)) < facts["stored"]["tile_count"]


def test_map_entry_of_a_published_console(tmp_path):
    """A 16-bit big-endian name table entry drawn PccVHttttttttttt: priority, palette line, flips, 11 bits of tile number.

    The layout is that of a 1988 console's manual for its display processor, written down from memory. A picture of one
    tile, of its mirror image left to right, and of that upside down: words 0x2005, 0x2805, 0x3805 for line 1, tile 5.
    """
    keys = 'arrangement = "tiles"\nmap_entry = "PccVHttttttttttt"\nfirst_tile = 5'
    folder = shore(tmp_path / "p", "lattice16", keys)
    tile = np.full((8, 8, 3), (120, 180, 220), dtype=np.uint8)
    tile[:3, :5] = tile[5, 2] = (60, 90, 60)
    Image.fromarray(np.concatenate([tile, tile[:, ::-1], tile[::-1, ::-1]], axis=1)).save(folder / "art/quay.png")
    facts, tiled, _, blob = convert(folder)
    assert blob[tiled.head["map"] : tiled.head["map"] + 6].hex() == "200528053805"
    assert facts["stored"]["tile_count"] == 1
    assert (tiled.head["line_mask"], tiled.head["tile_mask"], tiled.head["flip_x_mask"], tiled.head["flip_y_mask"]) == (
        0x6000, 0x07FF, 0x0800, 0x1000,
    )  # fmt: skip


def test_too_many_tiles_are_refused_with_their_number(tmp_path):
    """The refusal says how many there are, by how much too many, and what to do; nothing is written."""
    folder = shore(tmp_path / "p", "lattice16", 'arrangement = "tiles"\ntiles_at_most = 4')
    with pytest.raises(ProjectError) as caught:
        convert(folder)
    facts, _, _, _ = convert(shore(tmp_path / "q", "lattice16", 'arrangement = "tiles"'))
    count = facts["stored"]["tile_count"]
    assert str(caught.value).startswith(
        f"project.toml, [background.quay]: {count} distinct tiles, {count - 4} more than the 4 of tiles_at_most\n    set merge = true"
    )
    assert not (folder / "build/blobs/quay.bin").exists()


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('map_entry = "HVcctttx"', "the console's tile memory\n"),
        ("first_tile = 1022", "the 2 of the console's tile memory from tile 1022 on"),
    ],
)
def test_map_entry_bounds_the_tiles(tmp_path, keys, said):
    """Without a budget of its own a background has as many tiles as its map can number."""
    with pytest.raises(ProjectError) as caught:
        convert(shore(tmp_path / "p", "lattice16", f'arrangement = "tiles"\n{keys}'))
    assert said in str(caught.value)


def test_merged_tiles_fit_and_tell_what_was_lost(tmp_path):
    """Merging keeps to the budget; the loss reported is that between the art and what the image shows."""
    facts, tiled, palette, _ = convert(shore(tmp_path / "p", "lattice16", 'arrangement = "tiles"\ntiles_at_most = 4\nmerge = true'))
    before, _, _, _ = convert(shore(tmp_path / "q", "lattice16", 'arrangement = "tiles"\nmerge = true'))
    loss = facts["stored"]["merging"]
    assert tiled.head["tile_count"] == facts["stored"]["tile_count"] <= 4
    assert before["stored"]["merging"] is None
    assert loss["tiles"] == before["stored"]["tile_count"] == loss["merged"] + facts["stored"]["tile_count"]
    assert loss["before"]["mean"] == before["colour_error"]["mean"] < loss["after"]["mean"] == facts["colour_error"]["mean"]
    assert loss["after"]["worst"] >= loss["after"]["mean"]
    shown = frames_rgb(tiled, palette.colours, palette.head["first"])[0, :100, :200]
    wanted = np.asarray(Image.open(tmp_path / "p/art/quay.png"))
    column, row = loss["after"]["worst_cell"]
    cell = np.s_[row * 8 : row * 8 + 8, column * 8 : column * 8 + 8]
    assert not np.array_equal(shown[cell], wanted[cell])


@pytest.mark.parametrize("transparent", ["true", "false"])
def test_lines_hold_more_colours_than_one(tmp_path, transparent):
    """Forty colours, few in each tile: exact on three lines, decoded from palette and map; one line cannot."""
    keys = 'arrangement = "tiles"'
    folder = shore(tmp_path / "p", "lattice16", keys, f"lines = 3\nfirst = 16\ntransparent = {transparent}\nexact = true")
    random = np.random.default_rng(4)
    levels = np.round(np.arange(8) * 255 / 7).astype(np.uint8)  # what 3 bits a channel hold
    colours = random.choice(levels, (40, 3))
    cells = np.stack([colours[random.integers(0, 4, (8, 8)) + rank // 4 * 4] for rank in range(40)])
    picture = cells.reshape(5, 8, 8, 8, 3).swapaxes(1, 2).reshape(40, 64, 3)
    Image.fromarray(picture).save(folder / "art/quay.png")
    facts, tiled, palette, _ = convert(folder)
    assert np.array_equal(frames_rgb(tiled, palette.colours, 16)[0], picture)
    assert palette.head["line_entries"] == 16
    assert facts["colour_error"]["mean"] == 0
    assert facts["forms"]["lines"] == len(np.unique(tiled.pixels // 16)) > 1
    assert (tiled.pixels % 16).min() == (1 if transparent == "true" else 0)  # a transparent entry 0 is not a colour
    one = shore(tmp_path / "q", "lattice16", keys, "first = 16\ntransparent = true")
    Image.fromarray(picture).save(one / "art/quay.png")
    assert convert(one)[0]["colour_error"]["mean"] > 1


def test_colours_that_fit_no_line_are_refused_when_exact(tmp_path):
    """Two lines of three colours cannot hold a tile of sixteen."""
    folder = shore(tmp_path / "p", "pebble8", 'arrangement = "tiles"', "lines = 2\nfirst = 4\ntransparent = true\nexact = true")
    picture = np.zeros((8, 8, 3), dtype=np.uint8)
    picture[..., 0] = np.arange(64).reshape(8, 8) * 4
    Image.fromarray(picture).save(folder / "art/quay.png")
    with pytest.raises(ProjectError) as caught:
        convert(folder)
    assert "[palette.quay_colours]: 1 tile with colours that fit no line of 4 entries" in str(caught.value)


def test_direct_colour_has_tiles_too(tmp_path):
    """Tiles of 16-bit words, without a palette."""
    keys = 'pixels = "direct15"\narrangement = "tiles"\ntile = [8, 8]\nmap_entry = "HVtttttttttttttt"'
    changes = ('palette = "quay_colours"\n', keys + "\n"), ("first = 8\n", "first = 8\nfile = 'art/quay.png'\n")
    folder = make_project(tmp_path / "p", *changes)
    draw(folder / "art/quay.png")
    project = load_project(folder)
    run_steps(project, "background:quay")
    decoded = decode_blob("background", (folder / "build/blobs/quay.bin").read_bytes(), project.target)
    seen, drawn = frames_rgb(decoded, None, 0)[0, :100, :200], np.asarray(Image.open(folder / "art/quay.png"))
    assert np.abs(seen.astype(int) - drawn).max() <= 4  # half a step of five bits
    assert not decoded.lines


@pytest.mark.parametrize("room", ["colours = 16", "lines = 2"])
def test_earth_on_few_levels_keeps_its_hue(tmp_path, room):
    """Brown that would fit snapped to nine bits, as violet and olive, is shown by entries near it; with ``exact`` it is snapped.

    That the nearest level of each channel is far from the nearest colour is measured by CIEDE2000 (ISO/CIE 11664-6).
    """
    y, x = np.mgrid[:48, :64]
    earth = np.stack([30 + x * 2 // 3 + y // 4, 22 + x * 2 // 4 + y // 6, 14 + x // 4], axis=-1).astype(np.uint8)
    means = []
    for exact in ("false", "true"):
        folder = shore(tmp_path / exact, "lattice16", 'arrangement = "tiles"', f"{room}\nfirst = 16\nexact = {exact}")
        Image.fromarray(earth).save(folder / "art/quay.png")
        facts, decoded, _, _ = convert(folder)
        means.append(facts["colour_error"]["mean"])
    pattern = load_project(folder).target.palette.entry
    snapped = difference_map(earth, to_rgb(to_words(earth, pattern), pattern)).mean()
    assert means[1] == pytest.approx(snapped, abs=0.001)
    assert means[0] < 0.75 * snapped
