"""Pools: the cells of several sprites, equal ones stored once, and what each sprite finds there under which number."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.assets.intent import Intent
from pipeline.assets.sprites.blobs import cell_padding
from pipeline.assets.sprites.cut import read_cells, read_cut, write_index
from pipeline.joints.facts import PoolFacts
from pipeline.joints.layouts import POOL, VERSION, record_bytes
from pipeline.joints.places import BlobFiles
from pipeline.pixels.pack import pack_picture, padded
from pipeline.pixels.pieces.pieces import Pool, pool
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up
from pipeline.project.assets import Pool as PoolSpec
from pipeline.target.records import PictureRules

_MOST_CELLS = 1 << 16  # a piece names its cell in 16 bits


def make_pool(
    cells: dict[str, Path],
    cuts: dict[str, Path],
    indexes: dict[str, Path],
    out: BlobFiles,
    name: str,
    spec: PoolSpec,
    rules: PictureRules,
    flips: tuple[bool, bool],
    alignment: int,
) -> str:
    """Write a pool's blob and facts, and an index for each of its sprites; return one line about it.

    Args:
        cells, cuts: files of the sprites that put their cells here (see ``cut``), by name, in the order in which cells are kept; all
            are of one pixel format and base.
        indexes: the file of each that says where its cells are.
        flips: whether the console can mirror a cell left to right, and top to bottom.

    Raises:
        ProjectError: more distinct cells than pieces can name.
    """
    described = [read_cut(file) for file in cuts.values()]
    pooled = pool((read_cells(file, rules.cell) for file in cells.values()), *flips)
    if len(pooled.cells) > _MOST_CELLS:
        wrong = f"holds {len(pooled.cells):,} different cells, a piece can name {_MOST_CELLS:,}"
        raise refuse("project.toml", f"[pool.{name}]", wrong, "give some of its sprites a pool of their own")
    _write_indexes([indexes[user] for user in cuts], pooled)
    blob, intent = _blob(pooled.cells, described[0].base, rules, max(alignment, 4))
    facts = PoolFacts(
        **save_blob(out.content, name, [blob], spec.origin),
        cell_count=len(pooled.cells),
        cell=rules.cell,
        pieces=sum(sum(cut.piece_counts) for cut in described),
        users=list(cuts),
        clear=described[0].base,
        sheet_bytes=sum(cut.sheet_bytes for cut in described),
        frames_bytes=sum(cut.frames_bytes for cut in described),
        opaque_bytes=sum(cut.opaque_bytes for cut in described),
        intent=intent.facts(),
        padding=len(pooled.cells) * cell_padding(rules),
    )
    sprites = f"{len(cuts)} sprite{'s' if len(cuts) > 1 else ''}"
    return f"{facts.pieces} pieces of {len(pooled.cells)} cells for {sprites}, {save_facts(out.facts, facts)}"


def _write_indexes(files: list[Path], cells: Pool) -> None:
    for rank, file in enumerate(files):
        shown = slice(cells.starts[rank], cells.starts[rank + 1])
        write_index(file, len(cells.cells), cells.index[shown], cells.flips[shown])


def _blob(cells: np.ndarray, base: int, rules: PictureRules, alignment: int) -> tuple[bytes, Intent]:
    pixels_at, intent, packed = round_up(record_bytes(POOL), alignment), Intent(), []
    for cell in cells:
        stored = cell.astype(np.uint32) + base
        intent.add(stored)
        packed.append(padded(pack_picture(stored, rules.pixel_format, rules.pixel_order, rules.cell), rules.starts.cell))
    head = put_record(
        POOL, rules.byte_order, version=VERSION, pixel_format=rules.rank, clear=base, cell_count=len(cells), pixels=pixels_at
    )
    return head.ljust(pixels_at, b"\0") + b"".join(packed), intent
