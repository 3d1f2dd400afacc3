"""The packet as a screen reader gets it: its structure by pypdf, and as poppler's pdfinfo reads it.

ISO 32000-1: 14.6 marked content, 14.7 logical structure, 14.8 tagged PDF. Of ISO 14289-1 (PDF/UA-1) what the Matterhorn Protocol can
have checked by a program and is checked here: all content tagged or an artifact (01-005), figures with words (13-004), links and fields in
the structure (28-010, 28-011), tab order (28-009), title shown (07-001), language (11-006), no heading level skipped (14-003). From memory.
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest

import pipeline.project.file as pf
from tests.conftest import need_tool
from tests.packet.test_language import author_packet, full_packet, personal_packet
from tests.packet.test_packet import make_packet, read_pages
from tests.release.making import BUGS, BUILD, FEEDBACK, make_game

PAINTS = {b"S", b"s", b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"sh", b"Do", b"Tj", b"TJ", b"'", b'"', b"INLINE IMAGE"}
STRUCTURE = ("Document", "Sect", "H1", "H2", "P", "L", "LI", "Lbl", "LBody", "Table", "TR", "TH", "TD", "Figure", "Link", "Form")
ROLES = {f"/{name}" for name in STRUCTURE}
CASES = {
    "full": lambda folder: full_packet(folder, "en"),
    "author": lambda folder: author_packet(folder, "en"),
    "own": lambda folder: personal_packet(folder, "de"),
    "large": lambda folder: make_packet(folder, game=make_game(text="large")),
}


@pytest.fixture(scope="module", params=CASES)
def packet(request, tmp_path_factory) -> Path:
    return CASES[request.param](tmp_path_factory.mktemp("tagged"))


def kids(element: Any) -> list[Any]:
    """Return the kids of an element, references resolved."""
    found = element.get("/K", [])
    return [one.get_object() for one in (found if isinstance(found, list) else [found])]


def elements(root: Any) -> Iterator[Any]:
    """Yield every element below the root, in order."""
    for kid in kids(root):
        if isinstance(kid, dict) and "/S" in kid:
            yield kid
            yield from elements(kid)


def structure(path: Path) -> tuple[pypdf.PdfReader, list[Any]]:
    reader = pypdf.PdfReader(path, strict=True)
    return reader, list(elements(reader.trailer["/Root"]["/StructTreeRoot"]))


def parents(reader: pypdf.PdfReader) -> dict[int, Any]:
    numbers = reader.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    return {int(key): value.get_object() for key, value in zip(numbers[::2], numbers[1::2], strict=True)}


def test_document_says_that_it_is_tagged(packet):
    """Marked, with a language and a title that is shown in the window's bar and said in XMP; only standard roles."""
    reader, found = structure(packet)
    root = reader.trailer["/Root"]
    assert str(root["/MarkInfo"]["/Marked"]).strip("/") in ("true", "True")
    assert root["/Lang"] in ("en", "de")
    assert str(root["/ViewerPreferences"]["/DisplayDocTitle"]).strip("/") in ("true", "True")
    assert reader.metadata.title in root["/Metadata"].get_object().get_data().decode()
    assert {one["/S"] for one in found} <= ROLES
    assert [kid["/S"] for kid in kids(root["/StructTreeRoot"])] == ["/Document"]


def test_everything_drawn_is_in_the_structure_or_an_artifact(packet):
    """No painting operator outside of marked content; marks are not nested, and balanced within text objects."""
    reader, found = structure(packet)
    known = parents(reader)
    for page in reader.pages:
        open_mark, in_text, numbers = None, False, []
        for operands, operator in page.get_contents().operations:
            if operator in (b"BDC", b"BMC"):
                assert open_mark is None
                assert not in_text
                open_mark = operands[0]
                if operator == b"BDC":
                    numbers.append(int(operands[1]["/MCID"]))
            elif operator == b"EMC":
                assert open_mark is not None
                assert not in_text
                open_mark = None
            elif operator in (b"BT", b"ET"):
                in_text = operator == b"BT"
            elif operator in PAINTS:
                assert open_mark is not None, (operator, operands)
        assert open_mark is None
        assert numbers == list(range(len(numbers)))
        held = known[int(page["/StructParents"])]
        assert len(held) == len(numbers)
        for number, element in enumerate(held):
            assert number in [kid for kid in kids(element.get_object()) if isinstance(kid, int)]
        assert page["/Tabs"] == "/S"
    marked = sum(isinstance(kid, int) for one in found for kid in kids(one))
    assert marked == sum(len(known[int(page["/StructParents"])]) for page in reader.pages)


def test_links_and_fields_are_in_the_structure(packet):
    """Each annotation is the object of one Link or Form, which its own number leads to; each link says in words where it leads."""
    reader, _ = structure(packet)
    known, seen = parents(reader), 0
    for page in reader.pages:
        for reference in page.get("/Annots", []):
            note = reference.get_object()
            element = known[int(note["/StructParent"])]
            assert element["/S"] == ("/Form" if note["/Subtype"] == "/Widget" else "/Link")
            assert any(isinstance(kid, dict) and kid.get("/Type") == "/OBJR" and kid["/Obj"] == note for kid in kids(element))
            assert note.get("/TU") or note.get("/Contents")
            seen += 1
    assert seen > 20


def test_figures_have_words_and_a_place(packet):
    """Boot notice, codes, pads, pictures before and now, bars of memory."""
    _, found = structure(packet)
    figures = [one for one in found if one["/S"] == "/Figure"]
    assert len(figures) >= 4
    for one in figures:
        assert str(one["/Alt"]).strip()
        left, bottom, right, top = one["/A"]["/BBox"]
        assert right > left
        assert top > bottom


def test_figures_of_a_packet_say_what_they_show(tmp_path):
    """The codes by where they lead, the notice by its build code, a pad by its name."""
    pads = {"two": pf.Pad(name="Two-button pad", buttons={"A": "3 3", "B": "5 3"})}
    _, found = structure(make_packet(tmp_path, pad=pads))
    said = [one["/Alt"] for one in found if one["/S"] == "/Figure"]
    assert said[0] == f"Boot screen of Kestrel 0.3.1 with the build code {BUILD} and two codes to scan."
    assert said[1:3] == [f"Code to scan that leads to {link}" for link in (FEEDBACK, BUGS)]
    assert "Drawing of the Two-button pad. What its buttons do is listed after it." in said


def test_headings_are_those_of_the_outline(packet):
    """One main heading, the title; the others, one level below, in the order of the outline, each the first of its section."""
    reader, found = structure(packet)
    assert [one["/S"] for one in found if one["/S"] in ("/H1", "/H2")] == ["/H1"] + ["/H2"] * (len(reader.outline) - 1)
    sections = [one for one in found if one["/S"] == "/Sect"]
    assert len(sections) == len(reader.outline)
    assert [kids(one)[0]["/S"] for one in sections] == ["/H1"] + ["/H2"] * (len(sections) - 1)


def test_tables_are_whole(packet):
    """Rows of heads and cells, as many in each row; every head says what it is the head of; a head set again is not read again."""
    _, found = structure(packet)
    tables = [one for one in found if one["/S"] == "/Table"]
    assert len(tables) >= 3
    for table in tables:
        rows = kids(table)
        assert {row["/S"] for row in rows} == {"/TR"}
        assert len({len(kids(row)) for row in rows}) == 1
        assert {cell["/S"] for row in rows for cell in kids(row)} <= {"/TH", "/TD"}
        heads = [cell["/A"]["/Scope"] for row in rows for cell in kids(row) if cell["/S"] == "/TH"]
        assert set(heads) <= {"/Column", "/Row"}
        assert heads.count("/Column") in (0, len(kids(rows[0])))


def test_a_table_of_many_pages_is_one_table(tmp_path):
    """Sixty issues over several pages: one table, its head once, a row for each."""
    issues = [pf.Issue(id=f"KE-{rank}", severity="minor", where="Cliff", what="A feather flickers. " * 6) for rank in range(60)]
    reader, found = structure(make_packet(tmp_path, issue=issues))
    assert len(reader.pages) > 6
    (table,) = [one for one in found if one["/S"] == "/Table" and len(kids(one)) > 30]
    assert len(kids(table)) == 61
    assert [cell["/A"]["/Scope"] for cell in kids(kids(table)[0])] == ["/Column"] * 5


def test_lists_hold_items_with_their_marks_apart(packet):
    """Boxes, dots and numbers are labels, so that they can be left out or read as such."""
    _, found = structure(packet)
    lists = [one for one in found if one["/S"] == "/L"]
    assert lists
    for one in lists:
        for item in kids(one):
            assert [kid["/S"] for kid in kids(item)] == ["/Lbl", "/LBody"]


def test_poppler_reads_the_structure_in_order(tmp_path):
    """pdfinfo -struct-text: headings in their order, sentences with their spaces, and no word of the page left out but the foot's."""
    packet = make_packet(tmp_path)
    done = subprocess.run([need_tool("pdfinfo"), "-struct-text", str(packet)], capture_output=True, check=True)
    assert b"rror" not in done.stderr
    read = [line.strip().strip('"') for line in done.stdout.decode().splitlines() if line.strip().startswith('"')]
    headings = ("Kestrel", "Test checklist", "How to copy and run it", "Cautions", "Controls", "Known issues")
    places = [read.index(words) for words in headings]
    assert places == sorted(places)
    text = " ".join(read)
    assert "sit well back and rest often. Stop at once if you feel dizzy or unwell, your sight changes" in text
    for page in read_pages(packet):
        body = page.partition("Kestrel 0.3.1")[2]
        assert [word for word in body.split() if word not in text and word.strip("☐•.") not in text.replace(" ", "")] == []
