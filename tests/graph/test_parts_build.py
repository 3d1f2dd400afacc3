"""A background of parts as an author builds it: what a change of a part rebuilds, what a refusal leaves, and what questions answer."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from tests.graph.builds import build, clean_outputs, copy_built, make_project, outputs, reasons, run
from tests.graph.looks import looks_of
from tests.recorded import differing

PARTS = """
[background.far]
file = "art/far.png"
palette = "far_colours"

[palette.far_colours]
colours = 8
first = 48

[[background.hill.part]]
file = "art/lamp.png"
name = "lamp"
at = [10, 4]
scale = 0.5
key = "#ff00ff"
blend = 1
"""
MADE = {"prepare:hill", "sample:hill", "originals:hill", "background:hill", "palette:hill_colours", "proof:hill", "proof:hill_colours"}
MADE |= {"flashing:hill", "shown:hill"}
# What follows a change of a blob, whatever it is.
AFTER = {"code", "screen:boot", "image", "verify", "proof:boot", "packet", "author", "page", "notes", "kit", "report", "checks"}
AFTER |= {"layout", "include", "memory", "advice", "backgrounds"}


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A built project with two backgrounds, one of which has a part."""
    project = make_project(tmp_path_factory.mktemp("parts") / "project")
    Image.new("RGB", (64, 48), (20, 30, 40)).save(project / "art/far.png")
    _lamp(project, (250, 240, 90))
    path = project / "project.toml"
    text = path.read_text(encoding="utf-8").replace('file = "art/hill.png"\n', 'file = "art/hill.png"\nscale = 0.5\n')
    path.write_text(text + PARTS, encoding="utf-8")
    build(project)
    return project


def test_build_looks_as_it_was_looked_at(built):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing("build with parts", looks_of(built)) == set()


@pytest.fixture
def project(built, tmp_path) -> Path:
    """A copy of the built project that trusts its build."""
    return copy_built(built, tmp_path / "project")


def _lamp(project: Path, colour: tuple[int, int, int]) -> None:
    lamp = Image.new("RGB", (16, 32), (255, 0, 255))
    lamp.paste(colour, (4, 2, 12, 30))
    lamp.save(project / "art/lamp.png")


def test_change_of_a_part_rebuilds_its_background_alone(project, tmp_path):
    """The other background and the sprites are left as they are; the outputs are those of a clean build elsewhere."""
    _lamp(project, (90, 200, 250))
    ran = set(build(project))
    assert {"prepare:hill", "originals:hill", "background:hill", "proof:hill"} <= ran
    assert ran <= MADE | AFTER, reasons(project)
    assert any("art/lamp.png" in reason for reason in reasons(project)["prepare:hill"])
    assert outputs(project) == clean_outputs(project, tmp_path)


def test_part_that_goes_takes_its_proofs_along(project):
    """Without parts neither picture of them stays in the build folder."""
    text = (project / "project.toml").read_text(encoding="utf-8")
    assert {"hill.parts.png", "hill.originals.png"} <= {path.name for path in (project / "build/proofs").iterdir()}
    (project / "project.toml").write_text(text.partition("[[background.hill.part]]")[0], encoding="utf-8")
    build(project)
    assert not {path.name for path in (project / "build/proofs").iterdir()} & {"hill.parts.png", "hill.originals.png"}


def test_refusal_names_line_number_and_file_and_leaves_the_last_good_build(project):
    """Nothing half written: what was made before is as it was."""
    before = outputs(project)
    path = project / "project.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("at = [10, 4]", "at = [60, 40]"), encoding="utf-8")
    line = path.read_text(encoding="utf-8").splitlines().index("at = [60, 40]") + 1
    done = run(project)
    assert done.returncode != 0
    said = done.stdout + done.stderr
    assert f"project.toml, line {line}, [[background.hill.part]] number 1 at: art/lamp.png is put from 60, 40 to 68, 56" in said
    assert "Traceback" not in said
    made = outputs(project)
    assert {name: made[name] for name in before if name.startswith(("blobs/", "rom/", "work/hill"))} == {
        name: sha256 for name, sha256 in before.items() if name.startswith(("blobs/", "rom/", "work/hill"))
    }


def test_key_colour_that_is_not_there_is_shown_in_the_build(project):
    """The warning is in the line of the step."""
    path = project / "project.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("#ff00ff", "#00ffff"), encoding="utf-8")
    done = run(project)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "part 1 (art/lamp.png) has no pixel of its key colour #00ffff" in done.stdout


def test_questions_answer_for_a_background_of_parts(project):
    """``where`` names its proofs, ``fit`` converts it at full size, and ``savings`` and ``why`` answer as for any other."""
    assert "build/proofs/hill.parts.png, build/proofs/hill.originals.png" in run(project, "where", "name=hill").stdout
    for words, said in ((("fit", "of=hill"), "[background.hill]\n    scale = 1.00"), (("savings",), "hill"), (("why",), "originals:hill")):
        done = run(project, *words)
        assert done.returncode == 0, done.stdout + done.stderr
        assert said.replace(":", " ") in done.stdout.replace(":", " "), words
