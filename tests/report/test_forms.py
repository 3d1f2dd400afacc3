"""The report's words and numbers about bitmaps and tiles."""

from __future__ import annotations

import msgspec

from pipeline.joints.facts import BackgroundFacts, FormBytes, Merging, SpriteFacts, TilesBytes, TilesError
from pipeline.report.forms import forms_table, layer_scenes, tiles_cost
from pipeline.report.page import _padding
from tests.made_facts import FORMS, made_facts, stored_tiles

_BITMAP = {"image_bytes": 4096, "memory_bytes": 4096, "window_bytes": 2048, "moved_bytes": 64}
_TILES = {"image_bytes": 1024, "memory_bytes": 1024, "window_bytes": 900, "moved_bytes": 100}


def facts(forms: dict | None = None, **more) -> BackgroundFacts:
    """Return facts of a background stored as a bitmap."""
    forms_now = {"distinct": 1200, "distinct_mirrored": 1100, "pan": (4, 2), "bitmap": FormBytes(**_BITMAP)}
    forms_now |= {"tiles": TilesBytes(**_TILES, tiles=9, window_tiles=9, moved_tiles=9)} | (forms or {})
    return made_facts(BackgroundFacts, forms=msgspec.structs.replace(FORMS, **forms_now), **more)


def test_both_forms_stand_in_rows():
    """The stored form is marked, and a line says which is smaller."""
    table = forms_table(facts())
    assert table["rows"] == [
        {"name": "bitmap", "chosen": True, "bytes": [4096, 4096, 2048, 64]},
        {"name": "tiles", "chosen": False, "bytes": [1024, 1024, 900, 100]},
    ]
    assert table["summary"] == (
        "1,200 distinct tiles of 8 × 8, 1,100 with mirroring. Stored: 3 KiB less in the image as tiles. "
        "Moving 4 pixels across and 2 down a screen picture: 36 bytes less to move as a bitmap."
    )


def test_bytes_lost_to_where_parts_start_are_reported():
    """As gaps between assets are: what a target's alignment of frames and cells costs is for the author to see."""
    assert _padding(made_facts(SpriteFacts, padding=1208)) == "1,208 bytes lost so that rows and parts start where the target says"
    assert _padding(made_facts(SpriteFacts)) == ""


def test_packing_is_reported_beside_the_unpacked_forms():
    """The rows are unpacked bytes, so what is in the image is said."""
    assert forms_table(facts(codec="lz4", bytes=777))["summary"].endswith(" All before packing, which leaves 777 bytes in the image.")


def test_what_a_map_cannot_do_and_lines_are_reported():
    """Without mirroring, and with several lines, a reader must know what is compared."""
    same = TilesBytes(**_BITMAP, tiles=9, window_tiles=9, moved_tiles=9)
    summary = forms_table(facts({"mirrored": (False, False), "lines": 3, "tiles": same}))["summary"]
    assert "with mirroring, which its map cannot do" in summary
    assert "tiles show the colours of 3 lines, a bitmap of such pixels those of one" in summary
    assert "Stored: as much in the image in both forms." in summary


def test_merging_is_reported_before_and_after():
    """How many went, and CIEDE2000 before and after; nothing for a bitmap."""
    assert tiles_cost(facts()) == ""
    assert tiles_cost(facts(stored=stored_tiles(512))) == "; 512 tiles of 8 × 8"
    before = TilesError(mean=1.0, p95=2.0, worst=3.0, worst_cell=(0, 0))
    after = TilesError(mean=1.5, p95=2.5, worst=9.0, worst_cell=(0, 0))
    loss = Merging(tiles=1100, merged=588, changed_cells=700, before=before, after=after)
    assert tiles_cost(facts(stored=stored_tiles(512, merging=loss))) == (
        "; 512 tiles of 8 × 8, 588 of 1,100 merged into them: colours differed by 1.0 on average before, 2.0 at the 95th percentile "
        "and 3.0 in the worst tile, now by 1.5, 2.5 and 9.0 (CIEDE2000)"
    )


def test_layers_stand_in_rows_with_sums():
    """Two rows a layer, two sums."""
    layer = {"background": "sky", "factor": 0.5, "arrangement": "tiles", "bitmap": _BITMAP, "tiles": _TILES}
    [scene] = layer_scenes({"scenes": {"deep": {"pan": [8, 0], "layers": [layer], "bitmap": _BITMAP, "tiles": _TILES}}})
    assert [row["name"] for row in scene["rows"] + scene["sums"]] == [
        "sky × 0.5, bitmap", "sky × 0.5, tiles", "all layers as bitmaps", "all layers as tiles",
    ]  # fmt: skip
    assert [row["chosen"] for row in scene["rows"]] == [False, True]
    assert scene["summary"].endswith("36 bytes less to move as bitmaps.")
