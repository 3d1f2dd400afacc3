"""The report page: filled in by pypdf and, key by key, by pdfium, the engine of a browser; read back, drawn, and checked by qpdf."""

from __future__ import annotations

import ctypes
import json
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import zxingcpp
from pypdf.constants import FieldDictionaryAttributes as Flags

import pipeline.project.file as pf
from pipeline.packet.document import write_packet
from pipeline.plain.shipped import TEMPLATES
from tests.conftest import need_tool, some
from tests.makers import budget_json
from tests.packet.packet_boxes import collisions, strays, words_of
from tests.packet.test_packet import make_packet, read_pages
from tests.release.making import BUGS, BUILD, DATE, make_game, make_spec, packet_files

TEXTS = ["build", "version", "date", "tester", "where", "issue", "expected", "seen", "steps"]
OFTEN = ["often_1", "often_2", "often_3", "counted"]
SEVERITY = ["severity_critical", "severity_major", "severity_minor", "severity_cosmetic"]
PADS = ["pad_1", "pad_2"]
SET_UP = ["console", "cartridge", "screen"]
FIELDS = [*TEXTS, *OFTEN, *SEVERITY, *PADS, *SET_UP]  # in the order in which they are read
FILLED = {
    "date": "Tuesday", "where": "Łódź, second cliff", "expected": "First line\nsecond line", "seen": "Привет Ωμέγα 隼 ½",
    "steps": "A, B, A", "counted": "3 of 5", "often_2": "/Yes", "severity_major": "/Yes", "pad_1": "/Yes", "screen": "(a) \\ tube",
}  # fmt: skip
MM = 72 / 25.4
SIZES = [(text, paper) for text in ("normal", "large") for paper in ("A4", "Letter")]
TAB = 9  # as pdfium's header fpdf_fwlevent.h numbers the key


@pytest.fixture(scope="module")
def packet(tmp_path_factory) -> Path:
    return make_packet(tmp_path_factory.mktemp("form"))


@pytest.fixture(scope="module", params=some(SIZES, 2), ids="-".join)
def any_size(request, tmp_path_factory) -> Path:
    text, paper = request.param
    return make_packet(tmp_path_factory.mktemp("form"), game=make_game(text=text, paper=paper))


def widgets(path: Path) -> list[tuple[int, dict[str, Any]]]:
    """Return (page, field) in the order in which they are in the file."""
    found = []
    for rank, page in enumerate(pypdf.PdfReader(path).pages):
        annotations = [one.get_object() for one in page.get("/Annots", [])]
        found += [(rank, one) for one in annotations if one["/Subtype"] == "/Widget"]
    return found


def box_of(field: dict[str, Any]) -> tuple[float, ...]:
    return tuple(map(float, field["/Rect"]))


def test_a_personal_packet_knows_its_number(tmp_path):
    """The field of the tester's number holds it and cannot be changed; in everybody's packet it is empty (reader: pypdf)."""
    out = tmp_path / "packet.pdf"
    write_packet(*packet_files(tmp_path), make_spec(), DATE, "Basalt 32", out, None, "kest.rom", tester="T3")
    fields = pypdf.PdfReader(out, strict=True).get_fields()
    given = {name: field["/V"] for name, field in fields.items() if field.get("/V") not in (None, "", "/Off")}
    assert given == {"build": BUILD, "version": "0.3.1", "tester": "T3"}
    assert fields["tester"]["/Ff"] & Flags.FfBits.ReadOnly


def test_fields_are_named_once_and_said_aloud(packet):
    """Every field is in the document's form under a name of its own (12.7.3.2), and has words for a screen reader (14.9.3)."""
    fields = pypdf.PdfReader(packet, strict=True).get_fields()
    assert list(fields) == FIELDS == [field["/T"] for _, field in widgets(packet)]
    said = [field["/TU"] for field in fields.values()]
    assert len(set(said)) == len(FIELDS)
    assert {"What you expected", "How often: every time", "How bad: critical", "Pad used: Light gun"} <= set(said)
    kinds = {name: field["/FT"] for name, field in fields.items()}
    assert {name for name, kind in kinds.items() if kind == "/Btn"} == {*OFTEN[:3], *SEVERITY, *PADS}


def test_names_beyond_ascii_are_said_as_they_are(tmp_path):
    """A pad's name in any letters, and two pads of one name."""
    names = ["Żółty (pad) Привет", "Twin", "Twin"]
    pads = {f"p{rank}": pf.Pad(name=name, buttons=["A"]) for rank, name in enumerate(names)}
    fields = pypdf.PdfReader(make_packet(tmp_path, pad=pads, control=[]), strict=True).get_fields()
    assert [fields[f"pad_{rank}"]["/TU"] for rank in (1, 2, 3)] == [f"Pad used: {name}" for name in names]


def test_build_and_version_are_filled_in_for_good(packet):
    """Read-only is flag 1, multi-line flag 13 (ISO 32000-1, tables 221 and 228); all others are empty and none is required."""
    fields = pypdf.PdfReader(packet).get_fields()
    given = {name: field["/V"] for name, field in fields.items() if field.get("/V", "/Off") != "/Off"}
    assert given == {"build": BUILD, "version": "0.3.1"}
    flags = {name: int(field.get("/Ff", 0)) for name, field in fields.items()}
    assert {name for name, flag in flags.items() if flag & Flags.FfBits.ReadOnly} == {"build", "version"}
    assert {name for name, flag in flags.items() if flag & 1 << 12} == {"expected", "seen", "steps"}
    assert not any(flag & Flags.FfBits.Required for flag in flags.values())


def test_filled_page_is_read_back(packet, tmp_path):
    """What pypdf writes into the fields, in any letters, it reads from the file again, and qpdf finds no fault."""
    out = tmp_path / "filled.pdf"
    writer = pypdf.PdfWriter(clone_from=packet)
    writer.update_page_form_field_values(None, FILLED, auto_regenerate=False)
    writer.write(out)
    seen = {name: field.get("/V") for name, field in pypdf.PdfReader(out, strict=True).get_fields().items()}
    assert {name: seen[name] for name in FILLED} == FILLED
    assert seen["build"] == BUILD
    assert {name for name in FIELDS if seen[name] not in (None, "/Off")} == {*FILLED, "build", "version"}
    subprocess.run([need_tool("qpdf"), "--check", str(out)], check=True, capture_output=True)


class Typist:
    """A person at a viewer: clicks, types and presses Tab, as pdfium takes it."""

    def __init__(self, path: Path) -> None:
        self.document = pypdfium2.PdfDocument(path)
        self.document.init_forms()
        self.places = {field["/T"]: (rank, box_of(field)) for rank, field in widgets(path)}
        self.pages = [self.document[rank] for rank in range(len(self.document))]

    def click(self, name: str) -> None:
        self.page, (left, bottom, _, top) = self.pages[self.places[name][0]], self.places[name][1]
        place = (self.document.formenv.raw, self.page.raw, 0, left + 5, (bottom + top) / 2)
        pdfium.FORM_OnMouseMove(*place)
        pdfium.FORM_OnLButtonDown(*place)
        pdfium.FORM_OnLButtonUp(*place)

    def write(self, text: str) -> None:
        letters = ctypes.create_string_buffer(text.encode("utf-16-le") + b"\0\0")
        pdfium.FORM_ReplaceSelection(self.document.formenv.raw, self.page.raw, ctypes.cast(letters, ctypes.POINTER(ctypes.c_ushort)))

    def tab(self) -> None:
        pdfium.FORM_OnKeyDown(self.document.formenv.raw, self.page.raw, TAB, 0)

    def draw(self, name: str) -> np.ndarray:
        """Return what is in a field's box, in grey, two pixels a point."""
        pdfium.FORM_ForceToKillFocus(self.document.formenv.raw)
        rank, (left, bottom, right, top) = self.places[name]
        page = self.pages[rank]
        picture = page.render(scale=2, may_draw_forms=True).to_pil().convert("L")
        height = page.get_height()
        return np.asarray(picture.crop(tuple(round(2 * side) for side in (left, height - top, right, height - bottom))))

    def values(self, path: Path) -> dict[str, Any]:
        pdfium.FORM_ForceToKillFocus(self.document.formenv.raw)
        self.document.save(path)
        return {name: field.get("/V") for name, field in pypdf.PdfReader(path).get_fields().items()}


def test_typed_words_are_kept_and_seen(any_size, tmp_path):
    """Long words wrap inside their box on white; a tick is drawn; the build code stays; all in both sizes and on both papers."""
    blank, typist = Typist(any_size), Typist(any_size)
    text = "The egg falls upwards and then sideways. " * 5
    typist.click("seen")
    typist.write(text)
    typist.click("where")
    typist.write("Łódź")
    typist.click("severity_major")
    typist.click("build")
    typist.write("XXXXXX")
    seen, empty = typist.draw("seen"), blank.draw("seen")
    rows = (seen < 90).any(axis=1)
    lines = np.count_nonzero(rows[1:] & ~rows[:-1])
    assert 2 <= lines <= 8
    assert empty.min() > 90  # only pale lines to write on by hand
    assert len(np.unique(empty[:, empty.shape[1] // 2])) > 1
    assert seen[-8:, :].min() == 255  # and those are gone where something is typed
    for name in ("where", "severity_major"):
        assert np.count_nonzero(typist.draw(name) < 90) > np.count_nonzero(blank.draw(name) < 90) + 20
    assert (typist.draw("build") == blank.draw("build")).all()
    values = typist.values(tmp_path / "typed.pdf")
    assert (values["seen"], values["where"], values["severity_major"], values["build"]) == (text, "Łódź", "/Yes", BUILD)


def test_tab_goes_through_the_fields_as_they_are_read(packet, tmp_path):
    """From the first field to fill in, Tab by Tab, each gets the number of its turn."""
    typist = Typist(packet)
    typist.click("date")
    for turn in range(3, len(FIELDS) + 1):
        typist.write(str(turn))
        typist.tab()
    values = typist.values(tmp_path / "tabbed.pdf")
    writable = [name for name in FIELDS[2:] if name in TEXTS or name in SET_UP or name == "counted"]
    assert [values[name] for name in writable] == [str(FIELDS.index(name) + 1) for name in writable]


def test_order_is_that_of_the_page(any_size):
    """Row by row from the top, each from the left."""
    placed = [(rank, -round(box_of(field)[3] / 12), box_of(field)[0]) for rank, field in widgets(any_size)]
    assert placed == sorted(placed)


def test_page_is_whole_and_nothing_collides(any_size):
    """Words stay in the margins and off each other and off the fields; fields do not touch each other."""
    assert strays(any_size, 20 * MM, 8 * MM) == []
    assert collisions(any_size) == []
    pages = words_of(any_size)
    boxes = [(rank, box_of(field), field) for rank, field in widgets(any_size)]
    for place, (rank, (left, bottom, right, top), field) in enumerate(boxes):
        width, height, words = pages[rank]
        assert 20 * MM - 1 <= left < right <= width - 20 * MM + 1
        assert 20 * MM - 1 <= bottom < top <= height - 15 * MM
        for other, (a, b, c, d), _ in boxes[place + 1 :]:
            assert other != rank or min(right, c) <= max(left, a) or min(top, d) <= max(bottom, b)
        over = [word.text for word in words if _meets(word, left, height - top, right, height - bottom)]
        assert over == ([field["/V"]] if "/V" in field and field["/FT"] == "/Tx" else [])
        assert field["/F"] & 4  # ISO 32000-1, table 165: printed


def _meets(word, left: float, top: float, right: float, bottom: float) -> bool:
    # A word's box is higher than its letters.
    air = 0.17 * (word.bottom - word.top)
    return min(word.right, right) - max(word.left, left) > 0.5 and min(word.bottom - air, bottom) - max(word.top + air, top) > 0.5


def test_there_is_room_to_write_by_hand(any_size):
    """Lines of 7 mm or more, as in ruled exercise books (from memory), and three at least for what was seen."""
    for _, field in widgets(any_size):
        if field["/FT"] == "/Tx" and field["/T"] != "counted":
            assert box_of(field)[3] - box_of(field)[1] >= 7 * MM
    heights = {field["/T"]: box_of(field)[3] - box_of(field)[1] for _, field in widgets(any_size)}
    assert heights["expected"] >= 2 * 7 * MM
    assert heights["seen"] >= 3 * 7 * MM
    assert heights["steps"] >= 4 * 7 * MM


def test_it_is_one_page_at_the_end_and_two_in_large_print(any_size):
    """No other part is on it; the packet's report section and its code lead to it and on."""
    pages = read_pages(any_size)
    ranks = sorted({rank for rank, _ in widgets(any_size)})
    typed = float(next(field for _, field in widgets(any_size) if field["/T"] == "where")["/DA"].split()[1])
    assert (typed, ranks) in ((10, [len(pages) - 1]), (pytest.approx(15.56, abs=0.01), [len(pages) - 2, len(pages) - 1]))
    assert "Report page" in pages[ranks[0]]
    assert not any("About this build" in pages[rank] for rank in ranks)
    assert f"Page {ranks[0] + 1} is a form to fill in, on a screen or by hand." in " ".join(pages)
    assert "Your name and address are not needed." in pages[ranks[0]]
    drawn = pypdfium2.PdfDocument(any_size)[ranks[0]].render(scale=150 / 72).to_numpy()
    codes = zxingcpp.read_barcodes(np.ascontiguousarray(drawn[:, :, :3]), formats=zxingcpp.BarcodeFormat.QRCode)
    assert [code.text for code in codes] == [BUGS]


def objects_of(reader: pypdf.PdfReader) -> Iterator[Any]:
    """Yield every dictionary of a file."""
    for rank in range(1, int(reader.trailer["/Size"])):
        yield from _inside(reader.get_object(rank))


def _inside(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        yield value
        for part in value.values():
            yield from _inside(part)
    elif isinstance(value, list):
        for part in value:
            yield from _inside(part)


def test_only_typed_text_names_a_font_that_is_not_embedded(packet):
    """One font without its file in the whole document, a standard one (ISO 32000-1, 9.6.2.2), for typed text (12.7.2, DR)."""
    reader = pypdf.PdfReader(packet)
    bare = [one for one in objects_of(reader) if one.get("/Type") == "/Font" and "/FontDescriptor" not in one]
    assert [one["/BaseFont"] for one in bare] == ["/Helvetica"]
    form = reader.trailer["/Root"]["/AcroForm"].get_object()
    assert list(form["/DR"]["/Font"]) == ["/Helv"]
    assert form["/DR"]["/Font"]["/Helv"]["/BaseFont"] == "/Helvetica"
    assert all(one["/DA"].startswith("/Helv ") for _, one in widgets(packet) if one["/FT"] == "/Tx")


def test_qpdf_finds_no_fault(any_size):
    """Structure and streams are sound."""
    subprocess.run([need_tool("qpdf"), "--check", str(any_size)], check=True, capture_output=True)


def with_wording(folder: Path, *changes: tuple[str, str], text_size: str = "normal") -> Path:
    text = (TEMPLATES / "packet.en.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    (folder / "templates").mkdir()
    (folder / "templates" / "packet.en.toml").write_text(text, encoding="utf-8")
    return make_packet(folder, game=make_game(text=text_size))


def test_page_is_left_out_where_its_heading_is_empty(tmp_path, packet):
    """No page, no line that leads to it, no form in the file."""
    without = with_wording(tmp_path, ('heading = "Report page"', 'heading = ""'))
    assert len(read_pages(without)) == len(read_pages(packet)) - 1
    assert "is a form to fill in" not in " ".join(read_pages(without))
    assert "/AcroForm" not in pypdf.PdfReader(without).trailer["/Root"]


def test_a_field_is_left_out_where_its_label_is_empty(tmp_path):
    """Texts, answers, rows of ticks and whole rows of boxes; the others take their room."""
    labels = ["Tester's number", "Steps before it, button by button", "How bad", "Counted, such as 3 of 5"]
    labels += ["Console model and region", "Flash cartridge", "Kind of screen"]
    more = ('["every time", ', '["every day", "every time", ')
    less = with_wording(tmp_path, *((f'"{label}"', '""') for label in labels), more)
    names = [name for name in FIELDS if name not in ("tester", "steps", "counted", *SEVERITY, *SET_UP)]
    names.insert(names.index("often_3") + 1, "often_4")
    assert list(pypdf.PdfReader(less).get_fields()) == names


@pytest.mark.parametrize("size", ["normal", "large"])
def test_a_row_of_ticks_is_left_out_where_its_list_is_empty(tmp_path, size):
    """And with it the count that belongs to it."""
    less = with_wording(tmp_path, ('often_words = ["every time", "sometimes", "once"]', "often_words = []"), text_size=size)
    assert list(pypdf.PdfReader(less).get_fields()) == [name for name in FIELDS if name not in OFTEN]
    assert "How often" not in read_pages(less)[-1]


def test_many_pads_with_long_names_still_make_a_whole_page(tmp_path):
    """Twelve pads, each name longer than a line of large print is wide."""
    pads = {f"p{rank}": pf.Pad(name=f"Pad {rank} " + "of a kind rarely seen " * 4, buttons=["A"]) for rank in range(12)}
    packet = make_packet(tmp_path, game=make_game(text="large", paper="Letter"), pad=pads, control=[])
    assert strays(packet, 20 * MM, 8 * MM) == []
    assert collisions(packet) == []
    assert [f"pad_{rank}" for rank in range(1, 13)] == [field["/T"] for _, field in widgets(packet) if field["/T"].startswith("pad_")]


def test_author_finds_it_before_the_memory(tmp_path):
    """The page of memory stays the last of the author's own copy."""
    budget, out = tmp_path / "budget.json", tmp_path / "packet.pdf"
    budget.write_text(json.dumps(budget_json({})))
    write_packet(*packet_files(tmp_path), make_spec(), DATE, "Basalt 32", out, None, "kest.rom", budget)
    pages = read_pages(out)
    assert "Memory, for the author" in pages[-1]
    assert "What you saw instead" in pages[-2]
