"""A sprite in pieces is the same sprite: the frames a program puts together equal those of the sheet, pixel for pixel."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageOps

from pipeline.errors import ProjectError
from pipeline.pixels.cells import pad_to_cells
from pipeline.project import load_project
from pipeline.records import PIECED, PIECED_VERSION
from pipeline.rom.decode import BlobFault, decode_blob
from tests.graph.builds import build, for_target, make_project


@pytest.fixture(params=["basalt32", "lattice16", "pebble8"])
def project(request, tmp_path) -> Path:
    """The small project for each shipped target, one sprite a ring that moves and, at the end, is mirrored."""
    folder = for_target(make_project(tmp_path / "project"), request.param)
    for rank in range(4):
        picture = Image.new("RGBA", (40, 33))
        draw = ImageDraw.Draw(picture)
        draw.ellipse((2 + rank, 3, 30 + rank, 29), outline=(200, 60, 40, 255), width=4)
        draw.line((5 + rank, 30, 12 + rank, 10), fill=(200, 60, 40, 255), width=2)
        if rank == 3:
            picture = ImageOps.mirror(Image.open(folder / "art/one/f0.png"))
        picture.save(folder / f"art/one/f{rank}.png")
    return folder


def _decoded(project: Path):
    build(project, "verify")
    facts = json.loads((project / "build/blobs/one.json").read_bytes())
    blob = (project / "build/blobs/one.bin").read_bytes()
    return facts, decode_blob("sprite", blob, load_project(project).target), blob


def _arrange(project: Path, arrangement: str) -> None:
    path = project / "project.toml"
    text = path.read_text().replace('arrangement = "sheet"\n', "").replace('arrangement = "pieces"\n', "").replace("scale = 1.0\n", "")
    path.write_text(text.replace("[sprite.one]\n", f'[sprite.one]\nscale = 1.0\narrangement = "{arrangement}"\n'))


def test_pieces_put_together_equal_the_sheet(project):
    """Decoded from the blob's own bytes, frames, anchor and animations of both arrangements are the same."""
    _arrange(project, "sheet")
    _, sheet, _ = _decoded(project)
    _arrange(project, "pieces")
    facts, pieces, _ = _decoded(project)

    target = load_project(project).target
    cell = (target.cells.width, target.cells.height)
    clear = pieces.head["clear"]
    padded = np.stack([pad_to_cells(frame, *cell, fill=clear) for frame in pieces.pixels])
    assert np.array_equal(padded, sheet.pixels)
    assert pieces.animations == sheet.animations
    assert (pieces.head["anchor_x"], pieces.head["anchor_y"]) == (sheet.head["anchor_x"], sheet.head["anchor_y"])
    if cell == (8, 8):  # a ring has an empty middle for cells as small as that
        assert facts["bytes"] < facts["sheet_bytes"]


def test_mirrored_frame_costs_no_cell_where_the_console_mirrors(project):
    """With flips the last frame, a mirror image of the first, adds pieces but no cells."""
    _arrange(project, "pieces")
    with_mirror, _, _ = _decoded(project)
    (project / "art/one/f3.png").unlink()
    without, _, _ = _decoded(project)
    assert with_mirror["pieces"] > without["pieces"]
    if load_project(project).target.sprites.flip_x:
        assert with_mirror["cell_count"] == without["cell_count"]
    else:
        assert with_mirror["cell_count"] > without["cell_count"]


def test_table_that_leaves_the_blob_is_a_fault(project):
    """A piece of a cell there is not, and a table outside the blob, are told and read nothing outside."""
    _arrange(project, "pieces")
    _, pieces, blob = _decoded(project)
    target = load_project(project).target
    assert blob[0] == PIECED_VERSION
    at = pieces.head["pieces"] + 4
    with pytest.raises(BlobFault, match="uses cell 65535 of"):
        decode_blob("sprite", blob[:at] + b"\xff\xff" + blob[at + 2 :], target)
    frames_at = sum(part.bytes for part in PIECED[: [part.name for part in PIECED].index("frames")])
    with pytest.raises(BlobFault, match="outside the blob's"):
        decode_blob("sprite", blob[:frames_at] + b"\x7f\x7f\x7f\x7f" + blob[frames_at + 4 :], target)


def test_direct_colour_in_pieces_is_refused(tmp_path):
    """Pieces share cells by palette entries, so they need a palette."""
    folder = make_project(tmp_path / "project")
    path = folder / "project.toml"
    text = path.read_text().replace("[defaults.sprite]\npalette = \"figures\"\n", "[defaults.sprite]\n")
    text = text.replace("[sprite.one]\n", '[sprite.one]\npixels = "direct15"\narrangement = "pieces"\n')
    path.write_text(text.replace("[sprite.two]\n", '[sprite.two]\npalette = "figures"\n'))
    with pytest.raises(ProjectError) as caught:
        load_project(folder)
    assert str(caught.value).endswith(
        "[sprite.one] arrangement: direct15 is direct colour, pieces need a palette\n    use an indexed format, or a sheet"
    )
