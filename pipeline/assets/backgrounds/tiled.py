"""A background as tiles and a map: cut, merged when there are too many, packed into a blob."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.assets.backgrounds.drawn import Drawn, whole_error
from pipeline.assets.blob import put_record
from pipeline.assets.intent import Intent
from pipeline.assets.map_words import map_bytes, map_masks
from pipeline.joints.facts import ColourError, IntentFacts, Merging, StoredTiles, TilesError
from pipeline.joints.layouts import NO_PALETTE, TILED, TILED_VERSION, name_hash, record_bytes
from pipeline.joints.pixel_size import one_part
from pipeline.pixels.pack import pack_picture
from pipeline.pixels.tiles.loss import worst_cell
from pipeline.pixels.tiles.merge import Merged, entry_points, merge_to_budget
from pipeline.pixels.tiles.tiles import Tiles, cut, encode_map, join
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up
from pipeline.project.assets import Background
from pipeline.target.records import PictureRules
from pipeline.target.tiles import TileRules


@dataclass(frozen=True)
class Tiled:
    """A background's tiles as they will be stored.

    Attributes:
        tiles: of pixels, not of entries.
        error: CIEDE2000 between the scaled art and what is shown.
        loss: what merging cost; None where nothing was merged.
    """

    tiles: Tiles
    error: ColourError
    loss: Merging | None = None


def fit_tiles(name: str, drawn: Drawn, spec: Background, rules: TileRules) -> Tiled:
    """Cut a background into tiles and merge them where that is asked for and needed.

    Raises:
        ProjectError: there are more tiles than fit.
    """
    tiles = cut(drawn.pixels, *rules.tile, *rules.flips)
    room, what = _room(spec, rules)
    count = len(tiles.tiles)
    if count <= room:
        return Tiled(tiles, drawn.error)
    if not spec.merge or drawn.colours is None:
        wrong = f"{count:,} distinct tiles, {count - room:,} more than the {room:,} of {what}"
        remedy = "set merge = true to have the nearest ones drawn alike, simplify the picture, or make room for more"
        if drawn.colours is None:
            remedy = "simplify the picture, or make room for more"
        raise refuse("project.toml", f"[background.{name}]", wrong, remedy)
    entries = Tiles((tiles.tiles - drawn.base).astype(np.int32), tiles.map_index, tiles.map_flips)
    points = entry_points(drawn.colours, drawn.transparent)
    merged = merge_to_budget(entries, room, points, drawn.lines - drawn.first_line, *rules.flips)
    after = merged.tiles
    stored = Tiles((after.tiles + drawn.base).astype(np.uint32), after.map_index, after.map_flips)
    return _measured(drawn, stored, merged, count, rules.tile)


def tiled_blob(
    drawn: Drawn, tiled: Tiled, spec: Background, rules: PictureRules, cutting: TileRules, alignment: int
) -> tuple[bytes, StoredTiles, IntentFacts]:
    """Return a blob of tiles and a map, and its own facts.

    Args:
        alignment: of tile 0 in the blob.
    """
    tiles = tiled.tiles
    lines = drawn.lines if cutting.entry.bits("c") else None
    words = encode_map(tiles, cutting.entry, spec.first_tile, lines)
    table = map_bytes(words, cutting)
    below = tiles.tiles.reshape(-1, cutting.tile[0])
    packed = pack_picture(below, one_part(rules.pixel_format), rules.pixel_order, cutting.tile, rules.starts.tile)
    map_at = record_bytes(TILED)
    tiles_at = round_up(map_at + len(table), alignment)
    rows, columns = tiles.map_index.shape
    count, tile_bytes = len(tiles.tiles), len(packed) // len(tiles.tiles)
    head = put_record(
        TILED,
        rules.byte_order,
        version=TILED_VERSION,
        pixel_format=rules.rank,
        width=columns * cutting.tile[0],
        height=rows * cutting.tile[1],
        entry_bytes=cutting.entry.bytes,
        palette=name_hash(spec.palette) if spec.palette else NO_PALETTE,
        tile_width=cutting.tile[0],
        tile_height=cutting.tile[1],
        columns=columns,
        rows=rows,
        tile_count=count,
        tile_bytes=tile_bytes,
        first_tile=spec.first_tile,
        map=map_at,
        tiles=tiles_at,
        **map_masks(cutting),
    )
    stored = StoredTiles(
        tile_count=count,
        tile_bytes=tile_bytes,
        columns=columns,
        rows=rows,
        first_tile=spec.first_tile,
        map_entry=cutting.entry.text,
        merging=tiled.loss,
    )
    return (head + table).ljust(tiles_at, b"\0") + packed, stored, _intent(join(tiles), lines, rules, cutting.tile)


def _room(spec: Background, rules: TileRules) -> tuple[int, str]:
    """Return how many tiles fit, and what says so."""
    left = rules.most - spec.first_tile
    if spec.tiles_at_most is not None and spec.tiles_at_most < left:
        return spec.tiles_at_most, "tiles_at_most"
    return left, f"the console's tile memory from tile {spec.first_tile} on" if spec.first_tile else "the console's tile memory"


def _measured(drawn: Drawn, stored: Tiles, merged: Merged, count: int, tile: tuple[int, int]) -> Tiled:
    before, after = drawn.shown(drawn.pixels, tile), drawn.shown(join(stored), tile)
    error = whole_error(drawn.wanted, after)
    loss = Merging(
        tiles=count,
        merged=merged.merged,
        changed_cells=merged.changed_cells,
        before=_figures(drawn.wanted, before, drawn.error, tile),
        after=_figures(drawn.wanted, after, error, tile),
    )
    return Tiled(stored, error, loss)


def _figures(wanted: np.ndarray, shown: np.ndarray, error: ColourError, tile: tuple[int, int]) -> TilesError:
    worst, (column, row) = worst_cell(wanted, shown, tile)
    # A background has opaque pixels, so there are means.
    return TilesError(mean=error.mean or 0.0, p95=error.p95 or 0.0, worst=worst, worst_cell=(column, row))


def _intent(pixels: np.ndarray, lines: np.ndarray | None, rules: PictureRules, tile: tuple[int, int]) -> IntentFacts:
    """Return what the image must decode to: a map that chooses lines makes pixels places in the console's whole palette."""
    intent = Intent()
    bits = rules.pixel_format.pixel.bits("I")
    if lines is not None and bits:
        pixels = pixels + (np.repeat(np.repeat(lines, tile[1], axis=0), tile[0], axis=1) << bits)
    intent.add(pixels.astype(np.uint32))
    return intent.facts()
