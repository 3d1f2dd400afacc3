"""A palette dealt into lines: for backgrounds of tiles, whose map chooses each tile's line."""

from __future__ import annotations

import numpy as np

from pipeline.assets.palette import save_palette
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import BlobFiles, FrameFiles
from pipeline.pixels.cells import cut_into_cells, pad_with_edge
from pipeline.pixels.colours.colour import DRAWN, to_rgb, to_words
from pipeline.pixels.tiles.palettes import split_palettes
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import counted
from pipeline.project.assets import Palette
from pipeline.target.records import PictureRules


def deal_palette(
    users: tuple[FrameFiles, ...],
    out: BlobFiles,
    name: str,
    spec: Palette,
    most: int,
    size: int,
    tile: tuple[int, int],
    rules: PictureRules,
) -> str:
    """Choose the lines of a palette for the prepared backgrounds that use it and write its blob; return one line about it.

    Args:
        users: scaled art of the backgrounds, in project order.
        most: entries a line may use, the transparent one included.
        size: entries from one line's start to the next.
        tile: width and height of a tile of every user.
        rules: of any pixel format of the target; only byte orders and the entry's pattern are used.

    Raises:
        ProjectError: ``exact`` is set and the colours of the tiles do not fit the lines.
    """
    # One tile below another: which tiles are neighbours does not matter here.
    column = np.concatenate([_tiles(user, tile) for user in users]).reshape(-1, tile[0])
    opaque = np.ones(column.shape, dtype=bool) if spec.transparent else None
    source = rules.entry if spec.exact else DRAWN
    words = to_words(to_rgb(column, DRAWN), source)
    split = split_palettes(words, *tile, spec.lines or 1, most, rules.entry, opaque, counted=source)
    if spec.exact and split.lossy_tiles:
        wrong = f"{counted(split.lossy_tiles, 'tile')} with colours that fit no line of {most} entries"
        remedy = "reduce the colours in the art, or set exact = false to have the best ones chosen"
        raise refuse("project.toml", f"[palette.{name}]", wrong, remedy)
    lines = [line[int(spec.transparent) :] for line in split.palettes]
    seen = len(np.unique(to_words(to_rgb(np.unique(column), DRAWN), rules.entry)))
    return save_palette(out, name, lines, size, spec, rules, seen, exact=not split.lossy_tiles)


def _tiles(user: FrameFiles, tile: tuple[int, int]) -> np.ndarray:
    """Return a background's tiles as words of ``DRAWN``, shape (n, tile height, tile width)."""
    frame = next(iter(PreparedFrames(user)))
    return cut_into_cells(pad_with_edge(to_words(frame[..., :3], DRAWN), *tile), *tile)
