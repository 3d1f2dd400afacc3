"""The tile unit of a target: what is refused, and the rules a background gets from target, project or neither."""

from __future__ import annotations

import pytest

from pipeline.plain.bits import parse_pattern
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.tiles import tile_rules
from tests.makers import changed, read_target, target_data, target_problems, toml_text

LATTICE = target_data("lattice16")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"map_entry": "HVccPxxxxxxxxxxx"}, "HVccPxxxxxxxxxxx has no tile number"),
        ({"map_entry": "HHVcctttttttttxx"}, "HHVcctttttttttxx has 2 bits H"),
        ({"map_entry": "HVtttttttttt"}, "HVtttttttttt has 12 bits"),
        ({"map_entry": "HVccqxtttttttttt"}, "has 'q' at bit 11\n    the fields here are t, H, V, c, P"),
        ({"most": 2000}, "2000 tiles, map entry HVccPxtttttttttt can number 1024"),
        ({"pixels": "tile5"}, "unknown pixel format 'tile5'"),
        ({"width": 0}, "expected a whole number, 1 to 256"),
        ({"flip": True}, "unknown key"),
    ],
)
def test_wrong_tile_unit_is_refused(tmp_path, changes, said):
    """Each mistake is named with what it is; nothing else is wrong with the target."""
    text = toml_text(changed(LATTICE, *((("tiles", key), value) for key, value in changes.items())))
    found = target_problems(tmp_path, text)
    assert len(found) == 1
    assert said in found[0]


def test_rules_come_from_the_background_then_the_target_then_its_cells(tmp_path):
    """What the background says wins; without a tile unit tiles are cells and entries 16 plain bits."""
    lattice = read_target(tmp_path, toml_text(changed(LATTICE, (("tiles", "byte_order"), "little"), (("tiles", "most"), 700))))
    own = tile_rules(lattice, (16, 8), parse_pattern("tttttttt"))
    assert (own.tile, own.entry.text, own.entry_order, own.most, own.flips) == ((16, 8), "tttttttt", "little", 256, (False, False))
    unit = tile_rules(lattice, None, None)
    assert (unit.tile, unit.entry.text, unit.entry_order) == ((8, 8), "HVccPxtttttttttt", "little")
    assert (unit.most, unit.flips) == (700, (True, True))
    basalt = load_target(shipped_targets()["basalt32"])
    none = tile_rules(basalt, None, None)
    assert (none.tile, none.entry.text, none.entry_order, none.most) == ((16, 16), "t" * 16, "big", 65536)
