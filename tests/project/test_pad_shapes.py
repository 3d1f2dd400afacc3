"""The notation of a button's place, against worked examples of pipeline/guide/release.md and plain geometry."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plain.checked import build, read_document
from pipeline.project.file import Control, Pad, Project
from pipeline.project.loading.pads import check_pads
from pipeline.project.pad_shapes import SHAPES, Place, read_place, used_buttons

GUIDE = Path(__file__).parents[2] / "pipeline/guide/release.md"
START = 'format = 1\n[game]\ntitle = "T"\ncode = "TT"\nversion = "1.0.0"\nphase = "beta"\ntarget = "basalt32"\n'
START += '[links]\nfeedback = "https://example.org/f"\nbugs = "https://example.org/b"\n'


def said(folder: Path, text: str) -> list[str]:
    """Return the problems of pads and controls, each with the text of its line."""
    (folder / "project.toml").write_text(START + text, encoding="utf-8")
    document = read_document(folder / "project.toml", "project.toml")
    spec = build(document, (), document.data, Project)
    if spec:
        check_pads(document, spec)
    lines = (START + text).splitlines()
    found = []
    for problem in document.problems:
        line, _, place = problem.place.partition(", ")
        found.append((lines[int(line.removeprefix("line ")) - 1], place, problem.wrong, problem.remedy))
    return found


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("9 3", Place(18, 6, "round")),
        ("4.5 2 bar", Place(9, 4, "bar")),
        ("  2   3.0  cross ", Place(4, 6, "cross")),
        ("2 shoulder", Place(4, 0, "shoulder")),
        ("12 5 square", Place(24, 10, "square")),
    ],
)
def test_places_are_read_in_halves(text, place):
    """Columns and rows are counted from 1 in halves; worked by hand."""
    assert read_place(text) == place


AS = 'write column, row and perhaps a shape, such as "9 3", "4.5 2 bar", "2 3 cross" or "2 shoulder"'


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", f"'' is not a place of a button; {AS}"),
        ("bar", f"'bar' is not a place of a button; {AS}"),
        ("9 3 round bar", f"'9 3 round bar' is not a place of a button; {AS}"),
        ("9 3 1", f"'9 3 1' is not a place of a button; {AS}"),
        ("bar 9 3", f"'bar 9 3' is not a place of a button; {AS}"),
        ("9 3.25", f"'9 3.25' is not a place of a button: 3.25 is neither a whole nor a half number; {AS}"),
        ("9 3 rund", "unknown shape 'rund' in '9 3 rund'; did you mean round?"),
        ("9 3 zzz", "unknown shape 'zzz' in '9 3 zzz'; the shapes are round, square, cross, bar, shoulder"),
        ("9 bar", f"'9 bar' has no row; {AS}"),
        ("9", f"'9' has no row; {AS}"),
        ("2 1 shoulder", "'2 1 shoulder' has a row too many; leave its row out: it is on the upper edge"),
        ("-1 3", f"'-1 3' is not a place of a button; {AS}"),
    ],
)
def test_other_texts_are_refused(text, wrong):
    """Each with what is wrong and what to do."""
    with pytest.raises(ValueError, match=re.escape(wrong) + "$"):
        read_place(text)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text):
    """Nothing but ValueError comes out, with a remedy after the semicolon."""
    try:
        place, refusal = read_place(text), ""
    except ValueError as error:
        place, refusal = None, str(error)
    assert place.shape in SHAPES if place else re.search(r"\S; \S", refusal)


@given(st.integers(2, 40), st.integers(2, 24), st.sampled_from(["round", "bar"]), st.integers(2, 40), st.integers(2, 24))
def test_overlap_is_that_of_rectangles(x, y, shape, z, w):
    """Two boxes overlap when their middles are nearer than half the sum of their sides, in both directions."""
    wide = 1.5 if shape == "bar" else 1.0
    near = abs(x - z) / 2 < wide and abs(y - w) / 2 < 1
    assert Place(x, y, shape).box.overlaps(Place(z, w, "round").box) == near
    assert Place(z, w, "round").box.overlaps(Place(x, y, shape).box) == near


def test_ways_of_a_control():
    """Plus joins, slash parts."""
    assert used_buttons("A + B / C") == [["A", "B"], ["C"]]


def test_example_of_the_guide_is_right(tmp_path):
    """The guide's first example of a pad has no problem, and its pad every shape but square."""
    section = GUIDE.read_text(encoding="utf-8").partition("## Pads and controls")[2]
    example = section.partition("```toml\n")[2].partition("```")[0]
    assert said(tmp_path, example) == []
    shapes = {read_place(text).shape for text in tomllib.loads(example)["pad"]["two"]["buttons"].values()}
    assert shapes == set(SHAPES) - {"square"}


PAD = '[pad.one]\nname = "P"\n'


@pytest.mark.parametrize(
    ("text", "line", "place", "wrong", "remedy"),
    [
        (
            'buttons = ["A", "A"]', "buttons =", "[pad.one] buttons[1]", "pad 'one' has button 'A' twice",
            "name it once, or give the two different names",
        ),
        (
            'buttons = ["A / B"]', "buttons =", "[pad.one] buttons[0]",
            "button 'A / B' has a joint in its name: plus and slash between spaces join buttons in [[control]]",
            "leave the spaces around it out",
        ),
        ('buttons = [""]', "buttons =", "[pad.one] buttons[0]", "'' cannot be a button's name", "give it a name without spaces around it"),
        ('buttons = { A = "9 3 rund" }', "buttons =", "[pad.one.buttons] A", "unknown shape 'rund' in '9 3 rund'", "did you mean round?"),
        (
            'buttons = { A = 3 }', "buttons =", "[pad.one.buttons] A", "expected a place, saw 3", "for example: \"9 3\"",
        ),
        (
            'buttons = { A = "13 3" }', "buttons =", "[pad.one.buttons] A",
            "'A' at '13 3' does not lie on the pad, whose grid is [12, 5]",
            "a round's column is 1 to 12, its row 1 to 5; or give the pad a larger grid",
        ),
        (
            'buttons = { A = "1 5 bar" }', "buttons =", "[pad.one.buttons] A",
            "'A' at '1 5 bar' does not lie on the pad, whose grid is [12, 5]",
            "a bar's column is 1.5 to 11.5, its row 1 to 5; or give the pad a larger grid",
        ),
        (
            'buttons = { A = "12 shoulder" }', "buttons =", "[pad.one.buttons] A",
            "'A' at '12 shoulder' does not lie on the pad, whose grid is [12, 5]",
            "a shoulder's column is 1.5 to 11.5; or give the pad a larger grid",
        ),
        (
            'grid = [1, 2]\nbuttons = { A = "1 1 bar" }', "buttons =", "[pad.one.buttons] A",
            "'A' at '1 1 bar' does not lie on the pad, whose grid is [1, 2]",
            "choose another shape, or make the grid wider: a bar takes two columns",
        ),
        (
            '[pad.one.buttons]\nA = "9 3"\nB = "9.5 3.5 bar"', "B =", "[pad.one.buttons] B",
            "'B' at '9.5 3.5 bar' overlaps 'A' at '9 3'",
            "move one of them: a bar and a shoulder are two columns wide, all others one column, and all one row high",
        ),
        (
            'buttons = ["A"]\n[[control]]\naction = "Hop"\nbuttons = { one = "A+A" }', "buttons = { one", "[control[0].buttons] one",
            "pad 'one' has no button 'A+A'", 'put a space on each side of the +: "A + A"',
        ),
        (
            '[pad.one.buttons]\nStart = "9 3"\n[[control]]\naction = "Hop"\nbuttons = { one = "Strat" }', "buttons = { one",
            "[control[0].buttons] one", "pad 'one' has no button 'Strat'", "did you mean Start?",
        ),
    ],
)  # fmt: skip
def test_bad_pads_are_refused_with_their_line(tmp_path, text, line, place, wrong, remedy):
    """One problem each, at the line that holds it."""
    ((seen, where, what, how),) = said(tmp_path, PAD + text + "\n")
    assert seen.startswith(line)
    assert (where, what, how) == (place, wrong, remedy)


def test_all_problems_of_a_pad_come_at_once(tmp_path):
    """Two outside, one overlap, one misspelt control."""
    text = PAD + '[pad.one.buttons]\nA = "0.5 3"\nB = "3 6"\nC = "5 5"\nD = "5.5 5"\n[[control]]\naction = "x"\nbuttons = { one = "E" }\n'
    assert len(said(tmp_path, text)) == 4


def test_plain_list_stays_valid(tmp_path):
    """No place is asked of a list, and no grid."""
    assert said(tmp_path, PAD + 'buttons = ["A", "B"]\n[[control]]\naction = "x"\nbuttons = { one = "A + B / A" }\n') == []
    assert Pad(name="P", buttons=["A"]).grid == (12, 5)
    assert Control(action="x", buttons={}).buttons == {}
