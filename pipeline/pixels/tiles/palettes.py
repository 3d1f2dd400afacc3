"""Several palettes for one map: every tile's colours must be in one palette.

Exact when a packing is found (``packing``), otherwise with as little error as is found (``dealing``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.pixels.cells import cut_into_cells
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.pixels.colours.quantise import kept_exact, nearest_colours
from pipeline.pixels.tiles.dealing import Room, count_use, deal
from pipeline.plain.bits import BitPattern


@dataclass(frozen=True)
class SplitPalettes:
    """A picture on several palettes.

    Attributes:
        palette_of_tile: palette of each cell, int32, shape (rows, columns); 0 for a cell without an opaque pixel.
        palettes: uint32 words of each palette, at most as many and as long as asked; in order of first use.
        indices: entry of each pixel in its cell's palette, uint16, shape (height, width).
        lossy_tiles: cells with a pixel that has not its own colour, as the console shows it.
        mean_error: mean difference over opaque pixels (``difference.metric_distance``), rounded down; where no tile is
            lossy, of the colours as the console shows them, so 0.
    """

    palette_of_tile: np.ndarray
    palettes: list[np.ndarray]
    indices: np.ndarray
    lossy_tiles: int
    mean_error: int


def split_palettes(
    words: np.ndarray,
    tile_width: int,
    tile_height: int,
    palettes: int,
    entries: int,
    pattern: BitPattern,
    opaque: np.ndarray | None = None,
    first: int | None = None,
    counted: BitPattern | None = None,
) -> SplitPalettes:
    """Deal a picture's tiles to palettes. Equal tiles, mirrored or not, come to the same palette and entries.

    Args:
        words: colours as words (``to_words``), uint32, shape (height, width), whole tiles.
        palettes: how many there may be, at least 1.
        entries: of each palette, the first included where it is shared.
        pattern: the console's palette entry.
        opaque: bool, shape (height, width): pixels that are False get entry 0, which then is not a colour in any palette.
        first: a word that is entry 0 in every palette (a backdrop). With ``opaque``, pixels that are False get it,
            and opaque pixels may use it too. None and no ``opaque``: every palette has all its entries to itself.
        counted: the pattern of ``words`` when it is finer than the entry: colours are then served as they are drawn,
            unless all of them fit as the console shows them and ``quantise.kept_exact``. By default ``pattern``.

    Raises:
        ValueError: no palettes, or no room in them.
    """
    shared = opaque is not None or first is not None
    room = entries - shared
    if palettes < 1 or room < 1 or entries > 65536:
        raise ValueError(f"{palettes} palettes of {entries} entries hold no colours; {1 + shared} to 65536 entries are needed")
    cells = cut_into_cells(words, tile_width, tile_height)
    solid = np.ones(cells.shape, bool) if opaque is None else cut_into_cells(opaque, tile_width, tile_height)
    extra = np.array([] if first is None else [first], dtype=np.uint32)
    counted = counted or pattern
    exact = kept_exact(np.unique(cells[solid]), counted, pattern)
    owner, chosen = deal(count_use(cells, solid, pattern, counted), Room(palettes, room, extra, pattern), exact)
    owner, chosen = _in_order_of_use(owner, chosen, np.any(solid, axis=(1, 2)))
    indices, error, lossy = _draw(cells, solid, owner, chosen, extra, shared, pattern, counted, exact)
    zeroth = extra if first is not None else np.zeros(int(shared), dtype=np.uint32)
    rows, columns = words.shape[0] // tile_height, words.shape[1] // tile_width
    return SplitPalettes(
        palette_of_tile=owner.reshape(rows, columns).astype(np.int32),
        palettes=[np.concatenate([zeroth, one]) for one in chosen],
        indices=indices.reshape(rows, columns, tile_height, tile_width).swapaxes(1, 2).reshape(words.shape),
        lossy_tiles=lossy,
        mean_error=error // max(int(solid.sum()), 1) if lossy else 0,
    )


def _in_order_of_use(owner: np.ndarray, chosen: list[np.ndarray], solid: np.ndarray) -> tuple[np.ndarray, list[np.ndarray]]:
    """Number palettes by first use, leave out unused ones, and give cells without a colour palette 0."""
    ranks, first = np.unique(owner[solid], return_index=True)
    order = ranks[np.argsort(first)].tolist() or [0]
    place = np.zeros(len(chosen), dtype=np.int64)
    place[order] = np.arange(len(order))
    return np.where(solid, place[owner], 0), [chosen[rank] for rank in order]


def _draw(
    cells: np.ndarray,
    solid: np.ndarray,
    owner: np.ndarray,
    chosen: list[np.ndarray],
    extra: np.ndarray,
    shared: bool,
    pattern: BitPattern,
    counted: BitPattern,
    exact: bool,
) -> tuple[np.ndarray, int, int]:
    """Return the entry of each pixel, the sum of all differences, and the number of cells that are not exact."""
    indices = np.zeros(cells.shape, dtype=np.uint16)
    error, lossy = 0, np.zeros(len(cells), dtype=bool)
    skip = int(shared) - len(extra)  # an entry 0 that is not a colour is not among those to choose from
    for rank, own in enumerate(chosen):
        pixels = solid & (owner == rank)[:, None, None]
        if not pixels.any():
            continue
        palette = np.concatenate([extra, own])
        found, where = np.unique(cells[pixels], return_inverse=True)
        drawn, entries = to_rgb(found, counted), to_rgb(palette, pattern)
        shown = to_words(drawn, pattern)
        same = shown[:, None] == palette[None, :]
        fits = exact and bool(same.any(axis=1).all())
        nearest = np.argmax(same, axis=1) if fits else nearest_colours(drawn, entries)
        gap = metric_distance(metric_points(drawn), metric_points(entries[nearest])).astype(np.int64)
        indices[pixels] = nearest[where.ravel()] + skip
        error += int(gap[where.ravel()].sum())
        wrong = np.zeros(cells.shape, dtype=bool)
        wrong[pixels] = (shown != palette[nearest])[where.ravel()]
        lossy |= wrong.any(axis=(1, 2))
    return indices, error, int(lossy.sum())
