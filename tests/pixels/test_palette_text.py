"""Text palettes: both formats as other programs write and read them, and refusals that lead to the line."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import GimpPaletteFile

from pipeline.pixels.colours.palette_text import read_palette_text
from pipeline.plain.errors import ProjectError

COLOURS = [(0, 0, 0), (255, 255, 255), (12, 200, 7), (12, 200, 7)]
GIMP = (
    b"GIMP Palette\nName: Quay\nColumns: 4\n# drawn by hand\n  0   0   0\tBlack\n"
    b"255 255 255\tWhite # not a comment\n\n 12 200   7\n12 200 7 again\n"
)
JASC = b"JASC-PAL\r\n0100\r\n4\r\n0 0 0\r\n255 255 255\r\n12 200 7\r\n12 200 7\r\n"


@pytest.mark.parametrize("data", [GIMP, JASC])
@pytest.mark.parametrize("ending", [b"\n", b"\r\n", b"\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_colours_in_file_order(data, ending, mark):
    """Names, comments, line ends of three systems and a byte order mark change nothing; doubles stay."""
    assert read_palette_text(mark + data.replace(b"\r\n", b"\n").replace(b"\n", ending), "quay.pal") == COLOURS


def test_gaps_at_the_end():
    """Empty lines at the end, or no line end at all, are nothing."""
    assert read_palette_text(JASC + b"\r\n \r\n", "quay.pal") == read_palette_text(JASC.rstrip(), "quay.pal") == COLOURS


def test_names_in_another_encoding():
    """A colour's name that is not UTF-8 does not stop its colour."""
    assert read_palette_text(b"GIMP Palette\n1 2 3 Gr\xfcn\n", "quay.gpl") == [(1, 2, 3)]


@given(st.lists(st.tuples(*[st.integers(0, 255)] * 3), min_size=1, max_size=256))
def test_as_pillow_reads_it(colours):
    """Pillow's reader of the first format finds the same colours."""
    data = b"GIMP Palette\nName: x\n#\n" + b"".join(b"%3d %3d %3d\tone\n" % colour for colour in colours)
    theirs, mode = GimpPaletteFile.GimpPaletteFile(io.BytesIO(data)).getpalette()
    assert mode == "RGB"
    flat = [value for colour in read_palette_text(data, "x.gpl") for value in colour]
    assert list(theirs[: len(flat)]) == flat


DAMAGE = [
    (b"", "quay", "", "empty"),
    (b" \n\n", "quay", "", "empty"),
    (b"RIFF....PAL data", "quay", "line 1", "not a known palette format"),
    (b"GIMP Palette\nName: x\n", "quay", "", "no colour"),
    (b"GIMP Palette\n0 0 0\n1 2\n", "quay", "line 3", "2 values"),
    (b"GIMP Palette\n0 0 256\n", "quay", "line 2", "256 is above"),
    (b"GIMP Palette\n0 0 -1\n", "quay", "line 2", "'-1'"),
    (b"GIMP Palette\n0 0 0\nName: too late\n", "quay", "line 3", "'Name:'"),
    (b"GIMP Palette\n0 0 \xd9\xa1\n", "quay", "line 2", "not a whole number"),  # a digit, but not one of ASCII
    (b"JASC-PAL\n0200\n1\n0 0 0\n", "quay", "line 2", "'0200'"),
    (b"JASC-PAL\n0100\nmany\n0 0 0\n", "quay", "line 3", "'many'"),
    (b"JASC-PAL\n0100\n", "quay", "line 3", "not a number of colours"),
    (b"JASC-PAL\n0100\n3\n0 0 0\n1 1 1\n", "quay", "line 3", "the number of colours is 3, the number of lines with one is 2"),
    (b"JASC-PAL\n0100\n1\n0 0 0\n1 1 1\n", "quay", "line 3", "the number of colours is 1, the number of lines with one is 2"),
    (b"JASC-PAL\n0100\n0\n", "quay", "", "no colour"),
    (b"JASC-PAL\n0100\n1\n0 0 0 255\n", "quay", "line 4", "4 values"),
    (b"JASC-PAL\n0100\n2\n0 0 0\n\n1 1 1\n", "quay", "line 5", "0 values"),
]


@pytest.mark.parametrize(("data", "name", "place", "wrong"), DAMAGE)
def test_damage_is_refused_with_its_place(data, name, place, wrong):
    """Every kind of damage names file and line, says what is wrong and what to do."""
    with pytest.raises(ProjectError) as refusal:
        read_palette_text(data, name)
    first = refusal.value.problems[0]
    assert (first.file, first.place) == (name, place)
    assert wrong in first.wrong
    assert first.remedy


def test_one_damage_does_not_hide_the_next():
    """All damaged lines are reported, but a file of another kind does not flood the screen."""
    with pytest.raises(ProjectError) as refusal:
        read_palette_text(b"GIMP Palette\n0 0 x\n1 1 1\n300 0 0\n", "quay")
    assert [problem.place for problem in refusal.value.problems] == ["line 2", "line 4"]
    with pytest.raises(ProjectError) as refusal:
        read_palette_text(b"GIMP Palette\n" + b"x\n" * 1000, "quay")
    assert len(refusal.value.problems) == 20


@given(st.binary(max_size=200), st.sampled_from([b"", b"GIMP Palette\n", b"JASC-PAL\n0100\n2\n"]))
def test_any_bytes_are_read_or_refused(data, head):
    """Whatever follows, the answer is colours in range or a refusal."""
    try:
        colours = read_palette_text(head + data, "quay")
    except ProjectError:
        return
    assert colours
    assert all(0 <= value <= 255 for colour in colours for value in colour)
