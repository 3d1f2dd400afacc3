"""Levels: a grid of numbers, from a text file or an indexed picture, to a blob."""

from __future__ import annotations

import hashlib

import numpy as np

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.assets.sources.grid import read_grid
from pipeline.joints.facts import IntentFacts, LevelFacts
from pipeline.joints.layouts import LEVEL, VERSION, record_bytes
from pipeline.joints.places import BlobFiles, Sources
from pipeline.plain.bits import ByteOrder
from pipeline.plain.sizes import round_up
from pipeline.project.assets import Level


def convert_level(
    sources: Sources, out: BlobFiles, name: str, spec: Level, byte_order: ByteOrder, alignment: int, room: int
) -> str:
    """Write a level's blob and facts; return one line about it.

    Args:
        byte_order: of the record and of cells of two bytes.
        room: bytes that its cells may have; see ``bounds.asset_room``.

    Raises:
        ProjectError: the file is not a grid of whole numbers, a number is outside the level's bounds, or there are too many.
    """
    least, most = spec.limits
    cells = read_grid(sources.folder, spec.file, least, most, room // spec.cell_bytes)
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
        intent=IntentFacts(shape=[height, width], sha256=hashlib.sha256(cells.astype("<u4").tobytes()).hexdigest()),
    )
    return f"{width} x {height} cells, {save_facts(out.facts, facts)}"
