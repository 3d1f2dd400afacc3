"""The bound on how much figures can flash together, against the meter that plays them: it follows from that, no outside source."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.safety.areas import central_field, whole_screen
from pipeline.safety.clips import played
from pipeline.safety.flashes import FlashMeter
from pipeline.safety.reach import passes, reach_of, shares_of
from tests.conftest import tries

SCREEN = (96, 72)  # of which 192 pixels may flash
COLOURS = ((0, 0, 0), (255, 255, 255), (255, 0, 0), (90, 90, 90), (128, 0, 0), (240, 240, 240))


def _square(size: int, one: tuple, other: tuple | None) -> tuple[np.ndarray, np.ndarray]:
    """Return two frames of one colour each; None is clear."""
    frames = np.stack([np.full((size, size, 3), colour or (0, 0, 0), np.uint8) for colour in (one, other)])
    clear = np.stack([np.full((size, size), colour is None) for colour in (one, other)])
    return frames, clear


def _reach(size: int, one: tuple, other: tuple | None, ticks: int = 3):
    frames, clear = _square(size, one, other)
    return reach_of(frames, clear, played([(0, ticks), (1, ticks)], True, 60), SCREEN, 60)


@pytest.mark.parametrize(
    ("one", "other", "general", "red"),
    [
        ((0, 0, 0), (255, 255, 255), 100, 0),
        ((0, 0, 0), (60, 60, 60), 0, 0),  # 0.045 of white's light
        ((240, 240, 240), (255, 255, 255), 0, 0),  # the darker above 0.8
        ((255, 0, 0), (130, 130, 130), 0, 100),  # as bright
        ((128, 0, 0), None, 100, 100),  # the ground may be anything
    ],
)
def test_what_can_flash_at_all(one, other, general, red):
    """Ten by ten pixels, by WCAG 2.2's definitions of a flash."""
    reach = _reach(10, one, other)
    assert [reach[limit].at_once for limit in ("general", "red", "broadcast", "broadcast red")] == [general, red, general, red]
    assert reach["general"].often == general
    assert reach["general"].changes == 20


def test_slow_changes_are_not_too_often():
    """Six changes in a second are three flashes, seven are more."""
    assert _reach(10, (0, 0, 0), (255, 255, 255), 10)["general"] == (100, 0, 6)
    assert _reach(10, (0, 0, 0), (255, 255, 255), 8)["general"] == (100, 100, 8)
    slow = [_reach(60, (0, 0, 0), (255, 255, 255), 20)] * 2  # three changes a second each, of nearly the whole screen
    assert passes(shares_of(slow, SCREEN))
    assert not passes(shares_of([*slow, slow[0]], SCREEN))


@pytest.mark.parametrize(("sizes", "expected"), [((8, 8), True), ((8, 9), True), ((9, 9), False), ((12,), True), ((13,), False)])
def test_areas_add_up(sizes, expected):
    """80 % of 192 pixels are 153.6."""
    assert passes(shares_of([_reach(size, (0, 0, 0), (255, 255, 255)) for size in sizes], SCREEN)) == expected


@pytest.mark.parametrize("seed", range(tries(4, 100)))
def test_no_places_and_times_exceed_the_bound(seed):
    """Figures with random frames, side by side on random grounds, beginning whenever: nothing the meter finds is more than the sums."""
    rng = np.random.default_rng(seed)
    shown, reaches = [], []
    for left in range(0, 96, 32):
        count, side = int(rng.integers(2, 5)), int(rng.integers(4, 16))
        blocks = rng.integers(0, len(COLOURS), (count, side, side))
        frames = np.array(COLOURS, np.uint8)[blocks]
        clear = np.repeat(np.repeat(rng.random((count, -(-side // 4), -(-side // 4))) < 0.2, 4, 1), 4, 2)[:, :side, :side]
        steps = [(frame, int(rng.integers(1, 12))) for frame in range(count)]
        reaches.append(reach_of(frames, clear, played(steps, True, 60), SCREEN, 60))
        place = (int(rng.integers(0, 72 - side)), left + int(rng.integers(0, 32 - side)))
        shown.append((frames, clear, [frame for frame, ticks in steps for _ in range(ticks)], int(rng.integers(0, 60)), place))
    ground, meter = np.array(COLOURS, np.uint8)[rng.integers(0, len(COLOURS))], FlashMeter(*SCREEN, 60)
    for tick in range(150):
        picture = np.full((72, 96, 3), ground, np.uint8)
        for frames, clear, order, begin, (top, left) in shown:
            frame = order[(tick + begin) % len(order)]
            side = frames.shape[1]
            picture[top : top + side, left : left + side][~clear[frame]] = frames[frame][~clear[frame]]
        meter.add(picture, 1)
    shares = shares_of(reaches, SCREEN)
    for finding in meter.findings():
        most = (whole_screen if finding.limit.startswith("broadcast") else central_field)(*SCREEN).most
        often = sum(reach[finding.limit].often for reach in reaches)
        assert finding.area * most <= often + 1e-9
        if shares[finding.limit] <= 1:
            assert finding.transitions <= 6
    if passes(shares):
        assert all(finding.verdict == "pass" for finding in meter.findings())
