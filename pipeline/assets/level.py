"""Levels: a grid of numbers, from a text file or an indexed picture, to a blob."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.assets.sources.grid import read_grid
from pipeline.joints.facts import BackgroundFacts, IntentFacts, LevelFacts, SpriteFacts, StoredTiles, read_facts
from pipeline.joints.layouts import LEVEL, VERSION, record_bytes
from pipeline.joints.places import BlobFiles, Sources
from pipeline.plain.bits import ByteOrder
from pipeline.plain.errors import Problem, ProjectError
from pipeline.plain.sizes import round_up
from pipeline.project.assets import Level

_FAULTS = 20  # problems that are reported
FLIP_X, FLIP_Y = 0x4000, 0x8000  # in cells of two bytes: what a tile's number has added where it is mirrored


def convert_level(
    sources: Sources,
    out: BlobFiles,
    name: str,
    spec: Level,
    byte_order: ByteOrder,
    alignment: int,
    room: int,
    tiles: Path | None = None,
    flips: tuple[bool, bool] = (False, False),
) -> str:
    """Write a level's blob and facts; return one line about it.

    Args:
        sources: its file.
        byte_order: of the record and of cells of two bytes.
        room: bytes that its cells may have; see ``bounds.asset_room``.
        tiles: facts of the background or sprite whose tiles or frames the numbers are; None without one. ``flips``: whether a tile can be
            mirrored left to right, and top to bottom.

    Raises:
        ProjectError: the file is not a grid of whole numbers, a number is outside the level's bounds or of no tile, or there are too many.
    """
    count = _tile_count(tiles) if tiles else None
    flips = flips if spec.cell_bytes == 2 and count is not None and count <= FLIP_X else (False, False)
    limits = limits_of(spec, count, flips)
    cells = read_grid(sources.folder, sources.names[0], *spec.limits, room // spec.cell_bytes)
    if count is not None:
        _check_tiles(sources.names[0], cells, spec, count, flips)
    return save_level(cells, limits, out, name, spec, byte_order, alignment)


def _tile_count(facts: Path) -> int:
    """Return how many tiles the background, or frames the sprite, of some facts has."""
    found = read_facts(facts)
    if isinstance(found, SpriteFacts):
        return found.frames
    assert isinstance(found, BackgroundFacts), "checked when the project was loaded"
    return found.stored.tile_count if isinstance(found.stored, StoredTiles) else 0


def limits_of(spec: Level, count: int | None, flips: tuple[bool, bool]) -> tuple[int, int]:
    """Return the smallest and largest number that may be in a level.

    Args:
        count: tiles of its set; None without one.
        flips: how a number may say that its tile is mirrored.
    """
    if spec.bounds or count is None:
        return spec.limits
    return 0, min(count - 1 + FLIP_X * flips[0] + FLIP_Y * flips[1], spec.limits[1])


def _check_tiles(shown: str, cells: np.ndarray, spec: Level, count: int, flips: tuple[bool, bool]) -> None:
    """Refuse numbers that are of no tile of a level's set.

    Raises:
        ProjectError: there are some; up to twenty are named with row and column.
    """
    mirrored = FLIP_X * flips[0] | FLIP_Y * flips[1]
    wrong = np.argwhere((cells & ~mirrored) >= count)[:_FAULTS]
    if len(wrong):
        remedy = f"use numbers from 0 to {count - 1}" + (", and 16384 or 32768 more for mirrored tiles" if mirrored else "")
        raise ProjectError(
            Problem(shown, f"row {row + 1}, column {at + 1}", f"{cells[row, at]} is not one of the {count} tiles of {spec.set}", remedy)
            for row, at in wrong
        )


def save_level(
    cells: np.ndarray, limits: tuple[int, int], out: BlobFiles, name: str, spec: Level, byte_order: ByteOrder, alignment: int
) -> str:
    """Write the blob and facts of a level; return one line about it.

    Args:
        cells: int64, shape (height, width), each within ``limits``.
    """
    least, most = limits
    (height, width), start = cells.shape, round_up(record_bytes(LEVEL), max(alignment, 4))
    head = put_record(
        LEVEL, byte_order, version=VERSION, cell_bytes=spec.cell_bytes, width=width, height=height, least=least, most=most, cells=start
    )  # fmt: skip
    stored = f"{'>' if byte_order == 'big' else '<'}u{spec.cell_bytes}"
    facts = LevelFacts(
        **save_blob(out.content, name, [head.ljust(start, b"\0"), cells.astype(stored).tobytes()], spec.origin),
        width=width,
        height=height,
        cell_bytes=spec.cell_bytes,
        least=least,
        most=most,
        smallest=int(cells.min()),
        largest=int(cells.max()),
        different=len(np.unique(cells)),
        set=spec.set,
        intent=IntentFacts(shape=[height, width], sha256=hashlib.sha256(cells.astype("<u4").tobytes()).hexdigest()),
    )
    return f"{width} x {height} cells, {save_facts(out.facts, facts)}"
