"""Names of files read as words and numbers, and made names of assets. Patterns as artists write them: common practice, no source."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.bringing.group import Picture, group_pictures, number_rows
from pipeline.bringing.names import identifier, inner_number, read_name, split_action
from pipeline.project.loading.sources import IDENTIFIER

NAMES = [
    ("walk_01", ("walk",), 1),
    ("Walk (3)", ("walk",), 3),
    ("hero-run-0007", ("hero", "run"), 7),
    ("idle12", ("idle",), 12),
    ("HeroJump3", ("hero", "jump"), 3),
    ("attack [2]", ("attack",), 2),
    ("07", (), 7),
    ("облако 2", ("облако",), 2),
    ("sword", ("sword",), None),
    ("orc2_walk", ("orc", "2", "walk"), None),
]


@pytest.mark.parametrize(("stem", "words", "number"), NAMES, ids=[one[0] for one in NAMES])
def test_words_and_number(stem, words, number):
    """The number is the last one, where nothing but marks follows it."""
    named = read_name(stem)
    assert (named.words, named.number) == (words, number)


def test_number_inside_a_name():
    """As some programs export the frames of a GIF."""
    named = inner_number("frame_03_delay-0.1s")
    assert named is not None
    assert (named.number, named.skeleton) == (3, "frame_\0_delay-0.1s")


IDENTIFIERS = [
    ("Grand Père", "grand_pere"),
    ("Straße", "strasse"),
    ("птица", "ptica"),
    ("Ωμέγα", "omega"),
    ("カラス", "karasu"),
    ("무", "mu"),
    ("漢字", "sprite"),
    ("3 bats", "sprite_3_bats"),
    ("rock1c", "rock1c"),
    ("x" * 50, "x" * 32),
]


@pytest.mark.parametrize(("text", "name"), IDENTIFIERS, ids=[one[0][:12] for one in IDENTIFIERS])
def test_identifier_of_several_scripts(text, name):
    """Sources: ISO 9:1995 and ISO 843:1997 without accents; Unicode's names of kana and Hangul syllables."""
    assert identifier(text, "sprite") == name


@given(st.text(max_size=60))
def test_every_text_becomes_a_valid_name(text):
    """Whatever a file is called, the loader takes the name made of it."""
    assert IDENTIFIER.fullmatch(identifier(text, "sprite"))


@pytest.mark.parametrize(
    ("words", "subject", "action"),
    [
        ("hero walk left", "hero", "walk left"),
        ("walk", "", "walk"),
        ("running", "", "running"),
        ("goblin", "goblin", ""),
        ("orc e", "orc e", ""),
        ("attack 2", "", "attack 2"),
        ("walk slow", "", "walk slow"),
    ],
)
def test_subject_and_action(words, subject, action):
    """What moves, and how."""
    assert tuple(" ".join(part) for part in split_action(tuple(words.split()))) == (subject, action)


def figures(*names: str, size=(16, 16)) -> dict[str, dict[str, int]]:
    """Return figure -> action -> number of frames."""
    found = group_pictures([Picture(name, size) for name in names], "art")
    return {"_".join(one.subject): {"_".join(action): len(files) for action, files in one.rows} for one in found}


def test_rows_of_a_folder_are_its_figure():
    """Movements in a folder of the figure's name, one of them with a number that stays."""
    names = [f"pell/walk_{rank}.png" for rank in range(4)] + ["pell/wave.png", *(f"pell/Idle ({rank}).png" for rank in (1, 2))]
    assert figures(*names) == {"pell": {"idle": 2, "walk": 4, "wave": 1}}


def test_folder_for_each_movement():
    """``hero/walk/01.png``: the figure is the folder around, and directions belong to the movement."""
    names = [f"hero/{way}/{rank:02}.png" for way in ("walk/left", "walk/right", "die") for rank in range(3)]
    assert figures(*names) == {"hero": {"die": 3, "walk_left": 3, "walk_right": 3}}


def test_figures_in_one_folder_by_their_first_words():
    """``sprites/orc_walk_1.png`` beside ``sprites/elf_walk_1.png``."""
    names = [f"sprites/{who}_{what}_{rank}.png" for who in ("orc", "elf") for what in ("walk", "die") for rank in range(3)]
    assert figures(*names) == {"orc": {"die": 3, "walk": 3}, "elf": {"die": 3, "walk": 3}}


def test_sizes_are_no_row():
    """An icon in three sizes is three pictures."""
    rows = number_rows([Picture(f"icon{side}.png", (side, side)) for side in (16, 32, 64)])
    assert [len(row.pictures) for row in rows] == [1, 1, 1]


def test_many_things_of_one_size_are_one_sprite():
    """Ten pictures with names of their own."""
    names = [f"items/{word}.png" for word in ("axe", "bow", "cap", "dirk", "egg", "fig", "gem", "hat", "ink", "jug")]
    assert list(figures(*names)) == ["items"]


@given(st.lists(st.from_regex(re.compile(r"[a-c]{0,2}[ _-]?[0-9]{0,2}( \([0-9]\))?", re.ASCII), fullmatch=True), unique=True, max_size=12))
def test_every_picture_is_in_one_figure(stems):
    """No picture is lost, and none is in two."""
    names = [f"folder/{stem}.png" for stem in stems]
    found = group_pictures([Picture(name, (8, 8)) for name in names], "art")
    assert sorted(name for one in found for _, files in one.rows for name in files) == sorted(names)
