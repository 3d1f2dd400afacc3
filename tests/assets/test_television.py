"""Whether a boot notice reads from a photo of a television: real notices pass, what is too fine is refused. zxing-cpp reads."""

from __future__ import annotations

import numpy as np
import pytest
import zxingcpp

from pipeline.assets.notices import television
from pipeline.assets.notices.bitmap import draw_screen
from pipeline.assets.notices.codes import NoticeText
from pipeline.assets.notices.television import PERCENTS, WIDTHS, Television, _least
from pipeline.joints.codes import code_matrix
from pipeline.joints.facts import Margins, ScreenFacts, read_facts
from pipeline.joints.notice import lay_out_notice
from pipeline.joints.places import blob_files, facts_file
from pipeline.pixels.composite import SYSTEMS, sent
from pipeline.pixels.tube_photo import photographed
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Screen
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import picture_rules
from tests.makers import TARGETS

LINKS = ("https://example.org/f/7ZK3QM", "https://example.org/b/7ZK3QM")


def notice(folder, size, links=LINKS, target="basalt32", aspect=(1, 1)) -> ScreenFacts:
    """Draw a notice and return its facts."""
    console = load_target(SHIPPED / f"{target}.toml")
    text = NoticeText("Tin Ferry", "0.1.0", "alpha", "7ZK3QM", *links)
    safe = (console.screen.action_safe, console.screen.title_safe)
    draw_screen(blob_files(folder, "boot"), "boot", Screen(), text, size, picture_rules(console, console.screen.pixels), 4, aspect, safe)
    return read_facts(facts_file(folder, "boot"), ScreenFacts)


def codes(module: int, size: tuple[int, int], links=LINKS) -> tuple[np.ndarray, tuple[int, int]]:
    """Return a white screen with two codes side by side, modules of some pixels, and the codes' rows."""
    screen = np.full((size[1], size[0], 3), 255, dtype=np.uint8)
    for rank, link in enumerate(links):
        dark = np.kron(np.array(code_matrix(link), dtype=bool), np.ones((module, module), dtype=bool))
        left, top = size[0] // 4 * (1 + 2 * rank) - len(dark) // 2, (size[1] - len(dark)) // 2
        screen[top : top + len(dark), left : left + len(dark)][dark] = 0
    return screen, (top - 4 * module, top + len(dark) + 4 * module)


@pytest.mark.parametrize("target", TARGETS)
def test_notices_of_shipped_consoles(tmp_path, target):
    """A usual notice on a shipped console reads with half the bandwidth and from a photo half as wide as usual."""
    screen = load_target(SHIPPED / f"{target}.toml").screen
    margins = notice(tmp_path, (screen.width, screen.height), target=target, aspect=screen.pixel_aspect).tv
    assert margins is not None
    assert margins.bandwidth <= 50
    assert margins.photo <= 500
    assert margins.tried == Margins(bandwidth=PERCENTS[-1], photo=WIDTHS[-1])


@pytest.mark.parametrize("width", [256, 320, 720])
def test_single_pixel_modules_are_lost(width):
    """Modules of one pixel read on the console's own screen and not from a television; of three pixels they do."""
    fine, rows = codes(1, (width, 240))
    assert {one.text for one in zxingcpp.read_barcodes(np.kron(fine, np.ones((3, 3, 1), dtype=np.uint8)))} == set(LINKS)
    lost = Television(fine, (1, 1), LINKS, rows).lost()
    assert lost if width == 256 else set(lost) == set(LINKS)
    coarse, rows = codes(3, (width, 240))
    assert Television(coarse, (1, 1), LINKS, rows).lost() == {}


def test_a_notice_too_fine_is_refused(tmp_path):
    """Very long links on a very wide screen make modules of three pixels that the band does not hold: both are reported."""
    links = tuple(f"https://example.org/{key}/7ZK3QM?".ljust(600, key) for key in "fb")
    with pytest.raises(ProjectError) as caught:
        notice(tmp_path, (1440, 576), links, aspect=(8, 15))
    messages = [str(problem) for problem in caught.value.problems]
    wrong = "its code on screen 'boot' of 3 pixels a module does not read from a photo of a 525-line or 625-line television"
    wrong += " with half of the usual bandwidth\n    shorten the link, so that its modules get larger"
    assert messages[0].startswith(f"project.toml, [links] feedback: {wrong}")
    assert messages[1].startswith(f"project.toml, [links] bugs: {wrong}")
    assert not (tmp_path / "boot.bin").exists()


def test_a_screen_of_too_many_lines_is_not_tried(tmp_path):
    """720 lines are more than composite video has, so nothing is said and nothing refused."""
    assert notice(tmp_path, (1280, 720)).tv is None


def test_one_damaged_code_is_reported_alone():
    """A code that does not read is named, the other is not; a link that occurs twice must read twice."""
    screen, rows = codes(3, (320, 240))
    screen[:, 160:] = 255
    names = [system.name for system in SYSTEMS]
    assert Television(screen, (1, 1), LINKS, rows).lost() == {LINKS[1]: names}
    assert Television(screen, (1, 1), (LINKS[0], LINKS[0]), rows).lost() == {LINKS[0]: names}
    twice, rows = codes(3, (320, 240), (LINKS[0], LINKS[0]))
    assert Television(twice, (1, 1), (LINKS[0], LINKS[0]), rows).lost() == {}


def test_margin_is_where_reading_ends():
    """The margin of fine modules lies within what is tried; zxing-cpp reads there and one step above, on both systems."""
    screen, rows = codes(2, (320, 240))
    least = Television(screen, (1, 1), LINKS, rows).margin()
    assert least == Television(screen, (1, 1), LINKS, rows).margin()
    assert least.photo > WIDTHS[-1]
    larger = WIDTHS[WIDTHS.index(least.photo) - 1]
    room = (rows[1] - rows[0]) // 8
    part = screen[rows[0] - room : rows[1] + room]
    read = {}
    for width in (larger, least.photo, WIDTHS[WIDTHS.index(least.photo) + 1]):
        photos = [photographed(sent(part, system), 240, (width, len(part) * width // 320)) for system in SYSTEMS]
        read[width] = all({one.text for one in zxingcpp.read_barcodes(photo)} == set(LINKS) for photo in photos)
    assert list(read.values()) == [True, True, False]


@pytest.mark.parametrize(
    ("reading", "least"),
    [((5, 4, 3, 2, 1), 1), ((5,), 5), ((5, 4), 4), ((5, 4, 1), 4), ((5, 3, 1), 5), ((5, 4, 2, 1), 1), ((5, 3, 2), 2)],
)
def test_least_step(reading, least):
    """The least step that reads together with the next larger one; the largest is known to read."""
    assert _least((5, 4, 3, 2, 1), lambda step: step in reading) == least


def test_coarser_modules_have_more_room():
    """On one screen modules of four pixels need as little bandwidth and as small a photo as modules of two."""
    margins = [Television(screen, (1, 1), LINKS, rows).margin() for screen, rows in (codes(module, (320, 240)) for module in (2, 4))]
    assert margins[1].bandwidth <= margins[0].bandwidth
    assert margins[1].photo < margins[0].photo


def test_what_is_photographed_holds_both_codes():
    """The part of the screen that is photographed is the codes' rows and a little more, never outside the screen."""
    layout = lay_out_notice(320, 240, 3)
    top = layout.codes[0][1]
    seen = []
    original = television.sent
    try:
        television.sent = lambda part, *rest: seen.append(part.shape) or original(part, *rest)
        Television(np.zeros((240, 320, 3), dtype=np.uint8), (1, 1), LINKS, (top, top + layout.side)).lost()
    finally:
        television.sent = original
    assert {shape[0] for shape in seen} == {min(240, top + layout.side + layout.side // 8) - (top - layout.side // 8)}


def test_screen_that_is_too_small_for_both_codes_is_refused(tmp_path):
    """Three pixels a module and the lines above need more than that."""
    with pytest.raises(ProjectError, match=r"project.toml, \[screen.boot\]: its codes do not fit 160 x 100 pixels"):
        notice(tmp_path, (160, 100))
