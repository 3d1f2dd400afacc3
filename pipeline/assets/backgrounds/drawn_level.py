"""Levels from pictures: each cell is looked for among a background's tiles or a sprite's frames, by the pixels of its art as scaled."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from pipeline.assets.level import FLIP_X, FLIP_Y, limits_of, save_level
from pipeline.assets.sources.keyed import cleared
from pipeline.assets.sources.pictures import open_picture
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.facts import BackgroundFacts, Facts, SpriteFacts, StoredTiles, read_facts
from pipeline.joints.places import BlobFiles, FrameFiles, Sources
from pipeline.pixels.tiles.tiles import allowed_flips, flipped
from pipeline.plain.bits import ByteOrder
from pipeline.plain.bounds import GRID_SIDE
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.project.assets import Background, Level

_FAULTS = 20  # cells that are named


def convert_drawn_level(
    sources: Sources,
    out: BlobFiles,
    name: str,
    spec: Level,
    drawn: Background,
    tiles: Path,
    art: FrameFiles,
    tile_map: Path | None,
    flips: tuple[bool, bool],
    byte_order: ByteOrder,
    alignment: int,
    room: int,
    alpha: int | None = None,
) -> str:
    """Write the blob and facts of a level that is a picture of tiles; return one line about it.

    Args:
        sources: its picture.
        drawn: the set's record, of which only key colours are looked at.
        tiles, art: facts of the set, and its scaled art.
        tile_map: which tile is where in a background, see ``forms``; None where the set is a sprite, whose frames are the tiles.
        flips: whether the console can mirror a tile left to right, and top to bottom.
        room: bytes that its cells may have; see ``bounds.asset_room``.
        alpha: pixels at least this opaque are drawn, as in the frames of a sprite; of a background all that are not clear.

    Raises:
        ProjectError: the picture is not of whole cells, too large, or a cell of it is not one of the tiles; up to twenty are named.
    """
    count, size = _check_set(name, spec, read_facts(tiles))
    flips = flips if spec.cell_bytes == 2 and count <= FLIP_X else (False, False)
    shown, known = sources.names[0], _numbers(_stored(art, tile_map, size), flips)
    pixels = np.array(cleared(open_picture(sources.folder, shown), drawn))
    if alpha is not None:
        pixels[..., 3] = np.where(pixels[..., 3] >= alpha, 255, 0)
    numbers = _looked_up(_cells(pixels, size, shown, room // spec.cell_bytes), known, str(spec.set), size, shown)
    limits = limits_of(spec, count, flips)
    _check_limits(numbers, limits, shown)
    return save_level(numbers, limits, out, name, spec, byte_order, alignment)


def _check_set(name: str, spec: Level, facts: Facts) -> tuple[int, tuple[int, int]]:
    """Return how many tiles a set has, and their size in pixels; refuse one whose tiles are not those of its art."""
    if isinstance(facts, SpriteFacts):
        count, size = facts.frames, (facts.width, facts.height)
    else:
        assert isinstance(facts, BackgroundFacts), "checked when the project was loaded"
        assert isinstance(facts.stored, StoredTiles), "checked when the project was loaded"
        if facts.stored.merging is not None:
            wrong = f"the tiles of {spec.set} were merged, so its art does not show them"
            raise refuse("project.toml", f"[level.{name}] set", wrong, "name a background without merge, or give a file of numbers")
        count, size = facts.stored.tile_count, facts.tile
    if count > 256**spec.cell_bytes:
        wrong = f"{spec.set} has {count:,} tiles, a cell of {spec.cell_bytes} byte counts 256"
        raise refuse("project.toml", f"[level.{name}] cell_bytes", wrong, "set cell_bytes = 2")
    return count, size


def _tiles_of(pixels: np.ndarray, tile: tuple[int, int]) -> np.ndarray:
    """Return a picture's cells: uint8, shape (rows, columns, height, width, 4), a clear pixel always 0; beyond its edges it is clear."""
    width, height = tile
    rows, columns = -(-pixels.shape[0] // height), -(-pixels.shape[1] // width)
    whole = np.zeros((rows * height, columns * width, 4), dtype=np.uint8)
    whole[: pixels.shape[0], : pixels.shape[1]] = np.where(pixels[..., 3:] == 0, 0, pixels)
    return whole.reshape(rows, height, columns, width, 4).swapaxes(1, 2)


def _stored(art: FrameFiles, tile_map: Path | None, size: tuple[int, int]) -> Iterator[np.ndarray]:
    """Yield the pixels of a set's tiles in the order of their numbers: uint8, shape (height, width, 4).

    A background's tile is stored as it is first seen, row by row, so that its first place in the set shows it as it is.
    """
    frames = PreparedFrames(art)
    if tile_map is None:
        for frame in frames:
            yield _tiles_of(frame, size)[0, 0]
        return
    cells = _tiles_of(next(iter(frames)), size)
    cells = cells.reshape(-1, *cells.shape[2:])
    yield from cells[np.unique(np.fromfile(tile_map, dtype="<i4"), return_index=True)[1]]


def _numbers(tiles: Iterable[np.ndarray], flips: tuple[bool, bool]) -> dict[bytes, int]:
    """Return pixels of a cell -> number of the first tile that it shows, with what is added where it is mirrored."""
    known: dict[bytes, int] = {}
    every = list(tiles)
    for flip in allowed_flips(*flips):
        added = FLIP_X * (flip & 1) + FLIP_Y * (flip >> 1)
        for number, tile in enumerate(every):
            known.setdefault(flipped(tile.transpose(2, 0, 1), flip).tobytes(), number + added)
    return known


def _cells(pixels: np.ndarray, tile: tuple[int, int], shown: str, room: int) -> np.ndarray:
    """Return a picture's cells as ``_tiles_of`` returns them; refuse one that is not of whole cells, or too large."""
    width, height = tile
    if pixels.shape[1] % width or pixels.shape[0] % height:
        wrong = f"{pixels.shape[1]} x {pixels.shape[0]} pixels are not whole tiles of {width} x {height}"
        raise refuse(shown, "", wrong, "make its canvas a whole number of tiles")
    rows, columns = pixels.shape[0] // height, pixels.shape[1] // width
    if max(rows, columns) > GRID_SIDE or rows * columns > room:
        wrong = f"has {rows * columns:,} cells, the target's largest cartridge or memory holds {room:,}"
        raise refuse(shown, "", wrong, "split the level, or make it smaller")
    return _tiles_of(pixels, tile)


def _looked_up(cells: np.ndarray, known: dict[bytes, int], set_name: str, tile: tuple[int, int], shown: str) -> np.ndarray:
    numbers, problems = np.zeros(cells.shape[:2], dtype=np.int64), []
    for row, column in np.ndindex(*cells.shape[:2]):
        number = known.get(cells[row, column].transpose(2, 0, 1).tobytes())
        if number is None:
            place = f"row {row + 1}, column {column + 1}"
            wrong = f"is not one of the tiles of {set_name} (pixels {column * tile[0]}, {row * tile[1]} and on)"
            problems.append(Problem(shown, place, wrong, "draw it with a tile of the set, in the very colours of its art, or add it there"))
            if len(problems) == _FAULTS:
                break
        else:
            numbers[row, column] = number
    if problems:
        raise ProjectError(problems)
    return numbers


def _check_limits(numbers: np.ndarray, limits: tuple[int, int], shown: str) -> None:
    outside = np.argwhere((numbers < limits[0]) | (numbers > limits[1]))[:_FAULTS]
    if len(outside):
        remedy = "use other tiles there, or change bounds of the level"
        raise ProjectError(
            Problem(shown, f"row {row + 1}, column {at + 1}", f"shows tile {numbers[row, at]}, not in {limits[0]} to {limits[1]}", remedy)
            for row, at in outside
        )
