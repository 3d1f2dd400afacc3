"""The meter of flashing light against the published limits, on sequences just under and just over each.

Sources, unless a test says otherwise: W3C, Web Content Accessibility Guidelines 2.2, "general flash and red flash thresholds", and
Understanding 2.3.1; W3C technique G176 for the area (341 x 256 of 1024 x 768 pixels); ITU-R BT.1702 (from memory) for the whole screen.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.safety.areas import Field, central_field, uncancelled, whole_screen
from pipeline.safety.flashes import LIMITS, Finding, FlashMeter
from pipeline.safety.swings import luminance, seen_as
from tests.conftest import some

WIDTH, HEIGHT = 320, 240
BLACK, WHITE = (0, 0, 0), (255, 255, 255)


def grey(code: int) -> tuple[int, int, int]:
    return (code, code, code)


def full(colour: tuple[int, int, int], width: int = WIDTH, height: int = HEIGHT) -> np.ndarray:
    return np.full((height, width, 3), colour, np.uint8)


def small(colour: tuple[int, int, int]) -> np.ndarray:
    """Return a screen that is all one colour, where its size does not matter."""
    return full(colour, 48, 36)


def patches(size: int, *places: tuple[int, int]) -> np.ndarray:
    """Return a black screen with white squares."""
    picture = full(BLACK)
    for left, top in places:
        picture[top : top + size, left : left + size] = 255
    return picture


def looped(*shown: tuple[np.ndarray, int], refresh: float = 60, seconds: int = 3) -> dict[str, Finding]:
    """Show pictures over and over."""
    height, width = shown[0][0].shape[:2]
    meter, ticks = FlashMeter(width, height, refresh), 0
    while ticks < seconds * refresh:
        for picture, long in shown:
            meter.add(picture, long)
            ticks += long
    return {finding.limit: finding for finding in meter.findings()}


def verdicts(found: dict[str, Finding]) -> list[str]:
    assert tuple(found) == LIMITS
    return [finding.verdict for finding in found.values()]


def alternating(one: tuple[int, int, int], other: tuple[int, int, int], ticks: int) -> list[str]:
    return verdicts(looped((small(one), ticks), (small(other), ticks)))


@pytest.mark.parametrize(
    ("one", "other", "ticks", "expected"),
    [
        (BLACK, WHITE, 10, "pass pass pass pass"),  # three flashes a second
        (BLACK, WHITE, 7, "fail pass fail pass"),  # 4.3 a second
        (BLACK, grey(89), 3, "pass pass pass pass"),  # luminance 0.0999
        (BLACK, grey(90), 3, "fail pass fail pass"),  # 0.1022
        (grey(232), WHITE, 3, "pass pass pass pass"),  # the darker 0.8070
        (grey(231), WHITE, 3, "fail pass fail pass"),  # 0.7991
        ((255, 0, 0), grey(127), 6, "pass fail pass fail"),  # equally bright
        ((255, 0, 0), (200, 0, 0), 3, "pass pass pass fail"),  # one hue: red by the older definition alone
        ((60, 0, 0), grey(20), 3, "pass fail pass pass"),  # too dark for the older definition
        ((128, 0, 0), BLACK, 3, "pass fail pass fail"),  # black has no hue: it counts as white, the cautious reading
        ((255, 137, 0), BLACK, 3, "fail pass fail pass"),  # 0.7999 of its light is red: not saturated
        ((255, 100, 100), (0, 0, 255), 3, "fail pass fail pass"),  # 0.7969
        ((255, 99, 99), (0, 0, 255), 3, "fail fail fail fail"),  # 0.8003
    ],
)
def test_two_colours_by_turns(one, other, ticks, expected):
    """Just under and just over: rate, change of luminance, the darker state, saturation, hue. Values worked out from the formulas."""
    assert alternating(one, other, ticks) == expected.split()


def test_seven_transitions_in_a_second_are_near():
    """Three flashes and a half: neither allowed without a doubt nor one too many. A decision of ours."""
    shown = [(small(BLACK if rank % 2 == 0 else WHITE), 8) for rank in range(8)]
    found = looped(*shown, seconds=1)
    assert found["general"].transitions == 7
    assert verdicts(found) == ["near", "pass", "near", "pass"]


@pytest.mark.parametrize(
    ("picture", "expected", "area"),
    [
        (patches(46, (100, 100)), "near pass pass pass", 2116 / 2133.3333),
        (patches(47, (100, 100)), "fail pass pass pass", 2209 / 2133.3333),
        (patches(40, (10, 100), (250, 100)), "pass pass pass pass", 1600 / 2133.3333),
        (patches(40, (100, 100), (140, 100)), "fail pass pass pass", 3200 / 2133.3333),
    ],
)
def test_area_that_flashes(picture, expected, area):
    """A quarter of a field of a third by a third of the screen, wherever it is; two areas that no field holds together do not add up."""
    found = looped((full(BLACK), 3), (picture, 3))
    assert verdicts(found) == expected.split()
    assert found["general"].area == pytest.approx(area)
    if found["general"].verdict == "fail":
        left, top, width, height = found["general"].box
        assert np.count_nonzero(picture[top : top + height, left : left + width, 0]) == round(area * 2133.3333)


def test_whole_screen_of_broadcasting():
    """A quarter of 320 x 240 is 19,200 pixels: 160 x 120 is not more, 161 x 120 is."""
    picture = full(BLACK)
    picture[:120, :160] = 255
    assert verdicts(looped((full(BLACK), 3), (picture, 3))) == ["fail", "pass", "near", "pass"]
    picture[:120, :161] = 255
    assert verdicts(looped((full(BLACK), 3), (picture, 3))) == ["fail", "pass", "fail", "pass"]


def test_slow_fades_count_from_peak_to_valley():
    """Luminance 0 to 0.5 in seven steps of 0.071 and back: no step is a change by itself, 4.3 flashes a second."""
    codes = [0, 76, 106, 128, 146, 161, 175, 188]
    shown = [(small(grey(code)), 1) for code in (*codes[:-1], *codes[:0:-1])]
    assert verdicts(looped(*shown)) == ["fail", "pass", "fail", "pass"]
    less = [(small(grey(code)), 1) for code in (*codes[3:6], *codes[5:3:-1])]  # 0.216 to 0.353 and back
    assert looped(*less)["general"].verdict == "fail"
    still = [(small(grey(code)), 1) for code in (*codes[3:5], *codes[4:3:-1])]  # 0.216 to 0.287
    assert looped(*still)["general"].transitions == 0


def test_a_clip_that_loops_is_seen_looping():
    """One white picture in twelve: once it is one flash, over and over five a second."""
    once = FlashMeter(48, 36, 60)
    for colour, ticks in ((BLACK, 60), (WHITE, 1), (BLACK, 60)):
        once.add(small(colour), ticks)
    assert [finding.transitions for finding in once.findings()] == [2, 0, 2, 0]
    assert verdicts(looped((small(BLACK), 11), (small(WHITE), 1))) == ["fail", "pass", "fail", "pass"]


@pytest.mark.parametrize(("square", "width", "expected"), some([(1, 320, "pass"), (2, 320, "fail"), (1, 256, "fail")], 2))
def test_fine_balanced_patterns_do_not_count(square, width, expected):
    """Chequers whose squares are smaller than 0.1 degree: one pixel of 320 across is 0.094 degree, of 256 it is 0.117."""
    down, across = np.mgrid[:HEIGHT, :width]
    board = np.where((across // square + down // square) % 2, 255, 0).astype(np.uint8)[..., None].repeat(3, axis=2)
    assert looped((board, 3), (255 - board, 3))["general"].verdict == expected


def test_one_area_that_other_pixels_light():
    """Halves that flash by turns, each twice a second: no pixel flashes more than three times, the field does four times."""
    left, right = full(BLACK), full(BLACK)
    left[:, : WIDTH // 2], right[:, WIDTH // 2 :] = 255, 255
    dark = full(BLACK)
    found = looped((left, 4), (dark, 11), (right, 4), (dark, 11))
    assert found["broadcast"].verdict == "fail"
    assert looped((left, 4), (dark, 56))["broadcast"].verdict == "pass"


def test_a_figure_that_crosses_the_screen_does_not_flash():
    """A white square of 60 x 60 over black moves by its own width: each pixel changes twice."""
    shown = [(patches(60, (at, 90)), 12) for at in range(0, 240, 60)]
    meter = FlashMeter(WIDTH, HEIGHT, 60)
    for picture, ticks in shown:
        meter.add(picture, ticks)
    assert meter.findings()[0].verdict == "pass"


@pytest.mark.parametrize("refresh", [50, 59.94, 60])
def test_a_second_is_that_of_the_screen(refresh):
    """Just three flashes in as many ticks as a second has, at each rate; the eighth transition within it is one too many."""
    long = int(refresh) // 6
    assert looped((small(BLACK), long), (small(WHITE), long), refresh=refresh)["general"].transitions in (6, 7)
    short = int(refresh) // 8
    assert looped((small(BLACK), short), (small(WHITE), short), refresh=refresh)["general"].verdict == "fail"


def test_chromaticity_of_primaries():
    """u'v' of the sRGB primaries and white by CIE 1976 from the matrix of IEC 61966-2-1; published values, from memory."""
    colours = np.array([(255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255), (255, 255, 0), (0, 0, 0)], np.uint8)
    expected = [(0.4507, 0.5229), (0.1250, 0.5625), (0.1754, 0.1579), (0.1978, 0.4683), (0.2039, 0.5529), (0.1978, 0.4683)]
    found = seen_as(colours)
    assert np.abs(np.stack([found.u, found.v], axis=1) - expected).max() < 6e-5
    assert found.saturated.tolist() == [True, False, False, False, False, False]
    assert found.redness.tolist() == [320, 0, 0, 0, 0, 0]
    assert np.abs(luminance(colours) - [0.2126, 0.7152, 0.0722, 1, 0.9278, 0]).max() < 1e-6


def test_chromaticity_by_another_library():
    """Source: scikit-image's rgb2xyz, from which u' and v' are quotients; 500 colours."""
    from skimage.color import rgb2xyz

    colours = np.random.default_rng(5).integers(1, 256, (500, 3), np.uint8)
    x, y, z = rgb2xyz(colours.reshape(1, -1, 3))[0].T
    whole = x + 15 * y + 3 * z
    found = seen_as(colours)
    assert np.abs(found.u - 4 * x / whole).max() < 2e-4  # its matrix has other digits
    assert np.abs(found.v - 9 * y / whole).max() < 2e-4


def _transitions(values: list[Fraction], change: Fraction, below: Fraction) -> list[int]:
    """Return at which values a transition is complete: extremes written out as in a plot, then compared two by two."""
    found, turn, far, counted = [], values[0], values[0], False
    for at, value in enumerate(values[1:], 1):
        rising = far >= turn
        if far != turn and (far - value if rising else value - far) >= change:
            turn, far, counted = far, value, False
        elif far == turn or abs(far - turn) < change:
            # Not yet a swing: keep the two extremes so far in the order in which they were met.
            seen = values[: at + 1] if not found and not counted else None
            if seen is not None:
                low, high = min(seen), max(seen)
                last = value in (low, high)
                turn, far = ((high, low) if value == low else (low, high)) if last else (turn, far)
        elif (value > far) == rising and value != far:
            far = value
        if abs(far - turn) >= change and min(far, turn) < below and not counted:
            counted = True
            found.append(at)
    return found


@given(st.lists(st.integers(0, 20), min_size=1, max_size=40))
def test_single_pixels_by_another_way(levels):
    """Against extremes followed in exact fractions, one pixel at a time."""
    from pipeline.safety.swings import Swings

    expected = _transitions([Fraction(level, 20) for level in levels], Fraction(1, 10), Fraction(8, 10))
    swings, found = Swings(np.array([levels[0] / 20], np.float32)), []
    for at, level in enumerate(levels[1:], 1):
        complete, _ = swings.step(np.array([0]), np.array([level / 20], np.float32))
        if complete[0]:
            found.append(at)
    assert found == expected


@given(st.integers(1, 9), st.integers(1, 12), st.data())
def test_areas_are_those_of_each_place(rows, columns, data):
    """Against a sum at each place."""
    height, width = data.draw(st.integers(rows, 14)), data.draw(st.integers(columns, 17))
    mask = np.array(data.draw(st.lists(st.booleans(), min_size=height * width, max_size=height * width))).reshape(height, width)
    field = Field(rows, columns, 1)
    expected = np.array(
        [[mask[y : y + rows, x : x + columns].sum() for x in range(width - columns + 1)] for y in range(height - rows + 1)]
    )
    assert (field.areas(mask) == expected).all()
    area, (x, y) = field.largest(mask)
    assert area == expected.max() == expected[y, x]


@given(st.integers(1, 9), st.integers(1, 12), st.integers(1, 20), st.integers(1, 20), st.integers(0, 2**32))
def test_two_areas_are_added_up_at_once(rows, columns, more_rows, more_columns, seed):
    """Against each by itself."""
    masks = np.random.default_rng(seed).random((2, rows + more_rows, columns + more_columns)) < 0.7
    field = Field(rows, columns, 1)
    for found, mask in zip(field.both_areas(*masks), masks, strict=True):
        assert (found == field.areas(mask)).all()


def test_large_fields_are_added_up_right():
    """More pixels than 16 bits count: 300 x 300 of 301 x 302."""
    mask = np.ones((301, 302), bool)
    mask[0, 0] = False
    for areas in (Field(300, 300, 1).areas(mask), *Field(300, 300, 1).both_areas(mask, mask)):
        assert areas.tolist() == [[89999, 90000, 90000], [90000, 90000, 90000]]


def test_part_of_a_screen_is_measured_as_on_all_of_it():
    """What lies outside the part does not change, so both find the same, at the same place of the screen where the field is smaller."""
    rng = np.random.default_rng(3)
    whole, part = FlashMeter(96, 72, 60), FlashMeter(96, 72, 60, (20, 10, 50, 40))
    for _ in range(60):
        picture = np.zeros((72, 96, 3), np.uint8)
        picture[10:50, 20:70] = rng.integers(0, 2, (10, 10, 3)).repeat(4, 0).repeat(5, 1) * 255
        whole.add(picture, 2)
        part.add(picture[10:50, 20:70], 2)
    for one, other in zip(whole.findings(), part.findings(), strict=True):
        assert (one.transitions, one.area, one.tick) == (other.transitions, other.area, other.tick)
    assert part.findings()[0].verdict == "fail"
    assert whole.findings()[0].box[2:] == part.findings()[0].box[2:] == (32, 24)


def test_colours_are_known_again(monkeypatch):
    """Looked up or worked out, and after more colours than are kept; black too, whose number is its own."""
    from pipeline.safety import swings

    monkeypatch.setattr(swings, "_MOST_COLOURS", 40)
    rng, known = np.random.default_rng(2), swings.Colours()
    for _ in range(6):
        pixels = np.concatenate([rng.integers(0, 256, (30, 3), np.uint8), np.zeros((2, 3), np.uint8)])
        for _ in range(2):
            for found, expected in zip(known.look_up(swings.colour_codes(pixels)), seen_as(pixels), strict=True):
                assert (found == expected).all()


def test_fields_are_those_of_the_technique():
    """341 x 256 of 1024 x 768 pixels, of which 21,824 may flash (G176; a third of the width and height is 0.15 % more)."""
    field = central_field(1024, 768)
    assert (field.columns, field.rows) == (341, 256)
    assert field.most == pytest.approx(21824, rel=2e-3)
    assert whole_screen(320, 240).most == 19200


def test_only_what_cancels_out_is_left_out():
    """A lone pixel, a line and a square of two are seen; a chequered change of single pixels is not."""
    changes = np.zeros((12, 12), np.float32)
    changes[1, 1] = 0.3
    changes[4, 2:9] = -0.2
    down, across = np.mgrid[:4, :12]
    changes[7:11] = np.where((down + across) % 2, 0.5, -0.5)
    seen = uncancelled(changes)
    assert seen[1, 1]
    assert seen[4, 2:9].all()
    assert not seen[8:10, 1:-1].any()
    assert not seen[changes == 0].any()
