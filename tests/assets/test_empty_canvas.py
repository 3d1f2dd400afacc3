"""A sheet whose figure fills little of its canvas: what is said of it is what converting the other ways takes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from pipeline.joints.facts import SpriteFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.plain.sizes import show_size
from pipeline.project.loading.load import load_project
from tests.makers import make_project, run_steps

FIGURE = (16, 32)  # whole cells of the console
KEY = 'frames = "art/ada/*.png"'


def converted(folder: Path, canvas: tuple[int, int], at: tuple[int, int], more: str = "") -> SpriteFacts:
    """Return the facts of a sprite of two frames whose figure of ``FIGURE`` pixels is at a place of its canvas, in the second 16 lower."""
    make_project(folder, (KEY, KEY + more))
    for rank in range(2):
        picture = Image.new("RGBA", canvas)
        left, top = at[0], at[1] + 16 * rank
        ImageDraw.Draw(picture).rectangle((left, top, left + FIGURE[0] - 1, top + FIGURE[1] - 1), fill=(200, 40 + 90 * rank, 40, 255))
        picture.save(folder / f"art/ada/walk_{rank}.png")
    run_steps(load_project(folder), "sprite:ada")
    return read_facts(facts_file(folder / "build/blobs", "ada"), SpriteFacts)


def test_what_cutting_would_save_is_what_it_saves(tmp_path):
    """16 x 32 of 96 x 96 is 6 %: the canvas that holds both frames, and trimmed frames, take what the remark says."""
    wide = converted(tmp_path / "wide", (96, 96), (40, 16))
    found = re.fullmatch(
        r'its figure fills 6% of its canvas: a canvas cut to about 16 x 48 saves (.+), arrangement = "frames" saves (.+) of (.+)',
        wide.remarks[0],
    )
    cut = converted(tmp_path / "cut", (16, 48), (0, 0))
    framed = converted(tmp_path / "framed", (96, 96), (40, 16), '\narrangement = "frames"')
    assert found.groups() == tuple(
        show_size(one) for one in (wide.sheet_bytes - cut.sheet_bytes, wide.sheet_bytes - framed.frames_bytes, wide.sheet_bytes)
    )
    assert (cut.remarks, framed.remarks) == ([], [])


def test_the_canvas_is_given_as_drawn(tmp_path):
    """At half the size the canvas to cut is counted in pixels of the drawing: it holds both figures, and cells of 16 make 32 of it."""
    half = converted(tmp_path / "half", (384, 384), (96, 32), "\nscale = 0.5")
    width, height = map(int, re.search(r"cut to about (\d+) x (\d+) saves", half.remarks[0]).groups())
    assert 16 <= width <= 64
    assert 48 <= height <= 96


@pytest.mark.parametrize(("canvas", "said"), [((64, 64), False), ((48, 64), False), ((64, 80), True)])
def test_limit(tmp_path, canvas, said):
    """An eighth is not mentioned, less is: 16 x 32 is 1/8 of 64 x 64."""
    assert bool(converted(tmp_path / "a", canvas, (8, 8)).remarks) == said


def test_the_build_and_the_report_say_it(tmp_path):
    """The line of the step ends with the remark, and so does the sprite's summary on the page."""
    from pipeline.report.data import look_shown
    from pipeline.report.page import _asset
    from tests.makers import map_entry

    facts = converted(tmp_path / "wide", (96, 96), (40, 16))
    assert _asset(map_entry("ada"), {"ada": facts}, {}, [], look_shown(None, None))["summary"].endswith(f"; {facts.remarks[0]}")
