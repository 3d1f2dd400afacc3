"""Large print: the same words, larger, still inside the margins; read by pypdf, pdfium, zxing and poppler."""

from __future__ import annotations

import functools
import re
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
import zxingcpp

import pipeline.project.file as pf
from tests.conftest import some
from tests.packet.packet_boxes import collisions, strays
from tests.packet.test_packet import HEAD, all_text, make_packet, read_pages
from tests.release.making import BUGS, BUILD, FEEDBACK, make_game

# Clear-print advice and WCAG 2.2, from memory: large print begins at 14 to 16 points, and small print under 12 is hard to read.
LARGE, LEAST = 14, 12
MARGIN = 20 / 25.4 * 72
BELOW_FOOT = 8 / 25.4 * 72
PAPERS = ("A4", "Letter")


@pytest.fixture(scope="module", params=some(PAPERS, 1))
def large(request, tmp_path_factory) -> Path:
    return make_packet(tmp_path_factory.mktemp("large"), game=make_game(text="large", paper=request.param))


@functools.cache  # every test of a packet asks
def sizes_of(path: Path) -> list[tuple[str, float]]:
    """Return (text, points) of every piece of text, by pypdf."""
    found: list[tuple[str, float]] = []

    def visit(text, matrix, text_matrix, font, size) -> None:
        if text.strip():
            found.append((text.strip(), size * text_matrix[3] * matrix[3]))

    for page in pypdf.PdfReader(path).pages:
        page.extract_text(visitor_text=visit)
    return found


def test_nothing_is_set_small(large):
    """No text under 12 points; squares that only repeat a word count as text."""
    assert min(size for _, size in sizes_of(large)) >= LEAST - 0.01


@pytest.mark.parametrize(
    "start",
    ["Dive from", "Unpack the kit", "Three cliffs", "Rain", "Eggs fall", "Save often", "What you thought", "Lightning on", "8,192 bytes"],
)
def test_running_text_and_tables_are_large(large, start):
    """Lists, steps, tables of issues, controls, cautions and facts have 14 points or more."""
    sizes = [size for text, size in sizes_of(large) if text.startswith(start)]
    assert sizes
    assert min(sizes) >= LARGE - 0.01


def test_all_words_of_the_packet_are_there(tmp_path, large):
    """Nothing is said less often than in a packet of the usual size; links and checksums may be parted, page numbers differ."""
    want, have = ("".join(read_pages(path)).replace(" ", "") for path in (make_packet(tmp_path), large))
    words = set(re.findall(r"[^\W\d]{3,}", all_text(make_packet(tmp_path))))
    # Heads of tables are set again on each page, so these are said as often as pages part: What happens is counted as happen too.
    words -= {"happen", *re.findall(r"\w+", " ".join(HEAD))}
    assert len(words) > 200
    assert [word for word in words if have.count(word) < want.count(word)] == []


def test_first_page_has_codes_build_and_the_way_to_the_cautions(large):
    """All that must be seen before playing is on page 1."""
    first = read_pages(large)[0]
    for text in ("Kestrel", "0.3.1", "beta", BUILD, "2031-04-09", "Basalt 32", "Cliff Crew", "read the cautions on page 2"):
        assert text in first
    page = pypdfium2.PdfDocument(large)[0].render(scale=150 / 72).to_numpy()
    codes = zxingcpp.read_barcodes(np.ascontiguousarray(page[:, :, :3]), formats=zxingcpp.BarcodeFormat.QRCode)
    assert sorted(code.text for code in codes) == sorted([FEEDBACK, BUGS])


def test_words_stay_in_the_margins_and_apart(large):
    """By poppler's boxes."""
    assert strays(large, MARGIN, BELOW_FOOT) == []
    assert collisions(large) == []


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("text", ["normal", "large"])
def test_a_full_packet_stays_in_the_margins_too(tmp_path, paper, text):
    """Six pads, long names, ids and words, a title and links of the greatest length, on both papers in both sizes."""
    game = make_game(
        title="The Long and Winding Search of the Kestrel for Its Breakfast", version="10.20.30-rc.1", phase="release candidate",
        author="The Society of Friends of Kestrels and Other Small Falcons", paper=paper, text=text,
    )  # fmt: skip
    pads = {f"p{rank}": pf.Pad(name=f"Pad of the kind number {rank}", buttons=["Left", "Right"]) for rank in range(6)}
    packet = make_packet(
        tmp_path,
        boot=False,
        game=game,
        pad=pads,
        control=[pf.Control(action="Look around while standing", buttons=dict.fromkeys(pads, "Left + Right"))],
        issue=[
            pf.Issue(id=f"KESTREL-{rank:04}", severity=severity, where="Breakfastcliffsouth", what="Unaccountably green feathers. " * rank)
            for rank, severity in enumerate(pf.SEVERITIES, 1)
        ],
        links=pf.Links(feedback="https://example.org/" + "f" * 300, bugs="https://example.org/b", more={"Rules": "https://example.org/r"}),
    )
    assert strays(packet, MARGIN, BELOW_FOOT) == []
    assert collisions(packet) == []


def test_large_print_leaves_nothing_behind(tmp_path, large):
    """A packet made after it in the same process is as one made before."""
    before = make_packet(tmp_path).read_bytes()
    make_packet(tmp_path, game=make_game(text="large"))
    assert make_packet(tmp_path).read_bytes() == before
