"""The choice of places for a frame's cells: bands for a safe start, then sweeps from all sides until no better can be.

To find the fewest cells is NP-hard, so the sweeps have a limit; where a lower bound is met, the result is the best
there is.
"""

from __future__ import annotations

import numpy as np

from pipeline.pixels.pieces.bands import cover_by_bands
from pipeline.pixels.pieces.bound import needs_as_many
from pipeline.pixels.pieces.prices import least_cells, pixel_prices
from pipeline.pixels.pieces.search import sweep

_MIRRORS = [(False, False), (False, True), (True, False), (True, True)]
# From all eight sides, opposite sides first; (transposed, upside down, left to right).
_SIDES = [(0, 0, 0), (1, 0, 0), (0, 1, 1), (1, 1, 1), (1, 0, 1), (0, 0, 1), (1, 1, 0), (0, 1, 0)]
_KEEP = 96  # coverings kept; from measurements: more find nothing more in figures of 70 x 100
_WORK = 10_000_000  # coverings times columns times cells that a frame may cost before sides are left out


def best_places(mask: np.ndarray, cell_width: int, cell_height: int) -> np.ndarray:
    """Return places that cover a mask, inside it as far as it is as large as a cell.

    Mirrored masks get mirrored places, so that mirrored frames can share cells.

    Args:
        mask: bool, shape (height, width), opaque pixels in its first and last rows and columns.

    Returns:
        int64, shape (cells, 2): x, y, all different.
    """
    upside, sideways = min(_MIRRORS, key=lambda mirror: np.packbits(_mirrored(mask, *mirror)).tobytes())
    places = np.array(_search(np.ascontiguousarray(_mirrored(mask, upside, sideways)), cell_width, cell_height))
    for axis, cell, back in ((0, cell_width, sideways), (1, cell_height, upside)):
        room = max(mask.shape[1 - axis] - cell, 0)
        places[:, axis] = places[:, axis].clip(0, room)
        if back:
            places[:, axis] = mask.shape[1 - axis] - cell - places[:, axis]
    return np.unique(places, axis=0)


def _mirrored(picture: np.ndarray, upside: bool, sideways: bool) -> np.ndarray:
    return picture[:: -1 if upside else 1, :: -1 if sideways else 1]


def _search(mask: np.ndarray, cell_width: int, cell_height: int) -> list[tuple[int, int]]:
    best = cover_by_bands(mask, cell_width, cell_height)
    columns = [(x, y) for y, x in cover_by_bands(np.ascontiguousarray(mask.T), cell_height, cell_width)]
    best = min(best, columns, key=len)
    if needs_as_many(mask, cell_width, cell_height, len(best)):
        return best  # as the prices would show, but at a hundredth of the time
    prices = pixel_prices(mask, cell_width, cell_height)
    least = least_cells(prices)
    left = _WORK
    for side in _SIDES:
        if len(best) <= least or left < 0:
            break
        best = _from_side(side, prices, mask, (cell_width, cell_height), len(best)) or best
        left -= _KEEP * len(best) * mask.shape[1 - side[0]]
    return best


def _from_side(
    side: tuple[int, int, int], prices: np.ndarray, mask: np.ndarray, cell: tuple[int, int], below: int
) -> list[tuple[int, int]] | None:
    """Sweep a picture as it looks when turned; return the places in the picture itself, or None."""
    transposed, upside, sideways = (bool(each) for each in side)

    def turned(picture: np.ndarray) -> np.ndarray:
        return np.ascontiguousarray(_mirrored(picture.T if transposed else picture, upside, sideways))

    width, height = cell[::-1] if transposed else cell
    turned_mask = turned(mask)
    found = sweep(turned(prices), turned_mask, width, height, _KEEP, below)
    if found is None:
        return None
    places = [_unturned(place, turned_mask.shape, (width, height), upside, sideways) for place in found]
    return [(y, x) for x, y in places] if transposed else places


def _unturned(place: tuple[int, int], shape: tuple[int, int], cell: tuple[int, int], upside: bool, sideways: bool) -> tuple[int, int]:
    x, y = place
    return (shape[1] - cell[0] - x if sideways else x), (shape[0] - cell[1] - y if upside else y)
