"""However a sprite is arranged, it is the same: the frames a program puts together equal those of the sheet, pixel for pixel."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageOps

from pipeline.joints.facts import SpriteFacts, read_facts
from pipeline.joints.layouts import BOX, PIECED, PIECED_VERSION
from pipeline.joints.places import facts_file
from pipeline.pixels.cells import pad_to_cells
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.reading.decoded import BlobFault, read_record
from tests.conftest import some
from tests.graph.builds import build, for_target, make_project
from tests.makers import build_here
from tests.reading.decoding import decode_blob
from tests.reading.test_verify import faults_of_blob


@pytest.fixture(params=some(["lattice16", "pebble8", "basalt32"], 1))
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
    facts = read_facts(facts_file(project / "build/blobs", "one"), SpriteFacts)
    blob = (project / "build/blobs/one.bin").read_bytes()
    return facts, decode_blob("sprite", blob, load_project(project).target), blob


def _arrange(project: Path, arrangement: str) -> None:
    path = project / "project.toml"
    text = re.sub('arrangement = ".*"\n', "", path.read_text()).replace("scale = 1.0\n", "")
    path.write_text(text.replace("[sprite.one]\n", f'[sprite.one]\nscale = 1.0\narrangement = "{arrangement}"\n'))


@pytest.mark.parametrize("arrangement", ["frames", "pieces"])
def test_frames_put_together_equal_the_sheet(arrangement, project):
    """Decoded from the blob's own bytes, frames, anchor and animations of each arrangement are those of the sheet."""
    _arrange(project, "sheet")
    sheet_facts, sheet, _ = _decoded(project)
    _arrange(project, arrangement)
    facts, other, _ = _decoded(project)

    target = load_project(project).target
    cell = (target.cells.width, target.cells.height)
    padded = np.stack([pad_to_cells(frame, *cell, fill=other.head["clear"]) for frame in other.pixels])
    assert np.array_equal(padded, sheet.pixels)
    assert other.animations == sheet.animations
    assert (other.head["anchor_x"], other.head["anchor_y"]) == (sheet.head["anchor_x"], sheet.head["anchor_y"])
    compared = ("sheet_bytes", "frames_bytes", "opaque_bytes")
    assert [getattr(facts, key) for key in compared] == [getattr(sheet_facts, key) for key in compared]
    assert facts.opaque_bytes < facts.frames_bytes
    if cell == (8, 8):  # a ring has an empty middle for cells as small as that
        assert facts.bytes < facts.sheet_bytes


def test_mirrored_frame_costs_no_cell_where_the_console_mirrors(project):
    """With flips the last frame, a mirror image of the first, adds pieces but no cells."""
    _arrange(project, "pieces")
    with_mirror, _, _ = _decoded(project)
    (project / "art/one/f3.png").unlink()
    without, _, _ = _decoded(project)
    assert with_mirror.stored.pieces > without.stored.pieces
    if load_project(project).target.sprites.flip_x:
        assert with_mirror.stored.cell_count == without.stored.cell_count
    else:
        assert with_mirror.stored.cell_count > without.stored.cell_count


def test_table_that_leaves_the_blob_is_a_fault(project):
    """A piece of a cell there is not, and a table outside the blob, are reported and read nothing outside."""
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
        "[sprite.one] arrangement: direct15 is direct colour, pieces need a palette\n    use an indexed format, or arrangement = \"frames\""
    )


def test_direct_colour_in_trimmed_frames(tmp_path):
    """Frames of direct colour are trimmed by the A bit, and are those of the sheet."""
    folder = make_project(tmp_path / "project")
    path = folder / "project.toml"
    text = path.read_text().replace("[defaults.sprite]\npalette = \"figures\"\n", "[defaults.sprite]\n")
    text = text.replace("[sprite.two]\n", '[sprite.two]\npalette = "figures"\n')
    text = text.replace("[sprite.one]\n", '[sprite.one]\npixels = "direct15"\n')
    path.write_text(text)
    _arrange(folder, "sheet")
    _, sheet, _ = _decoded(folder)
    _arrange(folder, "frames")
    facts, frames, blob = _decoded(folder)
    assert frames.head["clear"] == 0
    assert np.array_equal(np.stack([pad_to_cells(frame, 16, 16) for frame in frames.pixels]), sheet.pixels)
    # Figures of 11 x 27 in frames of 24 x 32, the same but for their place: one of 16 x 32 is stored instead of four of 32 x 32.
    assert (facts.stored.stored_frames, facts.sheet_bytes) == (1, 4 * 32 * 32 * 2)
    assert facts.stored.stored_cells == 2
    assert facts.frames_bytes == 16 * 32 * 2 + 4 * 16
    assert facts.opaque_bytes == 11 * 27 * 2
    assert len(blob) < facts.frames_bytes + 100


def test_mirrored_frame_is_stored_once_where_the_console_mirrors(project):
    """A ring that only moves is stored once; its mirror image at the end takes pixels only where the console has no flips."""
    _arrange(project, "frames")
    facts, frames, blob = _decoded(project)
    target = load_project(project).target
    last = read_record(BOX, blob, frames.head["boxes"] + 3 * 16, target.byte_order)
    assert (facts.stored.stored_frames, last["flips"]) == ((1, 1) if target.sprites.flip_x else (2, 0))


@pytest.mark.parametrize("arrangement", ["frames", "pieces"])
def test_flipped_bit_is_found(arrangement, project):
    """One wrong bit in the pixels, the first and the last, with every sum made for it."""
    _arrange(project, arrangement)
    made = build_here(project)
    entry = next(one for one in made.map["entries"] if one["name"] == "one")
    blob = made.image[entry["offset"] : entry["offset"] + entry["bytes"]]
    pixels = decode_blob("sprite", blob, made.project.target).head["pixels"]
    opaque_byte = next(at for at in range(pixels, len(blob)) if blob[at])
    for at in (opaque_byte, max(at for at in range(len(blob)) if blob[at])):
        harmed = blob[:at] + bytes([blob[at] ^ (blob[at] & -blob[at])]) + blob[at + 1 :]
        assert faults_of_blob(made, "one", harmed) == ["one: its pixels are not the converted ones"]


def test_box_that_cannot_be_is_a_fault(project):
    """A box that is not of whole cells, mirrored in a way there is not, or outside the blob."""
    _arrange(project, "frames")
    _, frames, blob = _decoded(project)
    target = load_project(project).target
    at = frames.head["boxes"]
    for offset, harm, said in ((4, b"\1\1", "frame 0 shows 257 x"), (8, b"\4\4", "mirrored 1028"), (12, b"\x7f" * 4, "leave the blob")):
        with pytest.raises(BlobFault, match=said):
            decode_blob("sprite", blob[: at + offset] + harm + blob[at + offset + len(harm) :], target)
