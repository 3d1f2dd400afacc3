"""Both forms of a background, bitmap and tiles: what each takes, and the map by which a scene's layers are compared.

``work/NAME.map`` holds the number of each cell's tile, row by row, signed 32-bit little-endian; the facts' ``forms`` hold
the rest that a comparison needs.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipeline.assets.backgrounds.drawn import Drawn
from pipeline.joints.pixel_size import packed_bytes
from pipeline.pixels.tiles.compare import Layer, compare
from pipeline.pixels.tiles.tiles import Tiles, cut
from pipeline.plain.files import read_json, write_bytes
from pipeline.plain.sizes import round_up
from pipeline.target.records import PictureRules
from pipeline.target.tiles import TileRules


@dataclass(frozen=True)
class View:
    """What is seen of a background: the window's width and height, and the pixels it moves across and down a picture."""

    window: tuple[int, int]
    pan: tuple[int, int]


def compare_forms(
    path: Path, size: tuple[int, int], drawn: Drawn, tiles: Tiles, rules: PictureRules, cutting: TileRules, view: View
) -> dict:
    """Write ``NAME.map`` and return the facts of both forms.

    Args:
        path: where the map goes.
        size: width and height of the picture, without padding.
        tiles: as they are, or would be, stored.
    """
    write_bytes(path, tiles.map_index.astype("<i4").tobytes())
    flips = cutting.flips
    padded = [round_up(side, cell) for side, cell in zip(size, rules.cell, strict=True)]
    known = {
        "size": list(size),
        "window": list(view.window),
        "pan": list(view.pan),
        "tile": list(cutting.tile),
        "mirrored": list(flips),
        "distinct": len(cut(drawn.pixels, *cutting.tile).tiles),
        "distinct_mirrored": len(cut(drawn.pixels, *cutting.tile, *(flips if any(flips) else (True, True))).tiles),
        "lines": len(np.unique(drawn.lines)),
        "tile_count": len(tiles.tiles),
        "tile_bytes": packed_bytes(*cutting.tile, rules.pixel_format, cutting.tile),
        "entry_bytes": cutting.entry.bytes,
        "pixel_bits": rules.pixel_format.pixel.width,
        "bitmap_bytes": packed_bytes(*padded, rules.pixel_format, rules.cell),
    }
    return known | compare(_layer(known, tiles.map_index), view.window, view.pan)


def read_layer(work: Path, blobs: Path, name: str, factor: float) -> Layer:
    """Return a background as a layer that moves by a factor, from its facts and its map."""
    known = read_json(blobs / f"{name}.json")["forms"]
    cells = np.frombuffer((work / f"{name}.map").read_bytes(), dtype="<i4").astype(np.int32)
    columns = -(-known["size"][0] // known["tile"][0])
    return _layer(known, cells.reshape(-1, columns), str(factor))


def _layer(known: dict, index: np.ndarray, factor: str | int = 1) -> Layer:
    # The comparison counts tiles and does not look at their pixels.
    shape = (known["tile_count"], known["tile"][1], known["tile"][0])
    tiles = Tiles(np.broadcast_to(np.uint8(0), shape), index, np.broadcast_to(np.uint8(0), index.shape))
    return Layer(
        *known["size"],
        tiles,
        known["tile_bytes"],
        known["entry_bytes"],
        known["pixel_bits"],
        factor,
        known["bitmap_bytes"],
    )
