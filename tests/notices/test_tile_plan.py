"""Where parts of a notice of tiles are on many screens, what it is refused for, and capacities of codes."""

from __future__ import annotations

import dataclasses
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from qrcode import constants
from qrcode.base import rs_blocks

from pipeline.joints.links import CORRECTIONS, code_modules, code_version
from pipeline.notices.tile_plan import LABELS, LETTER, TextLine, TilePlan, TileScreen, Words, plan_tiles, tiles_problem
from pipeline.target.records import ACTION_SAFE, TITLE_SAFE
from tests.makers import make_project, problems, read_target, target_data, target_problems, toml_text

WORDS = Words("TIN FERRY", "0.1.0  ALPHA", "BUILD 000000", "Test build. Not for sale.", ("FEEDBACK", "REPORT A BUG"))
HANDHELD = TileScreen((240, 160), 100, (8, 8), 2, 8, 256)
CONSOLE = TileScreen((320, 224), 90, (8, 8), 4, 4, 1024)
LENGTH = (28, 28)  # https://example.org/f/7ZK3QM


def boxes(plan: TilePlan, screen: TileScreen) -> dict[str, tuple[int, int, int, int]]:
    """Return left, top, right and bottom in pixels of every part but the labels' text, which is in its bar."""
    (wide, high), found = screen.tile, {}
    for rank, line in enumerate(plan.texts):
        if line.top < plan.bars[0][1] * high:
            height = (11 if line.tall else 7) * line.scale
            found[f"text {rank}"] = (line.left, line.top, line.left + len(line.words) * LETTER * line.scale, line.top + height)
    for rank, (left, top, across, down) in enumerate((*plan.bars, *((*card, *plan.card) for card in plan.cards))):
        found[f"box {rank}"] = (left * wide, top * high, (left + across) * wide, (top + down) * high)
    return found


def labels_of(plan: TilePlan) -> list[tuple[TextLine, tuple[int, int, int, int]]]:
    """Return every line of a label with its bar, in tiles."""
    return [(line, bar) for role, bar in zip(LABELS, plan.bars, strict=True) for line in plan.texts if line.role == role]


def check(plan: TilePlan, screen: TileScreen) -> None:
    """Check what any plan must keep to."""
    parts = boxes(plan, screen)
    edge = [side * (100 - screen.safe) / 200 for side in screen.size]
    for name, (left, top, right, bottom) in parts.items():
        assert edge[0] <= left < right <= screen.size[0] - edge[0], name
        assert edge[1] <= top < bottom <= screen.size[1] - edge[1], name
    for (name, one), (other_name, other) in itertools.combinations(parts.items(), 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, f"{name} {one} and {other_name} {other} overlap"
    for name, (left, top, _, bottom) in parts.items():
        if name.startswith("text"):
            assert left % screen.tile[0] == 0
            assert bottom // screen.tile[1] - top // screen.tile[1] <= -(-(bottom - top) // screen.tile[1])  # as few tiles as can be
    for line, (left, top, across, down) in labels_of(plan):
        assert left * screen.tile[0] <= line.left
        assert line.left + len(line.words) * LETTER <= (left + across) * screen.tile[0]
        assert top * screen.tile[1] - plan.rise + 1 <= line.top
        assert line.top + (11 if line.tall else 7) + 1 <= (top + down) * screen.tile[1]
    side = plan.module * (17 + 4 * plan.version)  # ISO/IEC 18004: side and quiet zone of four modules
    for inset, tiles, tile in zip(plan.inset, plan.card, screen.tile, strict=True):
        assert 4 * plan.module <= inset
        assert inset + side + 4 * plan.module <= tiles * tile
    assert plan.module >= 3
    assert plan.tiles <= screen.most


screens = st.builds(
    TileScreen,
    st.tuples(st.integers(200, 800), st.integers(140, 600)),
    st.integers(80, 100),
    st.sampled_from([(8, 8), (16, 16), (16, 8), (8, 16), (4, 4), (16, 12)]),
    st.sampled_from([0, 1, 2, 4, 8]),
    st.sampled_from([1, 2, 4, 8]),
    st.integers(100, 2000),
)


@given(screens, st.integers(20, 90), st.sampled_from(CORRECTIONS))
def test_parts_on_any_screen(screen, length, correction):
    """Nothing overlaps or leaves the title-safe part, and tiles are at most those there are; or the remedy names something."""
    plan = plan_tiles(WORDS, (length, length), screen, correction)
    if plan:
        check(plan, screen)
        assert tiles_problem(WORDS, (length, length), screen, correction) is None
    else:
        wrong, remedy = tiles_problem(WORDS, (length, length), screen, correction)
        assert any(word in wrong for word in ("columns of tiles", "rows of tiles", "different tiles"))
        assert remedy


def test_usual_notice_on_the_shipped_tile_consoles():
    for screen in (HANDHELD, CONSOLE):
        check(plan_tiles(WORDS, LENGTH, screen), screen)
    assert plan_tiles(WORDS, LENGTH, HANDHELD).planes == 2
    assert plan_tiles(WORDS, LENGTH, CONSOLE).planes == 0


def test_lower_correction_is_used_only_where_it_must_be():
    """48 bytes are a code of version 4 at level M, 41 modules, too wide for 240 pixels at 3 a module; version 3 at level L holds 53."""
    assert plan_tiles(WORDS, LENGTH, HANDHELD, "L").correction == "M"
    assert plan_tiles(WORDS, (48, 48), HANDHELD, "M") is None
    plan = plan_tiles(WORDS, (48, 48), HANDHELD, "L")
    assert (plan.version, plan.correction) == (3, "L")


def test_what_to_shorten():
    """Each way is enough by itself, and one less is not."""
    wrong, remedy = tiles_problem(WORDS, (48, 30), HANDHELD)
    assert wrong.startswith("codes of 3 pixels a module and the text need 32 columns of tiles (30 are on the screen)")
    assert "use links of at most 42 bytes with the build code: shorten by 6" in remedy
    assert 'correction = "L"' in remedy
    long = WORDS._replace(
        title="THE LONG AND WINDING TALE OF A TIN FERRY",
        warning="This is a test build that should not be passed on to anybody at all, please.",
    )
    wrong, remedy = tiles_problem(long, LENGTH, HANDHELD)
    assert "rows of tiles" in wrong
    count = int(remedy.split("shorten the warning by ")[1].split()[0])
    assert plan_tiles(long._replace(warning=long.warning[:-count]), LENGTH, HANDHELD)
    assert not plan_tiles(long._replace(warning=long.warning[: 1 - count]), LENGTH, HANDHELD)
    few = dataclasses.replace(HANDHELD, lines=1, most=180)
    wrong, remedy = tiles_problem(WORDS, LENGTH, few)
    assert "different tiles (180 are in the tile memory)" in wrong
    most = int(remedy.split("links of at most ")[1].split()[0])
    assert plan_tiles(WORDS, (most, most), few)


def test_small_title_safe_part_says_so():
    """On 240 x 160 pixels of which a television shows less, no code of 28 bytes has room, and the target may be what is wrong."""
    wrong, remedy = tiles_problem(WORDS, LENGTH, dataclasses.replace(HANDHELD, safe=90))
    assert "in the 90 % of each side that are title-safe" in wrong
    assert "title_safe = 100" in remedy


def test_refusal_names_the_screen(tmp_path):
    """A project that cannot have its notice is refused when it is read."""
    link = ('feedback = "https://example.org/f/{build}"', f'feedback = "https://example.org/{"f" * 30}/{{build}}"')
    found = problems(make_project(tmp_path / "p", link, target="pebble8"))
    assert len(found) == 1
    assert "[screen.boot]: codes of 3 pixels a module and the text need" in found[0]
    assert "shorten by" in found[0]


def test_tiles_need_a_tile_unit(tmp_path):
    found = problems(make_project(tmp_path / "p", ("[screen.boot]\n", '[screen.boot]\narrangement = "tiles"\n')))
    assert len(found) == 1
    assert "Basalt 32 has no [tiles]" in found[0]


@pytest.mark.parametrize(("correction", "level"), [("M", constants.ERROR_CORRECT_M), ("L", constants.ERROR_CORRECT_L)])
def test_capacities(correction, level):
    """qrcode's own table of blocks (ISO/IEC 18004 table 9), less mode and length of byte mode, gives what each version holds."""
    for version in range(1, 21):
        bits = 8 * sum(block.data_count for block in rs_blocks(version, level)) - 4 - (8 if version < 10 else 16)
        assert code_version(bits // 8, correction) == version
        assert code_version(bits // 8 + 1, correction) == (version + 1 if version < 20 else None)
        assert code_modules(version) == 25 + 4 * version


def test_safe_areas_are_the_published_ones(tmp_path):
    """SMPTE ST 2046-1:2009: action-safe 93 %, title-safe 90 % of width and height; EBU R 95 gives the same shares."""
    assert (ACTION_SAFE, TITLE_SAFE) == (93, 90)
    data = target_data("lattice16")
    assert "title_safe" not in data["screen"]
    assert read_target(tmp_path, toml_text(data)).screen.title_safe == 90
    data["screen"] |= {"title_safe": 95}
    found = target_problems(tmp_path, toml_text(data))
    assert "95 % of a side, of which televisions show 93 % (action_safe)" in found[0]
