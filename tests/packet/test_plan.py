"""The test plan in packets, read back by pypdf: boxes, dots and numbers are counted, links are looked up."""

from __future__ import annotations

import itertools
from pathlib import Path

import pypdf
import pytest

import pipeline.project.file as pf
from pipeline.joints.places import Sources
from pipeline.packet.content.party import Gap
from pipeline.packet.document import write_packet
from pipeline.packet.personal import write_personal
from pipeline.plain.errors import ProjectError
from pipeline.project.plan import Grid, Plan, Task
from pipeline.project.testers import entry_mark, read_testers
from tests.conftest import some
from tests.release.making import BUILD, DATE, make_spec, packet_files, write_boot

DIVE = "Dive from each cliff with each bird."
SIDES = (("Gull", "Tern", "Skua"), ("North", "South"), ("Two-button pad", "Light gun"))
GRID = Grid(DIVE, ("bird", "cliff", "pads"), SIDES, tuple(itertools.product(range(3), range(2), range(2))), ("two", "gun") * 6, None, None)
ALONE = Grid("Leave the title.", (), (), ((),), ("",), None, None)
LINKS = pf.Links(
    feedback="https://example.org/f/{build}?t={tester}",
    bugs="https://example.org/b?t={tester}&k=1",
    download="https://example.org/d?t={tester}",
    more={"Rules": "https://example.org/rules?who={tester}#top"},
)


def spec() -> dict:
    return make_spec(links=LINKS, plan=Plan(task=[Task(text=DIVE), Task(text=ALONE.text)]))


def packet(folder: Path, grids=(GRID, ALONE), **more) -> pypdf.PdfReader:
    more |= {"grids": grids, "boot": write_boot(folder), "image_name": "kest.rom"}
    write_packet(*packet_files(folder), spec(), DATE, "Basalt 32", folder / "p.pdf", **more)
    return pypdf.PdfReader(folder / "p.pdf", strict=True)


def section(reader: pypdf.PdfReader, title: str) -> str:
    """Return what is between the heading of the plan and the next one."""
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    return text[text.index(title) :].partition("How to copy and run it")[0]


def links(reader: pypdf.PdfReader) -> set[str]:
    found = (note.get_object()["/A"] for page in reader.pages for note in page.get("/Annots", ()) if "/A" in note.get_object())
    return {action["/URI"] for action in found if "/URI" in action}


def test_everybodys_packet_has_every_cell_as_a_box(tmp_path):
    """Twelve cells and a task alone; links without the tester's parameter."""
    reader = packet(tmp_path)
    text = section(reader, "What to go through")
    assert text.count("☐") == 13
    assert all(name in text for name in (DIVE, "Gull", "South", "Pad: Two-button pad", "Pad: Light gun"))
    assert links(reader) == {f"https://example.org/f/{BUILD}", f"https://example.org/b?k=1&b={BUILD}", "https://example.org/d",
                             "https://example.org/rules#top"}  # fmt: skip


def test_a_testers_packet_has_their_cells_as_boxes_and_the_others_as_dots(tmp_path):
    """Number on the first page, five boxes and seven dots; the links carry the number."""
    reader = packet(tmp_path, tester="T3", name="Zoë", shares={3: ((0, 3, 4, 7, 11), (0,))})
    text = section(reader, "Your share")
    assert (text.count("☐"), text.count("·")) == (6, 7)
    assert "This packet is for Zoë. You are T3" in text
    assert "(yours: 5 of 12)" in text
    first = " ".join(reader.pages[0].extract_text().split())
    assert "Tester T3" in first
    assert "The codes in this picture lack your number. Scan those beside it" in first
    assert {link for link in links(reader) if "T3" not in link} == set()
    assert f"https://example.org/b?t=T3&k=1&b={BUILD}" in links(reader)


def test_tasks_that_are_not_theirs_are_left_out(tmp_path):
    """Of two tasks one; of none the packet says so."""
    text = section(packet(tmp_path, tester="T3", shares={3: ((), (0,))}), "Your share")
    assert DIVE not in text
    assert "You are T3" in text
    assert "None of this is assigned to you" in section(packet(tmp_path, tester="T3", shares={3: ((), ())}), "Your share")


def test_the_authors_copy_says_who_has_what_and_what_is_open(tmp_path):
    """Numbers in the cells, a dash where nobody is, and why."""
    reader = packet(tmp_path, shares={3: ((0, 2, 4), (0,)), 12: ((6, 0), ())}, gaps=[Gap(0, (1, 3, 5, 7, 9, 11), "gun"), Gap(0, (8, 10))])
    text = section(reader, "Who tests what")
    assert "T3 T12" in text
    assert (text.count("–"), text.count("☐")) == (8, 1)
    assert "Nobody on the list has the pad: Light gun. Task 1, 6 open." in text
    assert "task 1, 2 open. Skua, North, Two-button pad; Skua, South, Two-button pad" in text


def test_cells_that_are_ruled_out_stay_empty(tmp_path):
    """A grid of six with one cell less has five boxes."""
    less = Grid(DIVE, ("bird", "cliff"), SIDES[:2], GRID.cells[:0] + ((0, 0), (0, 1), (1, 0), (2, 0), (2, 1)), ("",) * 5, None, None)
    assert section(packet(tmp_path, (less,)), "What to go through").count("☐") == 5


@pytest.mark.parametrize("shape", some([(1, 1), (40, 3), (3, 40), (90, 6), (2, 2, 2, 3), (23,)], 3))
def test_grids_of_any_shape_have_all_their_cells(tmp_path, shape):
    """Wide ones go on in a further table, long ones on the next page."""
    sides = tuple(tuple(f"V{rank}" for rank in range(count)) for count in shape)
    cells = tuple(itertools.product(*map(range, shape)))
    one = Grid("Go", tuple("abcd"[: len(shape)]), sides, cells, ("",) * len(cells), None, None)
    assert section(packet(tmp_path, (one,)), "What to go through").count("☐") == len(cells)


def test_a_game_without_a_plan_has_no_such_section(tmp_path):
    """Then nothing is said of it, with a number or without."""
    for more in ({}, {"tester": "T3", "shares": {3: ()}}):
        assert "Your share" not in (text := " ".join(page.extract_text() for page in packet(tmp_path, (), **more).pages))
        assert "go through" not in text


def test_name_comes_from_the_list_and_is_in_nothing_else(tmp_path):
    """What is said of the step has the number alone; a name whose letters cannot be set is left out, and not quoted."""
    (tmp_path / "reports").mkdir()
    file = tmp_path / "reports/testers.toml"
    file.write_text('[[tester]]\nnumber = 4\nname = "Zabriska Quill"\n', encoding="utf-8")
    given = dict(zip(("map_file", "wording", "written"), packet_files(tmp_path), strict=True))
    given |= {"spec": spec(), "date": DATE, "console": "Basalt 32", "boot": None, "image_name": "kest.rom"}
    given |= {"grids": (ALONE,), "shares": {4: ((0,),)}, "out": tmp_path / "p.pdf"}
    (tester,) = read_testers(tmp_path)
    said = write_personal(Sources(tmp_path, ("reports/testers.toml",)), 4, entry_mark(tester), **given)
    assert said.startswith("T4: ")
    assert "Zabriska" not in said
    assert "This packet is for Zabriska Quill." in section(pypdf.PdfReader(tmp_path / "p.pdf"), "Your share")
    file.write_text('[[tester]]\nnumber = 4\nname = "かな"\n', encoding="utf-8")
    with pytest.raises(ProjectError, match="changed while the build ran"):
        write_personal(Sources(tmp_path, ("reports/testers.toml",)), 4, entry_mark(tester), **given)
    (tester,) = read_testers(tmp_path)
    said = write_personal(Sources(tmp_path, ("reports/testers.toml",)), 4, entry_mark(tester), **given)
    assert said.endswith("without a name, whose letters the packet cannot set")
    assert "かな" not in said
    share = section(pypdf.PdfReader(tmp_path / "p.pdf"), "Your share")
    assert "You are T4" in share
    assert "This packet is for" not in share
