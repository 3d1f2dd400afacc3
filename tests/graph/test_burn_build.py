"""The files for burning in a whole build: listed, kept, changed and taken away with the table that asks for them."""

from __future__ import annotations

import hashlib
import json

import pytest

from tests.graph.builds import build, make_project, run


@pytest.fixture
def folder(tmp_path):
    """A small project without a table for burning, built up to the image."""
    made = make_project(tmp_path / "small")
    build(made, "rom")
    return made


def test_a_table_for_burning_comes_changes_and_goes(folder):
    """Each name listed is there with its sum; another form takes the first one's files away, and no table takes all."""
    project, made = folder / "project.toml", folder / "build/burn"
    plain = project.read_text(encoding="utf-8")
    assert not made.exists()
    asked = run(folder, "burn")
    assert asked.returncode != 0
    assert "[burn]: is missing" in asked.stdout
    project.write_text(plain + '[burn]\nforms = ["even-odd", "s-record"]\n', encoding="utf-8")
    done = run(folder, "burn")
    assert done.returncode == 0, done.stdout + done.stderr
    image = next((folder / "build/rom").glob("*.rom")).read_bytes()
    halves = [(made / f"small.{name}.bin").read_bytes() for name in ("even", "odd")]
    assert halves == [image[0::2], image[1::2]]
    assert f"even-odd: two of {len(image) // 2048} KiB, 8 bits wide" in done.stdout
    assert "burning.md" in done.stdout
    listed = json.loads((folder / "build/burn.json").read_bytes())["files"]
    assert {name: hashlib.sha256((folder / "build" / name).read_bytes()).hexdigest() for name in listed} == listed
    assert "burning" not in build(folder, "burn")
    project.write_text(plain + '[burn]\nforms = ["intel-hex"]\n', encoding="utf-8")
    assert build(folder, "burn") == ["burning"]
    assert sorted(path.name for path in made.iterdir()) == ["CHECKSUM.TXT", "small.hex"]
    (made / "mine.txt").write_text("a file of the author's")
    project.write_text(plain, encoding="utf-8")
    build(folder, "rom")
    assert [path.name for path in made.iterdir()] == ["mine.txt"]
    assert not (folder / "build/burn.json").exists()
