"""Image and map are in their places only when the image was read back and found as meant."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

import pipeline.rom.steps
from pipeline.plain.errors import ProjectError
from tests.conftest import some
from tests.graph.builds import build, copy_built, make_tiny, outputs, run
from tests.makers import build_here


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A tiny project that has been built."""
    project = make_tiny(tmp_path_factory.mktemp("built") / "project")
    build(project)
    return project


def test_image_that_does_not_verify_is_not_published(built, tmp_path, monkeypatch):
    """With one wrong byte in the writer's image the last one stays, with the map, the kit and the proofs that belong to it."""
    project = copy_built(built, tmp_path / "project")
    before = {name: digest for name, digest in outputs(project).items() if not name.startswith(("work/", "blobs/", "include/"))}
    right = pipeline.rom.steps.write_image

    def wrong(*given):
        image = bytearray(right(*given))
        image[-1] ^= 1
        return bytes(image)

    monkeypatch.setattr(pipeline.rom.steps, "write_image", wrong)
    (project / "level.bin").write_bytes(b"another level")
    with pytest.raises(ProjectError, match=r"small\.rom: "):
        build_here(project, "verify")

    now = outputs(project)
    assert {name: now.get(name) for name in before} == before
    assert now["work/small.rom"] != now["rom/small.rom"]
    monkeypatch.undo()
    build(project)
    assert outputs(project)["rom/small.rom"] == outputs(project)["work/small.rom"] != before["rom/small.rom"]


@pytest.mark.parametrize("word", ["rom", "verify"])
def test_rom_leaves_a_verified_image_and_its_map(word, tmp_path):
    """SHA-256 from hashlib is that of the map and that of the verification; nothing beyond is made."""
    project = make_tiny(tmp_path / "project")
    ran = build(project, word)
    assert "verify" in ran
    assert "kit" not in ran
    image = hashlib.sha256((project / "build/rom/small.rom").read_bytes()).hexdigest()
    assert json.loads((project / "build/map.json").read_bytes())["image"]["sha256"] == image
    assert json.loads((project / "build/work/verified.json").read_bytes())["sha256"] == image
    assert build(project, word) == []


@pytest.mark.parametrize("name", some(["rom/small.rom", "map.json", "work/small.rom", "work/map.json"], 2))
@pytest.mark.parametrize("harm", ["in place", "another file", "gone"])
def test_tampering_with_either_is_noticed(harm, name, built, tmp_path):
    """Written into, replaced, removed: the step that writes the file runs again, and no other where the file is then as it was."""
    project = copy_built(built, tmp_path / "project")
    before, path = outputs(project), project / "build" / name
    data = path.read_bytes()
    if harm != "in place":
        path.unlink()
    if harm != "gone":
        path.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    assert build(project) == ["image" if name.startswith("work/") else "verify"]
    assert outputs(project) == before


def test_failed_build_says_that_the_last_image_stands(built, tmp_path):
    """It is named with what else was not made again."""
    project = copy_built(built, tmp_path / "project")
    (project / "level.bin").write_bytes(b"")
    done = run(project)
    assert done.returncode != 0
    assert "Not made again, and as the last good build left it: image, packet, kit, report." in done.stdout
    assert (project / "build/rom/small.rom").is_file()
