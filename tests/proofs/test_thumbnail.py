"""Small pictures for comparing with a release: as the image shows it, small, the same every time; the look distinguishes colours."""

from __future__ import annotations

import io
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from pipeline.joints.places import facts_file
from pipeline.proofs.frame_pairs import most_different
from pipeline.proofs.thumbnail import small_frames, thumbnail, thumbnails
from pipeline.reading.verify import DECODERS
from pipeline.target.kinds import KINDS, calls_of
from tests.makers import TARGETS, build_here
from tests.report.making import arguments, build, subject


def drawn(project) -> dict:
    given = arguments(project, "ada")
    palettes = {asset.name: getattr(asset.spec, "palette", None) for asset in project.of_kind("sprite", "background", "palette", "sound")}
    facts = {name: facts_file(given["facts"].parent, name) for name in palettes}
    small = calls_of("thumbnail", *KINDS)
    return thumbnails(given["image"], given["map_file"], facts, palettes, small, DECODERS, given["target"], given["pixel_aspect"])


@pytest.mark.parametrize("target", TARGETS)
def test_pictures_are_small_and_the_same_every_time(tmp_path, target):
    """On every shipped console: kinds that have something to look at, few bytes, at most as many colours as promised (reader: Pillow)."""
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
            assert (width, height) == frame.shape[1::-1], "small enough to stay as it is"
            assert np.abs(shown[~clear[rank]].astype(int) - frame[~clear[rank]]).max(initial=0) < 40


def test_a_single_frame_is_the_whole_sheet():
    """As large as the frame, whose colours are few enough to stay."""
    frame = np.full((1, 20, 30, 3), (200, 40, 60), dtype=np.uint8)
    shown, decoded = (frame, np.zeros((1, 20, 30), dtype=bool)), SimpleNamespace(pixels=frame[..., 0])
    found = thumbnail(small_frames, SimpleNamespace(coloured=lambda: shown, pixel_aspect=(1, 1), decoded=decoded))
    assert found.frame == (30, 20)
    assert np.array_equal(np.asarray(Image.open(io.BytesIO(found.png)).convert("RGB")), frame[0])


@pytest.mark.parametrize("place", [0, 3, 257, 499])
def test_one_changed_frame_of_five_hundred_is_in_the_pair(place):
    """Wherever it is: many frames are made small before any is left out. The frame that turned yellow is that of the pair."""
    frames = np.zeros((500, 40, 60, 3), dtype=np.uint8)
    frames[:, 10:30, 10:50] = np.array([(rank % 8 * 20, 40, 200) for rank in range(500)], dtype=np.uint8)[:, None, None]
    clear = np.zeros(frames.shape[:3], dtype=bool)
    changed = frames.copy()
    changed[place, 10:30, 10:50] = (250, 240, 10)
    subjects = [
        SimpleNamespace(coloured=lambda rgb=rgb: (rgb, clear), pixel_aspect=(1, 1), decoded=SimpleNamespace(pixels=rgb))
        for rgb in (frames, changed)
    ]
    made = [thumbnail(small_frames, one) for one in subjects]
    assert made[0].frame == made[1].frame == (24, 16)
    assert all(len(one.png) < 60_000 for one in made)
    rows = most_different((made[0].png, made[1].png), (made[0].frame, made[1].frame))
    before, now = (Image.open(io.BytesIO(row)).convert("RGB") for row in rows)
    assert np.abs(np.asarray(now)[8, 12].astype(int) - (250, 240, 10)).max() < 30
    assert np.abs(np.asarray(before)[8, 12].astype(int) - frames[place, 20, 30]).max() < 30
    # No other frame is beside it.
    assert now.width == 24
