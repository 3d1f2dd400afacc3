"""The arrangements of a sprite's blob: a sheet of whole frames, trimmed frames, and pieces made of cells.

Pixels are written to a file while frames pass, so that memory does not grow with their number; the record and the tables
that precede them in the blob are returned.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from itertools import accumulate
from typing import BinaryIO, NamedTuple

import numpy as np

from pipeline.assets.art import Artwork
from pipeline.assets.blob import put_record
from pipeline.assets.sources.prepared import Frames
from pipeline.assets.sprites.cut import Cut, cut_art
from pipeline.assets.sprites.draws import draw_table
from pipeline.assets.sprites.runs import one_run_each, runs_of
from pipeline.assets.sprites.sizes import Found, SpriteSizes, found
from pipeline.joints.facts import Animation, StoredFrames, StoredPieces, StoredSheet, Trade
from pipeline.joints.layouts import (
    ANIMATION,
    BOX,
    DRAW,
    FRAME,
    FRAMED,
    FRAMED_VERSION,
    NO_PALETTE,
    OWN_POOL,
    PIECE,
    PIECED,
    PIECED_VERSION,
    PREPARED,
    PREPARED_VERSION,
    SPRITE,
    STEP,
    VERSION,
    Part,
    name_hash,
    record_bytes,
)
from pipeline.joints.pixel_size import padding_bytes, stored_bytes
from pipeline.pixels.pack import pack_picture, padded
from pipeline.pixels.pieces.boxes import Box
from pipeline.plain.bits import ByteOrder
from pipeline.plain.sizes import round_up
from pipeline.project.assets import Sprite
from pipeline.target.records import DrawRules, PictureRules


class Arranged(NamedTuple):
    """The head of a sprite's blob, up to its own pixels, what its facts say of the arrangement and the conversion, and a remark.

    ``padding`` counts the bytes that are there only because rows, cells and frames start where the target says; ``drawn`` holds for
    each frame x, y, width and height of what is drawn of it, shape (n, 4).
    """

    head: bytes
    stored: StoredSheet | StoredFrames | StoredPieces
    found: Found
    remark: str = ""
    padding: int = 0
    drawn: Sequence[np.ndarray] = ()


def _packed(pixels: np.ndarray, rules: PictureRules, start: int) -> bytes:
    """Return the bytes of a frame or cell, so long that the next one starts at a multiple of ``start``."""
    return padded(pack_picture(pixels, rules.pixel_format, rules.pixel_order, rules.cell, rules.starts.cell), start)


def cell_padding(rules: PictureRules) -> int:
    """Return the bytes by which each cell of a pool is longer so that the next one starts where it must."""
    return padding_bytes(*rules.cell, rules, stored_bytes(*rules.cell, rules, rules.starts.cell))


def sheet_blob(
    art: Artwork, animations: list[Animation], spec: Sprite, rules: PictureRules, flips: tuple[bool, bool], alignment: int, body: BinaryIO
) -> Arranged:
    """Return the head of a blob of frames one after another, each a rectangle of whole cells, and its own facts.

    Args:
        flips: what the console can mirror; frames are stored as they are, but other arrangements are compared.
        alignment: of the first frame in the blob.
        body: the frames are written to it.

    Raises:
        OverflowError: a number leaves its field.
    """
    sizes, frame_bytes = SpriteSizes(rules, flips), 0
    for pixels in art:
        sizes.add(pixels, _clear_pixel(art, rules))
        frame_bytes = body.write(_packed(pixels, rules, rules.starts.frame))
    tables = _animation_tables(animations, rules.byte_order)
    animations_at = record_bytes(SPRITE)
    pixels_at = round_up(animations_at + len(tables), alignment)
    _, height, width = art.intent.shape
    head = _head(
        SPRITE, art.frames.facts, animations, spec, rules, animations_at, version=VERSION, width=width, height=height,
        frame_bytes=frame_bytes, pixels=pixels_at,
    )  # fmt: skip
    stored = StoredSheet(cells=(width // rules.cell[0], height // rules.cell[1]), frame_bytes=frame_bytes)
    whole = [np.array([[0, 0, width, height]])] * art.frames.facts.count
    lost = art.frames.facts.count * padding_bytes(width, height, rules, frame_bytes)
    return Arranged((head + tables).ljust(pixels_at, b"\0"), stored, found(art, sizes), sizes.emptiness(art.frames.facts), lost, whole)


def framed_blob(
    art: Artwork, animations: list[Animation], spec: Sprite, rules: PictureRules, flips: tuple[bool, bool], alignment: int, body: BinaryIO
) -> Arranged:
    """Return the head of a blob of frames trimmed to whole cells around their opaque pixels, and its own facts.

    Args:
        flips: whether a frame may be drawn mirrored left to right, and top to bottom.
        alignment: of the first stored frame in the blob.
        body: the trimmed frames are written to it, equal ones once.

    Raises:
        OverflowError: a number leaves its field.
    """
    sizes, clear = SpriteSizes(rules, flips), _clear_pixel(art, rules)
    boxes: list[Box] = []
    stored_bytes: list[int] = []
    cells = lost = 0
    for pixels in art.entries():
        box, new = sizes.add((pixels + art.base).astype(np.uint32), clear)
        boxes.append(box)
        if new is not None:
            cells += new.size // (rules.cell[0] * rules.cell[1])
            stored_bytes.append(body.write(_packed(new, rules, rules.starts.frame)))
            lost += padding_bytes(new.shape[1], new.shape[0], rules, stored_bytes[-1])
    tables = _animation_tables(animations, rules.byte_order)
    animations_at = record_bytes(FRAMED)
    boxes_at = animations_at + len(tables)
    pixels_at = round_up(boxes_at + len(boxes) * record_bytes(BOX), alignment)
    head = _head(
        FRAMED, art.frames.facts, animations, spec, rules, animations_at, version=FRAMED_VERSION, width=art.frames.width,
        height=art.frames.height, clear=clear, boxes=boxes_at, pixels=pixels_at,
    )  # fmt: skip
    table = _box_table(boxes, stored_bytes, pixels_at, rules.byte_order)
    drawn = [np.array([[box.x, box.y, box.width, box.height]]) for box in boxes]
    stored = StoredFrames(stored_frames=len(stored_bytes), stored_cells=cells)
    return Arranged((head + tables + table).ljust(pixels_at, b"\0"), stored, found(art, sizes), padding=lost, drawn=drawn)


def pieced_blob(
    art: Artwork,
    animations: list[Animation],
    spec: Sprite,
    rules: PictureRules,
    flips: tuple[bool, bool],
    alignment: int,
    body: BinaryIO,
    draws: DrawRules | None = None,
) -> Arranged:
    """Return the head of a blob of frames made of cells at any pixel, and its own facts.

    Args:
        draws: how its pieces are prepared for drawing; None where they are not.
        flips: whether a cell may be drawn mirrored left to right, and top to bottom.
        alignment: of the first cell in the blob.
        body: the cells are written to it, equal ones once.

    Raises:
        OverflowError: a number leaves its field.
    """

    def store(cell: np.ndarray) -> None:
        stored = cell.astype(np.uint32) + art.base
        body.write(_packed(stored, rules, rules.starts.cell))

    if spec.prefer == "transfers":
        cells: list[np.ndarray] = []
        cut, trade = _in_runs(cut_art(art, rules, flips, cells.append), cells, store, rules)
    else:
        cut, trade = cut_art(art, rules, flips, store), None
    tables = _pieced_tables(cut, art.frames.facts, animations, spec, rules, OWN_POOL, cut.cell_count, draws, alignment)
    pieces = _stored_pieces(cut, cut.cell_count, None, spec, trade)
    lost = cut.cell_count * cell_padding(rules)
    return Arranged(tables, pieces, cut.found, padding=lost, drawn=_drawn(cut, rules))


def _in_runs(cut: Cut, cells: list[np.ndarray], store: Callable[[np.ndarray], None], rules: PictureRules) -> tuple[Cut, Trade]:
    """Store the cells of each frame in one run; return the pieces with the new numbers, and what it cost."""
    order, frames = one_run_each(cut.frames)
    for cell in order:
        store(cells[cell])
    trade = Trade(
        cells=len(order),
        runs=runs_of(frames),
        shared_cells=cut.cell_count,
        shared_runs=runs_of(cut.frames),
        cell_bytes=stored_bytes(*rules.cell, rules, rules.starts.cell),
    )
    return dataclasses.replace(cut, frames=frames, cell_count=len(order)), trade


def pooled_blob(
    cut: Cut,
    pool: str,
    pool_cells: int,
    frames: Frames,
    animations: list[Animation],
    spec: Sprite,
    rules: PictureRules,
    draws: DrawRules | None = None,
) -> Arranged:
    """Return the blob of a sprite whose cells a pool of ``pool_cells`` cells holds, and its own facts.

    Raises:
        OverflowError: a number leaves its field.
    """
    tables = _pieced_tables(cut, frames, animations, spec, rules, name_hash(pool), pool_cells, draws)
    return Arranged(tables, _stored_pieces(cut, pool_cells, pool, spec), cut.found, drawn=_drawn(cut, rules))


def _drawn(cut: Cut, rules: PictureRules) -> list[np.ndarray]:
    return [np.column_stack([pieces[:, :2], np.tile(rules.cell, (len(pieces), 1))]) for pieces in cut.frames]


def _stored_pieces(cut: Cut, cell_count: int, pool: str | None, spec: Sprite, trade: Trade | None = None) -> StoredPieces:
    """Return the facts of a sprite in pieces: ``cell_count`` cells in the pool it uses, its own or another."""
    return StoredPieces(
        pieces=sum(map(len, cut.frames)),
        cell_count=cell_count,
        own_cells=cut.cell_count,
        pool=pool,
        prepared=spec.prepared,
        trade=trade,
    )


def _clear_pixel(art: Artwork, rules: PictureRules) -> int:
    """Return what a transparent pixel holds: the palette's first entry, or a word without its A bit."""
    return art.base if art.palette else rules.pixel_format.pixel.fixed


def _box_table(boxes: list[Box], stored_bytes: list[int], pixels_at: int, byte_order: ByteOrder) -> bytes:
    offsets = list(accumulate(stored_bytes, initial=pixels_at))
    records = (
        put_record(
            BOX, byte_order, x=box.x, y=box.y, width=box.width, height=box.height, flips=box.flips,
            pixels=offsets[box.number] if box.number >= 0 else 0,
        )
        for box in boxes
    )  # fmt: skip
    return b"".join(records)


def _pieced_tables(
    cut: Cut,
    frames: Frames,
    animations: list[Animation],
    spec: Sprite,
    rules: PictureRules,
    pool: int,
    cell_count: int,
    draws: DrawRules | None,
    alignment: int = 0,
) -> bytes:
    """Return the record of a sprite in pieces and its tables, up to where its own cells begin if it has any.

    Args:
        alignment: of the first cell; 0 when a pool holds the cells.
    """
    tables = _animation_tables(animations, rules.byte_order)
    record, version = (PIECED, PIECED_VERSION) if draws is None else (PREPARED, PREPARED_VERSION)
    animations_at = record_bytes(record)
    frames_at = animations_at + len(tables)
    pieces_at = frames_at + len(cut.frames) * record_bytes(FRAME)
    draws_at = pieces_at + sum(map(len, cut.frames)) * record_bytes(PIECE)
    prepared, more = b"", {}
    if draws is not None:
        prepared = draw_table(cut.frames, draws, rules)
        more = {"draws": draws_at, "draw_bytes": draws.bytes or record_bytes(DRAW), "commands": int(bool(draws.commands))}
    pixels_at = round_up(draws_at + len(prepared), alignment) if alignment else 0
    head = _head(
        record, frames, animations, spec, rules, animations_at, version=version, width=frames.width, height=frames.height,
        pool=pool, clear=cut.base, cell_count=cell_count, frames=frames_at, pieces=pieces_at, pixels=pixels_at, **more,
    )  # fmt: skip
    whole = head + tables + _frame_table(cut, rules.byte_order) + _piece_table(cut, rules.byte_order) + prepared
    return whole.ljust(pixels_at, b"\0")


def _frame_table(cut: Cut, byte_order: ByteOrder) -> bytes:
    records, first = [], 0
    for pieces in cut.frames:
        records.append(put_record(FRAME, byte_order, first_piece=first, piece_count=len(pieces)))
        first += len(pieces)
    return b"".join(records)


def _piece_table(cut: Cut, byte_order: ByteOrder) -> bytes:
    table = bytearray()
    for pieces in cut.frames:
        for x, y, cell, flip in pieces.tolist():
            table += put_record(PIECE, byte_order, x=x, y=y, cell=cell, flips=flip)
    return bytes(table)


def _animation_tables(animations: list[Animation], byte_order: ByteOrder) -> bytes:
    heads, steps, first = [], [], 0
    for animation in animations:
        heads.append(
            put_record(
                ANIMATION,
                byte_order,
                name_hash=name_hash(animation.name),
                first_step=first,
                step_count=len(animation.steps),
                loop=int(animation.loop),
            )
        )
        first += len(animation.steps)
        steps.extend(put_record(STEP, byte_order, frame=frame, ticks=ticks) for frame, ticks in animation.steps)
    return b"".join(heads + steps)


def _head(
    record: tuple[Part, ...],
    prepared: Frames,
    animations: list[Animation],
    spec: Sprite,
    rules: PictureRules,
    animations_at: int,
    **more: int,
) -> bytes:
    """Return a sprite's record; what the arrangements share is filled in here."""
    anchor_x, anchor_y = prepared.anchor
    return put_record(
        record,
        rules.byte_order,
        pixel_format=rules.rank,
        frame_count=prepared.count,
        anchor_x=anchor_x,
        anchor_y=anchor_y,
        animation_count=len(animations),
        step_count=sum(len(animation.steps) for animation in animations),
        palette=name_hash(spec.palette) if spec.palette else NO_PALETTE,
        animations=animations_at,
        steps=animations_at + record_bytes(ANIMATION) * len(animations),
        **more,
    )
