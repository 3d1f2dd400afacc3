"""Drawn pads, read back from the page by pypdf, pdfium and, where installed, pdftotext."""

from __future__ import annotations

import itertools
import re
import subprocess
import tempfile
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pypdf
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import pipeline.project.file as pf
from pipeline.packet import document
from pipeline.packet.document import write_packet
from pipeline.packet.sections.parts import controls_part, issues_part
from pipeline.packet.typeset import style
from pipeline.plain.errors import ProjectError
from pipeline.project.pad_shapes import SHAPES, read_place
from tests.conftest import need_tool, some, tries
from tests.packet.colours import PAIRS
from tests.packet.test_packet import contrast
from tests.release.making import DATE, make_game, make_spec, packet_files

pytestmark = pytest.mark.usefixtures("set_once")
CROSS = {"Left": "2 3 cross", "Right": "4 3 cross", "Up": "3 2 cross", "Down": "3 4 cross"}
THREE = {**CROSS, "A": "9 4", "B": "10.5 3.5", "C": "12 3", "Start": "6.5 3 bar"}
SIX = {**CROSS, "A": "9 4", "B": "10.5 3.5", "C": "12 3", "X": "9 2.5", "Y": "10.5 2", "Z": "12 1.5", "Start": "6.5 3 bar"}
SIXTEEN = {
    **CROSS, "Select": "6 2 bar", "Start": "8 2 bar", "Circle": "12 3", "Diamond": "11 4", "Plus": "10 3", "Leaf": "11 2",
    "L1": "2 shoulder", "L2": "4 shoulder", "R2": "9 shoulder", "R1": "11 shoulder", "StickLeft": "6 5", "StickRight": "8 5",
}  # fmt: skip
BLOCK = {f"Key{x}{y}": f"{x} {y}" for y in range(1, 5) for x in range(1, 5)}
LONG = "Donaudampfschifffahrtsgesellschaftskapitänsmützenabzeichen"
TALE = "Look at the map of the harbour and of each island that was ever seen from it, with all the names that its crew gave them"
TALE += ", one after another: " + "here is a quay, there a light, " * 5 + "and then the sea"
CASES = {"one": {"Trigger": "6 3"}, "three": THREE, "six": SIX, "sixteen": SIXTEEN, "block": BLOCK, "lone arm": {"Up": "3 2 cross"}}


@pytest.fixture(scope="module", autouse=True)
def only_what_is_looked_at():
    """Make packets of the controls and the part after them; other files look at whole packets."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(document, "_PARTS", (controls_part, issues_part))
        yield


def make_packet(folder: Path, pads: dict[str, pf.Pad], controls: list[pf.Control], paper: str = "A4", text: str = "normal") -> Path:
    out = folder / "packet.pdf"
    spec = make_spec(game=make_game(paper=paper, text=text), pad=pads, control=controls)
    write_packet(*packet_files(folder), spec, DATE, "Basalt 32", out, None, "kest.rom")
    return out


def make_pad(
    folder: Path, buttons: dict[str, str], actions: dict[str, str], paper: str = "A4", grid: tuple = (12, 5), text: str = "normal"
) -> Path:
    controls = [pf.Control(action=action, buttons={"one": button}) for action, button in actions.items()]
    controls = controls or [pf.Control(action="Nothing", buttons={})]
    return make_packet(folder, {"one": pf.Pad(name="The pad", buttons=buttons, grid=grid)}, controls, paper, text)


def page_of(path: Path) -> int:
    """Return the rank of the page with the controls (reader: pypdf)."""
    reader = pypdf.PdfReader(path, strict=True)
    return next(reader.get_destination_page_number(entry) for entry in reader.outline if entry.title == "Controls")


def drawn_text(path: Path) -> str:
    """Return what is in the drawings: the page's text from its heading to the head of the table (reader: pypdf)."""
    text = " ".join(pypdf.PdfReader(path).pages[page_of(path)].extract_text().split())
    return text.partition("on that pad.")[2].partition(" Action ")[0]


def letters_of(path: Path) -> tuple[np.ndarray, tuple[float, float]]:
    """Return the boxes of all visible letters of the page with the controls, left, bottom, right, top, and its size (pdfium)."""
    page = pypdfium2.PdfDocument(path)[page_of(path)]
    text = page.get_textpage()
    boxes = [text.get_charbox(at) for at in range(text.count_chars()) if text.get_text_range(at, 1).strip()]
    return np.array(boxes), page.get_size()


def overlapping(boxes: np.ndarray) -> int:
    """Return how many pairs of boxes share more than the half point by which letters of a line may touch."""
    left, bottom, right, top = (boxes[:, side] for side in range(4))
    across = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    down = np.minimum(top[:, None], top) - np.maximum(bottom[:, None], bottom)
    return int(np.triu((across > 0.5) & (down > 0.5), 1).sum())


def assert_clear(path: Path) -> None:
    """No letter lies on another, and all lie between the margins, which leave 20 mm at each side."""
    boxes, (width, height) = letters_of(path)
    assert overlapping(boxes) == 0
    edge = 20 / 25.4 * 72
    assert boxes[:, 0].min() >= edge - 1
    assert boxes[:, 2].max() <= width - edge + 1
    assert boxes[:, 1].min() > 0
    assert boxes[:, 3].max() < height


@pytest.mark.parametrize("paper", some(["A4", "Letter"], 1))
@pytest.mark.parametrize("case", CASES)
def test_every_button_is_named_and_nothing_overlaps(tmp_path, case, paper):
    """Every name is in the drawing, with what it does or that it does nothing."""
    buttons = CASES[case]
    grid = (4, 4) if case == "block" else (12, 5)
    first = next(iter(buttons))
    path = make_pad(tmp_path, buttons, {"Hop over the fence": first}, paper, grid)
    text = drawn_text(path)
    assert all(re.search(rf"(^|[ ,]){name}($|[ ,])", text) for name in buttons)
    assert f"{first} Hop over the fence" in text
    assert ("not used" in text) == (len(buttons) > 1)
    assert_clear(path)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_long_texts_wrap_or_are_left_to_the_table(tmp_path, paper):
    """At most eight lines: a tale and a word that is wider than its column are in the table alone."""
    path = make_pad(tmp_path, SIXTEEN, {TALE: "Start", LONG: "Circle", "Jump across the gap between two piers": "Plus"}, paper)
    text = drawn_text(path)
    assert "Start see the table" in text
    assert "Circle see the table" in text
    assert "Plus Jump across the gap between two piers" in text
    assert TALE not in text
    after = " ".join(pypdf.PdfReader(path).pages[page_of(path)].extract_text().split()).partition(" Action ")[2]
    assert TALE in after
    assert LONG in after.replace(" ", "")
    assert_clear(path)


def test_a_pad_of_one_button_has_room_for_all_it_does(tmp_path):
    """Seven actions in seven lines are at the only button, since the drawing stays low."""
    actions = [f"Deed number {rank}" for rank in range(7)]
    text = drawn_text(make_pad(tmp_path, CASES["one"], dict.fromkeys(actions, "Trigger")))
    assert "Trigger " + "; ".join(actions) in text


def test_buttons_pressed_together_name_each_other(tmp_path):
    """A + B / C: B is at A, A is at B, the action alone is at C; two actions of a button are below each other."""
    path = make_pad(tmp_path, THREE, {"Dash": "A + B / C", "Hop": "A"})
    text = drawn_text(path)
    for label in ("A + B: Dash; Hop", "B + A: Dash", "C Dash"):
        assert label in text


def test_arms_of_a_cross_share_one_label(tmp_path):
    """Arms that do the same are in one line, so that four arms need one line to the drawing."""
    text = drawn_text(make_pad(tmp_path, CROSS, {"Walk": "Left / Right"}))
    assert "Left, Right Walk" in text
    assert "Up, Down not used" in text


def test_a_plain_list_is_not_drawn(tmp_path):
    """Nothing says where its buttons are; the table has them."""
    pads = {"a": pf.Pad(name="Listed", buttons=["A", "B"]), "b": pf.Pad(name="Placed", buttons={"A": "3 3"})}
    text = drawn_text(make_packet(tmp_path, pads, [pf.Control(action="Hop", buttons={"a": "A", "b": "A"})]))
    assert "Placed" in text
    assert "Listed" not in text


def test_two_pads_stand_on_one_page_below_each_other(tmp_path):
    """A pad of three and a pad of six buttons: both names on the page with the controls, no letter on another."""
    pads = {"a": pf.Pad(name="Three-button pad", buttons=THREE), "b": pf.Pad(name="Six-button pad", buttons=SIX)}
    path = make_packet(tmp_path, pads, [pf.Control(action="Hop", buttons={"a": "A", "b": "Z"})])
    text = drawn_text(path)
    assert text.index("Three-button pad") < text.index("Six-button pad")
    assert_clear(path)


def test_a_drawing_is_never_parted(tmp_path):
    """Twelve pads need several pages; all buttons of a pad are on the page of its name."""
    names = [f"Pad number {rank}" for rank in range(12)]
    pads = {
        f"p{rank}": pf.Pad(name=name, buttons={f"P{rank}{button}": place for button, place in THREE.items()})
        for rank, name in enumerate(names)
    }
    path = make_packet(tmp_path, pads, [pf.Control(action="Hop", buttons={})])
    pages = [page.extract_text() for page in pypdf.PdfReader(path).pages]
    for rank, name in enumerate(names):
        page = next(text for text in pages if name in text)
        assert all(f"P{rank}{button}" in page for button in THREE)


def test_labels_do_not_overlap_for_a_second_reader(tmp_path):
    """The boxes of words as pdftotext of poppler finds them, each button's name among them, all on the page."""
    path = make_pad(tmp_path, SIXTEEN, {"Hop": "Circle", "Dash": "Circle + R1"})
    rank = str(page_of(path) + 1)
    command = [need_tool("pdftotext"), "-f", rank, "-l", rank, "-bbox", str(path), "-"]
    root = ElementTree.fromstring(subprocess.run(command, capture_output=True, check=True).stdout)
    page = next(one for one in root.iter() if one.tag.endswith("page"))
    words = [one for one in root.iter() if one.tag.endswith("word")]
    assert {word.text.rstrip(",") for word in words} >= set(SIXTEEN)
    # Poppler's boxes are as high as a font's ascent and descent, 1.16 of its size, which lines 1.2 to 1.3 apart do not fill.
    boxes = [[float(word.attrib[key]) for key in ("xMin", "yMin", "xMax", "yMax")] for word in words]
    for one, other in itertools.combinations(boxes, 2):
        assert min(one[2], other[2]) - max(one[0], other[0]) < 0.5 or min(one[3], other[3]) - max(one[1], other[1]) < 0.5
    width, height = float(page.attrib["width"]), float(page.attrib["height"])
    assert all(x >= 0 and y >= 0 and right <= width and bottom <= height for x, y, right, bottom in boxes)


@st.composite
def random_pads(draw):
    """Pads of 1 to 16 buttons that do not overlap, names of 1 to 10 letters, and an action for some of them."""
    columns, rows = draw(st.integers(2, 16)), draw(st.integers(1, 7))
    placed: dict[str, str] = {}
    for rank in range(draw(st.integers(1, 16))):
        shape = draw(st.sampled_from([*SHAPES, "round"]))
        column, row = draw(st.integers(2, 2 * columns)) / 2, draw(st.integers(2, 2 * rows)) / 2
        text = f"{column:g} shoulder" if shape == "shoulder" else f"{column:g} {row:g} {shape}"
        place = read_place(text)
        if place.on(columns, rows) and not any(place.box.overlaps(read_place(other).box) for other in placed.values()):
            placed[f"{draw(st.text('WMabcij', max_size=8))}{rank:02}"] = text
    words = st.lists(st.sampled_from(["go", "Anlegestellenbeleuchtung", "the", LONG, "ii"]), min_size=1, max_size=12)
    return placed or {"A": "1 1"}, (columns, rows), [" ".join(draw(words)) for _ in range(draw(st.integers(0, 6)))]


@settings(max_examples=tries(6, 15), deadline=None)
@given(random_pads(), st.sampled_from(["A4", "Letter"]), st.data())
def test_any_pad_is_drawn_without_overlaps(pad, paper, data):
    """Whatever the pad and the texts: every name is printed, no letter lies on another or beyond the margins (pdfium)."""
    buttons, grid, actions = pad
    controls = {f"{rank} {action}": data.draw(st.sampled_from(sorted(buttons))) for rank, action in enumerate(actions)}
    with tempfile.TemporaryDirectory() as folder:
        path = make_pad(Path(folder), buttons, controls, paper, grid)
        text = drawn_text(path)
        assert all(name in text for name in buttons)
        assert_clear(path)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_large_print_still_fits(tmp_path, paper):
    """In large print: nothing overlaps; sizes come from the styles alone."""
    path = make_pad(tmp_path, SIXTEEN, {"Hop over the fence": "Circle", "Dash": "R1"}, paper, text="large")
    assert all(name in drawn_text(path) for name in SIXTEEN)
    assert_clear(path)


def test_a_pad_too_crowded_is_left_to_the_table(tmp_path):
    """288 keys: labels would not fit a page, so the packet has its table and is whole."""
    keys = {f"K{x}-{y}": f"{x} {y}" for y in range(1, 13) for x in range(1, 25)}
    path = make_pad(tmp_path, keys, {"Hop": "K1-1"}, grid=(24, 12))
    assert "K2-2" not in drawn_text(path)
    assert "Hop K1-1" in " ".join(pypdf.PdfReader(path).pages[page_of(path)].extract_text().split())


def button_shade(path: Path, name: str) -> int:
    """Return the grey level, 0 to 255, of a button drawn with its name, just left of the first letter (pdfium, 6 pixels a point)."""
    page = pypdfium2.PdfDocument(path)[page_of(path)]
    text = page.get_textpage()
    seen = [at for at in range(text.count_chars()) if text.get_text_range(at, len(name)) == name]
    boxes = [text.get_charbox(at) for at in seen]
    # The name on the button is the highest one with no other letter near it on its line.
    all_boxes = [text.get_charbox(at) for at in range(text.count_chars()) if text.get_text_range(at, 1).strip()]
    alone = [box for box in boxes if sum(abs(box[1] - other[1]) < 4 and abs(box[0] - other[0]) < 14 for other in all_boxes) == 1]
    box = max(alone, key=lambda box: box[1])
    grey = page.render(scale=6, grayscale=True).to_numpy().squeeze()
    return int(grey[round((page.get_height() - (box[1] + box[3]) / 2) * 6), round((box[0] - 1.2) * 6)])


def test_printed_in_grey_buttons_with_and_without_use_differ(tmp_path):
    """Rendered to grey by pdfium: a button that does something is dark, one that does nothing is light."""
    path = make_pad(tmp_path, {"A": "3 3", "B": "9 3"}, {"Hop": "A"})
    assert button_shade(path, "A") < 80
    assert button_shade(path, "B") > 240


@pytest.mark.parametrize("pair", ["names on a pad's buttons", "names on buttons without use", "labels around a pad"])
def test_texts_of_a_drawing_can_be_read(pair):
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    assert contrast(*PAIRS[pair]) >= 4.5


def test_lines_of_a_drawing_can_be_seen():
    """WCAG 2.2, success criterion 1.4.11: at least 3 to 1 for what is needed to understand a drawing."""
    assert contrast(style.QUIET, style.TINT) >= 3
    assert contrast(style.INK, style.TINT) >= 3


def test_letters_the_font_lacks_are_refused_in_names_of_placed_buttons(tmp_path):
    """As in a plain list, with the key's place."""
    with pytest.raises(ProjectError, match=r"pad\.one\.buttons\.🚀: '🚀' \(U\+1F680 ROCKET\)"):
        make_pad(tmp_path, {"🚀": "3 3"}, {})


def test_same_pad_makes_the_same_bytes(tmp_path):
    """Two packets of one process, the second from what the first left in memory."""
    one = make_pad(tmp_path, SIXTEEN, {"Hop": "Circle"}).read_bytes()
    assert make_pad(tmp_path, SIXTEEN, {"Hop": "Circle"}).read_bytes() == one
