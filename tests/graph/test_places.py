"""Steps know table and key; what a person reads has the line too. Lines are counted here by hand."""

from __future__ import annotations

from pipeline.graph.places import with_lines

TEXT = """format = 1
[game]
title = "A"

[sprite.ada]
anchor = [1, 2]

[sprite.ada.animations]
walk = { frames = "w_*", ms = 3 }

[pool.cells]
[[scene.race.choose]]
count = 2
"""


def placed(tmp_path, text: str) -> str:
    """Return a refusal as it is shown for ``TEXT``."""
    (tmp_path / "project.toml").write_text(TEXT)
    return with_lines(text, tmp_path)


def test_tables_keys_and_missing_keys_get_their_lines(tmp_path):
    """A key has its own line, one that is not there its table's; tables named only in their parts have the first of them."""
    text = (
        "project.toml, [sprite.ada] anchor: wrong\n    do\n"
        "project.toml, [sprite.ada] scale: wrong\n    do\n"
        "project.toml, [sprite.ada.animations.walk] frames: wrong\n    do\n"
        "project.toml, [pool.cells]: wrong\n    see project.toml, [pool.cells]\n"
        "project.toml, [scene.race] never: wrong\n    do"
    )
    assert placed(tmp_path, text) == (
        "project.toml, line 6, [sprite.ada] anchor: wrong\n    do\n"
        "project.toml, line 5, [sprite.ada] scale: wrong\n    do\n"
        "project.toml, line 9, [sprite.ada.animations.walk] frames: wrong\n    do\n"
        "project.toml, line 11, [pool.cells]: wrong\n    see project.toml, [pool.cells]\n"
        "project.toml, line 12, [scene.race] never: wrong\n    do"
    )


def test_what_has_no_place_stays_as_it_is(tmp_path):
    """Tables that are not there, lines that are known, other files, and a project file that cannot be read."""
    for text in ("project.toml, [burn] forms: x", "project.toml, line 3, [game]: x", "art/a.png: x", "project.toml: x"):
        assert placed(tmp_path, text) == text
    (tmp_path / "project.toml").write_text("format = = 1")
    assert with_lines("project.toml, [sprite.ada]: x", tmp_path) == "project.toml, [sprite.ada]: x"
