"""Small pictures for comparing with a release: as the image shows it, small, the same every time; the look tells colours apart."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from pipeline.report.thumbnail import thumbnails
from tests.makers import TARGETS, build_here
from tests.report.making import arguments, build, subject


def drawn(project) -> dict:
    given = arguments(project, "ada")
    palettes = {asset.name: getattr(asset.spec, "palette", None) for asset in project.of_kind("sprite", "background", "palette", "sound")}
    return thumbnails(given["image"], given["map_file"], given["blobs"], palettes, given["target"], given["pixel_aspect"])


@pytest.mark.parametrize("target", TARGETS)
def test_pictures_are_small_and_the_same_every_time(tmp_path, target):
    """On every shipped console: kinds that have something to look at, few bytes, no more colours than promised (reader: Pillow)."""
    project = build(tmp_path / "p", target)
    first, again = drawn(project), drawn(project)
    assert set(first) == {"ada", "crowd", "quay", "figures", "quay_colours", "bell"}
    assert first == again
    for name, one in first.items():
        assert len(one.png) < 6000, name
        with Image.open(io.BytesIO(one.png)) as picture:
            assert picture.width <= 288
            assert picture.height <= 192
            assert len(picture.convert("RGB").getcolors(100_000)) <= 64
        assert bool(one.look) == (name in ("ada", "crowd", "quay"))


def test_frames_small_enough_stand_pixel_for_pixel(tmp_path):
    """Basalt 32 has square pixels, and a frame of 20 x 24 is not made smaller: opaque pixels are those decoded from the image."""
    project = build(tmp_path / "p")
    rgb, clear = subject(project, "ada").coloured()
    with Image.open(io.BytesIO(drawn(project)["ada"].png)) as picture:
        pixels = np.asarray(picture.convert("RGB"))
    height, width = rgb.shape[1:3]
    assert pixels.shape == (height, len(rgb) * width, 3)
    for rank, frame in enumerate(rgb):
        shown = pixels[:, rank * width : (rank + 1) * width]
        assert np.array_equal(shown[~clear[rank]], frame[~clear[rank]])


def test_look_changes_with_a_colour_only(tmp_path):
    """Another colour in the sources that leaves a sprite's bytes as they are changes its look; what is not changed keeps its own."""
    project = build(tmp_path / "p")
    before, facts = drawn(project), (project.folder / "build/blobs/quay.bin").read_bytes()
    path = project.folder / "art/quay.png"
    with Image.open(path) as picture:
        pixels = np.array(picture)
    pixels[(pixels == (60, 90, 60)).all(axis=-1)] = (90, 60, 60)
    Image.fromarray(pixels).save(path)

    after = drawn(build_here(project.folder, "verify").project)
    assert (project.folder / "build/blobs/quay.bin").read_bytes() == facts
    assert after["quay"].look != before["quay"].look
    assert after["ada"] == before["ada"]


def test_sheet_of_frames_says_the_size_of_a_frame(tmp_path):
    """Cut by it (Pillow), the sheet gives back every frame; other kinds have none."""
    project = build(tmp_path / "p")
    rgb, clear = subject(project, "crowd").coloured()
    found = drawn(project)
    assert {name for name, one in found.items() if one.frame} == {"ada", "crowd"}
    width, height = found["crowd"].frame
    with Image.open(io.BytesIO(found["crowd"].png)) as picture:
        across = picture.width // width
        for rank, frame in enumerate(rgb[:120]):
            left, top = rank % across * width, rank // across * height
            shown = np.asarray(picture.convert("RGB").crop((left, top, left + width, top + height)))
            assert (width, height) == frame.shape[1::-1], "small enough to stand as it is"
            assert np.abs(shown[~clear[rank]].astype(int) - frame[~clear[rank]]).max(initial=0) < 40
