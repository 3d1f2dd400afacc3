"""Where the boot notice's parts are: geometry on many screens. A module of three pixels is common practice, no source."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pipeline.joints.links import code_modules, code_version
from pipeline.joints.notice import LEAST_MODULE_PIXELS, LINE, code_problem, lay_out_notice, notice_colours
from tests.recorded import differing, hash_of

# Sizes of televisions, computers and handhelds (common practice, no source; BT.601 gives 720 x 480 and 720 x 576).
SCREENS = [
    (160, 144), (240, 160), (256, 192), (256, 224), (256, 240), (320, 200), (320, 224), (320, 240), (384, 224), (512, 448),
    (640, 240), (640, 480), (720, 480), (720, 576), (1280, 720), (240, 320),
]  # fmt: skip


def rectangles(layout, width: int) -> dict[str, tuple[int, int, int, int]]:
    """Return left, top, right and bottom (not included) of every part; lines are as wide as the screen."""
    parts = {name: (0, top, width, top + LINE * scale) for name, (top, scale) in layout.lines.items()}
    label_top, label_scale = layout.labels
    for which, (left, top) in zip(("feedback", "bugs"), layout.codes, strict=True):
        parts[f"{which} code"] = (left, top, left + layout.side, top + layout.side)
        parts[f"{which} label"] = (left, label_top, left + layout.side, label_top + LINE * label_scale + 1)  # with the bar's rim
    return parts


def check_layout(layout, width: int, height: int, version: int) -> None:
    """Check what any layout must keep to."""
    assert layout.module >= LEAST_MODULE_PIXELS == 3
    assert layout.side == layout.module * (17 + 4 * version + 8)  # ISO/IEC 18004: side and quiet zone
    parts = rectangles(layout, width)
    for name, (left, top, right, bottom) in parts.items():
        assert left >= 0, name
        assert top >= 0, name
        assert right <= width, name
        assert bottom <= height, name
    for (name, one), (other_name, other) in itertools.combinations(parts.items(), 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, f"{name} {one} and {other_name} {other} overlap"
    assert {"title", "info", "warning"} <= set(layout.lines) <= {"title", "info", "build", "warning"}
    assert all(scale >= 1 for _, scale in (*layout.lines.values(), layout.labels))
    (left, top), (right, right_top) = layout.codes
    assert top == right_top
    assert left < right
    assert left == width - right - layout.side, "the pair is in the middle"


@pytest.mark.parametrize("version", [1, 2, 3, 4, 5, 6, 8, 10])
@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_parts_on_a_screen(width, height, version):
    """On a usual screen nothing overlaps or leaves it, or there is no layout because three pixels a module do not fit."""
    layout = lay_out_notice(width, height, version)
    if layout:
        check_layout(layout, width, height, version)
    else:
        least = 3 * code_modules(version)
        assert 2 * least + 2 > width or least + 5 * LINE > height


@given(st.integers(60, 2000), st.integers(60, 1200), st.integers(1, 20))
def test_parts_on_any_screen(width, height, version):
    """On a screen of any size the same holds."""
    layout = lay_out_notice(width, height, version)
    assume(layout)
    check_layout(layout, width, height, version)


@given(st.integers(1, 12), st.integers(0, 400), st.integers(0, 400))
def test_a_screen_with_room_has_a_layout(version, wider, taller):
    """Two codes at three pixels a module, a small gap, and five lines of text are enough."""
    least = 3 * code_modules(version)
    width, height = 2 * least + 2 + wider, least + 5 * LINE + 2 + taller
    assert lay_out_notice(width, height, version) is not None
    assert lay_out_notice(2 * least - 1, height, version) is None
    assert lay_out_notice(width, least, version) is None


@pytest.mark.parametrize(("width", "height"), [(320, 224), (256, 224), (320, 240)])
def test_usual_links_fit_usual_screens(width, height):
    """A link of 40 bytes, version 3, has two codes on a 320 or 256 pixel wide screen."""
    assert code_version(40) == 3
    assert lay_out_notice(width, height, 3) is not None


def test_a_larger_screen_has_larger_modules():
    """Four times the screen is used: modules grow with it."""
    small, large = lay_out_notice(320, 240, 3), lay_out_notice(1280, 960, 3)
    assert large.module >= 3 * small.module


@pytest.mark.parametrize(
    ("length", "width", "height", "most"),
    [
        (85, 256, 224, 62),  # two codes of version 4, 41 modules, are 246 pixels wide; two of version 5, 270
        (90, 256, 224, 62),
        (700, 320, 224, 122),  # two of version 7 are 318 wide
        (60, 240, 160, 42),  # two of version 3 are 222 wide
    ],
)
def test_link_too_long_for_a_screen(length, width, height, most):
    """A link whose codes would be too fine is refused with the longest that fits and by how much to shorten."""
    link = "https://example.org/{build}/".ljust(length + len("{build}") - 6, "x")
    wrong = f"{length} bytes with the build code make a code of under 3 pixels a module on {width} x {height}"
    assert code_problem(link, width, height) == (wrong, f"use a link of at most {most} bytes: shorten it by {length - most}")


def test_screen_that_holds_no_codes():
    """On a screen too small for any two codes the remedy is to do without them."""
    wrong = "26 bytes with the build code make a code of under 3 pixels a module on 160 x 144"
    remedy = "two readable codes do not fit this screen at all; leave the [screen] out and print the codes only"
    assert code_problem("https://example.org/{build}", 160, 144) == (wrong, remedy)


@given(st.integers(100, 900), st.integers(100, 700))
def test_the_length_given_is_the_longest(width, height):
    """A link of the length given fits, and one byte more does not."""
    problem = code_problem("https://example.org/".ljust(3000, "x"), width, height)
    assert problem is not None
    words = problem[1].split()
    assume(words[:2] == ["use", "a"])
    most = int(words[words.index("most") + 1])
    assert code_problem("{build}" + "x" * (most - 6), width, height) is None
    assert code_problem("{build}" + "x" * (most - 5), width, height) is not None


@pytest.mark.parametrize(("bits", "count"), [(1, 2), (2, 4), (4, 7), (8, 7)])
def test_colours_of_a_notice(bits, count):
    """The notice's palette fits the screen's pixels and holds black and white, for the codes."""
    colours = notice_colours(bits)
    assert len(set(colours)) == len(colours) == count <= 2**bits
    assert {(0, 0, 0), (255, 255, 255)} <= set(colours)


def test_layouts_are_those_that_were_looked_at():
    """Which of several layouts that fit is taken is a matter of taste; if a change is meant: see ``tests.recorded``."""
    sizes = [*SCREENS, *((200 + 7 * rank, 130 + 5 * rank) for rank in range(12))]
    found = {
        f"{width} x {height}, {safe} %": repr([lay_out_notice(width, height, version, safe) for version in range(1, 11)])
        for width, height in sizes
        for safe in (100, 90)
    }
    assert differing("notices", {size: hash_of(text.encode()) for size, text in found.items()}) == set()


def test_title_safe_part_that_is_too_small_says_what_to_do():
    """50 bytes are a code of version 4, 123 pixels wide at 3 a module: two fit 256 pixels, and not the 230 that are title-safe."""
    link = "https://example.org/{build}/".ljust(50 + len("{build}") - 6, "x")
    assert code_problem(link, 256, 224) is None
    wrong, remedy = code_problem(link, 256, 224, 90)
    assert wrong == "50 bytes with the build code make a code of under 3 pixels a module on 256 x 224, of which 230 x 200 are title-safe"
    shorter, lower, whole = remedy.split("; or ")
    assert shorter == "use a link of at most 42 bytes: shorten it by 8"
    assert lower == 'set correction = "L" for the screen, which makes smaller codes'
    assert whole.startswith("set title_safe = 100 in the target file")
    assert code_problem(link, 256, 224, 90, "L") is None
