"""A frame beside a known issue: from the image to the packet, in a build; and an author's own picture."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.assets.sources.pictures import show_picture
from pipeline.graph.plan import plan_project
from pipeline.joints.places import Sources
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from tests.makers import make_project, run_steps

ISSUE = '\n[[issue]]\nid = "TF-7"\nseverity = "minor"\nwhere = "Quay"\nwhat = "A pixel is missing."\nframe = "ada/{}"\n'


def show(folder: Path, frame: str) -> Path:
    """Build a project with an issue that shows a frame as far as the picture; return its file."""
    project = load_project(make_project(folder / frame.replace("/", "_"), more=ISSUE.format(frame)))
    run_steps(project, "pictured:01")
    step = next(one for one in plan_project(project).steps if one.name == "pictured:01")
    return step.writes[0]


def test_frame_is_the_one_named(tmp_path):
    """Opaque pixels are those of the scaled drawing; another frame is another picture; a number means the same as its name."""
    project = load_project(make_project(tmp_path / "p"))
    names = [Path(file).stem for file in project.frame_names(project.assets["ada"])]
    first, last, numbered = (show(tmp_path, name) for name in (names[0], names[-1], str(len(names) - 1)))
    pixels = [np.asarray(Image.open(path).convert("RGB")) for path in (first, last, numbered)]
    assert pixels[0].shape == pixels[1].shape
    assert not np.array_equal(pixels[0], pixels[1])
    assert np.array_equal(pixels[1], pixels[2])


def test_a_number_that_is_not_there_is_refused(tmp_path):
    """When the build knows how many frames there are."""
    with pytest.raises(ProjectError, match="TF-7 shows frame 99 of ada, whose frames are 0 to"):
        show(tmp_path, "99")


def test_an_authors_picture_is_made_small_and_bare(tmp_path):
    """No larger than 960 pixels, opaque on white, without what a camera wrote (reader: Pillow)."""
    picture = Image.new("RGBA", (2000, 500), (0, 0, 0, 0))
    picture.paste((200, 10, 10, 255), (0, 0, 1000, 500))
    exif = Image.Exif()
    exif[0x010F] = "A camera"
    picture.save(tmp_path / "shot.png", exif=exif)
    said = show_picture(Sources(tmp_path, ("shot.png",)), tmp_path / "out.png", "TF-7")
    assert said == "picture of TF-7, 960 x 240 pixels"
    with Image.open(tmp_path / "out.png") as shown:
        assert shown.mode == "RGB"
        assert not shown.getexif()
        assert shown.getpixel((10, 10)) == (200, 10, 10)
        assert shown.getpixel((950, 10)) == (255, 255, 255)


def test_a_file_that_is_no_picture_is_refused(tmp_path):
    (tmp_path / "shot.png").write_bytes(b"PK" + zipfile.BadZipFile.__name__.encode())
    with pytest.raises(ProjectError, match=r"shot\.png"):
        show_picture(Sources(tmp_path, ("shot.png",)), tmp_path / "out.png", "TF-7")
