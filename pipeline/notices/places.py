"""Where the parts of a boot notice's blob of tiles are. It knows no project, so that drawing does not depend on one."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.joints.layouts import TILED_SCREEN, record_bytes
from pipeline.joints.pixel_size import one_part, packed_bytes
from pipeline.notices.tile_plan import TilePlan
from pipeline.plain.sizes import round_up
from pipeline.target.records import PictureRules
from pipeline.target.tiles import TileRules


@dataclass(frozen=True)
class TiledPlaces:
    """Offsets of the parts of a boot notice's blob of tiles, bytes of a tile and of the whole."""

    entries: int
    map: int
    tiles: int
    tile_bytes: int
    bytes: int


def tiled_screen_places(plan: TilePlan, entry_count: int, rules: PictureRules, cutting: TileRules, alignment: int) -> TiledPlaces:
    """Return where the parts of a boot notice's blob of tiles are; known before its content, with room for the most tiles.

    Args:
        entry_count: entries of its own palette.
        alignment: of tile 0 in the blob.
    """
    entries = round_up(record_bytes(TILED_SCREEN), rules.starts.entries)
    map_at = round_up(entries + entry_count * rules.entry.bytes, 4)
    tiles = round_up(map_at + plan.columns * plan.rows * cutting.entry.bytes, max(alignment, 4))
    one = round_up(packed_bytes(*cutting.tile, one_part(rules.pixel_format), cutting.tile), rules.starts.tile)
    return TiledPlaces(entries, map_at, tiles, one, tiles + plan.tiles * one)
