"""Marks over figures: where notes say they are, and different without colour. Source of the layout: the sheet's own ``arranged``."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from PIL import Image

from pipeline.joints.facts import SpriteFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.project.loading.load import load_project
from pipeline.proofs.kinds.sprite import arranged
from pipeline.proofs.marks import _COLOURS, draw_box, draw_sign
from pipeline.proofs.subject import Subject
from tests.assets.test_notes import noted_project
from tests.makers import run_steps
from tests.reading.decoding import decode_blob


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    """Two frames with a body, one of them with a point and a second kind of box; proofs drawn."""
    notes = '[[frame]]\nframes = "*"\nboxes.body = [4, 2, 10, 19]\n'
    notes += "[[frame]]\nframes = [1]\nboxes.strike = [14, 6, 5, 9]\npoints.hand = [17, 20]\n"
    folder = noted_project(tmp_path_factory.mktemp("notes") / "p", notes)
    made = load_project(folder)
    run_steps(made, "proof:ada_notes", "proof:ada")
    return made


def test_sheet_shows_each_box_along_its_edges(project):
    """The sprite's own sheet differs only where marks are: each box's first and last rows and columns, nothing in its middle."""
    folder = project.folder / "build"
    blob, facts = (folder / "blobs/ada.bin").read_bytes(), read_facts(facts_file(folder / "blobs", "ada"), SpriteFacts)
    subject = Subject("ada", decode_blob("sprite", blob, project.target), None, facts, project.target, (1, 1))
    layout = arranged(subject)
    with Image.open(folder / "proofs/ada.png") as plain, Image.open(folder / "proofs/ada_notes.png") as noted:
        before, after = np.asarray(plain.convert("RGB")), np.asarray(noted.convert("RGB"))
    assert after.shape[0] > before.shape[0]  # the legend is below
    height, width = subject.decoded.pixels.shape[1:]
    boxes = {0: [(0, 4, 2, 10, 19)], 1: [(0, 4, 2, 10, 19), (1, 14, 6, 5, 9)]}
    for place in layout.places:
        times = layout.shown[0] // width
        assert layout.shown == (width * times, height * times)
        old, new = (picture[place.top :, place.left :][: layout.shown[1], : layout.shown[0]] for picture in (before, after))
        changed = (old != new).any(axis=-1)
        wanted = np.zeros_like(changed)
        for kind, x, y, wide, high in boxes[place.frame]:
            left, top, right, bottom = x * times, y * times, (x + wide) * times, (y + high) * times
            wanted[top:bottom, left:right] = True
            edge = new[top:bottom, left:right]
            coloured = (edge == _COLOURS[kind]).all(axis=-1)
            for side in (coloured[0], coloured[-1], coloured[:, 0], coloured[:, -1]):
                assert side.mean() > 0.4  # the rest of a dashed line is paper
            assert not changed[top + 4 : bottom - 4, left + 4 : right - 4][: (bottom - top) // 4].any()
        if place.frame == 1:
            middle = (17 * times + times // 2, 20 * times + times // 2)
            wanted[middle[1] - 7 : middle[1] + 8, middle[0] - 7 : middle[0] + 8] = True
            assert tuple(new[middle[1], middle[0]]) == _COLOURS[0]
        assert not (changed & ~wanted).any()


def _shape(draw, kind: int) -> bytes:
    picture = Image.new("RGB", (60, 60), (120, 120, 120))
    draw(picture, kind)
    return np.asarray((np.asarray(picture) == _COLOURS[kind % len(_COLOURS)]).all(axis=-1)).tobytes()


def test_kinds_differ_without_colour():
    """Of 16 boxes of one size, and of 16 signs, no two cover the same pixels with their colour."""
    boxes = [_shape(lambda picture, kind: draw_box(picture, (5, 5, 48, 40), kind), kind) for kind in range(16)]
    signs = [_shape(lambda picture, kind: draw_sign(picture, (30, 30), kind), kind) for kind in range(16)]
    for one, other in itertools.combinations(range(16), 2):
        assert boxes[one] != boxes[other]
        assert signs[one] != signs[other]


def test_smallest_boxes_are_drawn():
    """A box of one screen pixel, and marks beyond the picture's edge, leave the rest as it is."""
    picture = Image.new("RGB", (9, 9), (120, 120, 120))
    draw_box(picture, (4, 4, 1, 1), 0)
    assert picture.getpixel((4, 4)) == _COLOURS[0]
    assert np.count_nonzero((np.asarray(picture) != 120).any(axis=-1)) == 1
    draw_box(picture, (5, 5, 40, 40), 9)
    draw_sign(picture, (0, 0), 5)
