"""``pipeline/guide/bring.md`` done block by block, as a stranger would: from a folder of art to a kit, and art that comes later."""

from __future__ import annotations

import re
import tomllib
import zipfile

import pytest

from tests.conftest import only_long
from tests.graph.builds import ROOT
from tests.graph.guide_walk import BLOCK, Walk

GUIDE = (ROOT / "pipeline/guide/bring.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def walk(tmp_path_factory) -> Walk:
    """The whole page."""
    only_long()
    walk = Walk(tmp_path_factory.mktemp("clone"))
    for kind, block in BLOCK.findall(GUIDE):
        if kind == "sh":
            walk.said.append(walk.run(block))
            walk.files.append({path.name: path.read_bytes() for path in walk.game.glob("*.toml")})
    return walk


def test_commands_print_what_the_page_says(walk):
    """Every line of output on the page, after the commands before it."""
    number = -1
    for kind, text in BLOCK.findall(GUIDE):
        number += kind == "sh"
        if kind == "text":
            assert [line for line in text.splitlines() if line not in walk.said[number].splitlines()] == []


def test_two_commands_make_a_kit(walk):
    """The kit holds the image and the packet; nothing was edited, and every asset of the listing is in the project file."""
    assert "All is well" in walk.said[1] or "Kit " in walk.said[1]
    (kit,) = (walk.game / "build/kit").glob("*.zip")
    assert {name.rpartition(".")[2] for name in zipfile.ZipFile(kit).namelist()} >= {"rom", "pdf"}
    project = tomllib.loads(walk.files[1]["project.toml"].decode())
    listed = re.findall(r"^  (sprite|background|sound|palette) +(\w+)", walk.said[1], re.MULTILINE)
    assert len(listed) == 8
    assert all(name in project[kind] for kind, name in listed)


def test_later_art_is_appended_and_nothing_else_changes(walk):
    """Shown first, without a change; then the file begins with all it held before, byte for byte."""
    first, shown, added = (walk.files[rank]["project.toml"] for rank in (1, 2, 3))
    assert shown == first
    assert added.startswith(first)
    assert set(tomllib.loads(added.decode())["sprite"]) - set(tomllib.loads(first.decode())["sprite"]) == {"oblako"}

