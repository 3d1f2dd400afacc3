"""Both forms of a background, bitmap and tiles: what each takes, and the map by which a scene's layers are compared.

``work/NAME.map`` holds the number of each cell's tile, row by row, signed 32-bit little-endian; the facts' ``forms`` hold
the rest that a comparison needs.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pipeline.assets.backgrounds.drawn import Drawn
from pipeline.joints.facts import BackgroundFacts, FormBytes, Forms, TilesBytes, read_facts
from pipeline.joints.pixel_size import one_part, packed_bytes, stored_bytes
from pipeline.pixels.tiles.compare import Layer, compare
from pipeline.pixels.tiles.tiles import Tiles, cut
from pipeline.plain.files import write_bytes
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
) -> Forms:
    """Write ``NAME.map`` and return the facts of both forms.

    Args:
        path: where the map goes.
        size: width and height of the picture, without padding.
        tiles: as they are, or would be, stored.
    """
    write_bytes(path, tiles.map_index.astype("<i4").tobytes())
    flips = cutting.flips
    padded = [round_up(side, cell) for side, cell in zip(size, rules.cell, strict=True)]
    known = _Known(
        size=size,
        tile=cutting.tile,
        tile_count=len(tiles.tiles),
        tile_bytes=round_up(packed_bytes(*cutting.tile, one_part(rules.pixel_format), cutting.tile), rules.starts.tile),
        entry_bytes=cutting.entry.bytes,
        pixel_bits=rules.pixel_format.pixel.width,
        bitmap_bytes=stored_bytes(padded[0], padded[1], rules),
    )
    compared = compare(_layer(known, tiles.map_index), view.window, view.pan)
    width, height = cutting.tile
    return Forms(
        **known._asdict(),
        window=view.window,
        pan=view.pan,
        mirrored=flips,
        distinct=len(cut(drawn.pixels, width, height).tiles),
        distinct_mirrored=len(cut(drawn.pixels, width, height, *(flips if any(flips) else (True, True))).tiles),
        lines=len(np.unique(drawn.lines)),
        bitmap=FormBytes(**compared["bitmap"]),
        tiles=TilesBytes(**compared["tiles"]),
    )


class _Known(NamedTuple):
    """What a comparison needs of a background; see ``joints.facts.Forms``."""

    size: tuple[int, int]
    tile: tuple[int, int]
    tile_count: int
    tile_bytes: int
    entry_bytes: int
    pixel_bits: int
    bitmap_bytes: int


def read_layer(facts: Path, map_file: Path, factor: float) -> Layer:
    """Return a background as a layer that moves by a factor, from its facts and its map."""
    known = read_facts(facts, BackgroundFacts).forms
    cells = np.frombuffer(map_file.read_bytes(), dtype="<i4").astype(np.int32)
    columns = -(-known.size[0] // known.tile[0])
    return _layer(known, cells.reshape(-1, columns), str(factor))


def _layer(known: _Known | Forms, index: np.ndarray, factor: str | int = 1) -> Layer:
    # The comparison counts tiles and does not look at their pixels.
    shape = (known.tile_count, known.tile[1], known.tile[0])
    tiles = Tiles(np.broadcast_to(np.uint8(0), shape), index, np.broadcast_to(np.uint8(0), index.shape))
    width, height = known.size
    return Layer(width, height, tiles, known.tile_bytes, known.entry_bytes, known.pixel_bits, factor, known.bitmap_bytes)
