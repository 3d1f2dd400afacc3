"""Hardware that draws sprites line by line: what a frame and a scene ask at worst, and what is done about too much.

Limits of a published console: "Genesis Technical Overview" 1.00 (1991), sprites: of up to 32 x 32 dots, 20 on a line of 320 dots, 320
sprite dots on a line, 80 in a picture (from memory).
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pipeline.pixels.pieces.lines import Lines, count_lines
from pipeline.plain.errors import ProjectError
from tests.makers import Built, build_here, make_project, target_data, target_problems, toml_text

_side, _place = st.integers(0, 40), st.integers(-20, 60)


@settings(deadline=None)
@given(st.lists(st.tuples(_place, _place, _side, _side), max_size=12), st.sampled_from([(8, 8), (32, 32), (16, 24)]))
def test_lines_are_counted_as_by_hand(places, unit):
    """Against every line of every hardware sprite, one by one."""
    lines: dict[int, list[int]] = {}
    total = 0
    for x, y, width, height in places:
        for left in range(x, x + width, unit[0]):
            for top in range(y, y + height, unit[1]):
                total += 1
                for line in range(top, min(top + unit[1], y + height)):
                    one = lines.setdefault(line, [0, 0])
                    one[0] += 1
                    one[1] += min(unit[0], x + width - left)
    most = max((one[0] for one in lines.values()), default=0)
    first = min((line for line, one in lines.items() if one[0] == most), default=0)
    wanted = Lines(total, most, first, max((one[1] for one in lines.values()), default=0))
    assert count_lines(np.array(places, dtype=np.int32).reshape(-1, 4), unit) == wanted


LIMITS = {"unit": [32, 32], "per_line": 20, "pixels_per_line": 320, "per_picture": 80}


def project(folder: Path, limits: dict, arrangement: str = "frames", pool: bool = False) -> Path:
    """Write a project with two sprites of two frames: a bar of 48 or 56 x 16 dots, and a cross of 72 x 72 with arms of 8."""
    data = target_data("lattice16")
    data["sprites"] |= limits
    table = f'palette = "figures"\narrangement = "{arrangement}"\n' + ('pool = "shared"\n' if pool else "")
    more = "".join(f'[sprite.{name}]\nframes = "art/{name}/*.png"\n{table}' for name in ("bar", "cross"))
    more += "[pool.shared]\n" if pool else ""
    more += '[scene.fair]\nalways = ["ada", "bar", "cross"]\n'
    make_project(folder, ('target = "lattice16"', 'target = "own.toml"'), target="lattice16", more=more)
    (folder / "own.toml").write_text(toml_text(data))
    for name in ("bar", "cross"):
        (folder / f"art/{name}").mkdir()
    for rank in range(2):
        bar, cross = Image.new("RGBA", (72, 24)), Image.new("RGBA", (72, 72))
        bar.paste((200, 60, 40, 255), (0, 0, 48 + 8 * rank, 16))
        cross.paste((60, 90, 200, 255), (32, 0, 40, 72))
        cross.paste((60, 90, 200, 255), (0, 32 + 16 * rank, 72, 40 + 16 * rank))
        bar.save(folder / f"art/bar/{rank}.png")
        cross.save(folder / f"art/cross/{rank}.png")
    return folder


def limits_of(built: Built) -> dict:
    return json.loads((built.project.folder / "build/budget.json").read_text())["scenes"]["fair"]["limits"]


@pytest.mark.parametrize(
    ("arrangement", "bar", "cross"),
    [
        # Trimmed to cells of 8: 48 or 56 x 16, two units across; 72 x 72, three units across and down.
        ("frames", [(2, 2, 0, 48), (2, 2, 0, 56)], [(9, 3, 0, 72)] * 2),
        # The whole canvas of 72 x 24 and 72 x 72.
        ("sheet", [(3, 3, 0, 72)] * 2, [(9, 3, 0, 72)] * 2),
        # Cells of 8 x 8: 6 or 7 across and 2 down; 9 down and 9 across with one in common, most of them on the lines of the arm.
        ("pieces", [(12, 6, 0, 48), (14, 7, 0, 56)], [(17, 9, 32, 72), (17, 9, 48, 72)]),
    ],
)
def test_the_worst_line_of_each_frame_and_scene_is_in_facts_and_budget(tmp_path, arrangement, bar, cross):
    """ada, a sheet of 24 x 24, is one hardware sprite of 24 dots; a scene adds up the worst frames of its sprites."""
    built = build_here(project(tmp_path / "ferry", LIMITS, arrangement), "verify", "memory")
    assert built.facts["bar"].hardware.unit == (32, 32)
    assert built.facts["bar"].hardware.frames == bar
    assert built.facts["cross"].hardware.frames == cross
    limits = limits_of(built)
    ada = (1, 1, 24)
    for key, place, own in (("picture_sprites", 0, 0), ("line_sprites", 1, 1), ("line_pixels", 3, 2)):
        assert limits[key]["used"] == ada[own] + max(one[place] for one in bar) + max(one[place] for one in cross)
    assert (limits["picture_sprites"]["most"], limits["line_sprites"]["most"], limits["line_pixels"]["most"]) == (80, 20, 320)


def test_cells_in_a_pool_are_counted_as_those_of_a_sprite_s_own(tmp_path):
    """Where they are stored does not matter to the hardware."""
    built = build_here(project(tmp_path / "ferry", LIMITS, "pieces", pool=True), "verify")
    assert built.facts["cross"].hardware.frames == [(17, 9, 32, 72), (17, 9, 48, 72)]


def test_a_frame_that_no_hardware_draws_is_refused_or_mentioned(tmp_path):
    """As the target says; the scene's budget then refuses a kit or does not."""
    with pytest.raises(ProjectError) as caught:
        build_here(project(tmp_path / "ferry", LIMITS | {"per_line": 8, "unit": [8, 8]}, "pieces"))
    assert "[sprite.cross]: frame 0 takes 9 hardware sprites on line 32, the console draws 8\n    use a smaller scale" in str(caught.value)
    limits = LIMITS | {"per_line": 8, "unit": [8, 8], "over": "warn"}
    built = build_here(project(tmp_path / "tram", limits, "pieces"), "verify", "memory")
    assert built.facts["cross"].remarks == ["frame 0 takes 9 hardware sprites on line 32, the console draws 8"]
    assert limits_of(built)["line_sprites"] == {"used": 3 + 7 + 9, "most": 8, "chosen": [], "warned": True}
    assert json.loads((built.project.folder / "build/budget.json").read_text())["over"] == []


def test_a_scene_that_no_hardware_draws_is_over_budget(tmp_path):
    """Each frame by itself fits: 7 and 9 cells and a sheet of 3; all three on one line do not."""
    built = build_here(project(tmp_path / "ferry", {"unit": [8, 8], "per_line": 18}, "pieces"), "verify", "memory")
    budget = json.loads((built.project.folder / "build/budget.json").read_text())
    assert budget["scenes"]["fair"]["limits"] == {"line_sprites": {"used": 19, "most": 18, "chosen": []}}
    assert budget["over"] == ["fair"]


def test_without_limits_nothing_is_counted(tmp_path):
    """And the facts are as they were before there were limits."""
    built = build_here(project(tmp_path / "ferry", {}), "verify")
    assert built.facts["bar"].hardware is None
    assert "hardware" not in (built.project.folder / "build/blobs/bar.json").read_text()


def test_a_word_that_is_not_an_answer_is_refused(tmp_path):
    """In the target file."""
    data = target_data("lattice16")
    data["sprites"]["over"] = "cry"
    assert any("[sprites] over" in one for one in target_problems(tmp_path, toml_text(data)))
