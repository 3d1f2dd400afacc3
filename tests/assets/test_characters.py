"""Characters asked for, with their places: what counts, and how a missing one is reported."""

from __future__ import annotations

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from pipeline.assets.fonts.characters import asked_characters, control_problems, missing_problem, plain_lines


def asked(folder, characters: str = "", **texts: bytes):
    """Return what is asked for and the problems, with texts written as files ``NAME.txt``."""
    problems = []
    for name, data in texts.items():
        (folder / f"{name}.txt").write_bytes(data)
    found = asked_characters(folder, "[font.small] characters", characters, [f"{name}.txt" for name in texts], problems)
    return found, [str(problem) for problem in problems]


def test_line_ends_and_a_byte_order_mark_do_not_count(tmp_path):
    """All three line ends; columns are counted in characters, not bytes."""
    found, problems = asked(tmp_path, "x\ny", a=b"\xef\xbb\xbfa\r\nb\rc\nd", b="żółw".encode())
    assert problems == []
    assert "".join(found) == "abcdwxyółż"
    assert found["a"].first == [("a.txt", "line 1, column 1")]
    assert found["b"].first == [("a.txt", "line 2, column 1")]
    assert found["c"].first == [("a.txt", "line 3, column 1")]
    assert found["d"].first == [("a.txt", "line 4, column 1")]
    assert found["w"].first == [("b.txt", "line 1, column 4")]
    assert found["y"].first == [("project.toml", "[font.small] characters, character 2")]


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r\n\ufeff")), max_size=5))
def test_every_character_is_counted_as_often_as_it_stands_there(tmp_path_factory, lines):
    """Counts are those of the texts; characters rise by code point."""
    found, problems = asked(tmp_path_factory.mktemp("texts"), a="\n".join(lines).encode())
    assert problems == []
    assert {character: uses.count for character, uses in found.items()} == Counter("".join(lines))
    assert list(found) == sorted(found)
    assert plain_lines("\n".join(lines)) == (lines or [""])


def test_texts_that_are_no_text_are_all_reported(tmp_path):
    """Each with its line; the others are still read."""
    found, problems = asked(tmp_path, a=b"ab\ncd\xff", b=b"xy", c=b"\xc3")
    assert problems == [
        "a.txt, line 2: not UTF-8 text\n    save the file as UTF-8",
        "c.txt, line 1: not UTF-8 text\n    save the file as UTF-8",
    ]
    assert "".join(found) == "xy"


def test_missing_file_is_reported(tmp_path):
    """A file that went away since the project was read."""
    problems = []
    assert asked_characters(tmp_path, "[font.small] characters", "", ["gone.txt"], problems) == {}
    assert [str(one) for one in problems] == [
        "gone.txt: cannot be read: No such file or directory\n    check the file and its permissions"
    ]


def test_one_use_and_many_are_reported(tmp_path):
    """The first three places with their files, and how many there are in all."""
    found, _ = asked(tmp_path, "?!", a="ż!\n!ż".encode(), b="!żż!\u00a0\U0001f600".encode())
    refusals = {one: str(missing_problem(one, uses, "has no glyph in a.ttf", "change it")) for one, uses in found.items()}
    assert refusals["?"] == "project.toml, [font.small] characters, character 1: '?' (U+003F) has no glyph in a.ttf\n    change it"
    assert refusals["!"] == (
        "project.toml, [font.small] characters, character 2: '!' (U+0021) has no glyph in a.ttf; used 5 times, "
        "also at a.txt, line 1, column 2; a.txt, line 2, column 1 and 2 more\n    change it"
    )
    assert refusals["ż"] == (
        "a.txt, line 1, column 1: 'ż' (U+017C) has no glyph in a.ttf; used 4 times, "
        "also at line 2, column 2; b.txt, line 1, column 2 and 1 more\n    change it"
    )
    assert refusals["\u00a0"] == "b.txt, line 1, column 5: U+00A0 has no glyph in a.ttf\n    change it"
    assert refusals["\U0001f600"] == "b.txt, line 1, column 6: '\U0001f600' (U+1F600) has no glyph in a.ttf\n    change it"


def test_tabs_and_other_controls_are_refused(tmp_path):
    """A tab has no width a program could know; both sets of controls are reported, line ends are not."""
    found, _ = asked(tmp_path, a="a\tb\n\tc\u0085\u007f".encode())
    assert [str(problem) for problem in control_problems(found)] == [
        "a.txt, line 1, column 2: U+0009 is a control character, which has no glyph; used 2 times, also at line 2, column 1\n"
        "    write spaces for a tab; take other control characters out",
        "a.txt, line 2, column 4: U+007F is a control character, which has no glyph\n"
        "    write spaces for a tab; take other control characters out",
        "a.txt, line 2, column 3: U+0085 is a control character, which has no glyph\n"
        "    write spaces for a tab; take other control characters out",
    ]
