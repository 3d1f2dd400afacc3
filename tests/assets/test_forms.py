"""Both forms of a background and of a scene's layers, counted by hand on pictures of few tiles."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.project.loading.load import load_project
from tests.makers import make_project, run_steps

NEAR = '[background.near]\nfile = "art/near.png"\npalette = "near_colours"\n[palette.near_colours]\ncolours = 8\nfirst = 32\n'
SCENE = '[scene.deep]\nalways = ["quay", "near"]\npan = [8, 0]\nlayers = [{ background = "quay", factor = 0.5 }, { background = "near" }]\n'


@pytest.fixture
def project(tmp_path) -> Path:
    """A sky of one colour and a fence of two tiles that take turns, 640 x 224 each, on a screen of 320 x 224."""
    folder = make_project(
        tmp_path / "p", ('palette = "quay_colours"\n', 'palette = "quay_colours"\npan = [8, 0]\n'), target="lattice16", more=NEAR + SCENE
    )
    Image.new("RGB", (640, 224), (120, 180, 220)).save(folder / "art/quay.png")
    fence = np.zeros((224, 640, 3), dtype=np.uint8)
    fence[:, np.arange(640) // 8 % 2 == 1] = (200, 180, 90)
    Image.fromarray(fence).save(folder / "art/near.png")
    return folder


def facts_of(project: Path, name: str) -> dict:
    """Return an asset's facts."""
    return json.loads((project / f"build/blobs/{name}.json").read_bytes())


def test_forms_by_hand(project):
    """One tile of 32 bytes and a map of 80 x 28 words; the window covers at most 41 x 28 cells; a step of 8 brings one column."""
    run_steps(load_project(project), "background:quay")
    forms = facts_of(project, "quay")["forms"]
    assert forms["tiles"] == {
        "image_bytes": 32 + 80 * 28 * 2,
        "memory_bytes": 32 + 80 * 28 * 2,
        "window_bytes": 32 + 41 * 28 * 2,
        "moved_bytes": 28 * 2,
        "tiles": 1,
        "window_tiles": 1,
        "moved_tiles": 0,
    }
    assert forms["bitmap"] == {
        "image_bytes": 640 * 224 // 2,
        "memory_bytes": 640 * 224 // 2,
        "window_bytes": 41 * 8 // 2 * 224,
        "moved_bytes": 4 * 224,
    }
    assert (forms["distinct"], forms["distinct_mirrored"], forms["window"], forms["pan"]) == (1, 1, [320, 224], [8, 0])
    facts = facts_of(project, "quay")
    assert (facts["stored"]["arrangement"], facts["tile"], facts["window"]) == ("bitmap", [8, 8], [320, 224])


def test_layers_add_up_by_hand(project):
    """The sky moves 4 of the scene's 8 pixels and shares a column's entries; the fence brings a column of entries."""
    run_steps(load_project(project), "backgrounds")
    scene = json.loads((project / "build/backgrounds.json").read_bytes())["scenes"]["deep"]
    sky, fence = scene["layers"]
    assert (sky["background"], sky["factor"], sky["arrangement"], fence["factor"]) == ("quay", 0.5, "bitmap", 1.0)
    assert sky["bitmap"]["moved_bytes"] == 2 * 224
    assert fence["bitmap"]["moved_bytes"] == 4 * 224
    assert fence["tiles"]["window_bytes"] == 2 * 32 + 41 * 28 * 2
    assert fence["tiles"]["moved_bytes"] == 28 * 2  # both tiles are in sight all the time
    assert scene["bitmap"] == {key: sky["bitmap"][key] + fence["bitmap"][key] for key in scene["bitmap"]}
    assert scene["tiles"] == {
        "image_bytes": 3 * 32 + 2 * 80 * 28 * 2,
        "memory_bytes": 3 * 32 + 2 * 80 * 28 * 2,
        "window_bytes": 3 * 32 + 2 * 41 * 28 * 2,
        "moved_bytes": 2 * 28 * 2,
    }


def test_project_without_layers_says_so(tmp_path):
    """The file is there and empty, so that the report need not ask."""
    folder = make_project(tmp_path / "p")
    run_steps(load_project(folder), "backgrounds")
    assert json.loads((folder / "build/backgrounds.json").read_bytes()) == {"window": [320, 240], "scenes": {}}


def test_bitmap_padded_to_cells_counts_with_its_padding(tmp_path):
    """A picture of 20 x 17 on cells of 16 x 16 is stored as 32 x 32 bytes."""
    folder = make_project(tmp_path / "p")
    Image.new("RGB", (20, 17), (120, 180, 220)).save(folder / "art/quay.png")
    run_steps(load_project(folder), "background:quay")
    forms = facts_of(folder, "quay")["forms"]
    assert forms["bitmap"]["image_bytes"] == 32 * 32
    assert (forms["tile"], forms["tiles"]["image_bytes"]) == ([16, 16], forms["distinct"] * 256 + 4 * 2)
