"""Room around all that is written on a notice of tiles, measured on its picture for many texts; no outside source but for quiet zones."""

from __future__ import annotations

import itertools
import tempfile
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pipeline.assets.notices import tiles as notice_tiles
from pipeline.assets.notices.letters import letter_box
from pipeline.notices.tile_plan import CAPITALS, LABELS, TilePlan, plan_tiles, tile_screen, words_of
from pipeline.project.assets import Screen
from tests.conftest import tries
from tests.makers import changed, read_target, target_data, toml_text
from tests.notices.drawing import LINKS, TEXT, draw, shown

SMALL = ((("screen", "width"), 256), (("screen", "height"), 192))
CONSOLES = {"handheld": ("pebble8", ()), "192 rows": ("lattice16", SMALL), "224 rows": ("lattice16", ())}
AIR = 1  # pixels at least
LONG = "This is a test build that should not be passed on to anybody. Thank you."
TEXTS = {
    "usual": ("Tin Ferry", "0.1.0", "alpha", "Test build. Not for sale.", "FEEDBACK", "REPORT A BUG"),
    "long": ("The Winding Tale of a Quay", "10.12.3", "beta", LONG[:61], "All about it,", "Ugly (bug), q"),
    "accents": ("Ælfrède à l’Île Ÿ", "1.0", "bêta", "Ça gêne? Übel! Ñandú, Žofie, Åse, gjpqy|", "Überraschung", "UN DÉFAUT Ç"),
}
signs = st.sampled_from("ABCDEFGHIKLMNOPQRSTUVWXYZabdfghjklpqty0123456789ÄÖÜÉÈÊÀÇÑŐŽÅçäöüéñ.,;:!?()[]|/-_'&$@")
words = st.lists(st.text(signs, min_size=1, max_size=9), min_size=1, max_size=7).map(" ".join)


@pytest.fixture(autouse=True)
def _without_television(monkeypatch):
    monkeypatch.setattr(notice_tiles, "on_television", lambda *_: None)


def measured(console: str, title: str, version: str, phase: str, warning: str, feedback: str, bugs: str) -> bool:
    """Draw a notice and measure it; return whether it fits."""
    name, changes = CONSOLES[console]
    data = changed(target_data(name), *changes)
    text = TEXT._replace(title=title, version=version, phase=phase)
    with tempfile.TemporaryDirectory() as folder:
        target = read_target(Path(folder), toml_text(data))
        screen, labels = tile_screen(target, target.screen.pixels), (feedback, bugs)
        said = words_of(title, version, phase, warning, labels, text.build_code)
        plan = plan_tiles(said, (len(LINKS[0]), len(LINKS[1])), screen)
        if plan is None:
            return False
        rgb = shown(draw(Path(folder), target, text, Screen(warning=warning, feedback_label=feedback, bugs_label=bugs)), data)
    check_lines(plan, rgb)
    check_labels(plan, rgb, screen.tile)
    assert {one.text for one in zxingcpp.read_barcodes(np.ascontiguousarray(rgb))} == set(LINKS)
    return True


def check_lines(plan: TilePlan, rgb: np.ndarray) -> None:
    """Lines are in boxes with rows of ground alone between them, and between the last one and the cards."""
    cards = plan.cards[0][1] * 8
    ground = rgb[cards - 1, 0]
    inked = (rgb[:cards] != ground).any(axis=2)
    lines = [line for line in plan.texts if line.role not in LABELS]
    ends = []
    for line in lines:
        high, wide = (11 if line.tall else 7) * line.scale, 8 * len(line.words) * line.scale
        inside = inked[line.top : line.top + high, line.left : line.left + wide]
        assert inside.any(), line
        inked[line.top : line.top + high, line.left : line.left + wide] = False
        ends.append((line.top, line.top + high))
    assert not inked.any()  # nothing is written outside
    for (_, bottom), (top, _) in itertools.pairwise([*ends, (cards, cards)]):
        assert top - bottom >= AIR, (bottom, top)


def check_labels(plan: TilePlan, rgb: np.ndarray, tile: tuple[int, int]) -> None:
    """All that is written on a label's bar is inside it, with a margin; above it is the code's quiet zone, four modules (ISO/IEC 18004)."""
    for role, (left, top, across, down), card in zip(LABELS, plan.bars, plan.cards, strict=True):
        upper, lower, first, last = top * tile[1] - plan.rise, (top + down) * tile[1], left * tile[0], (left + across) * tile[0]
        bar = rgb[upper:lower, first:last]
        ground = bar[0, 0]
        assert (ground.astype(int) > 180).all() == (role == LABELS[0])
        inked = (bar != ground).any(axis=2)
        rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
        assert rows[0] >= AIR
        assert columns[0] >= AIR
        assert rows[-1] < len(bar) - AIR
        assert columns[-1] < bar.shape[1] - AIR
        code = card[1] * tile[1] + plan.inset[1] + plan.module * (17 + 4 * plan.version)
        assert upper - code >= 4 * plan.module


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("console", CONSOLES)
def test_room_around_usual_and_long_texts(console, text):
    assert measured(console, *TEXTS[text])


@settings(max_examples=tries(8, 150))
@given(st.sampled_from(sorted(CONSOLES)), words, st.sampled_from(["0.1.0", "12.10.103"]), words, st.tuples(words, words))
def test_room_around_any_text(console, title, version, warning, labels):
    assume(measured(console, title[:34], version, "pre-alpha", warning[:60], labels[0][:26], labels[1][:26]))


def test_marks_above_capitals_are_apart_from_them():
    """In a box as high as capitals, the dots of Ü and the stroke of É are there, and what is below them is U and E."""
    for marked, plain in ("ÜU", "ÖO", "ÄA", "ÉE", "ÈE", "ÊE", "ÑN"):
        drawn, without = letter_box(marked, CAPITALS, marked), letter_box(plain, CAPITALS, plain)
        assert drawn.shape == (7, 8)
        assert not np.array_equal(drawn, without)
        assert drawn[:2].any()
    dotted = letter_box("Ü", CAPITALS, "Ü")
    assert dotted[0].sum() == 2
    assert not dotted[1].any()
