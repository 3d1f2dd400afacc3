"""A frame as pieces: cells at any pixel, as few as can be found, and one pool of cells for many frames.

A piece is a cell and its place. Colour 0 is transparent and is not drawn. Cells of a frame may overlap; each holds the
whole of what the frame shows there, so that a cell depends on nothing but its own place and is found again wherever
the same pixels come back, in this frame or another.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from pipeline.pixels.pieces.cover import best_places
from pipeline.pixels.tiles.tiles import allowed_flips, flipped

_FARTHEST = 1 << 15  # places are 16 bits with a sign


@dataclass(frozen=True)
class Pool:
    """Distinct cells, and which of them each piece shows.

    Attributes:
        cells: dtype of the cells, shape (n, cell height, cell width), in order of first use, as first seen; none of them
            if they were stored elsewhere.
        count: of distinct cells.
        index: number of each piece's cell in ``cells``, int32, shape (pieces,), frame after frame.
        flips: how each piece's cell is mirrored, uint8, shape (pieces,): bit 0 left to right, bit 1 top to bottom.
        starts: first piece of each frame and, last, the number of pieces: int32, shape (frames + 1,).
    """

    cells: np.ndarray
    count: int
    index: np.ndarray
    flips: np.ndarray
    starts: np.ndarray


def cover(mask: np.ndarray, cell_width: int, cell_height: int) -> np.ndarray:
    """Return places for cells that hold every opaque pixel of a frame, as few as can be found.

    Never more than rows or columns of cells need, wherever these begin. A shifted or mirrored mask gets places shifted
    or mirrored alike. No place reaches beyond the opaque pixels unless all of them are narrower or lower than a cell.

    Args:
        mask: bool, shape (height, width), True where opaque.
        cell_width, cell_height: at least 1.

    Returns:
        int16, shape (pieces, 2): x, y of the top left corners, top to bottom, then left to right.

    Raises:
        ValueError: not a picture, no cell, or larger than places can say.
    """
    _check_cover(mask, cell_width, cell_height)
    mask = np.asarray(mask, dtype=bool)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return np.zeros((0, 2), dtype=np.int16)
    inner = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    places = best_places(inner, cell_width, cell_height) + (columns[0], rows[0])
    return places[np.lexsort((places[:, 0], places[:, 1]))].astype(np.int16)


def cut_pieces(frame: np.ndarray, places: np.ndarray, cell_width: int, cell_height: int) -> np.ndarray:
    """Return what a frame shows at each place; 0 outside the frame.

    Args:
        frame: unsigned integers, shape (height, width).
        places: integers, shape (pieces, 2): x, y; may lie partly or wholly outside.

    Returns:
        dtype of the frame, shape (pieces, cell height, cell width).
    """
    cells = np.zeros((len(places), cell_height, cell_width), dtype=frame.dtype)
    for cell, (x, y) in zip(cells, places.tolist(), strict=True):
        inside, within = _overlap(frame.shape, x, y, cell_width, cell_height)
        cell[within] = frame[inside]
    return cells


def pool(
    frames_of_cells: Iterable[np.ndarray], flip_x: bool = False, flip_y: bool = False, store: Callable[[np.ndarray], Any] | None = None
) -> Pool:
    """Store equal cells of all frames once, and mirrored ones too where the console can mirror.

    A piece is ``flipped(cells[index], flips)``; of several ways to mirror, the lowest number is taken. Frames are taken
    one at a time and not kept.

    Args:
        frames_of_cells: for each frame an array of shape (pieces, cell height, cell width); all of one dtype and cell.
        flip_x, flip_y: the console can mirror left to right, top to bottom.
        store: is given each distinct cell when it is first seen; only hashes are then kept.

    Raises:
        ValueError: frames of different cells or dtypes.
    """
    ways, seen, kept = allowed_flips(flip_x, flip_y), {}, []
    store = store or (lambda cell: kept.append(cell.copy()))
    index, how, starts, form = [], [], [0], None
    for frame, cells in enumerate(frames_of_cells):
        form = form or (cells.shape[1:], cells.dtype)
        if (cells.shape[1:], cells.dtype) != form:
            raise ValueError(f"frame {frame} has cells of {cells.shape[1:]} {cells.dtype}, the frames before of {form[0]} {form[1]}")
        for cell in cells:
            number, flip = _find(seen, cell, ways)
            if number == len(seen):
                seen[_key(cell)] = number
                store(cell)
            index.append(number)
            how.append(flip)
        starts.append(len(index))
    shape, dtype = form or ((0, 0), np.dtype(np.uint8))
    stored = np.array(kept, dtype=dtype).reshape(len(kept), *shape)
    return Pool(stored, len(seen), np.array(index, dtype=np.int32), np.array(how, dtype=np.uint8), np.array(starts, dtype=np.int32))


def _find(seen: dict[bytes, int], cell: np.ndarray, ways: list[int]) -> tuple[int, int]:
    """Return the number and the flip by which a cell is stored; of a new one the number it will have."""
    for flip in ways:
        number = seen.get(_key(flipped(cell, flip)))
        if number is not None:
            return number, flip
    return len(seen), 0


def _key(cell: np.ndarray) -> bytes:
    return hashlib.sha256(cell.tobytes()).digest()


def _overlap(shape: tuple[int, int], x: int, y: int, cell_width: int, cell_height: int) -> tuple[tuple, tuple]:
    """Return where a cell and a frame meet: as slices of the frame, and of the cell."""
    top, bottom = max(y, 0), max(min(y + cell_height, shape[0]), 0)
    left, right = max(x, 0), max(min(x + cell_width, shape[1]), 0)
    top, left = min(top, bottom), min(left, right)
    return (slice(top, bottom), slice(left, right)), (slice(top - y, bottom - y), slice(left - x, right - x))


def _check_cover(mask: np.ndarray, cell_width: int, cell_height: int) -> None:
    if np.ndim(mask) != 2:
        raise ValueError(f"a mask has height and width; this one has shape {np.shape(mask)}")
    if min(cell_width, cell_height) < 1:
        raise ValueError(f"a cell of {cell_width} x {cell_height} holds no pixel; it must be at least 1 x 1")
    if max(*np.shape(mask), cell_width, cell_height) >= _FARTHEST // 2:
        raise ValueError(f"a mask of {np.shape(mask)[1]} x {np.shape(mask)[0]} is too large for places of 16 bits; cut it first")
