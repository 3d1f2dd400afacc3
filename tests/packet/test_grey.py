"""The packet from a printer without colour: drawn in grey by pdfium, all of it can be read and distinguished."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
import zxingcpp

from pipeline.packet.document import write_packet
from tests.makers import budget_json
from tests.packet.colours import PAIRS
from tests.packet.packet_boxes import words_of
from tests.release.making import BUGS, DATE, FEEDBACK, make_game, make_spec, packet_files, write_boot

pytestmark = pytest.mark.usefixtures("set_once")
SCALE = 6  # pixels a point: the thinnest stroke of the smallest letter covers whole pixels
PARTS = [{"name": f"part{rank}", "bytes": 1000, "assets": ["a"]} for rank in range(9)]
BUDGET = budget_json({"race": {"bytes": 9000, "margin": 11000, "parts": PARTS}}, memory=20000)


@pytest.fixture(scope="module", params=["normal", "large"])
def packet(request, tmp_path_factory) -> Path:
    """The author's own copy, which holds every page there is."""
    folder = tmp_path_factory.mktemp("grey")
    budget, out = folder / "budget.json", folder / "packet.pdf"
    budget.write_text(json.dumps(BUDGET))
    spec = make_spec(game=make_game(text=request.param))
    write_packet(*packet_files(folder), spec, DATE, "Basalt 32", out, write_boot(folder), "kest.rom", budget)
    return out


def in_grey(path: Path, page: int, scale: float = SCALE) -> np.ndarray:
    document = pypdfium2.PdfDocument(path)
    document.init_forms()  # values of fields are drawn with the form
    return document[page].render(scale=scale, grayscale=True).to_numpy().squeeze()


def contrast(one: float, other: float) -> float:
    """WCAG 2.2, contrast ratio of two grey levels of sRGB, 0 to 255."""
    light = [level / 255 / 12.92 if level <= 10 else ((level / 255 + 0.055) / 1.055) ** 2.4 for level in (one, other)]
    return (max(light) + 0.05) / (min(light) + 0.05)


def test_all_words_can_be_read_in_grey(packet):
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1 between each word's letters and what they are on, as they come out in grey."""
    weak, looked_at = [], 0
    for rank, (_, _, words) in enumerate(words_of(packet)):
        picture = in_grey(packet, rank)
        for word in words:
            box = picture[int(word.top * SCALE) : int(word.bottom * SCALE), int(word.left * SCALE) : int(word.right * SCALE)]
            levels = np.bincount(box.ravel(), minlength=256)
            ground = int(levels.argmax())
            ink = max(np.flatnonzero(levels), key=lambda level, ground=ground: contrast(level, ground))
            looked_at += 1
            if contrast(ink, ground) < 4.5:
                weak.append((rank + 1, word.text, ground, int(ink)))
    assert looked_at > 500
    assert weak == []


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_every_pair_of_colours_keeps_its_contrast_in_grey(pair):
    """Grey of a colour as CCIR 601 weighs it (0.299, 0.587, 0.114; from memory), which printers and pdfium use."""
    one, other = (255 * np.dot(colour.rgb(), (0.299, 0.587, 0.114)) for colour in PAIRS[pair])
    assert contrast(one, other) >= 4.5


def test_the_two_codes_are_reported_apart_and_read_in_grey(packet):
    """The label of one is light on dark, of the other dark on light, and both say what they are for in words."""
    labels = ("Feedback", "Report")
    words = {label: next(word for word in words_of(packet)[0][2] if word.text == label) for label in labels}
    picture = in_grey(packet, 0)
    grounds = {}
    for name, word in words.items():
        box = picture[int(word.top * SCALE) : int(word.bottom * SCALE), int(word.left * SCALE) : int(word.right * SCALE)]
        grounds[name] = int(np.bincount(box.ravel(), minlength=256).argmax())
    assert contrast(grounds["Feedback"], grounds["Report"]) >= 4.5
    page = np.ascontiguousarray(in_grey(packet, 0, 150 / 72))
    assert sorted(code.text for code in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)) == sorted([FEEDBACK, BUGS])


def test_severity_is_reported_by_words_and_by_a_count(packet):
    """Each severity has its word and as many dark squares as it is bad (reader: pypdf)."""
    text = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(packet).pages)
    for name, squares in (("critical", "■■■■"), ("major", "■■■□"), ("minor", "■■□□"), ("cosmetic", "■□□□")):
        assert f"{name} {squares}" in text


def test_links_are_underlined(packet):
    """WCAG 2.2, technique G183 and failure F73, from memory: colour alone does not show a link. A dark line runs under each."""
    page = words_of(packet)[0]
    picture = in_grey(packet, 0)
    links = [word for word in page[2] if word.text.startswith("https://")]
    assert len(links) == 2
    for word in links:
        box = picture[int(word.top * SCALE) : int((word.bottom + 1) * SCALE), int((word.left + 1) * SCALE) : int((word.right - 1) * SCALE)]
        rows = (box < 160).mean(axis=1)
        assert rows.max() > 0.98


def test_parts_of_memory_are_reported_apart_in_grey(packet):
    """Neighbours in the bar differ by 3 to 1 (WCAG 2.2, 1.4.11) in grey; the list has the bar's order."""
    rank = next(rank for rank, (_, _, words) in enumerate(words_of(packet)) if any(word.text == "part0" for word in words))
    words = words_of(packet)[rank][2]
    names = [word.text for word in words if word.text.startswith("part") and word.text[4:].isdigit()]
    assert names == [part["name"] for part in PARTS]
    picture = in_grey(packet, rank)
    title = next(word for word in words if word.text == "race")
    row = _bar_row(picture, title.bottom)
    runs = _long(row)[: len(PARTS)]
    assert len(runs) == len(PARTS)
    assert [(one, other) for one, other in pairwise(runs) if contrast(one, other) < 3] == []


def _bar_row(picture: np.ndarray, above: float) -> np.ndarray:
    """Return the pixels of the bar from its left edge: of the rows that show all parts, the one in which they differ most."""
    left, right = int(21 / 25.4 * 72 * SCALE), int(189 / 25.4 * 72 * SCALE)
    rows = picture[int(above * SCALE) : int((above + 60) * SCALE), left:right]
    return max((row for row in rows if len(_long(row)) >= len(PARTS)), key=lambda row: np.ptp(_long(row)))


def _long(row: np.ndarray) -> list[int]:
    return [int(row[start]) for start, end in _runs(row) if end - start > 10 * SCALE]


def _runs(row: np.ndarray) -> list[tuple[int, int]]:
    edges = [0, *(np.flatnonzero(np.diff(row.astype(int)) != 0) + 1).tolist(), len(row)]
    return list(pairwise(edges))
