"""Sources with a twist: hidden frames, numbered names, scripts, fixed bits, letters a font lacks."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageFont

from pipeline.assets.notices.letters import _check_letters
from pipeline.assets.sources.frames import SourceFrames
from pipeline.assets.sources.pictures import open_animation
from pipeline.joints.places import Sources
from pipeline.pixels.cells import pad_to_cells
from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import BOLD
from pipeline.project.assets import Sprite
from pipeline.project.loading.load import load_project
from tests.graph.builds import build, make_project, run


def _replace(project: Path, old: str, new: str) -> None:
    path = project / "project.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def test_hidden_default_image_is_no_frame(tmp_path):
    """A PNG animation with a separate default image has only its own frames (PNG third edition, animation chunks)."""
    frames = [Image.new("RGBA", (8, 8), (rank * 80, 0, 0, 255)) for rank in range(3)]
    frames[0].save(tmp_path / "a.png", save_all=True, append_images=frames[1:], default_image=True, duration=50)
    shown = [picture.getpixel((0, 0))[0] for picture, _ in open_animation(tmp_path, "a.png")]
    assert shown == [80, 160]


@pytest.mark.parametrize("art", [{"frames": "*.png"}, {"frames": "*.png", "align": "bottom"}, {"animated": "a.gif"}], ids=str)
def test_frame_that_was_damaged_after_it_was_prepared_is_refused(art, tmp_path):
    """An author may save art while it is built, and a later step reads it again. Common practice, no source."""
    pictures = [Image.new("RGBA", (8, 8), (rank * 80, 0, 0, 255)) for rank in range(2)]
    for rank, picture in enumerate(pictures):
        picture.save(tmp_path / f"f{rank}.png")
    pictures[0].save(tmp_path / "a.gif", save_all=True, append_images=pictures[1:], duration=50)
    names = ("a.gif",) if "animated" in art else ("f0.png", "f1.png")
    frames = SourceFrames(Sources(tmp_path, names), Sprite(**art))
    assert frames.one(1).size == (8, 8)
    for name in names:
        pictures[0].save(tmp_path / name) if name == "a.gif" else (tmp_path / name).write_bytes(b"\x89PNG")
    with pytest.raises(ProjectError) as refused:
        frames.one(1)
    assert names[-1] in str(refused.value)


def test_numbers_in_names_count(tmp_path):
    """walk_2 comes before walk_10, as a person counts."""
    project = make_project(tmp_path / "project")
    os.rename(project / "art/one/f0.png", project / "art/one/f10.png")
    assert [Path(name).stem for name in load_project(project).assets["one"].files] == ["f1", "f2", "f3", "f10"]


def test_script_of_the_project_in_a_command_is_a_source(tmp_path):
    """Editing a script that the command names builds the program again; it sees a fixed date and no absolute path."""
    project = make_project(tmp_path / "project")
    script = "import os, sys; open(sys.argv[1], 'w').write(sys.argv[1] + os.environ['SOURCE_DATE_EPOCH'])"
    (project / "make.py").write_text(script)
    _replace(project, '[program.main]\nfile = "main.bin"', '[program.main]\ncommand = ["python3", "make.py", "{output}"]')
    build(project, "rom", "commands=yes", SOURCE_DATE_EPOCH="5")
    assert (project / "build/blobs/main.bin").read_bytes() == b"build/work/main.program1767312000"
    (project / "make.py").write_text(script + "  # again")
    assert "program:main" in build(project, "rom", "commands=yes")


def test_template_that_leads_outside_is_refused(tmp_path):
    """A link in the templates folder must not carry a file of the disk into a kit."""
    project = make_project(tmp_path / "project")
    (tmp_path / "secret.txt").write_text("secret")
    (project / "templates").mkdir()
    (project / "templates/notes.txt.j2").symlink_to(tmp_path / "secret.txt")
    done = run(project)
    assert done.returncode != 0
    assert "templates/notes.txt.j2: leads outside the project folder\n    copy the template" in done.stdout + done.stderr
    assert "Traceback" not in done.stdout + done.stderr


def test_kit_of_another_code_is_taken_away(tmp_path):
    """After a change of the game's code only the new kit is there, as after a clean build."""
    project = make_project(tmp_path / "project")
    build(project)
    _replace(project, 'code = "SMALL"', 'code = "TINY"')
    build(project)
    assert [path.name[:5] for path in (project / "build/kit").glob("*.zip")] == ["TINY-"]


def test_padding_has_the_fixed_bits():
    """Cells are filled up with words the pixel's pattern allows."""
    assert pad_to_cells(np.ones((1, 1), dtype=np.uint32), 2, 1, fill=0x8000).tolist() == [[1, 0x8000]]


def test_letters_the_notice_cannot_show_are_refused():
    """A letter that the font draws as its sign for a missing one is named; Polish, Greek and Cyrillic pass."""
    font = ImageFont.truetype(BOLD, 9, layout_engine=ImageFont.Layout.BASIC)
    _check_letters("Zażółć Ωμέγα Привет", font)
    with pytest.raises(ProjectError) as caught:
        _check_letters("ab テ", font)
    assert str(caught.value) == (
        "project.toml, [game] title or [screen]: the boot notice's font has no 'テ' (U+30C6), which 'ab テ' needs\n"
        "    use other letters there"
    )


@pytest.mark.parametrize(("key", "place"), [("warning", "[screen.boot] warning"), ("bugs_label", "[screen.boot] bugs_label")])
def test_line_break_on_the_notice_is_refused(tmp_path, key, place):
    """The notice's texts are single lines."""
    project = make_project(tmp_path / "project")
    _replace(project, "[screen.boot]", f'[screen.boot]\n{key} = "a\\nb"')
    with pytest.raises(ProjectError) as caught:
        load_project(project)
    assert f"{place}: 'a\\nb' has a line break or another control character\n    write one plain line" in str(caught.value)
