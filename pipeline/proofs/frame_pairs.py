"""From the small pictures of a sprite before and now: the frames that differ most, so that a change of one frame is seen."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

_WIDE = 288  # pixels a row of frames may take
_PAPER = 255  # fills the place of a frame that one picture lacks


def most_different(
    sheets: tuple[bytes | None, bytes | None], frames: tuple[tuple[int, int] | None, tuple[int, int] | None]
) -> tuple[bytes | None, bytes | None]:
    """Return the same few frames of two sheets, each as one row.

    Args:
        sheets: PNG before and now; None if there is none, and then some frames of the other are chosen evenly.
        frames: width and height of a frame of each in pixels; frames are in reading order.

    Returns:
        PNG of the row before and of the row now, in the order of the frames, of the same size; None if there is no sheet, or
        where no frame of the two differs: two equal rows would say that nothing changed.
    """
    before, now = (_cut(png, frame) if png and frame else None for png, frame in zip(sheets, frames, strict=True))
    there = [cells for cells in (before, now) if cells is not None]
    if not there:
        return None, None
    size = tuple(max(cells.shape[axis] for cells in there) for axis in range(3))
    most = max(1, _WIDE // size[2])
    if before is not None and now is not None:
        before, now = _padded(before, size), _padded(now, size)
        chosen = _differing(before, now, most)
    else:
        chosen = _evenly(_used(there[0]), most)
    if not chosen:
        return None, None
    return None if before is None else _row(before[chosen]), None if now is None else _row(now[chosen])


def _cut(png: bytes, frame: tuple[int, int]) -> np.ndarray:
    """Return the frames of a sheet: (frames, height, width, 3), uint8."""
    with Image.open(io.BytesIO(png), formats=["PNG"]) as opened:
        pixels = np.asarray(opened.convert("RGB"))
    width, height = frame
    down, across = pixels.shape[0] // height, pixels.shape[1] // width
    cells = pixels[: down * height, : across * width].reshape(down, height, across, width, 3)
    return cells.swapaxes(1, 2).reshape(down * across, height, width, 3)


def _padded(cells: np.ndarray, size: tuple[int, ...]) -> np.ndarray:
    out = np.full((*size, 3), _PAPER, dtype=np.uint8)
    out[tuple(slice(count) for count in cells.shape[:3])] = cells
    return out


def _differing(before: np.ndarray, now: np.ndarray, most: int) -> list[int]:
    """Return the numbers of the frames that differ most, in order; none where all are equal."""
    apart = (before.astype(np.int64) - now) ** 2
    scores = apart.sum(axis=(1, 2, 3))
    ranked = np.argsort(-scores, kind="stable")[:most]
    return sorted(int(rank) for rank in ranked if scores[rank])


def _used(cells: np.ndarray) -> int:
    """Return how many frames a sheet holds: what is left of its last row is blank."""
    blank = (cells == _PAPER).all(axis=(1, 2, 3))
    return max(1, int(len(cells) - np.argmin(blank[::-1])) if not blank.all() else 1)


def _evenly(count: int, most: int) -> list[int]:
    shown = min(count, most)
    return [rank * count // shown for rank in range(shown)]


def _row(cells: np.ndarray) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.concatenate(list(cells), axis=1)).save(out, "PNG", optimize=True)
    return out.getvalue()
