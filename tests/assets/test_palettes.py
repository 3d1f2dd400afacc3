"""Palettes from the project file on: text palettes, locked colours, dithering, and the facts about what was lost."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from tests.conftest import some
from tests.graph.builds import build, make_project
from tests.makers import build_here
from tests.makers import make_project as make_tiny_project


@pytest.fixture
def project(tmp_path) -> Path:
    """The small project with a background of many colours."""
    folder = make_project(tmp_path / "project")
    x, y = np.meshgrid(np.arange(64), np.arange(48))
    Image.fromarray(np.stack([x * 4, y * 5, 255 - x * 2], axis=-1).astype(np.uint8)).save(folder / "art/hill.png")
    return folder


def _replace(project: Path, old: str, new: str) -> None:
    path = project / "project.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def _facts(project: Path, name: str) -> dict:
    return json.loads((project / f"build/blobs/{name}.json").read_bytes())


def test_locked_colours_are_in_the_palette(project):
    """A colour locked by hand is an entry, as the console shows it, though no pixel has it."""
    _replace(project, "colours = 32", 'colours = 8\nlocked = ["#ff00f0", "#000000"]')
    build(project, "verify")
    colours = _facts(project, "hill_colours")["colours"]
    assert len(colours) == 8
    # 5 bits a channel, widened by repeating: level 29 is shown as 239, the nearest to 240.
    assert [255, 0, 239] in colours
    assert [0, 0, 0] in colours


@pytest.mark.parametrize("name", some(["keep.gpl", "keep.pal", "keep.png"], 1))
def test_locked_colours_come_from_a_file_too(project, name):
    """Both colours of the file are entries of the computed palette, with one locked by hand; another file makes another palette."""
    colours = [(255, 0, 239), (0, 0, 0)]
    if name == "keep.gpl":
        (project / name).write_text("GIMP Palette\nName: keep\n#\n" + "".join(f"{r} {g} {b}\n" for r, g, b in colours))
    elif name == "keep.pal":
        (project / name).write_text("JASC-PAL\n0100\n2\n" + "".join(f"{r} {g} {b}\n" for r, g, b in colours))
    else:
        picture = Image.new("RGB", (2, 1))
        picture.putdata(colours)
        picture.save(project / name)
    _replace(project, "colours = 32", f'colours = 8\nlocked = ["#ffffff"]\nlocked_file = "{name}"')
    build(project, "verify")
    held = _facts(project, "hill_colours")["colours"]
    assert len(held) == 8
    assert [list(one) for one in (*colours, (255, 255, 255)) if list(one) not in held] == []


def test_more_locked_colours_than_fit_are_refused(project):
    """Locked colours need room."""
    _replace(project, "colours = 32", 'colours = 2\nlocked = ["#ff0000", "#00ff00", "#0000ff"]')
    path = project / "project.toml"
    path.write_text(path.read_text().replace("first = 16", "first = 16\n"))
    with pytest.raises(AssertionError, match="3 locked colours, 2 fit"):
        build(project, "verify")


def test_colour_that_is_none_is_refused(project):
    """A locked colour is written with six hexadecimal digits."""
    _replace(project, "colours = 32", 'colours = 8\nlocked = ["red"]')
    with pytest.raises(ProjectError) as caught:
        load_project(project)
    assert "expected text, a colour such as #ff8800, saw 'red'" in str(caught.value)


def test_text_palette_is_loaded_in_its_order(project):
    """A text palette gives its colours in file order."""
    (project / "hill.pal").write_text("JASC-PAL\n0100\n3\n0 0 255\n255 0 0\n255 255 255\n")
    _replace(project, "colours = 32", 'colours = 8\nfile = "hill.pal"')
    build(project, "verify")
    assert _facts(project, "hill_colours")["colours"] == [[0, 0, 255], [255, 0, 0], [255, 255, 255]]


def test_exact_file_that_lacks_a_colour_of_the_art_is_refused(project):
    """Blue is missing and named; with it in the file the palette is loaded, and the art keeps its colours."""
    picture = Image.new("RGB", (64, 48), (0, 0, 255))
    picture.paste((0, 255, 0), (0, 0, 9, 9))
    picture.save(project / "art/hill.png")
    (project / "hill.pal").write_text("JASC-PAL\n0100\n1\n255 0 0\n")
    _replace(project, "colours = 32", 'colours = 8\nfile = "hill.pal"\nexact = true')
    with pytest.raises(AssertionError, match="the art has 2 colours that the file lacks, as the console shows them: #"):
        build(project, "verify")
    Image.new("RGB", (64, 48), (0, 0, 255)).save(project / "art/hill.png")
    with pytest.raises(AssertionError, match="the art has 1 colour that the file lacks, as the console shows it: #0000ff"):
        build(project, "verify")
    (project / "hill.pal").write_text("JASC-PAL\n0100\n2\n255 0 0\n0 0 255\n")
    build(project, "verify")
    assert _facts(project, "hill")["colour_error"]["mean"] == 0


def test_locked_colours_of_a_palette_from_a_file_are_refused(project):
    """They would not be looked at."""
    (project / "hill.pal").write_text("JASC-PAL\n0100\n1\n255 0 0\n")
    _replace(project, "colours = 32", 'colours = 8\nfile = "hill.pal"\nlocked = ["#ff0000"]')
    with pytest.raises(ProjectError, match="locked: the palette is taken from a file"):
        load_project(project)


def test_facts_tell_what_was_lost(project):
    """Fewer colours lose more (CIEDE2000), and art whose colours all fit loses only what the console's converter takes."""
    means = []
    before = 32
    for most in (32, 8, 3):
        _replace(project, f"[palette.hill_colours]\ncolours = {before}", f"[palette.hill_colours]\ncolours = {most}")
        before = most
        build(project, "verify")
        means.append(_facts(project, "hill")["colour_error"]["mean"])
    assert means[0] < means[1] < means[2]
    assert _facts(project, "one")["colour_error"]["mean"] < 2.0
    assert _facts(project, "figures")["exact"] is True


@pytest.mark.parametrize("mode", ["ordered", "diffusion"])
def test_dithering_keeps_the_mean_light_nearer(mode, project):
    """With four colours a dithered slope is nearer to the drawn one when looked at from afar (means over 8 x 8 pixels)."""
    from pipeline.reading.show import frames_rgb
    from tests.reading.decoding import decode_blob

    _replace(project, "colours = 32", "colours = 4")
    wanted = _blocks(np.asarray(Image.open(project / "art/hill.png").convert("RGB")).astype(float))
    far = {}
    for one in ("none", mode):
        path = project / "project.toml"
        path.write_text(path.read_text().replace("[background.hill]\n", f'[background.hill]\ndither = "{one}"\n', 1).replace(
            f'dither = "{one}"\ndither = "none"\n', f'dither = "{one}"\n'))
        build(project, "verify")
        target = load_project(project).target
        hill = decode_blob("background", (project / "build/blobs/hill.bin").read_bytes(), target)
        colours = np.array(_facts(project, "hill_colours")["colours"], dtype=np.uint8)
        far[one] = np.abs(_blocks(frames_rgb(hill, colours, 16)[0].astype(float)) - wanted).mean()
    assert far[mode] < far["none"]


def _blocks(rgb: np.ndarray) -> np.ndarray:
    return rgb.reshape(6, 8, 8, 8, 3).mean(axis=(1, 3))


def test_bitmaps_are_mixed_where_needed_and_tiles_are_not(tmp_path):
    """On four colours a slope is mixed unless none is asked for; the facts say what is gained after a blur. Tiles have nearest entries."""
    folder = make_tiny_project(tmp_path / "p", target="pebble8")
    slope = np.broadcast_to(np.linspace(0, 255, 64).astype(np.uint8)[None, :, None], (48, 64, 3))
    Image.fromarray(slope.copy()).save(folder / "art/quay.png")
    text, found = (folder / "project.toml").read_text(), {}
    user = 'palette = "quay_colours"\n'
    for name, keys in (("bitmap", ""), ("none", 'dither = "none"\n'), ("tiles", 'arrangement = "tiles"\n'), ("exact", "")):
        changed = text.replace(user, user + keys)
        if name == "exact":
            Image.new("RGB", (64, 48), (0, 0, 255)).save(folder / "art/quay.png")
        (folder / "project.toml").write_text(changed)
        found[name] = build_here(folder, "verify", "report").facts["quay"]
        if name == "bitmap":
            assert "difference after a blur of one pixel" in (folder / "build/report.html").read_text()
    seen = found["bitmap"].seen_error
    assert seen.mixed > 300
    assert seen.stored < 0.9 * seen.nearest
    assert found["bitmap"].colour_error.mean > found["none"].colour_error.mean
    assert found["none"].seen_error is found["tiles"].seen_error is found["exact"].seen_error is None
    assert found["tiles"].colour_error == found["none"].colour_error
