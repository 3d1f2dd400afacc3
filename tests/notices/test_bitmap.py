"""Notices that are one picture, cut off as televisions do: SMPTE ST 2046-1:2009 and EBU R 95 give 93 % and 90 % of each side."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest
import zxingcpp

from pipeline.assets.notices import bitmap
from pipeline.joints.facts import ScreenFacts, read_facts
from pipeline.joints.places import blob_files, facts_file
from pipeline.memory.usage import usage
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Screen
from pipeline.reading.kinds.screen import compare_screen, decode_screen
from pipeline.reading.show import screen_rgb
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import Target, picture_rules
from tests.conftest import tries
from tests.notices.drawing import LINKS, TEXT
from tests.notices.test_tiles import console

LONG = tuple(f"https://example.org/{key}/{'x' * 25}/7ZK3QM" for key in "fb")  # 54 bytes


@pytest.fixture(autouse=True)
def _without_television(monkeypatch):
    monkeypatch.setattr(bitmap, "on_television", lambda *_: None)


def notice(folder: Path, size: tuple[int, int], links=LINKS, spec: Screen | None = None) -> tuple[np.ndarray, ScreenFacts, Target]:
    """Return a notice as a console of that screen shows it, its facts and the console."""
    target = load_target(SHIPPED / "basalt32.toml")
    rules, text = picture_rules(target, "index8"), TEXT._replace(feedback=links[0], bugs=links[1])
    bitmap.draw_screen(blob_files(folder, "boot"), "boot", spec or Screen(), text, size, rules, 4)
    decoded = decode_screen((folder / "boot.bin").read_bytes(), target)
    facts = read_facts(facts_file(folder, "boot"), ScreenFacts)
    assert compare_screen(decoded, facts, target) == []
    return screen_rgb(decoded)[: size[1], : size[0]], facts, target


@pytest.mark.parametrize("size", [(320, 240), (320, 224), (256, 224), (256, 240), (640, 480)])
def test_nothing_is_lost_where_televisions_cut_the_picture_off(size, tmp_path):
    """Outside the middle 90 % there is the ground alone, and zxing-cpp reads both codes from what is left."""
    rgb, _, _ = notice(tmp_path, size)
    for percent in (93, 90):
        high, wide = size[1] * percent // 200 * 2, size[0] * percent // 200 * 2
        top, left = (size[1] - high) // 2, (size[0] - wide) // 2
        middle = np.ascontiguousarray(rgb[top : top + high, left : left + wide])
        assert {one.text for one in zxingcpp.read_barcodes(middle)} == set(LINKS)
        outside = rgb.copy()
        outside[top : top + high, left : left + wide] = rgb[0, 0]
        assert (outside == rgb[0, 0]).all()


@pytest.mark.parametrize("labels", [("FEEDBACK", "REPORT A BUG"), ("Say, gently", "Bugs, gjpqy"), ("Ängste", "Éjçą, Ģ Ĝ")], ids="-".join)
@pytest.mark.parametrize("size", [(256, 224), (320, 240), (640, 480)][: tries(1, 3)])
def test_letters_of_labels_are_clear_of_the_rim(size, labels, tmp_path):
    """Descenders and marks too: a row of the bar's colour above and below them, inside the light rim; above that the code's quiet zone."""
    rgb, facts, _ = notice(tmp_path, size, spec=Screen(feedback_label=labels[0], bugs_label=labels[1]))
    code = facts.codes[1]
    across = rgb[:, code.left : code.left + code.side].astype(int)
    coloured = (across[:, :, 0] > 120) & (across[:, :, 1] < 100)  # the bar of the bug label
    rows = np.flatnonzero(coloured[:, 1])
    first, last = rows[0], rows[-1]
    assert len(rows) == last - first + 1
    inside = ~coloured[first : last + 1, 1:-1]
    assert inside.any()
    assert not inside[[0, -1]].any()
    assert not inside[:, [0, -1]].any()
    rim = [across[first - 1], across[first : last + 1, 0], across[first : last + 1, -1]]
    if last + 2 < size[1] - (size[1] - size[1] * 9 // 10) // 2:  # the last row that is title-safe may be the bar's
        rim.append(across[last + 1])
    assert (np.concatenate(rim) > 200).all()
    assert first - 1 >= code.top + code.side - 1  # the rim is as light as the quiet zone it may join


def test_longer_links_take_a_lower_correction_if_that_is_allowed(tmp_path):
    """54 bytes: version 4 at level M is too wide for the middle 90 % of 256 pixels; so is level L, which needs version 4 as well."""
    with pytest.raises(ProjectError, match=r"256 x 224 pixels, of which 90 % of each side are title-safe"):
        notice(tmp_path, (256, 224), LONG)
    shorter = tuple(link.replace("xx", "", 1) for link in LONG)  # 52 bytes: version 3 at level L holds 53
    rgb, facts, _ = notice(tmp_path, (256, 224), shorter, Screen(correction="L"))
    assert (facts.code_version, facts.correction) == (3, "L")
    assert {one.text for one in zxingcpp.read_barcodes(np.ascontiguousarray(rgb))} == set(shorter)


def test_verification_cuts_the_picture_off_too(tmp_path):
    """A console that shows less than the notice was drawn for loses the codes, and the image is refused."""
    _, facts, target = notice(tmp_path, (320, 240))
    small = msgspec.structs.replace(target, screen=msgspec.structs.replace(target.screen, title_safe=60))
    said = compare_screen(decode_screen((tmp_path / "boot.bin").read_bytes(), small), facts, small)
    assert said == [f"the code {label!r} does not read in the middle 60 %" for label in ("FEEDBACK", "REPORT A BUG")]


def test_budget_counts_a_notice_of_tiles():
    """In a scene it takes tiles, palette entries and video memory; as one picture it is not counted there."""
    drawn = console("pebble8")[1]
    facts, tiles = drawn.facts, drawn.facts.tiles
    used = {limit: usage(limit, facts) for limit in ("cells", "palette_entries", "video")}
    assert used == {"cells": tiles.tile_count, "palette_entries": 16, "video": len(drawn.blob)}
    assert usage("video", msgspec.structs.replace(facts, tiles=None)) == 0
