"""Animations on grounds, looped and once, against sequences written out by hand for the meter."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.safety.advice import METHOD, remedy, sentence
from pipeline.safety.clips import GROUNDS, Figure, played
from pipeline.safety.flashes import Finding

SCREEN = (96, 72)  # of which 192 pixels may flash


def figure(*codes: int | None, size: int = 20, screen: tuple[int, int] = SCREEN) -> Figure:
    """Return a square that is all one grey in each frame, or clear."""
    frames = np.stack([np.full((size, size, 3), code or 0, np.uint8) for code in codes])
    clear = np.stack([np.full((size, size), code is None) for code in codes])
    return Figure(frames, clear, screen, 60)


def test_a_loop_is_seen_until_every_second_of_it_was_shown():
    """Common practice, no source: a short one for a second after its first end, a long one twice, a very long one and a second."""
    assert list(played([(0, 11), (1, 1)], True, 60))[:3] == [(0, 11), (1, 1), (0, 11)]
    assert sum(ticks for _, ticks in played([(0, 11), (1, 1)], True, 60)) == 72
    assert sum(ticks for _, ticks in played([(0, 100), (1, 200)], True, 60)) == 600
    assert 2060 <= sum(ticks for _, ticks in played([(0, 1000), (1, 1000)], True, 60)) <= 3000
    assert list(played([(3, 5)], False, 59.94)) == [(None, 60), (3, 5), (None, 60)]


@pytest.mark.parametrize(
    ("codes", "steps", "loop", "expected"),
    [
        ((0, 255), [(0, 7), (1, 7)], True, "fail"),  # 4.3 flashes a second, 400 pixels
        ((0, 255), [(0, 10), (1, 10)], True, "pass"),
        ((0, 255), [(0, 11), (1, 1)], True, "fail"),  # only because it loops
        ((0, 255), [(0, 11), (1, 1)], False, "pass"),
        ((255, None), [(0, 3), (1, 3)], True, "fail"),  # blinks: seen on black
        ((0, None), [(0, 3), (1, 3)], True, "fail"),  # seen on white
        ((118, None), [(0, 3), (1, 3)], True, "fail"),  # not seen on grey, but on the others
        ((0, 60), [(0, 3), (1, 3)], True, "pass"),  # 0.045 of white's light
    ],
)
def test_animations_are_measured_on_the_worst_ground(codes, steps, loop, expected):
    """Rates and areas as worked out for the meter; see its tests for the sources."""
    measured = figure(*codes).measure(steps, loop)
    verdicts = {one.limit: one.verdict for one in measured.findings}
    assert verdicts.get("general", "pass") == expected
    assert measured.ground in GROUNDS if verdicts else not measured.ground
    assert (measured.times == 1) == (expected == "pass")


def test_what_passes_when_slower_is_found():
    """14 ticks a round are 4.3 flashes a second, 28 are 2.1; 6 ticks are 10, which takes four times as long."""
    assert figure(0, 255).measure([(0, 7), (1, 7)], True).times == 2
    assert figure(0, 255).measure([(0, 3), (1, 3)], True).times == 4


def test_small_changes_are_not_played():
    """12 x 12 pixels are 75 % of what may flash, 13 x 13 are 88 %, which is near; what does not change does not count."""
    assert not figure(0, 255, size=12).measure([(0, 3), (1, 3)], True).findings
    measured = figure(0, 255, size=13).measure([(0, 3), (1, 3)], True)
    assert measured.findings[0].verdict == "near"
    still = figure(50, 50, size=60)
    still.frames[1, :8, :8] = 255
    assert not still.measure([(0, 3), (1, 3)], True).findings


@pytest.mark.parametrize("size", [71, 72, 96, 97, 200])
def test_figures_larger_than_the_screen_are_cut(size):
    """The middle is seen, as much of it as fits."""
    measured = figure(0, 255, size=size).measure([(0, 3), (1, 3)], True)
    assert measured.findings[2].area == pytest.approx(min(size, 96) * min(size, 72) / (0.25 * 96 * 72))


def test_sentences_say_how_often_how_much_when_and_where():
    """Words of our own."""
    assert sentence(Finding("general", 9, 1.5, 90, (10, 20, 32, 24)), 60) == (
        "general: 4.5 flashes in one second over 1.5 times the allowed area; at 1.50 s, columns 10 to 41, rows 20 to 43"
    )
    near = sentence(Finding("red", 0, 0.92, 30, (0, 0, 32, 24)), 60)
    assert near.startswith("red: more than three flashes in one second over 92% of the allowed area; at 0.50 s")
    striped = sentence(Finding("stripes", 0, 1.25), 60)
    assert striped == "stripes: more than five pairs of light and dark stripes over 1.2 times the allowed area"
    assert remedy(None, SCREEN, ["stripes"]).startswith("let stripes cover less than 20% of the screen")
    assert remedy(2, SCREEN, ["general", "stripes"]).endswith("then measure the flashing again")
    assert "2 times as long" in remedy(2, SCREEN)
    assert "at most 153 pixels" in remedy(None, SCREEN)
    assert "not a medical certificate" in METHOD.replace("\n", " ")
