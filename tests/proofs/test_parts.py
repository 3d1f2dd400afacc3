"""Proofs of a background's parts: outlines where the image holds them, and originals beside what the image holds."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.joints.originals import read_originals
from pipeline.project.model import LoadedProject
from pipeline.proofs.kinds.parts import _meet, _tag_box, compared, outlines, text_width
from tests.graph.looks import looks_of
from tests.makers import build_here, make_project
from tests.recorded import differing
from tests.report.making import arguments, pixels, subject

# Scaled by a half: the lamp's box is at 5, 3 and 6 x 10 pixels of the image, shown four times as large.
PARTS = """scale = 0.5

[[background.quay.part]]
file = "art/lamp.png"
name = "lamp by the door"
at = [10, 6]
scale = 0.25

[[background.quay.part]]
file = "art/barrel.png"
at = [30, 40]
repeat = [3, 1]
every = [10, 0]
"""
QUAY = 'file = "art/quay.png"\npalette = "quay_colours"\n'
TIMES = 4


@pytest.fixture(scope="module")
def project(tmp_path_factory) -> LoadedProject:
    """A built project: a lamp drawn four times as large as the background, with lines as fine as that allows, and a row of barrels."""
    folder = tmp_path_factory.mktemp("parts") / "ferry"
    make_project(folder, (QUAY, QUAY + PARTS))
    lamp = np.zeros((80, 48, 3), dtype=np.uint8)
    lamp[:, ::4] = (250, 240, 90)
    Image.fromarray(lamp).save(folder / "art/lamp.png")
    Image.new("RGB", (8, 8), (200, 10, 10)).save(folder / "art/barrel.png")
    return build_here(folder, "verify", "proofs", "report").project


def test_build_looks_as_it_was_looked_at(project):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing("build with a lamp", looks_of(project.folder)) == set()


def test_outline_is_around_what_the_image_holds(project):
    """The box in the image's pixels is worked out by hand; what is inside is the image's, and the line around it light, dark without."""
    one = subject_of(project)
    shown, rgb = pixels(outlines(one)), one.coloured()[0][0]
    left, top, right, bottom = 5 * TIMES, 3 * TIMES, 11 * TIMES, 13 * TIMES
    assert np.array_equal(shown[top:bottom, left:right], rgb[3:13, 5:11].repeat(TIMES, axis=0).repeat(TIMES, axis=1))
    assert (shown[bottom, left:right] == 255).all()
    assert (shown[bottom + 1, left:right] == [29, 36, 48]).all()
    assert (shown[top:bottom, left - 1] == 255).all()
    for copy in range(3):  # at 15, 20 each 5 further, 4 x 4
        left = (15 + 5 * copy) * TIMES
        assert (shown[20 * TIMES + 4 * TIMES, left : left + 4 * TIMES] == 255).all()


def test_every_part_is_named_and_listed(project):
    """A name makes the tag wider than a number alone, and each part has a line of its own below the picture."""
    one = subject_of(project)
    shown = pixels(outlines(one))
    described = read_originals(one.originals.described)
    assert [part.name for part in described.parts] == ["lamp by the door", ""]
    assert [part.file for part in described.parts] == ["art/lamp.png", "art/barrel.png"]
    below = shown[24 * TIMES :]
    inked = (below != below[0, -1]).any(axis=(1, 2))
    assert np.flatnonzero(np.diff(inked.astype(int)) == 1).size >= 2


def subject_of(project: LoadedProject, image: Path | None = None):
    return dataclasses.replace(subject(project, "quay", image), originals=arguments(project, "quay")["originals"])


def test_originals_are_the_art_at_its_own_resolution(project):
    """Source: Pillow. Around the lamp the art is that of its own file pixel for pixel, on the background made four times as large."""
    one = subject_of(project)
    described = read_originals(one.originals.described)
    whole, lamp = described.whole, described.parts[0].around
    assert lamp.times == 4
    with Image.open(one.originals.pixels) as sheet:
        drawn = np.asarray(sheet.crop((0, whole.size[1], lamp.size[0], whole.size[1] + lamp.size[1])))
        first = np.asarray(sheet.crop((0, 0, *whole.size)))
    with Image.open(project.folder / "art/quay.png") as ground, Image.open(project.folder / "art/lamp.png") as art:
        wanted = ground.convert("RGB").resize((64 * 4, 48 * 4), Image.Resampling.NEAREST)
        wanted.paste(art, (40, 24))
        near = ground.convert("RGB")
    left, top = (round(at * 4) for at in lamp.at)
    assert np.array_equal(drawn, np.asarray(wanted)[top : top + lamp.size[1], left : left + lamp.size[0]])
    assert whole.size == (64, 48)
    assert np.array_equal(first[:4], np.asarray(near)[:4])
    assert (first[40:48, 30:38] == [200, 10, 10]).all()


def test_lost_details_are_seen(project):
    """The lamp's lines are finer than the image's pixels, so that they differ; where it is even nothing does."""
    one = subject_of(project)
    shown = pixels(compared(one))
    described = read_originals(one.originals.described)
    lamp, whole = described.parts[0].around, described.whole
    top = 26 + 22 + whole.size[1] * (380 // whole.size[0]) + 12 + 6 + 26 + 22 + 6  # below the row of the whole
    times = min(380 // lamp.size[0], 300 // lamp.size[1], 6)
    step = max(lamp.size[0] * times, 150) + 12
    drawn, ours, lost = (
        shown[top : top + lamp.size[1] * times, 12 + rank * step : 12 + rank * step + lamp.size[0] * times] for rank in range(3)
    )
    rim = round((10 - lamp.at[0]) * 4) * times
    lines = drawn[rim : rim + 80 * times : times, rim : rim + 48 * times : times]
    assert (lines[:, ::4] == [250, 240, 90]).all()
    assert (lines[:, 1::4] == 0).all()
    inside = ours[rim : rim + 80 * times, rim : rim + 48 * times]
    assert len(np.unique(inside.reshape(-1, 3), axis=0)) == 1  # the image holds their mean
    assert (lost[rim : rim + 80 * times, rim : rim + 48 * times] == [128, 16, 40]).all()  # 8 and more


def test_comparison_comes_from_the_image(project, tmp_path):
    """An image whose background holds something else is shown with it: what differs grows."""
    one = subject_of(project)
    good = pixels(compared(one))
    given = arguments(project, "quay")
    data = bytearray(given["image"].read_bytes())
    entry = next(entry for entry in _entries(given["map_file"]) if entry.name == "quay")
    for at in range(entry.offset + 32, entry.offset + entry.bytes):
        data[at] = data[entry.offset + 32]
    (tmp_path / "harmed.rom").write_bytes(data)
    harmed = pixels(compared(subject_of(project, tmp_path / "harmed.rom")))
    assert good.shape == harmed.shape
    dark = [int((one == [128, 16, 40]).all(axis=2).sum()) for one in (good, harmed)]
    assert dark[1] > dark[0]


def _entries(map_file: Path):
    from pipeline.joints.map import read_map

    return read_map(map_file).entries


def test_report_shows_both(project):
    """Both pictures are in the page and in the folder of proofs; without parts there is neither."""
    page = (project.folder / "build/report.html").read_text(encoding="utf-8")
    assert "quay with the outline, number and name of each part" in page
    assert "quay and each of its parts as drawn, in the image, and the difference in colour" in page
    found = sorted(path.name for path in (project.folder / "build/proofs").glob("quay.*"))
    assert found == ["quay.before-after.png", "quay.originals.png", "quay.parts.png", "quay.png"]


@pytest.mark.parametrize("size", [(256, 260), (100, 400)])
def test_tags_lie_in_the_picture_and_do_not_cover_each_other(size):
    """Twelve parts at one corner, the last with the longest name there can be: as wide as the picture at most."""
    tags = []
    for number in range(1, 13):
        text = f"{number}: {'w' * (40 if number == 12 else 9)}"
        tags.append(_tag_box((size[0] - 20, 2 * number, size[0] - 4, 2 * number + 8), text, size, tags))
        left, top, right, bottom = tags[-1]
        assert 0 <= left <= right < size[0]
        assert 0 <= top <= bottom < size[1]
        assert right - left + 1 == min(text_width(text, 11) + 8, size[0])
    assert not any(_meet(one, other) for rank, one in enumerate(tags) for other in tags[:rank])
    alone = _tag_box((40, 60, 60, 90), "1: lamp", size, [])
    assert alone[3] == 60 - 3, "right above the outline"
