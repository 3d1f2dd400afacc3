"""The two arrangements of a sprite's blob: a sheet of whole frames, and pieces of a pool of cells."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pipeline.assets.art import Artwork
from pipeline.assets.blob import name_hash, put_record
from pipeline.pixel_size import packed_bytes
from pipeline.pixels.pack import pack_picture
from pipeline.pixels.pieces import cover, cut_pieces, pool
from pipeline.project_file import Sprite
from pipeline.records import (
    ANIMATION,
    FRAME,
    NO_PALETTE,
    OWN_POOL,
    PIECE,
    PIECED,
    PIECED_VERSION,
    SPRITE,
    STEP,
    VERSION,
    Part,
    record_bytes,
)
from pipeline.sizes import round_up
from pipeline.target import PictureRules


def sheet_blob(
    art: Artwork, animations: list[dict], spec: Sprite, rules: PictureRules, flips: tuple[bool, bool], alignment: int
) -> tuple[bytes, dict]:
    """Return a blob of frames one after another, each a rectangle of whole cells, and its own facts.

    Args:
        flips: not used; a frame is stored as it is.
        alignment: of the first frame in the blob.

    Raises:
        OverflowError: a number leaves its field.
    """
    packed = [pack_picture(pixels, rules.pixel_format, rules.pixel_order, rules.cell) for pixels in art]
    tables = _animation_tables(animations, rules.byte_order)
    animations_at = record_bytes(SPRITE)
    pixels_at = round_up(animations_at + len(tables), alignment)
    _, height, width = art.intent.shape
    head = _head(
        SPRITE, art, animations, spec, rules, animations_at, version=VERSION, width=width, height=height,
        frame_bytes=len(packed[0]), pixels=pixels_at,
    )  # fmt: skip
    facts = {"cells": [width // rules.cell[0], height // rules.cell[1]], "frame_bytes": len(packed[0])}
    return (head + tables).ljust(pixels_at, b"\0") + b"".join(packed), facts


def pieced_blob(
    art: Artwork, animations: list[dict], spec: Sprite, rules: PictureRules, flips: tuple[bool, bool], alignment: int
) -> tuple[bytes, dict]:
    """Return a blob of frames made of cells that stand at any pixel, equal cells stored once, and its own facts.

    Args:
        flips: whether a cell may be drawn mirrored left to right, and top to bottom.
        alignment: of the first cell in the blob.

    Raises:
        OverflowError: a number leaves its field.
    """
    places: list[np.ndarray] = []
    cells = pool(_cut(art, rules, places), *flips)
    tables = _animation_tables(animations, rules.byte_order)
    animations_at = record_bytes(PIECED)
    frames_at = animations_at + len(tables)
    frame_table = _frame_table(places, rules.byte_order)
    pieces_at = frames_at + len(frame_table)
    piece_table = _piece_table(places, cells, rules.byte_order)
    pixels_at = round_up(pieces_at + len(piece_table), alignment)
    head = _head(
        PIECED, art, animations, spec, rules, animations_at, version=PIECED_VERSION, width=art.frames.width,
        height=art.frames.height, pool=OWN_POOL, clear=art.base, cell_count=len(cells.cells), frames=frames_at, pieces=pieces_at,
        pixels=pixels_at,
    )  # fmt: skip
    stored = (cells.cells + art.base).astype(np.uint32)
    packed = b"".join(pack_picture(cell, rules.pixel_format, rules.pixel_order, rules.cell) for cell in stored)
    blob = (head + tables + frame_table + piece_table).ljust(pixels_at, b"\0") + packed
    facts = {"pieces": sum(map(len, places)), "cell_count": len(cells.cells), "sheet_bytes": _sheet_bytes(art, rules)}
    return blob, facts


def _cut(art: Artwork, rules: PictureRules, places: list[np.ndarray]) -> Iterator[np.ndarray]:
    """Yield the cells of each frame; where they stand is added to ``places``."""
    for entries in art.entries():
        places.append(cover(entries > 0, *rules.cell))
        yield cut_pieces(entries, places[-1], *rules.cell)


def _frame_table(places: list[np.ndarray], byte_order: str) -> bytes:
    records, first = [], 0
    for standing in places:
        records.append(put_record(FRAME, byte_order, first_piece=first, piece_count=len(standing)))
        first += len(standing)
    return b"".join(records)


def _piece_table(places: list[np.ndarray], cells, byte_order: str) -> bytes:
    every = (place for standing in places for place in standing.tolist())
    pairs = zip(every, cells.index.tolist(), cells.flips.tolist(), strict=True)
    return b"".join(put_record(PIECE, byte_order, x=x, y=y, cell=cell, flips=flip) for (x, y), cell, flip in pairs)


def _sheet_bytes(art: Artwork, rules: PictureRules) -> int:
    """Bytes of pixels the same frames would take as a sheet."""
    width, height = (round_up(side, cell) for side, cell in zip((art.frames.width, art.frames.height), rules.cell, strict=True))
    return art.frames.count * packed_bytes(width, height, rules.pixel_format, rules.cell)


def _animation_tables(animations: list[dict], byte_order: str) -> bytes:
    heads, steps, first = [], [], 0
    for animation in animations:
        heads.append(
            put_record(
                ANIMATION,
                byte_order,
                name_hash=name_hash(animation["name"]),
                first_step=first,
                step_count=len(animation["steps"]),
                loop=int(animation["loop"]),
            )
        )
        first += len(animation["steps"])
        steps.extend(put_record(STEP, byte_order, frame=frame, ticks=ticks) for frame, ticks in animation["steps"])
    return b"".join(heads + steps)


def _head(
    record: tuple[Part, ...], art: Artwork, animations: list[dict], spec: Sprite, rules: PictureRules, animations_at: int, **more: int
) -> bytes:
    """Return a sprite's record; what the arrangements share is filled in here."""
    anchor_x, anchor_y = art.frames.facts["anchor"]
    return put_record(
        record,
        rules.byte_order,
        pixel_format=rules.rank,
        frame_count=art.frames.count,
        anchor_x=anchor_x,
        anchor_y=anchor_y,
        animation_count=len(animations),
        step_count=sum(len(animation["steps"]) for animation in animations),
        palette=name_hash(spec.palette) if spec.palette else NO_PALETTE,
        animations=animations_at,
        steps=animations_at + record_bytes(ANIMATION) * len(animations),
        **more,
    )
